package compare

import (
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/instruments"
)

// twoParts is the cutter with a second strip in its book.
var twoParts = strings.Replace(cutter, "[[group]]", `[part."dim strip"]
like = "strip warm white 12 V"
segment_mA = 11
tolerance = 0.03
[[group]]`, 1)

// Whatever of the plan is changed after a reading that didn't fit it, so that it fits: a look that says all right and
// nothing of that is no proof. What tells the plan from a fault, apart from any draw, is asked for where there is such a
// thing, and passes; where there is none it's taken by choice.
func TestWhateverThePlanWasChangedInIsToldApartFromTheDraw(t *testing.T) {
	windows := strings.Index(twoParts, `name = "windows"`)
	long := twoParts[:windows] + strings.Replace(twoParts[windows:], "length_mm = 100", "length_mm = 8000", 1)
	swap := func(old, now string) string {
		if !strings.Contains(twoParts, old) {
			t.Fatalf("the plan holds no %q", old)
		}
		return strings.Replace(twoParts, old, now, 1)
	}
	for _, x := range []struct {
		name, group string
		was, is     string
		renamed     string // the group's name by the plan of now; empty: as it was
		says        string // tells it, of the group; empty: nothing does
	}{
		{"resistor", "chart lamp", twoParts, swap("ohms = 680", "ohms = 1000"), "", "all right, 1000 ohm read"},
		{"resistor, by an ohmmeter", "chart lamp", twoParts, swap("ohms = 680", "ohms = 1000"), "",
			"all right, 1 kohm read"},
		{"resistor not of the usual ones", "chart lamp", twoParts, swap("ohms = 680", "ohms = 3300"), "",
			"all right, 3300 ohm read"},
		{"count and resistor", "chart lamp", twoParts,
			swap("ohms = 680, ohms_tolerance = 0.01", "ohms = 1000, ohms_tolerance = 0.01, count = 2"), "",
			"all right, 2 lit, 1000 ohm read"},
		{"resistor and how far it may be off", "chart lamp", twoParts,
			swap("ohms = 680, ohms_tolerance = 0.01", "ohms = 750, ohms_tolerance = 0.1"), "", ""},
		{"wire", "windows", twoParts, long, "", "all right, 8000 mm read"},
		{"another part", "windows", twoParts, swap(`part = "sampled strip"`, `part = "dim strip"`), "",
			"all right, part dim strip read"},
		{"the part's own figures", "windows", twoParts,
			swap("tolerance = 0.03", "tolerance = 0.03\nsegment_mA = 12"), "", ""},
		{"the part's figures, of a sample", "windows", twoParts,
			swap("tolerance = 0.03", "tolerance = 0.03\nsegment_mA = 12\nsource = \"10 of its pieces measured\""), "",
			"all right"},
		{"another name", "windows", twoParts,
			strings.Replace(swap("segments = 4", "segments = 3"), `"windows"`, `"saloon"`, 1), "saloon", "all right, 3 lit"},
		{"no plan any more", "windows", twoParts,
			swap(`lights = [ { part = "sampled strip", segments = 4 } ]`, `lights = "as found"`), "", ""},
	} {
		t.Run(x.name, func(t *testing.T) {
			y := newYard(t, x.is)
			name, closure := x.group, "hull"
			if x.renamed != "" {
				name = x.renamed
			}
			if x.group == "chart lamp" {
				closure = "cabin"
			}
			amps := 0.048 // of what isn't planned
			if g, _ := y.plan.Group(name); !g.AsFound {
				amps = y.expected(name, Fitted)
			}
			y.replanned(x.was)
			y.measure(x.group, Fitted, amps)
			if _, groups := y.verdicts(); !fails(groups[x.group].Verdict) {
				t.Fatalf("by the plan of then: %s", groups[x.group].Verdict)
			}
			y.replanned(x.is)
			if x.renamed != "" {
				y.rework(x.group)
				y.measure(name, Fitted, amps)
			}
			for _, g := range y.plan.Groups {
				if g.Name != name {
					y.measure(g.Name, Fitted, y.expected(g.Name, Fitted))
					y.look(g.Closure, g.Name+": all right")
				}
			}
			judged := func(said string) (ClosureVerdict, Finding) {
				t.Helper()
				y.look(closure, name+": "+said)
				y.nothing()
				closures, groups := y.verdicts()
				return closures[closure].Verdict, groups[name]
			}
			if x.says != "all right" {
				v, f := judged("all right")
				if v == ReadyToClose || f.Verdict != CantTell {
					t.Errorf("all right alone: %s, %s, healthy %.4f", v, f.Verdict, f.PHealthy)
				}
				if asks := strings.Join(f.Settle, "\n"); x.says != "" && !strings.Contains(x.says, "kohm") &&
					!strings.Contains(asks, `--seen "`+name+": "+x.says+`"`) {
					t.Errorf("what to do: %q", asks)
				}
			}
			if x.says != "" {
				v, f := judged(x.says)
				if f.Verdict != InBand {
					t.Errorf("%s: %s, %s, healthy %.4f: %s %q", x.says, v, f.Verdict, f.PHealthy, f.Why, f.Settle)
				}
				// That somebody misread it is a chance that something slipped.
				kinds, slips := y.j.slipOf([]Finding{f})
				left := 0.0
				for _, p := range kinds {
					left += p
				}
				if !slips || f.rival.p <= 0 || left < f.rival.p {
					t.Errorf("%s: the plan of before leaves %.5f, and %.5f may have slipped", x.says, f.rival.p, left)
				}
				return
			}
			y.accept(name, "as it came")
			y.nothing()
			if closures, _ := y.verdicts(); closures[closure].Verdict == ReadyToClose {
				t.Error("taken as it is, and called ready")
			}
		})
	}
}

