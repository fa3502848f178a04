package returns

import (
	"math"
	"testing"
)

// A law is found from its own points, at any ideality and series resistance, and what doesn't
// bend like LEDs isn't one.
func TestTheLawOfAGroupIsFoundFromItsCurve(t *testing.T) {
	for _, want := range []law{{8.5, 44, 0.243}, {9.3, 35, 0.186}, {3.4, 1230, 0.092}, {4.4, 286, 0.126}} {
		c := Curve{Volts: grid(want.zeroV-2.5, 12, (14.5-want.zeroV)/13)}
		c.Amps = want.over(c.Volts)
		for i, v := range c.Volts {
			a := c.Amps[i]
			if off := want.zeroV + want.ohms*a + want.slopeV*math.Log(a) - v; math.Abs(off) > 1e-8 {
				t.Errorf("%+v: %g A at %g V, off by %g V", want, a, v, off)
			}
		}
		got, ok := lawOf(c)
		if !ok || math.Abs(got.zeroV-want.zeroV) > 1e-4 || math.Abs(got.ohms/want.ohms-1) > 1e-4 ||
			math.Abs(got.slopeV/want.slopeV-1) > 1e-4 {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
	straight, held := Curve{Volts: grid(1, 12, 1)}, Curve{Volts: grid(1, 12, 1)}
	for _, v := range straight.Volts {
		straight.Amps = append(straight.Amps, v/1000)
		held.Amps = append(held.Amps, math.Min(0.02, math.Max(0, v-5)*0.02))
	}
	if l, ok := lawOf(straight); ok {
		t.Errorf("a resistor follows %+v", l)
	}
	if l, ok := lawOf(held); ok && farOff(held.Amps, l.over(held.Volts)) < 1e-6 {
		t.Errorf("a current that is held follows %+v", l)
	}
}
