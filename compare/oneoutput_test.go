package compare

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/scene"
	"sealworthy/instruments"
)

// Groups on one output are read as one: a branch that lacks somewhere lacks in the closure.
// That each of them is healthy with a good chance, the fault being with one of the others,
// passes none, though all were looked at and seen lit.
func TestABranchLackingSomewhereOfAnOutput(t *testing.T) {
	for _, n := range []int{4, 8} {
		var src strings.Builder
		fmt.Fprintf(&src, `
build = "Cutter"
[jack.main]
volts = 12.0
[closure.hull]
[joint.keel]
from = "main"
closure = "hull"
wire = { mm = 0.5, length_mm = 100 }
[board.lantern]
joint = "keel"
closure = "hull"
wire = { mm = 0.5, length_mm = 100 }
standing_mA = 20
tolerance = 0.3
outputs = [ { max_mA = 400, ohms = 1 } ]
paces = [ { name = "steady", steady = true } ]
`)
		for i := range n {
			fmt.Fprintf(&src, `[[group]]
name = "light %d"
board = "lantern"
output = 1
closure = "hull"
wire = { mm = 0.3, length_mm = 100 }
lights = [ { part = "red 3 mm", ohms = 680, ohms_tolerance = 0.05, count = 2, reel = "r%d" } ]
`, i+1, i+1)
		}
		for _, part := range []float64{0, 1} { // of a branch
			y := newYard(t, src.String())
			b, err := y.exp.At(scene.Scene{})
			if err != nil {
				t.Fatal(err)
			}
			levels := b.Levels("lantern")
			all := levels[len(levels)-1].Draw
			g0, _ := b.GroupNamed("light 1")
			y.now = y.now.Add(time.Minute)
			s := capture.Step{ID: "hull/lantern/steady", Kind: capture.Power, Way: capture.Alone, Closure: "hull",
				Feed: "lantern", Board: "lantern", Pace: "steady", On: []string{"lantern"}, Volts: 12,
				PlanRevision: y.plan.Revision,
				Ramp:         []capture.RampPoint{{Volts: 12, LimitA: 0.5, MaxA: 0.5}}}
			for _, g := range y.plan.Groups {
				s.Groups = append(s.Groups, g.Name)
			}
			r := capture.StepRecord{Step: s, Stage: Fitted, Began: y.now, On: y.now, Settled: y.now,
				Outcome: capture.Measured, BeganAt: y.order(), EndedAt: y.order(),
				Instruments: map[string]instruments.Description{MeterName: meterAnswers}}
			amps := all.MeanA - part*g0.SmallestA
			for i := range 8 {
				v := amps
				r.Readings = append(r.Readings, instruments.Reading{Instrument: MeterName,
					Quantity: instruments.Current, Unit: "A", Status: instruments.OK, Value: &v, Range: "200 mA",
					HalfWidth: meterAnswers.Ranges[0].Accuracy.HalfWidth(v),
					At:        y.now.Add(time.Duration(i+1) * 250 * time.Millisecond), Window: 100 * time.Millisecond})
			}
			r.Ended = y.now.Add(3 * time.Second)
			y.h.Steps = append(y.h.Steps, r)
			y.look("hull", "all right")
			y.nothing()
			cs, gs := y.verdicts()
			ready := cs["hull"].Verdict == ReadyToClose
			if lacks := part > 0; lacks == ready && (lacks || n == 4) { // of eight the doubt is too much
				t.Errorf("%d groups, %g of a branch lacking: %s, light 1 %s with %.3f", n, part, cs["hull"].Verdict,
					gs["light 1"].Verdict, gs["light 1"].PHealthy)
			}
		}
	}
}