// Who finds the fault and mends it needn't tell anything of a plan that he changed on the way: by either plan the draw
// is right then.
func TestWhatIsMendedNeedsNoCount(t *testing.T) {
	y := newYard(t, cutter)
	y.measure("windows", Fitted, 0.6*y.expected("windows", Fitted))
	y.replanned(strings.Replace(cutter, "length_mm = 100", "length_mm = 110", 3))
	y.rework("windows")
	y.measure("windows", Fitted, y.expected("windows", Fitted))
	y.look("hull", "windows: all right")
	y.nothing()
	if _, groups := y.verdicts(); groups["windows"].Verdict != InBand {
		f := groups["windows"]
		t.Errorf("%s, healthy %.4f: %s %q", f.Verdict, f.PHealthy, f.Why, f.Settle)
	}
}

// A record that was kept before the way to a group was: its lights are held against those of now.
func TestARecordThatKeepsLightsAlone(t *testing.T) {
	y := newYard(t, cutter)
	was := plannedFrom(y.plan, y.plan.Groups[0])
	got, err := plannedThen(`[{"part":"x","kind":"strip","count":1,"segments":7}]`, was)
	if err != nil || got.Lights[0].Segments != 7 || got.Jack.Volts != 12 || len(got.Joints) != 1 {
		t.Errorf("%+v %v", got, err)
	}
	if again, err := plannedThen(was.kept(), planned{}); err != nil || again.kept() != was.kept() {
		t.Errorf("kept and read again: %v\n%s\n%s", err, was.kept(), again.kept())
	}
}

