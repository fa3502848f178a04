package compare_test

import (
	"context"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/rule"
)

// saidOf is what is said of a history of a model's pieces.
func saidOf(t *testing.T, m model, h compare.History) compare.ClosureFinding {
	t.Helper()
	j, err := compare.NewJudge(m.judge.Expected, rule.Default(), benchLeads)
	if err != nil {
		t.Fatal(err)
	}
	cs, err := j.Findings(h, "")
	if err != nil {
		t.Fatal(err)
	}
	return cs[0]
}

// readAs are records of a meter with a limit of error of 1.5 % that reads a share of what flows.
func readAs(rs []capture.StepRecord, share float64, by func(*capture.StepRecord)) []capture.StepRecord {
	out := slices.Clone(rs)
	for i := range out {
		r := &out[i]
		r.Readings, r.Instruments = slices.Clone(r.Readings), maps.Clone(r.Instruments)
		for n := range r.Readings {
			if x := &r.Readings[n]; x.Instrument == compare.MeterName && x.Value != nil {
				v := *x.Value * share
				x.Value = &v
			}
		}
		by(r)
	}
	return out
}

// coarse makes the meter of a record one with a limit of error of 1.5 %.
func coarse(profile, identity string) func(*capture.StepRecord) {
	return func(r *capture.StepRecord) {
		d := r.Instruments[compare.MeterName]
		d.Profile, d.Identity, d.Ranges = profile, identity, slices.Clone(d.Ranges)
		for i := range d.Ranges {
			d.Ranges[i].Accuracy.OfReading = 0.015
		}
		r.Instruments[compare.MeterName] = d
		for n := range r.Readings {
			if x := &r.Readings[n]; x.Instrument == compare.MeterName && x.Value != nil {
				x.HalfWidth = 0.015**x.Value + 1e-4
			}
		}
	}
}

// stagesOf is a history of sittings loose, with their looks, and a last one fitted.
func stagesOf(fitted []capture.StepRecord, loose ...[]capture.StepRecord) compare.History {
	var h compare.History
	for i, rs := range loose {
		h.Steps = append(h.Steps, ordered(rs, i+1, compare.Loose)...)
	}
	h.Steps = append(h.Steps, ordered(fitted, len(loose)+1, compare.Fitted)...)
	h.Nothing = []capture.Order{capture.OrderAt(len(loose)+2, 1)}
	return h
}

// TestAnErrorOfTheWeighingLeavesOpen: where what groups tell of each other can't be computed,
// what passes by itself is left open, and says so.
func TestAnErrorOfTheWeighingLeavesOpen(t *testing.T) {
	src := twelveSegments + strings.Replace(twelveSegments[strings.Index(twelveSegments, "[[group]]"):], `"windows"`,
		`"more windows"`, 1)
	src = strings.ReplaceAll(src, "segments = 12", "segments = 4")
	m, err := measured(context.Background(), 5, src, nil, how{law: load.PlanLaw, sweep: true, day: 2})
	if err != nil {
		t.Fatal(err)
	}
	for _, bad := range []bool{false, true} {
		j, err := compare.NewJudge(m.judge.Expected, rule.Default(), benchLeads)
		if err != nil {
			t.Fatal(err)
		}
		pr := fault.DefaultPriors()
		if bad {
			pr.Common.Meter = math.NaN()
		}
		j.Priors = &pr
		cs, err := j.Findings(stagesOf(append(slices.Clone(m.records), m.looks()...)), "")
		if err != nil {
			t.Fatal(err)
		}
		if is := cs[0].Verdict; (is == compare.ReadyToClose) == bad {
			t.Errorf("can't be weighed %v: %s %q", bad, is, cs[0].Reasons)
		}
		for _, f := range cs[0].Groups {
			if bad && (f.Verdict != compare.CantTell || !strings.Contains(f.Why, "can't be computed")) {
				t.Errorf("%s: %s %q %q", f.Group, f.Verdict, f.Why, f.Notes)
			}
		}
	}
}

// TestALookOfThenIsOfWhatWasReadThen: a segment went dark after the look, before the pieces were
// read loose once more: they never pass by that look, nor where the loose readings disagree.
func TestALookOfThenIsOfWhatWasReadThen(t *testing.T) {
	dark := &fault.Fault{Kind: fault.DarkSegment, Group: "windows", Branch: 3}
	for seed := uint64(1); seed <= 3; seed++ {
		ok, err := measureTwice(context.Background(), seed, twelveSegments, nil, false, load.PlanLaw)
		if err != nil {
			t.Fatal(err)
		}
		s, err := measureTwice(context.Background(), seed, twelveSegments, dark, false, load.PlanLaw)
		if err != nil {
			t.Fatal(err)
		}
		seen := append(slices.Clone(ok.loose.records), ok.loose.looks()...)
		again := append(slices.Clone(s.loose.records), ok.loose.looks()...)
		for name, h := range map[string]compare.History{
			"seen before it was read again": stagesOf(s.fitted.records, seen, s.loose.records),
			"read otherwise before":         stagesOf(s.fitted.records, ok.loose.records, again),
		} {
			if f := saidOf(t, s.fitted, h).Groups[0]; f.Verdict == compare.InBand || f.Learned != "" {
				t.Errorf("seed %d, %s: %s %s", seed, name, inWords(f), f.Learned)
			}
		}
	}
}

