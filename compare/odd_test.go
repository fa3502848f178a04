package compare

import (
	"testing"

	"sealworthy/compare/blink"
)

// That one of two outputs stays lit is said where what blinks draws as one of them should: a
// step of 2.6 mA beside two outputs of 15 and 16 is none of them.
func TestAnOddOutputNeedsOneThatBlinksAsItShould(t *testing.T) {
	y := newYard(t, cutter)
	s := step{j: y.j}
	os := []output{{number: 1, want: expectation{meanA: 0.0163, u: 5e-4}},
		{number: 2, want: expectation{meanA: 0.0149, u: 5e-4}}}
	for _, c := range []struct {
		blinksA float64
		want    blink.Agreement
	}{{0.0026, blink.NotCompared}, {0.0156, blink.SteadyLit}} {
		blinks, lit := blink.OutputLevel{Amps: c.blinksA, U: 1e-5, Agreement: blink.Agrees},
			blink.OutputLevel{Amps: 0.0136, U: 3e-4, Agreement: blink.SteadyLit}
		sep := blink.Separated{OddOne: blink.SteadyLit, Odd: [][]blink.OutputLevel{{blinks, lit}, {lit, blinks}}}
		s.oddByDraw(os, &sep)
		if sep.OddOne != c.want {
			t.Errorf("%g A blinks: the odd one is %s, want %s", c.blinksA, sep.OddOne, c.want)
		}
	}
}
