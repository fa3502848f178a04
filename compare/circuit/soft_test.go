package circuit

import (
	"math"
	"testing"
)

// A diode without a resistor behind a board's output, beside a strip that
// returns another way: at the full supply the diode alone would carry 1e50 A.
func TestSolveStartsNearADiodeWithoutResistor(t *testing.T) {
	fit, err := FitDiode([]Sample{{Volts: 1.88, Amps: 0.001}, {Volts: 2.0, Amps: 0.005}, {Volts: 2.1, Amps: 0.02}})
	if err != nil {
		t.Fatal(err)
	}
	led := LED{Diode: fit.Diode}
	for _, wireOhms := range []float64{0.01, 0.3, 3.4, 30} {
		n := New()
		minus, mast := n.AddReturn(0, wireOhms), n.AddReturn(0, 0.1)
		keel := n.AddResistor(0, wireOhms)
		out := n.AddOutput(keel, minus, Output{Ohms: 470, FollowsSupply: true, Lit: true})
		port := n.AddBranch(out, minus, Branch{LEDs: []LED{led}})
		strip := n.AddBranch(keel, mast, Branch{Ohms: 220, LEDs: []LED{led, led, led}})
		p := n.NewPoint()
		if err := NewSolver(n).Solve(Source{EmfV: 12}, p); err != nil {
			t.Fatalf("%g ohm: %v", wireOhms, err)
		}
		// Ohm's law round both loops with the diode's own voltage at what flows.
		a, b := p.BranchA[port], p.BranchA[strip]
		both := 12 - (a+b)*wireOhms
		if d := both - a*(470+wireOhms) - fit.Diode.VoltsAt(a); math.Abs(d) > 1e-6 {
			t.Errorf("%g ohm: %g V are left over in the beacon's loop at %g A", wireOhms, d, a)
		}
		if d := both - b*220 - 3*fit.Diode.VoltsAt(b) - b*0.1; math.Abs(d) > 1e-6 {
			t.Errorf("%g ohm: %g V are left over in the strip's loop at %g A", wireOhms, d, b)
		}
	}
}