// TestAMissedLookOfThen: what was dark loose already, and overlooked loose and fitted, passes no
// more easily for that it was read and seen loose.
func TestAMissedLookOfThen(t *testing.T) {
	if raceEnabled {
		t.Skip("statistics run without the race detector")
	}
	dark := &fault.Fault{Kind: fault.DarkSegment, Group: "windows", Branch: 3}
	var passed [3]int
	const n = 12
	for seed := uint64(1); seed <= n; seed++ {
		ok, err := measureTwice(context.Background(), seed, twelveSegments, nil, false, load.PlanLaw)
		if err != nil {
			t.Fatal(err)
		}
		s, err := measureTwice(context.Background(), seed, twelveSegments, dark, false, load.PlanLaw)
		if err != nil {
			t.Fatal(err)
		}
		fitted := append(slices.Clone(s.fitted.records), ok.fitted.looks()...)
		for known, h := range []compare.History{
			stagesOf(fitted),
			stagesOf(fitted, s.loose.records),
			stagesOf(fitted, append(slices.Clone(s.loose.records), ok.loose.looks()...)),
		} {
			if saidOf(t, s.fitted, h).Groups[0].Verdict == compare.InBand {
				passed[known]++
			}
		}
	}
	t.Logf("of %d passed fitted alone %d, read loose %d, and seen %d", n, passed[0], passed[1], passed[2])
	if passed[1] > passed[0] || passed[2] > passed[0] {
		t.Errorf("of %d passed fitted alone %d, read loose %d, and seen loose %d", n, passed[0], passed[1], passed[2])
	}
}

// TestMetersOfTwoSittings: a meter that can't say who it is, or that is read by hand, may be
// another one in another sitting. One that reads low loose and one that reads high fitted
// don't hide a segment that went dark since.
func TestMetersOfTwoSittings(t *testing.T) {
	dark := &fault.Fault{Kind: fault.DarkSegment, Group: "windows", Branch: 3}
	src := strings.Replace(twelveSegments, "segments = 12", "segments = 24", 1)
	for seed := uint64(1); seed <= 3; seed++ {
		s, err := measureTwice(context.Background(), seed, src, dark, true, load.PlanLaw)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct{ name, profile, loose, fitted string }{
			{"two that say who they are", "scpi meter", "a", "b"},
			{"nameless", "scpi meter", "", ""},
			{"by hand", "by hand", "a meter read by the maker", "a meter read by the maker"},
			{"named after what drives it", "stream meter", "stream meter", "stream meter"},
		} {
			h := stagesOf(readAs(s.fitted.records, 1.012, coarse(c.profile, c.fitted)),
				append(readAs(s.loose.records, 0.988, coarse(c.profile, c.loose)), s.loose.looks()...))
			if f := saidOf(t, s.fitted, h).Groups[0]; f.Verdict == compare.InBand {
				t.Errorf("seed %d, %s: %s", seed, c.name, inWords(f))
			}
		}
	}
}

// TestLeadsOfThen: what was read loose is judged with the leads that its record has, and tells
// nothing of another sitting where it has none.
func TestLeadsOfThen(t *testing.T) {
	s, err := measureTwice(context.Background(), 2, twelveSegments, nil, false, load.PlanLaw)
	if err != nil {
		t.Fatal(err)
	}
	loose := append(slices.Clone(s.loose.records), s.loose.looks()...)
	by := func(l *compare.Leads, r []capture.StepRecord) []capture.StepRecord {
		return readAs(r, 1, func(r *capture.StepRecord) { r.Step.Leads = l })
	}
	known := saidOf(t, s.fitted, stagesOf(s.fitted.records, loose)).Groups[0]
	if known.Verdict != compare.InBand || known.Learned == "" {
		t.Fatalf("known leads: %s %q", inWords(known), known.Learned)
	}
	for i, h := range []compare.History{stagesOf(s.fitted.records, by(nil, loose)),
		stagesOf(by(nil, s.fitted.records), loose)} {
		if f := saidOf(t, s.fitted, h).Groups[0]; f.Learned != "" || f.Verdict != compare.CantTell {
			t.Errorf("unknown leads, %d: %s %q", i, inWords(f), f.Learned)
		}
	}
	// Read through so many ohms more, they draw more than they seemed to.
	h := stagesOf(s.fitted.records, by(&compare.Leads{Ohm: 4, HalfOhm: 0.05}, loose))
	if f := saidOf(t, s.fitted, h).Groups[0]; !(f.ExpectedA > 1.02*known.ExpectedA) {
		t.Errorf("by leads of 4 ohm then %.4f A are expected, by 0.1 ohm %.4f A", f.ExpectedA, known.ExpectedA)
	}
}
