package budget

import (
	"math"
	"testing"

	"sealworthy/compare/plan"
)

// WCAG 2.x, 2.3.1: more than three flashes in any one second; exactly three are allowed.
func TestFlashesInASecond(t *testing.T) {
	for _, c := range []struct {
		name   string
		starts []float64
		period float64
		want   int
	}{
		{"three in a second", []float64{0, 0.34, 0.68}, 10, 3},
		{"four in a second", []float64{0, 0.25, 0.5, 0.75}, 10, 4},
		{"1.5 Hz", []float64{0}, 1 / 1.5, 2},
		{"2 Hz", []float64{0}, 0.5, 2},
		{"3 Hz", []float64{0}, 1.0 / 3, 3},
		{"3.5 Hz", []float64{0}, 1 / 3.5, 4},
		{"20 Hz", []float64{0}, 0.05, 20},
		{"every three seconds", []float64{0}, 3, 1},
		{"two pairs over the end of the period", []float64{0, 0.2, 4.6, 4.8}, 5, 4},
	} {
		if got := mostFlashesInASecond(c.starts, c.period); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
	if got := flashStarts(plan.Pace{PeriodS: 5, Flashes: []float64{0.2, 0.3, 0.2, 4.3}}); len(got) != 2 ||
		math.Abs(got[1]-0.5) > 1e-12 {
		t.Errorf("group of two flashes begins at %v", got)
	}
}

// The shares of all sets of outputs add up to all of the time.
func TestLevelShares(t *testing.T) {
	blinker := plan.Board{Paces: []plan.Pace{{Name: "slow", PeriodS: 1, Duty: 0.2}}}
	for _, run := range []plan.OutputsRun{plan.Alternate, plan.Together, plan.Free} {
		for n := 1; n <= 6; n++ {
			b := blinker
			b.Run = run
			loaded := make([]int, n)
			for i := range loaded {
				loaded[i] = i
			}
			levels := levelsOf(b, loaded)
			if len(levels[0].outputs) != 0 || len(levels[len(levels)-1].outputs) != n {
				t.Fatalf("%s, %d outputs: dark must come first and all lit last: %v", run, n, levels)
			}
			sum, lit := 0.0, 0.0
			for _, l := range levels {
				s := weights{run: run, outputs: n}.share(0.15, len(l.outputs))
				if !l.usual && s != 0 {
					t.Errorf("%s, %d outputs: %v never shows but has a share of %g", run, n, l.outputs, s)
				}
				sum += s
				lit += s * float64(len(l.outputs))
			}
			near(t, string(run)+": sum of shares", sum, 1, 1e-12)
			near(t, string(run)+": outputs lit on average", lit, 0.15*float64(n), 1e-12)
		}
	}
	w := weights{run: plan.Alternate, outputs: 4}
	near(t, "four that take turns can't be lit for more than a quarter", w.share(0.9, 1), 0.25, 0)
	if d := (plan.Pace{PeriodS: 2, Flashes: []float64{0.2, 0.3, 0.2, 1.3}}).LitShare(); math.Abs(d-0.2) > 1e-12 {
		t.Errorf("two flashes of 0.2 s in 2 s: duty %g", d)
	}
	if d := (plan.Pace{Name: "steady"}).LitShare(); d != 1 {
		t.Errorf("steady: duty %g", d)
	}
}
