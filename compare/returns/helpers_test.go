package returns

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

func sd(p float64, n int) float64 { return math.Sqrt(math.Max(p*(1-p), 0.01) / float64(max(1, n))) }

func bell(x float64) float64 { return math.Exp(-x * x / 2) }

func testRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

// weigh gives the posterior of the single hypotheses after readings at some
// voltages only.
func (l *Library) weigh(y []float64, measured []int, n Nuisances, noise []float64, pr fault.ReturnPriors) []Alive {
	sub := l.only(measured)
	pr.Two = 0
	post, err := sub.posterior(take(y, measured), take(noise, measured), n, pr, nothingKnown())
	if err != nil {
		panic(err)
	}
	return post.alive(sub)
}

// over is a search on a library that was made before.
func (l *Library) over(p *plan.Plan, s *Signature, n Nuisances, pr fault.ReturnPriors, dwellS float64) *Search {
	return &Search{p: p, s: s, n: n, pr: pr, dwellS: dwellS, left: candidatesAt(l.Volts), l: l,
		trace: nothingKnown(), seen: nothingKnown(), eye: look.DefaultRates()}
}

// SameMeter makes the gain that of one meter against itself.
func (n Nuisances) SameMeter() Nuisances { n.GainRel = sameMeterRel; return n }

// evenPriors are those of a model of which nothing is said: as likely right as not.
func evenPriors() fault.ReturnPriors {
	p := fault.DefaultPriors().Return
	p.Nothing, p.Unnoticed = 0.5, 1 // nobody chose which of them come back
	return p
}

// seedOf is that of a table: fixed where it's small, drawn at the run at full size,
// or that of SEALWORTHY_SEED.
func seedOf(fixed uint64) uint64 {
	if x, err := strconv.ParseUint(os.Getenv("SEALWORTHY_SEED"), 10, 64); err == nil {
		return x
	}
	if long() {
		return rand.Uint64() >> 32
	}
	return fixed
}
