package blink

import "math"

// A profile is taken where -2 ln likelihood has risen by the square of this:
// between two such points lies an interval of about 95 %.
const (
	profileK    = 2.0
	profileRise = profileK * profileK
)

// sides are the standard uncertainties of a value towards less and towards more.
type sides [2]float64

// wider is the greater of the two: what is stated beside a value.
func (s sides) wider() float64 { return math.Max(s[0], s[1]) }

// half is half the width that both span: by it a value is shown or hidden, as
// JCGM 100:2008, 4.3.8 takes unequal bounds together.
func (s sides) half() float64 { return (s[0] + s[1]) / 2 }

// profile returns standard uncertainties of the duty parameter and of the lit
// and dark level from the likelihood itself: how far the parameter can be
// pushed either way, all others following, before -2 ln likelihood has risen
// by 4, halved. Derivatives at the best point understate this where a flash is
// shorter than the window (length and level trade places) and know nothing of
// an edge that lies in a gap between windows. Hint is the uncertainty from the
// derivatives.
func (q *search) profile(s *solution, hint float64) (byA, on, off sides) {
	held := s.m
	held.free = 2
	rise := profileRise * q.d.scale(s.chi)
	at := func(a float64) (solution, bool) {
		p := s.p
		p[pA] = a
		c := p
		s.m.clamp(&c)
		if c[pA] != a {
			return solution{}, false
		}
		q.fit.set(q.part(held, p))
		q.fit.flatWeights()
		q.fit.respond(-1)
		q.fit.solveLevels()
		m2l, _ := q.fit.polish(2)
		return solution{m2l: m2l - s.m2l, off: q.fit.levels[0], amp: q.fit.levels[1], p: q.fit.parts[0].p}, true
	}
	for i, side := range []float64{-1, 1} {
		step := math.Min(math.Max(hint, 5e-4), 0.02)
		last, rose := 0.0, 0.0
		var reached solution
		for range 7 {
			r, inside := at(s.p[pA] + side*step)
			if !inside {
				break
			}
			if reached = r; r.m2l > rise {
				// Between the last two steps the rise goes about as the square.
				low := math.Max(rose, 0)
				step = last + (step-last)*(math.Sqrt(rise)-math.Sqrt(low))/(math.Sqrt(r.m2l)-math.Sqrt(low))
				break
			}
			last, rose = step, r.m2l
			step *= 2
		}
		share := 1.0
		if moved := math.Abs(reached.p[pA] - s.p[pA]); moved > 0 {
			share = math.Min(step/moved, 1)
		}
		byA[i] = step / profileK
		if reached.p[pHz] > 0 {
			on[i] = share * math.Abs(reached.off+reached.amp-s.off-s.amp) / profileK
			off[i] = share * math.Abs(reached.off-s.off) / profileK
		}
	}
	return byA, on, off
}
