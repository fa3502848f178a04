package wiring

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
)

// BenchmarkDraw is one draw of every uncertain quantity of an invented plan of 12
// groups and 120 branches, and the solve after it.
func BenchmarkDraw(b *testing.B) {
	p := onePlan()
	p.Groups = nil
	for g := range 12 {
		series, ohms := 3, 330.0
		if g%4 == 3 {
			series, ohms = 1, 1000
		}
		lt := white(ohms, series, 10)
		lt.Reel = fmt.Sprint("reel ", g%3)
		p.Groups = append(p.Groups, plan.Group{Name: fmt.Sprint("group ", g), Joint: "keel",
			Wire: plan.Wire{Ohms: within(0.2, 0.05, 0.5)}, Lights: []plan.Light{lt}})
	}
	w, err := Build(p, "main", Options{})
	if err != nil {
		b.Fatal(err)
	}
	src := circuit.Source{EmfV: 12, Ohms: 0.05}
	if err := w.Solve(src); err != nil {
		b.Fatal(err)
	}
	w.Home()
	r := rand.New(rand.NewPCG(1, 2))
	b.ReportAllocs()
	for b.Loop() {
		for i := range w.Params {
			w.Apply(i, w.Params[i].Value.HalfWidth*(2*r.Float64()-1))
		}
		if err := w.Solve(src); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(w.Params)), "params")
}
