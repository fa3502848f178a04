package compare

import (
	"math"
	"slices"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/scene"
	"sealworthy/compare/words"
)

// What the screen says of a step is what the verdict says of it.
func TestScreenAndVerdictAgree(t *testing.T) {
	y := newYard(t, lighter)
	full, low := y.expected("bilge", Fitted), 0.75*y.expected("bilge", Fitted)
	said := func(g *Guide, amps float64) string {
		t.Helper()
		r := *y.measure("bilge", Fitted, amps)
		r.BeganAt, r.EndedAt = 0, 0 // not on the record yet
		s := g.Judge(r)
		if len(s) != 1 {
			t.Fatalf("said %+v", s)
		}
		_, groups := y.verdicts()
		if s[0].Verdict != string(groups["bilge"].Verdict) {
			t.Errorf("the screen says %q, the verdict %q", s[0].Verdict, groups["bilge"].Verdict)
		}
		return s[0].Verdict
	}
	guide := func() *Guide { return NewGuide(y.j, nil, nil, true).After(y.h) }
	g := guide()
	if s := said(g, low); s != string(Low) {
		t.Errorf("first %q", s)
	}
	if s := said(g, full); s != string(CantTell) {
		t.Errorf("measured once more, nothing told: %q", s)
	}
	if s := said(guide(), full); s != string(CantTell) {
		t.Errorf("in the next test: %q", s)
	}
	g = guide()
	y.rework("bilge")
	g.Hear(capture.Mark{Kind: capture.MarkReworked, Feed: "bilge"})
	if s := said(g, full); s != string(InBand) {
		t.Errorf("mended and told: %q", s)
	}
	g = guide()
	g.Hear(capture.Mark{Kind: capture.MarkReworked, Feed: "bilge", Order: 1 << 40})
	g.Hear(capture.Mark{Kind: capture.MarkTakenBack, Of: 1 << 40})
	if s := said(g, low); s != string(Low) {
		t.Errorf("taken back, and low again: %q", s)
	}
}

// The mean of what was read is judged, and its doubt isn't less than that of one
// reading: the meter's error is in all of them.
func TestReadingsArePooled(t *testing.T) {
	y := newYard(t, lighter)
	e := y.expected("bilge", Fitted)
	y.measure("bilge", Fitted, 0.996*e)
	_, groups := y.verdicts()
	one := groups["bilge"]
	y.measure("bilge", Fitted, 1.004*e)
	_, groups = y.verdicts()
	f := groups["bilge"]
	if f.Verdict != InBand || f.MeasuredA < 0.9995*e || f.MeasuredA > 1.0005*e || f.Readings != 16 ||
		f.MeasuredU < 0.99*one.MeasuredU {
		t.Errorf("%s: %.4f of %.4f mA, u %.4f after %.4f, %d readings", f.Verdict, f.MeasuredA*1e3, e*1e3,
			f.MeasuredU*1e3, one.MeasuredU*1e3, f.Readings)
	}
	if !slices.ContainsFunc(f.Notes, func(n string) bool { return strings.Contains(n, "mean of 2 measurements") }) {
		t.Errorf("notes %q", f.Notes)
	}
}

// A look at other lights than the plan has now is out of date; one that found
// something wrong stays.
func TestALookIsOfTheLightsThatWereThere(t *testing.T) {
	for said, want := range map[string]ClosureVerdict{look.Right: LookFirst, "bilge: one is blue": KeepOpen} {
		y := newYard(t, lighter)
		y.healthy(Fitted)
		y.look("hull", said)
		y.h.Steps[len(y.h.Steps)-1].Step.Lights = map[string]string{"bilge": "3 x lighter lamp"}
		y.nothing()
		if got, _ := y.verdicts(); got["hull"].Verdict != want {
			t.Errorf("%q: %s, want %s: %q", said, got["hull"].Verdict, want, got["hull"].Reasons)
		}
		y.h.Steps[len(y.h.Steps)-1].Step.Lights["bilge"] = look.Digest(y.plan.Groups[0])
		if got, _ := y.verdicts(); said == look.Right && got["hull"].Verdict != ReadyToClose {
			t.Errorf("of the same lights: %s: %q", got["hull"].Verdict, got["hull"].Reasons)
		}
	}
}

