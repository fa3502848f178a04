package budget

import (
	"errors"
	"math"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/wiring"
)

// An output that is overloaded in a circuit, cured by the resistor that its current
// tells, gives what it can, and not so little that nothing is left to see. The
// circuit knows the LEDs' whole curves, the formula one forward voltage.
func TestCureForAnOverloadedOutput(t *testing.T) {
	for _, ohms := range []float64{10, 47, 220} {
		for _, most := range []float64{0.012, 0.025} {
			p := tidy()
			gi := 2
			g := &p.Groups[gi]
			o := &p.Boards[0].Outputs[g.Output-1]
			o.FollowsSupply, o.Ohms.Nominal, o.MaxAmps = true, ohms, most
			w, err := wiring.Build(p, p.Jacks[0].Name, wiring.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if err := fault.Apply(w, fault.Fault{Kind: fault.Overloaded, Group: g.Name}); err != nil {
				t.Fatal(err)
			}
			given := func(more, volts float64) float64 {
				for i, x := range w.Terminals {
					w.SetOn(i, x.Board == 0)
				}
				w.SetLit(0, g.Output-1, true)
				node := w.Boards[0].Outputs[g.Output-1]
				own := w.Net.Ohms(node)
				w.Net.SetOhms(node, own+more)
				defer w.Net.SetOhms(node, own)
				if err := w.Solve(circuit.Source{EmfV: volts}); err != nil {
					t.Fatal(err)
				}
				return w.OutputAmps(w.Point, 0, g.Output-1)
			}
			j := p.Jacks[0]
			before := given(0, j.Volts)
			c, err := CureFor(p, p.Boards[0].Name, g.Output, before)
			if err != nil {
				t.Errorf("%g ohm, %g A: %v at %g A", ohms, most, err, before)
				continue
			}
			after := given(c.Ohms, j.HighVolts)
			if before <= most || after > most || after < 0.4*most || math.Abs(after/c.Amps-1) > 0.15 ||
				c.Watts < 0.99*after*after*c.Ohms || c.RatingW < 2*c.Watts || math.Abs(c.AllOhms-ohms-c.Ohms) > 1e-9 {
				t.Errorf("%g ohm, %g A: %g A before, %g A after %+v", ohms, most, before, after, c)
			}
		}
	}
	if _, err := CureFor(tidy(), "beacon", 1, 0.001); !errors.Is(err, ErrNoCure) {
		t.Errorf("an output that gives little: %v", err)
	}
}
