package signature

import (
	"math"
	"math/rand/v2"
)

func sd(p float64, n int) float64 { return math.Sqrt(math.Max(p*(1-p), 0.01) / float64(max(1, n))) }

func bell(x float64) float64 { return math.Exp(-x * x / 2) }

func testRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

// weigh gives the posterior of the single hypotheses after readings at some
// voltages only.
func (l *Library) weigh(y []float64, measured []int, n Nuisances, noise []float64, pr Priors) []Alive {
	sub := *l
	sub.Volts, sub.HealthyA, sub.slopeA, sub.warmA = take(l.Volts, measured), take(l.HealthyA, measured), take(l.slopeA, measured), take(l.warmA, measured)
	sub.groups = nil
	sub.Hypotheses = nil
	for _, h := range l.Hypotheses {
		h.DeltaA = take(h.DeltaA, measured)
		var extra [][]float64
		for _, x := range h.extra {
			extra = append(extra, take(x, measured))
		}
		h.extra = extra
		sub.Hypotheses = append(sub.Hypotheses, h)
	}
	pr.Two = 0
	post, err := sub.posterior(take(y, measured), take(noise, measured), n, pr, nil)
	if err != nil {
		panic(err)
	}
	return post.alive(&sub)
}

func take(x []float64, at []int) []float64 {
	out := make([]float64, len(at))
	for i, k := range at {
		out[i] = x[k]
	}
	return out
}
