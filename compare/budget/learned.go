package budget

import (
	"math"

	"sealworthy/compare/reel"
)

// commons makes the factors of the law for what the pieces of reels share.
// Where something was learned they are normal and correlated: c = mean + Chol z.
type commons struct {
	s       *side
	known   *reel.Factors
	factors []int // by Param.Common: z of the learned ones; -1: not made yet
}

// of gives the factor of a common deviation. The uncertainty that reels share
// with those before them counts there.
func (c *commons) of(common int) int {
	if c.factors[common] < 0 {
		sh := rectangular
		if c.known.Learned[common] {
			sh = normal
		}
		c.factors[common] = c.s.factorOf(origin{class: reelPart, reel: c.s.w.Factors[common].Reel}, sh)
	}
	return c.factors[common]
}

// negligible part of a standard deviation: its square is beyond what trials can show.
const negligible = 1e-3

// add lets an input move by gain times c of a common factor.
func (c *commons) add(input, common int, gain float64) {
	if !c.known.Learned[common] {
		c.s.law.add(input, c.of(common), gain/math.Sqrt(3))
		return
	}
	c.s.law.shift(input, gain*c.known.Mean[common])
	row := c.known.Chol[common][:common+1]
	v := 0.0
	for _, x := range row {
		v += x * x
	}
	for j, x := range row {
		if x*x > negligible*negligible*v {
			c.s.law.add(input, c.of(j), gain*x)
		}
	}
}
