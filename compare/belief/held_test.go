package belief

import (
	"math"
	"testing"

	"sealworthy/compare/circuit"
)

// The lumped law of a branch with a regulator is that of package circuit, and its
// derivatives are those of its current.
func TestTheLawOfAHeldBranch(t *testing.T) {
	led := circuit.LED{Diode: circuit.FromDrop(2.95, 0.016, 0.052, 8)}
	b := circuit.Branch{LEDs: []circuit.LED{led, led, led}, Regulator: circuit.Regulator{Amps: 0.016, HoldV: 1.4},
		Factor: 1}
	n := circuit.New()
	id := n.AddBranch(0, 0, b)
	s, p := circuit.NewSolver(n), n.NewPoint()
	l := lawOf(n.Branch(id))
	const h = 1e-4
	for v := 7.0; v <= 12; v += 0.25 {
		if err := s.Solve(circuit.Source{EmfV: v}, p); err != nil {
			t.Fatal(err)
		}
		i := l.amps(v, 0)
		if math.Abs(i-p.BranchA[id]) > 1e-9+2e-4*i { // leastOhms stands in for no resistor
			t.Errorf("at %.2f V: %.6g A, the circuit has %.6g", v, i, p.BranchA[id])
		}
		up, down := l.amps(v+h, 0), l.amps(v-h, 0)
		g, c := l.slope(i, l.total())
		if d := (up - down) / (2 * h); math.Abs(g-d) > 1e-7+1e-3*d {
			t.Errorf("at %.2f V: di/dv %.4g, by differences %.4g", v, g, d)
		}
		if d := (up - 2*i + down) / (h * h); math.Abs(c-d) > 1e-4+2e-2*math.Abs(d) {
			t.Errorf("at %.2f V: d2i/dv2 %.4g, by differences %.4g", v, c, d)
		}
	}
}
