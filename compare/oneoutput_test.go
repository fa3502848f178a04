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
		for _, part := range []float64{0, 1} { // of a branch
			y := lantern{groups: n, ohms: 680, standing: 0.3, count: 2, closures: inHull, lackBranch: part}.measured(t)
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

// Of groups that are read as one each is as healthy as it is itself: what a joint of its
// neighbour may have is none of its own, as it isn't where they are read apart.
func TestAGroupOfAnOutputIsAsHealthyAsItIs(t *testing.T) {
	for _, lack := range []float64{0, 1} {
		y := lantern{groups: 8, ohms: 680, standing: 0.01, count: 1, closures: inHull, lackBranch: lack}.measured(t)
		_, gs := y.verdicts()
		for name, f := range gs {
			if passes := f.Verdict == InBand; passes != (lack == 0) {
				t.Errorf("%g lacking: %s is %s with %.3f", lack, name, f.Verdict, f.PHealthy)
			}
		}
	}
}

// What is dark in a group that nobody looked at nobody could see: that the others of its output
// are lit passes none of them.
func TestALookIsOfTheGroupsThatWereSeen(t *testing.T) {
	for _, seen := range []bool{true, false} { // the other one, too
		y := lantern{groups: 2, ohms: 680, standing: 0.4, count: 2, lackBranch: 0.5,
			closures: func(i int) string { return []string{"hull", "deckhouse"}[i] }}.measured(t)
		y.look("hull", "all right")
		if seen {
			y.look("deckhouse", "all right")
		}
		y.nothing()
		_, gs := y.verdicts()
		if passes := gs["light 1"].Verdict == InBand; passes != seen {
			t.Errorf("the other one seen %v: light 1 is %s with %.3f", seen, gs["light 1"].Verdict,
				gs["light 1"].PHealthy)
		}
	}
}

// lantern is a board with n groups on its one output, each of its own closure where apart, the
// rest of them in the hull; so much lacks of the branch of one of them.
type lantern struct {
	groups     int
	ohms       float64
	standing   float64 // relative doubt of what the board itself draws
	count      int     // branches of each group
	closures   func(i int) string
	lackBranch float64
}

// measured is the yard with that read steadily at service voltage.
func (l lantern) measured(t *testing.T) *yard {
	t.Helper()
	var src strings.Builder
	fmt.Fprintf(&src, `
build = "Cutter"
[jack.main]
volts = 12.0
[closure.hull]
[closure.deckhouse]
[joint.keel]
from = "main"
closure = "hull"
wire = { mm = 0.5, length_mm = 100 }
[board.lantern]
joint = "keel"
closure = "hull"
wire = { mm = 0.5, length_mm = 100 }
standing_mA = 20
tolerance = %g
outputs = [ { max_mA = 400, ohms = 1 } ]
paces = [ { name = "steady", steady = true } ]
`, l.standing)
	for i := range l.groups {
		fmt.Fprintf(&src, `[[group]]
name = "light %d"
board = "lantern"
output = 1
closure = %q
wire = { mm = 0.3, length_mm = 100 }
lights = [ { part = "red 3 mm", ohms = %g, ohms_tolerance = 0.05, count = %d, reel = "r%d" } ]
`, i+1, l.closures(i), l.ohms, l.count, i+1)
	}
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
	amps := all.MeanA - l.lackBranch*g0.SmallestA
	for i := range 8 {
		v := amps
		r.Readings = append(r.Readings, instruments.Reading{Instrument: MeterName,
			Quantity: instruments.Current, Unit: "A", Status: instruments.OK, Value: &v, Range: "200 mA",
			HalfWidth: meterAnswers.Ranges[0].Accuracy.HalfWidth(v),
			At:        y.now.Add(time.Duration(i+1) * 250 * time.Millisecond), Window: 100 * time.Millisecond})
	}
	r.Ended = y.now.Add(3 * time.Second)
	y.h.Steps = append(y.h.Steps, r)
	return y
}

func inHull(int) string { return "hull" }
