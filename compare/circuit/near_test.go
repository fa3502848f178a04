package circuit

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Near finds what a full solve finds, one small change after another, in any order,
// with full solves between them.
func TestNearIsWhatASolveFinds(t *testing.T) {
	far := 0.0
	for seed := range uint64(40) {
		n := randomNet(rand.New(rand.NewPCG(seed, 3)), false)
		src := Source{EmfV: 12, Ohms: 0.1}
		s, full := NewSolver(n), NewSolver(n)
		p, q, base := n.NewPoint(), n.NewPoint(), n.NewPoint()
		if err := s.Solve(src, p); err != nil {
			t.Fatal(err)
		}
		s.Home()
		if err := s.Hold(src, base); err != nil {
			t.Fatal(err)
		}
		for id := range BranchID(n.Branches()) {
			was := n.BranchOhms(id)
			quick, whole := make([]float64, len(n.el)), make([]float64, len(n.el))
			for _, sign := range []float64{1, -1} {
				n.SetBranchOhms(id, was*(1+0.05*sign))
				moved := n.dirty
				if err := s.Near(src, p); err != nil {
					t.Fatal(err)
				}
				n.dirty = moved // both solvers share the net
				if err := full.Solve(src, q); err != nil {
					t.Fatal(err)
				}
				for k := range quick {
					quick[k], whole[k] = quick[k]+sign*p.ElementA[k], whole[k]+sign*q.ElementA[k]
				}
			}
			n.SetBranchOhms(id, was)
			for k := range quick { // each solve is good to a few 1e-8
				far = math.Max(far, (math.Abs(quick[k]-whole[k])-1e-7*base.SourceA)/math.Abs(whole[0]))
			}
			if id%5 == 4 { // what another solve leaves behind changes nothing
				if err := s.Solve(Source{EmfV: 9, Ohms: 0.1}, q); err != nil {
					t.Fatal(err)
				}
			}
		}
		if err := s.Near(src, p); err != nil {
			t.Fatal(err)
		}
		if d := math.Abs(p.SourceA - base.SourceA); d > 1e-7*base.SourceA+1e-10 {
			t.Errorf("seed %d: with all back as it was %g A, held at %g A", seed, p.SourceA, base.SourceA)
		}
		n.SetBranchOn(0, false)
		if s.Near(src, p) == nil {
			t.Errorf("seed %d: near what is no more there", seed)
		}
	}
	t.Logf("beyond 1e-7 of the draw off by at most %.2g of the change", far)
	if far > 1e-4 {
		t.Errorf("off by %.2g of the change at the source", far)
	}
}
