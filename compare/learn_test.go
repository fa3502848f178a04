package compare

import (
	"strings"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
)

// barge has three groups of one reel, whose tolerance is too wide to see one
// segment by the plan alone. Invented.
const barge = `
build = "Barge"
[jack.main]
volts = 12.0
[closure.hull]
[part."reel strip"]
like = "strip warm white 12 V"
tolerance = 0.15
[[group]]
name = "fore"
closure = "hull"
lights = [ { part = "reel strip", segments = 8 } ]
[[group]]
name = "mid"
closure = "hull"
lights = [ { part = "reel strip", segments = 8 } ]
[[group]]
name = "aft"
closure = "hull"
lights = [ { part = "reel strip", segments = 8 } ]
`

// Groups of a reel that are all 6 % above its data sheet pass by each other; one
// of them with a dark segment is found, though it alone is within its band.
func TestOthersOfItsReelSharpenAGroup(t *testing.T) {
	src := barge
	y := newYard(t, src)
	for _, g := range []string{"fore", "mid", "aft"} {
		y.measure(g, Fitted, 1.06*y.expected(g, Fitted))
	}
	y.j.PlanOnly = true
	_, plain := y.verdicts()
	y.j.PlanOnly = false
	_, sharp := y.verdicts()
	for _, g := range []string{"fore", "mid", "aft"} {
		if plain[g].Verdict != CantTell {
			t.Errorf("%s by the plan alone: %s", g, plain[g].Verdict)
		}
		f := sharp[g]
		if f.Learned == "" || f.ExpectedU > 0.7*plain[g].ExpectedU {
			t.Errorf("%s is expected to ±%.2f mA, by the plan to ±%.2f: %q", g, f.ExpectedU*1e3,
				plain[g].ExpectedU*1e3, f.Learned)
		}
		w, err := y.j.weigh(f.evidence, look.Look{})
		if err != nil {
			t.Fatal(err)
		}
		if u := w.ensemble.HealthyU[0]; u > 1.15*f.ExpectedU || u < 0.85*f.ExpectedU {
			t.Errorf("%s: probabilities go by ±%.2f mA, the verdict by ±%.2f", g, u*1e3, f.ExpectedU*1e3)
		}
	}
	// What a group is judged by never holds its own reading: a dark segment in
	// one of them isn't explained away.
	y.measure("mid", Fitted, 1.06*7/8*y.expected("mid", Fitted))
	_, sharp = y.verdicts()
	f := sharp["mid"]
	if f.Verdict == InBand {
		t.Errorf("mid with a dark segment: %s, %+v", f.Verdict, f.Causes)
	}
	t.Logf("mid: %s, measured %.2f, expected %.2f ±%.2f, healthy %.3f, %+v", f.Verdict, f.MeasuredA*1e3,
		f.ExpectedA*1e3, f.ExpectedU*1e3, f.PHealthy, f.Causes)
}

// One segment of eight is dark in each group of a reel: none passes, and it is said that
// the reel's figures may be off as well.
func TestALackInEachGroupIsNamedBesideTheReelsFigures(t *testing.T) {
	y := newYard(t, strings.Replace(barge, "tolerance = 0.15", "tolerance = 0.06", 1))
	for g, part := range map[string]float64{"fore": 0.874, "mid": 0.876, "aft": 0.875} {
		y.measure(g, Fitted, part*y.expected(g, Fitted))
	}
	_, got := y.verdicts()
	for g, f := range got {
		names := map[string]bool{}
		for _, c := range f.Causes {
			names[c.Name] = true
		}
		if f.Verdict == InBand || !names[string(fault.PartFigures)] || !names[string(fault.DarkSegment)] {
			t.Errorf("%s: %s, %+v", g, f.Verdict, f.Causes)
		}
	}
}
