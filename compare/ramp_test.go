package compare_test

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/instruments/rig"
)

// atBench is the test of a fitted model with a meter and supply that are large enough.
var atBench = compare.StepOptions{Stage: compare.Fitted, JackFuseAmps: 2, SupplyMaxAmps: 3}

// rampPlan is a model of strips of all kinds at a voltage, on stout wires.
func rampPlan(volts int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "build = \"Ramps\"\n[jack.main]\nvolts = %d\n[closure.hull]\n", volts)
	for _, part := range []string{"strip constant current warm white %d V", "strip constant current cold white %d V",
		"strip warm white %d V", "strip red %d V"} {
		for _, segments := range []int{1, 6, 14} {
			name := fmt.Sprintf(part, volts)
			fmt.Fprintf(&b, "[[group]]\nname = \"%d %s\"\nclosure = \"hull\"\njoint = \"main\"\n", segments, name)
			fmt.Fprintf(&b, "wire = { mm2 = 0.5, length_mm = 200 }\nlights = [ { part = %q, segments = %d } ]\n", name,
				segments)
		}
	}
	return b.String()
}

// rampOf is the plan at a voltage and the power steps of its only closure.
func rampOf(t *testing.T, volts int) (*plan.Plan, []capture.Step) {
	t.Helper()
	p, problems := plan.Parse("plan.toml", []byte(rampPlan(volts)))
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	bud, err := compare.NewExpected(p).At(scene.Scene{LeadsOhm: benchLeads.Ohm, LeadsHalfOhm: benchLeads.HalfOhm})
	if err != nil {
		t.Fatal(err)
	}
	o := atBench
	o.Sweep = true
	steps, err := compare.Steps(p, bud, o)
	if err != nil {
		t.Fatal(err)
	}
	steps = slices.DeleteFunc(steps, func(s capture.Step) bool { return s.Kind != capture.Power })
	if len(steps) != len(p.Groups) {
		t.Fatalf("%d steps for %d groups", len(steps), len(p.Groups))
	}
	return p, steps
}

// TestStripsInTheRamp: no healthy strip is stopped on the way up or in the sweep, whatever law
// its LEDs follow, and whether a resistor or a regulator sits in its segments; a short is.
func TestStripsInTheRamp(t *testing.T) {
	if raceEnabled {
		t.Skip("arithmetic in one goroutine")
	}
	for _, volts := range []int{12, 24} {
		p, steps := rampOf(t, volts)
		for _, law := range []load.Law{load.PlanLaw, load.OtherLaw} {
			t.Run(fmt.Sprintf("%d V, healthy, %s law", volts, law), func(t *testing.T) { healthyComeThrough(t, p, steps, law) })
		}
		t.Run(fmt.Sprintf("%d V, short", volts), func(t *testing.T) { shortIsStopped(t, p, steps) })
	}
}

func healthyComeThrough(t *testing.T, p *plan.Plan, steps []capture.Step, law load.Law) {
	seeds := uint64(6)
	if os.Getenv("SEALWORTHY_LONG") != "" {
		seeds = 100
	}
	stopped, closest := 0, 0.0
	for seed := range seeds {
		l, err := load.New(p, nil, seed, load.Options{Law: law})
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range steps {
			at := rig.State{On: make([]bool, len(l.Terminals())), Since: 10 * time.Second}
			at.On[slices.Index(l.Terminals(), s.Feed)] = true
			meet := func(v, most float64) {
				at.Volts = v
				a := l.Current(at)
				if closest = max(closest, a/most); a > most {
					stopped++
					t.Errorf("seed %d, %s: %.1f mA at %.2f V, at most %.1f may flow", seed, s.Feed, a*1e3, v, most*1e3)
				}
			}
			for _, r := range s.Ramp {
				meet(r.Volts, r.MaxA)
			}
			for _, r := range s.Sweep {
				meet(r.Volts, r.MaxA)
			}
		}
	}
	t.Logf("%d of %d stopped, at most %.0f %% of what may flow", stopped, int(seeds)*len(steps), 100*closest)
}

