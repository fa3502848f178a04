package sample_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"testing"

	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/sample"
)

// TestAGroupByASampleOfItsReel: pieces of a reel with 3 % of scatter of their own,
// their mean anywhere within the part's tolerance. What ten of them tell settles a
// group of twenty nearly always; what five tell, mostly; and one dark light rarely passes.
// Normal pieces, invented figures.
func TestAGroupByASampleOfItsReel(t *testing.T) {
	trials := 60
	if os.Getenv("SEALWORTHY_LONG") != "" {
		trials = 400
	}
	const own, group = 0.03, 20
	r := rule.Default()
	for _, row := range []struct {
		pieces                int
		leastPassed, mostDark float64
	}{{10, 0.90, 0.07}, {5, 0.50, 0.07}} {
		rng := rand.New(rand.NewPCG(uint64(row.pieces), 7))
		passed, dark := 0, 0
		for range trials {
			mean := 0.010 * (1 + 0.1*(2*rng.Float64()-1))
			draw := func() float64 { return mean * (1 + own*rng.NormFloat64()) }
			values := make([]float64, row.pieces)
			for i := range values {
				values[i] = draw()
			}
			s, err := budget.Sampled(values, 1e-5, 0.3)
			if err != nil {
				t.Fatal(err)
			}
			lights, err := expectedOf(s, group)
			if err != nil {
				t.Fatal(err)
			}
			e, perPiece := lights.Lit, lights.SmallestA
			total := 0.0
			for range group - 1 {
				total += draw()
			}
			lit, lost := total+draw(), total
			if r.Decide(lit, e.MeanA, e.UA, perPiece) == rule.Pass {
				passed++
			}
			if r.Decide(lost, e.MeanA, e.UA, perPiece) == rule.Pass {
				dark++
			}
		}
		t.Logf("%d pieces: of %d healthy groups of %d %.3f passed, of those with one dark %.3f", row.pieces,
			trials, group,
			float64(passed)/float64(trials), float64(dark)/float64(trials))
		if float64(passed)/float64(trials) < row.leastPassed || float64(dark)/float64(trials) > row.mostDark {
			t.Errorf("%d pieces: expected %.2f or more, and %.2f or less", row.pieces, row.leastPassed, row.mostDark)
		}
	}
}

// expectedOf is the budget of a group of pieces by what a sample told of their reel.
func expectedOf(s budget.Sample, pieces int) (budget.Group, error) {
	part := sample.Known(plan.Part{Kind: plan.PartSMD}, s)
	src := fmt.Sprintf(`build = "Brackwater, cabins"
[jack.main]
volts = 12.0
[closure.deck]
[[group]]
name = "cabins"
closure = "deck"
joint = "main"
wire = { mm = 0.5, length_mm = 10 }
lights = [ { part = "smd warm white 12 V", draw_mA = %.5f, tolerance = %.5f, share = %.5f, count = %d } ]
`, part.Amps*1e3, part.Tolerance, part.Share, pieces)
	p, problems := plan.Parse("cabins.toml", []byte(src))
	if len(problems) > 0 {
		return budget.Group{}, problems[0]
	}
	b, err := budget.Of(p, budget.At{Trials: 100}, 1)
	if err != nil {
		return budget.Group{}, err
	}
	return b.Groups[0], nil
}
