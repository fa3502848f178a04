package budget

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

// anyGroups draws a plan of one to three groups of LEDs and resistors; wider
// multiplies every tolerance of a part.
func anyGroups(t *rapid.T) func(wider float64) *plan.Plan {
	type spec struct {
		n, series     int
		v, r          float64
		tolR, tolV, s float64
		spread        float64
	}
	specs := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) spec {
		return spec{n: rapid.IntRange(1, 8).Draw(t, "branches"), series: rapid.IntRange(0, 3).Draw(t, "in series"),
			v: rapid.Float64Range(1.7, 3.2).Draw(t, "V"), r: rapid.Float64Range(100, 2000).Draw(t, "ohm"),
			tolR: rapid.Float64Range(0.01, 0.1).Draw(t, "ohm tolerance"), tolV: rapid.Float64Range(0.01, 0.2).Draw(t,
				"V tolerance"),
			s: rapid.Float64Range(0, 1).Draw(t, "share"), spread: rapid.Float64Range(0, 0.15).Draw(t, "spread")}
	}), 1, 3).Draw(t, "groups")
	return func(wider float64) *plan.Plan {
		p := bench()
		for i, x := range specs {
			l := own(x.n, x.series, led("white", x.v, x.tolV*wider, x.s), x.r, x.tolR*wider, x.s)
			l.BranchSpread = plan.Value{Nominal: 1, HalfWidth: x.spread * wider, Share: x.s}
			hang(p, fmt.Sprintf("group %d", i), l)
		}
		return p
	}
}

// The band holds the nominal draw, lies within reach of the worst case and in
// order; the parts of u add up; a dead branch never takes more than all.
func TestBandHoldsNominal(t *testing.T) {
	skipStatistics(t)
	rapid.Check(t, func(t *rapid.T) {
		b, err := Of(anyGroups(t)(1), At{Scene: scene.Scene{LeadsOhm: 0.2}, Trials: 200}, rapid.Uint64().Draw(t,
			"seed"))
		if err != nil {
			t.Fatal(err)
		}
		for _, g := range b.Groups {
			d := g.Lit
			slack := 1e-9 + 0.05*d.UA
			if d.LowA > d.NominalA+slack || d.HighA < d.NominalA-slack || d.WorstLowA > d.NominalA ||
				d.WorstHighA < d.NominalA {
				t.Fatalf("%s: %+v", g.Group, d)
			}
			if sum := math.Sqrt(d.UOwnA*d.UOwnA + d.UReelA*d.UReelA + d.UBenchA*d.UBenchA); d.LinearUA > 0 &&
				math.Abs(sum-d.UA) > 1e-9*(1+d.UA) {
				t.Fatalf("%s: parts add up to %g, u is %g", g.Group, sum, d.UA)
			}
			if g.SmallestA < 0 || g.SmallestA > d.NominalA*(1+1e-9) {
				t.Fatalf("%s: draws %g A, a dead branch takes %g A", g.Group, d.NominalA, g.SmallestA)
			}
		}
	})
}

// Wider tolerances never narrow a band, with the same random numbers.
func TestWiderIsNeverNarrower(t *testing.T) {
	skipStatistics(t)
	rapid.Check(t, func(t *rapid.T) {
		make, k := anyGroups(t), rapid.Float64Range(1, 2).Draw(t, "wider")
		at := At{Trials: 200}
		a, err := Of(make(1), at, 7)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Of(make(k), at, 7)
		if err != nil {
			t.Fatal(err)
		}
		for i, g := range a.Groups {
			n, w := g.Lit, b.Groups[i].Lit
			if tol := 1e-3 * n.UA; w.HighA-w.LowA < n.HighA-n.LowA-tol || w.WorstHighA < n.WorstHighA-1e-9 ||
				w.WorstLowA > n.WorstLowA+1e-9 {
				t.Fatalf("%s, %.3g times as wide: %+v, then %+v", g.Group, k, n, w)
			}
		}
	})
}
