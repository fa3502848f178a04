package wiring

import (
	"math"
	"math/rand/v2"
	"testing"

	"sealworthy/compare/plan"
)

// What one terminal needs gives the currents of the whole circuit with all else
// off, whatever has moved: through joints that others share, past a converter
// that idles, with returns of its own, behind a board.
func TestOnlyIsTheWholeWithAllElseOff(t *testing.T) {
	w5 := plan.Wire{Ohms: within(0.5, 0.1, 0.5), AreaM2: 1e-7}
	p := &plan.Plan{
		Jacks: []plan.Jack{{Name: "main", Volts: 12}, {Name: "aft", Volts: 5}},
		Joints: []plan.Joint{{Name: "keel", From: "main", Wire: w5},
			{Name: "low", From: "keel", Wire: w5, Holds: []plan.Hold{
				{Kind: plan.HoldConverter, OutVolts: within(5, 0.1, 0), Efficiency: within(0.9, 0.02, 0),
					IdleAmps: within(0.004, 0.001, 0), MinInVolts: 6}}},
			{Name: "mast", From: "keel", Wire: w5,
				Holds: []plan.Hold{{Kind: plan.HoldFuse, Ohms: within(0.3, 0.1, 0)}}}},
		Returns: []plan.Return{{Name: "brass", To: "main", Wire: w5}, {Name: "stay", To: "brass", Wire: w5}},
		Boards: []plan.Board{{Name: "beacon", Joint: "mast", Wire: w5, Standing: within(0.004, 0.001, 0), LowVolts: 6,
			Outputs: []plan.Output{{Number: 1, OpenVolts: within(5, 0.2, 0), Ohms: within(100, 5, 0)},
				{Number: 2, OpenVolts: within(5, 0.2, 0), Ohms: within(100, 5, 0)}}}},
		Groups: []plan.Group{
			{Name: "a", Joint: "keel", Wire: w5, Lights: []plan.Light{white(330, 3, 4)}},
			{Name: "b", Joint: "low", Wire: w5, Lights: []plan.Light{white(150, 1, 3)}},
			{Name: "c", Joint: "mast", Return: "stay", Wire: w5, Lights: []plan.Light{white(330, 2, 2)}},
			{Name: "d", Board: "beacon", Output: 1, Wire: w5, Lights: []plan.Light{white(100, 1, 1)}},
			{Name: "e", Board: "beacon", Output: 2, Wire: w5, Lights: []plan.Light{white(100, 1, 1)}},
			{Name: "f", Joint: "aft", Wire: w5, Lights: []plan.Light{white(100, 1, 1)}},
		},
	}
	r := rand.New(rand.NewPCG(5, 5))
	for terminal, of := range Terminals(p) {
		whole := build(t, p, Options{SeriesOhm: 0.7})
		if of.Group >= 0 && !whole.Groups[of.Group].Here {
			continue
		}
		part, params, err := whole.Only(terminal)
		if err != nil {
			t.Fatal(err)
		}
		if len(params) != len(part.Params) || len(params) >= len(whole.Params) {
			t.Fatalf("%s: %d of its %d quantities found among %d", of.Name, len(params), len(part.Params),
				len(whole.Params))
		}
		dev := make([]float64, len(whole.Params))
		for i, q := range whole.Params {
			dev[i] = q.Value.HalfWidth * (2*r.Float64() - 1)
			whole.Apply(i, dev[i])
		}
		for k, i := range params {
			if a, b := part.Params[k], whole.Params[i]; a.Name != b.Name || a.Kind != b.Kind {
				t.Fatalf("%s: %q is taken for %q", of.Name, b.Name, a.Name)
			}
			part.Apply(k, dev[i])
		}
		whole.SetAll(false)
		whole.SetOn(terminal, true)
		for _, w := range []*Wired{whole, part} {
			w.LightAll(true)
		}
		for _, volts := range []float64{4, 9, 12} {
			want, got := solve(t, whole, volts), solve(t, part, volts)
			if got.SourceA != want.SourceA || !(got.SourceA > 0) {
				t.Errorf("%s at %g V: %.15g A, the whole gives %.15g A", of.Name, volts, got.SourceA, want.SourceA)
			}
			for g := range p.Groups {
				if part.Groups[g].Here && math.Abs(part.GroupAmps(got, g)-whole.GroupAmps(want, g)) > 1e-15 {
					t.Errorf("%s at %g V: group %s differs", of.Name, volts, p.Groups[g].Name)
				}
			}
		}
	}
}