// An output that stays lit isn't put right by a plan that calls its board steady, nor one that runs too slowly by the
// pace that was read of it: what the leaflet says of the pace is.
func TestAPaceThatWasChangedAfterAReading(t *testing.T) {
	const plan = `build = "Buoy"
[jack.main]
volts = 12.0
volts_range = [11.9, 12.1]
[closure.hull]
[board.flasher]
joint = "main"
closure = "hull"
wire = { mm = 0.3, length_mm = 100 }
standing_mA = 3
tolerance = 0.05
lowest_volts = 3
highest_volts = 30
outputs = [ { max_mA = 40, ohms = 10 } ]
paces = [ { name = "on", PACE } ]
[[group]]
name = "lantern"
closure = "hull"
board = "flasher"
output = 1
wire = { mm = 0.25, length_mm = 100 }
lights = [ { part = "red 3 mm", ohms = 1000, ohms_tolerance = 0.01 } ]
`
	by := func(pace string) string { return strings.Replace(plan, "PACE", pace, 1) }
	for _, x := range []struct{ was, is, says string }{
		{"period_s = 1.5, duty = 0.4", "steady = true", ""},
		{"period_s = 1.5, duty = 0.4", "period_s = 2.5, duty = 0.4", "all right, 2.5 s read"},
	} {
		y := newYard(t, by(x.was))
		b, err := y.exp.At(scene.Scene{})
		if err != nil {
			t.Fatal(err)
		}
		steps, err := Steps(y.plan, b, StepOptions{Stage: Fitted, Closure: "hull"})
		if err != nil {
			t.Fatal(err)
		}
		y.replanned(by(x.is))
		g, _ := y.plan.Group("lantern")
		is, err := y.exp.At(scene.Scene{})
		if err != nil {
			t.Fatal(err)
		}
		lit, _ := is.GroupNamed(g.Name)
		r := capture.StepRecord{Step: steps[0], Stage: Fitted, Began: y.now, On: y.now, Settled: y.now, BeganAt: y.order(),
			EndedAt: y.order(), Outcome: capture.Measured,
			Instruments: map[string]instruments.Description{MeterName: meterAnswers}}
		s := step{j: y.j, r: r, b: is}
		dark := s.baseDraw("flasher").MeanA
		r.Readings = drawsOf(y.plan.Boards[0].Paces[0], y.now, dark, dark+lit.Lit.MeanA, 40*time.Second)
		r.Ended = y.now.Add(40 * time.Second)
		y.h.Steps = append(y.h.Steps, r)
		y.replanned(by(x.was))
		if _, groups := y.verdicts(); !paceFailed(groups["lantern"].Verdict) {
			t.Fatalf("%s: %s", x.was, groups["lantern"].Verdict)
		}
		y.replanned(by(x.is))
		y.look("hull", "all right")
		y.nothing()
		closures, groups := y.verdicts()
		if f := groups["lantern"]; closures["hull"].Verdict == ReadyToClose {
			t.Errorf("%s after %s: %s, healthy %.4f", x.is, x.was, f.Verdict, f.PHealthy)
		}
		if x.says == "" {
			continue
		}
		y.look("hull", "lantern: "+x.says)
		y.nothing()
		if closures, groups = y.verdicts(); closures["hull"].Verdict != ReadyToClose {
			f := groups["lantern"]
			t.Errorf("%s, told: %s, healthy %.4f: %s %q", x.is, f.Verdict, f.PHealthy, f.Why, f.Settle)
		}
	}
}

// One more of one kind of lights and one less of another: as many are lit, so no count tells it, nor does "all right".
func TestCountsThatChangeAlikeAreNotTold(t *testing.T) {
	of := func(a, b int) planned {
		return planned{Lights: []plan.Light{{Part: "red 3 mm", Kind: plan.LEDs, Count: a, Ohms: plan.Value{Nominal: 680}},
			{Part: "white 3 mm", Kind: plan.LEDs, Count: b, Ohms: plan.Value{Nominal: 330}}}}
	}
	now := plan.Group{Lights: of(2, 3).Lights}
	for said, eye := range map[string]look.Look{"all right": {Saw: look.AllLit}, "5 lit": {Saw: look.AllLit, Lit: 5}} {
		if editsOf(of(3, 2), of(2, 3), now).told(eye) {
			t.Errorf("%s tells 3 and 2 from 2 and 3", said)
		}
		if counted := editsOf(of(3, 1), of(2, 3), now).told(eye); counted != (eye.Lit > 0) {
			t.Errorf("%s tells 3 and 1 from 2 and 3: %v", said, counted)
		}
	}
}
