package budget

import (
	"math"

	"sealworthy/compare/reel"
	"sealworthy/compare/wiring"
)

// commons makes the factors of the law for what the pieces of reels share.
// Where something was learned they are normal and correlated: c = mean + Chol z.
type commons struct {
	s       *side
	known   *reel.Factors
	factors []int // by Param.Common, then the bench's: z of the learned ones; -1: not made yet
}

// known is what was learned of a circuit's reels, and of the bench if it is the same.
func (a At) known(w *wiring.Wired) *reel.Factors {
	if a.SameBench && a.Meter != nil {
		return a.Learned.ForBench(w, a.MeterName)
	}
	return a.Learned.For(w)
}

func newCommons(s *side, known *reel.Factors) *commons {
	c := &commons{s: s, known: known, factors: make([]int, len(known.Mean))}
	for i := range c.factors {
		c.factors[i] = -1
	}
	return c
}

// sameBench adds voltage, leads, temperature and the meter's gain as they were
// learned along with the reels.
func (c *commons) sameBench(at At) {
	b, s := c.known.Bench, c.s
	c.add(s.gainI, b.Gain, at.Meter.OfReading/math.Sqrt(3))
	c.add(s.voltsI, b.Volts, b.VoltsU)
	c.add(s.leadsI, b.Leads, b.LeadsU)
	for _, t := range s.warm {
		c.add(t.input, b.Temp, t.gain*b.TempU)
	}
}

// of gives the factor of a common deviation. The uncertainty that reels share
// with those before them counts there.
func (c *commons) of(common int) int {
	if c.factors[common] < 0 {
		sh := rectangular
		if c.known.Learned[common] {
			sh = normal
		}
		o := origin{class: benchPart}
		if common < len(c.s.w.Factors) {
			o = origin{class: reelPart, reel: c.s.w.Factors[common].Reel}
		}
		c.factors[common] = c.s.factorOf(o, sh)
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
