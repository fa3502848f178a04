package returns

import "testing"

// Kept with the clip on one of its groups the whole model falls short of them all; what thin wires take doesn't
// count, nor is it told where something blinks or a group isn't known.
func TestTheWholeFallsShort(t *testing.T) {
	line := func(a float64) Curve { return Curve{Volts: []float64{6, 9, 12}, Amps: []float64{a / 4, a / 2, a}} }
	group := func(a float64) GroupCurve { return GroupCurve{Kept: KeptSweep, Lit: line(a)} }
	blinks, unknown := group(0.02), group(0.02)
	blinks.Board, unknown.Kept = "beacon", KeptNothing
	for name, c := range map[string]struct {
		whole  float64
		groups []GroupCurve
		short  bool
	}{
		"all of it":       {0.058, []GroupCurve{group(0.02), group(0.04)}, false},
		"thin wires":      {0.0545, []GroupCurve{group(0.02), group(0.04)}, false},
		"one of two":      {0.04, []GroupCurve{group(0.02), group(0.04)}, true},
		"half a branch":   {0.0515, []GroupCurve{group(0.02), group(0.04)}, false},
		"a small one":     {0.4, []GroupCurve{group(0.4), group(0.002)}, false},
		"something moves": {0.02, []GroupCurve{group(0.02), blinks}, false},
		"one not known":   {0.02, []GroupCurve{group(0.02), unknown}, false},
	} {
		s := &Signature{Groups: c.groups, Whole: []Whole{{Sweep: line(c.whole)}}}
		if sum, whole, volts, short := s.fallsShort(); short != c.short || whole != c.whole || volts != 12 {
			t.Errorf("%s: %v of %v at %v V: %v", name, whole, sum, volts, short)
		}
	}
}