// shortIsStopped: by the second point of the ramp.
func shortIsStopped(t *testing.T, p *plan.Plan, steps []capture.Step) {
	var faults []fault.Fault
	for _, g := range p.Groups {
		faults = append(faults, fault.Fault{Kind: fault.Short, Group: g.Name, Ohms: 0.5})
	}
	l, err := load.New(p, faults, 0, load.Options{Law: load.OtherLaw})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range steps {
		at := rig.State{On: make([]bool, len(l.Terminals()))}
		at.On[slices.Index(l.Terminals(), s.Feed)] = true
		stopped := slices.IndexFunc(s.Ramp, func(r capture.RampPoint) bool {
			at.Volts = r.Volts
			return l.Current(at) > r.MaxA
		})
		if stopped < 0 || stopped > 1 {
			t.Errorf("%s shorted: stopped at point %d of its ramp", s.Feed, stopped)
		}
	}
}

// longStrip is a sampled strip of 14 segments; wire is how its wire stands in the plan.
func longStrip(wire string) string {
	return `build = "Long"
[part."window strip"]
like = "strip warm white 12 V"
tolerance = 0.01
[jack.main]
volts = 12
[closure.hull]
[[group]]
name = "windows"
closure = "hull"
joint = "main"
` + wire + `
lights = [ { part = "window strip", segments = 14 } ]
`
}

// A wire of which nobody said how thick it is sets no limit: the group is read.
func TestAnAssumedWireStopsNothing(t *testing.T) {
	judged := 0
	for seed := range uint64(15) {
		f := judgedBy(t, []byte(longStrip("")), capture.Unattended{}, atBench, seed)["windows"]
		if !f.Unread && f.Verdict == compare.InBand {
			judged++
		} else {
			t.Logf("seed %d: %s", seed, inWords(f))
		}
	}
	if judged < 15 {
		t.Errorf("%d of 15 judged", judged)
	}
}

// What binds is named where a healthy feed would be stopped by it.
func TestWhatLimitsATestIsNamed(t *testing.T) {
	for _, c := range []struct {
		wire  string
		fuseA float64
		says  string
	}{
		{"wire = { mm = 0.03, length_mm = 200 }", 2, "the wire to it (0.03 mm, 200 mm)"},
		{"wire = { mm = 0.4, length_mm = 200 }", 0.2, "the fuse of the meter's jack"},
		{"wire = { length_mm = 200 }", 0.2, "the fuse of the meter's jack"},
	} {
		o := atBench
		o.JackFuseAmps = c.fuseA
		f := judgedBy(t, []byte(longStrip(c.wire)), capture.Unattended{}, o, 1)["windows"]
		if said := strings.Join(f.Settle, "; "); f.Verdict != compare.CantTell || !strings.Contains(said, c.says) {
			t.Errorf("%s, %g A: %s, %q", c.wire, c.fuseA, f.Verdict, said)
		}
	}
}

// A strip with regulators is judged as any other: healthy in band, a dark or
// reversed segment low, a short high.
func TestAStripThatHoldsItsCurrentIsJudged(t *testing.T) {
	src := strings.NewReplacer("strip warm white", "strip constant current warm white", "segments = 14",
		"segments = 6").
		Replace(longStrip("wire = { mm = 0.3, length_mm = 200 }"))
	for _, c := range []struct {
		faults []fault.Fault
		want   compare.Verdict
	}{
		{nil, compare.InBand},
		{[]fault.Fault{{Kind: fault.DarkSegment, Group: "windows", Branch: 2}}, compare.Low},
		{[]fault.Fault{{Kind: fault.ReversedLED, Group: "windows", Branch: 2}}, compare.Low},
		{[]fault.Fault{{Kind: fault.GroupReversed, Group: "windows"}}, compare.Low},
		{[]fault.Fault{{Kind: fault.Short, Group: "windows", Ohms: 0.5}}, compare.High},
	} {
		for seed := range uint64(3) {
			f := judgedBy(t, []byte(src), capture.Unattended{}, atBench, seed, c.faults...)["windows"]
			if f.Verdict != c.want {
				t.Errorf("seed %d, %v: %s, want %s: %s", seed, c.faults, f.Verdict, c.want, inWords(f))
			}
		}
	}
}