// A reading at another voltage than the group is for passes nothing, though it
// fits what would be drawn there.
func TestOnlyTheServiceVoltagePasses(t *testing.T) {
	y := newYard(t, strings.Replace(lighter, "volts = 12.0\nvolts_range = [11.9, 12.1]", "volts = 11.0", 1))
	for _, g := range y.plan.Groups {
		b, err := y.exp.At(scene.Scene{Volts: scene.Is(12)})
		if err != nil {
			t.Fatal(err)
		}
		x, _ := b.GroupNamed(g.Name)
		y.measure(g.Name, Fitted, x.Lit.MeanA) // at 12 V
	}
	y.look("hull", look.Right)
	y.nothing()
	got, groups := y.verdicts()
	if got["hull"].Verdict != NotSettled ||
		!strings.Contains(strings.Join(groups["bilge"].Notes, ""), "its service voltage is 11") {
		t.Errorf("hull %s, bilge %s %q", got["hull"].Verdict, groups["bilge"].Verdict, groups["bilge"].Notes)
	}
}

// What rests on a simulated bench says so, in readings as in looks.
func TestSimulatedIsSaid(t *testing.T) {
	for _, kind := range []capture.Kind{capture.Power, capture.Look} {
		y := newYard(t, lighter)
		y.passed()
		if got, _ := y.verdicts(); got["hull"].Simulated {
			t.Fatal("a real bench is called simulated")
		}
		for i := range y.h.Steps {
			if s := y.h.Steps[i].Step; s.Kind == kind && slices.Contains(s.Groups, "bilge") {
				y.h.Steps[i].Simulated = true
			}
		}
		if got, _ := y.verdicts(); !got["hull"].Simulated || got["house"].Simulated {
			t.Errorf("%s: hull simulated %v, house %v", kind, got["hull"].Simulated, got["house"].Simulated)
		}
	}
}

// A common cause names its places, so that the closures that hide them know.
func TestCommonCauseNamesPlaces(t *testing.T) {
	y := newYard(t, lighter)
	y.healthy(Fitted)
	y.rework("keel")
	for g, part := range map[string]float64{"fore": 0.93, "mid": 0.91, "aft": 0.89} {
		y.measure(g, Fitted, part*y.expected(g, Fitted))
	}
	_, groups := y.verdicts()
	if f := groups["fore"]; len(f.Causes) != 1 || f.Causes[0].Name != string(fault.UpstreamJoint) ||
		!slices.Contains(f.Causes[0].Places, "keel") {
		t.Errorf("fore: %+v", f.Causes)
	}
}

// What may be above a group, and isn't sure, lowers how healthy it is, is named beside it, and
// keeps it from passing: no two numbers disagree.
func TestWhatMayBeAboveIsSaid(t *testing.T) {
	y := newYard(t, cutter)
	y.healthy(Fitted)
	y.measure("windows", Fitted, 0.75*y.expected("windows", Fitted)) // a segment, or ohms that the galley may hide
	y.look("hull", look.Right)
	_, groups := y.verdicts()
	f := groups["galley"]
	i := slices.IndexFunc(f.Causes, func(c Cause) bool { return c.Name == string(fault.BadJack) })
	if i < 0 || f.Verdict != CantTell || f.Why != words.AboveIt {
		t.Fatalf("galley is %s, %q, causes %+v", f.Verdict, f.Why, f.Causes)
	}
	if p := f.Causes[i].P; math.Abs(f.PHealthy+p-0.985) > 0.015 || p < leastP {
		t.Errorf("galley is healthy with %.3f, hangs on a bad joint with %.3f", f.PHealthy, p)
	}
	y.accept("windows", "the aft one is hidden anyway")
	if _, groups = y.verdicts(); groups["galley"].Verdict != InBand {
		t.Errorf("the windows are as the maker knows them, and the galley is %s", groups["galley"].Verdict)
	}
}
