package blink

import (
	"math"
	"sealworthy/compare/linear"
	"sort"
)

// waysToRun rates every way in which the outputs may run, best first.
func waysToRun(levels, cov []float64, o *Outputs, d *trace) []way {
	n := len(levels) - 1
	l := n + 1
	wide := 10 * math.Max(d.highest, total(o.ExpectedA))
	var ways []way
	permute(n, func(order []int) {
		does := make([]doing, n)
		penalty := 0.0
		var each func(int)
		each = func(k int) {
			if k < n {
				for _, s := range doings {
					does[k] = s
					penalty += s.penalty
					each(k + 1)
					penalty -= s.penalty
				}
				return
			}
			delta := append([]float64(nil), levels...)
			s := append([]float64(nil), cov...)
			base, baseVar := o.BaseA, o.BaseU*o.BaseU+d.noise*d.noise/100
			if !o.BaseKnown {
				base, baseVar = d.mean, wide*wide
			}
			w := way{order: append([]int(nil), order...)}
			for _, x := range does {
				w.does = append(w.does, x.does)
			}
			seen := levels
			if o.BaseKnown {
				b, u := w.base(levels, cov, o, d)
				seen, _ = held(levels, cov, 0, b, u)
			}
			w.cost = penalty
			for turn, i := range order {
				want, spread := o.ExpectedA[i], does[i].spread*o.ExpectedA[i]
				base += does[i].lit * want
				baseVar += does[i].litSpread * does[i].litSpread * want * want
				if does[i].does == Agrees {
					if seen[1+turn] < leastBlink*want {
						return // nothing is there that could blink
					}
					delta[1+turn] -= want
				}
				s[(1+turn)*l+1+turn] += spread*spread + d.noise*d.noise/100
			}
			delta[0] -= base
			s[0] += baseVar
			if far, ok := distance(s, delta, l); ok {
				w.cost += far
				ways = append(ways, w)
			}
		}
		each(0)
	})
	sort.SliceStable(ways, func(i, j int) bool { return ways[i].cost < ways[j].cost })
	if len(ways) == 0 {
		w := way{order: make([]int, n), does: make([]Agreement, n)}
		for i := range n {
			w.order[i], w.does[i] = i, CantTell
		}
		ways = append(ways, w)
	}
	return ways
}

// distance is x's/x + ln det s.
func distance(s, x []float64, n int) (float64, bool) {
	scale := make([]float64, n)
	sum := 0.0
	for i := range n {
		if !(s[i*n+i] > 0) {
			return 0, false
		}
		scale[i] = 1 / math.Sqrt(s[i*n+i])
		sum -= 2 * math.Log(scale[i])
	}
	c, y, z := make([]float64, n*n), make([]float64, n), make([]float64, n)
	for i := range n {
		for j := range n {
			c[i*n+j] = s[i*n+j] * scale[i] * scale[j]
		}
		y[i] = x[i] * scale[i]
		z[i] = y[i]
	}
	if !linear.Solve(c, z, n) {
		return 0, false
	}
	for i := range n {
		sum += y[i]*z[i] + 2*math.Log(c[i*n+i])
	}
	return sum, finite(sum)
}

// steadyOutputs says what a steady current means on a board whose outputs
// should alternate.
func (out *Separated) steadyOutputs(d *trace, o *Outputs, e *expected, n int) {
	out.Chi = d.flatMisfit / float64(len(d.t)-1)
	if !o.BaseKnown || len(o.ExpectedA) == 0 {
		out.Why = "it doesn't blink: outputs of the same draw in turn, or steady; they can't be separated"
		return
	}
	near := func(sum, spread float64) bool {
		u := math.Hypot(math.Hypot(out.MeanU, o.BaseU), spread)
		return math.Abs(d.mean-o.BaseA-sum) <= 3*u
	}
	least, most := math.Inf(1), 0.0
	for _, a := range o.ExpectedA {
		least, most = math.Min(least, a), math.Max(most, a)
	}
	noDark := float64(n)*(e.duty+e.tol.DutyAbs) >= 1
	// Draws are believed to a tenth here, and a quarter in the worst case.
	if noDark && most-least < 0.4*most && near(total(o.ExpectedA)/float64(n), 0.1*most) {
		out.Why = "the outputs draw the same and follow each other without a dark moment: they can't be separated"
		return
	}
	sets, found := 0, 0
	for set := range 1 << n {
		sum := 0.0
		for i, a := range o.ExpectedA {
			if set&(1<<i) != 0 {
				sum += a
			}
		}
		if near(sum, 0.1*sum+0.02*least) {
			sets++
			found = set
		}
	}
	if sets != 1 {
		out.Why = "it doesn't blink, and which outputs are lit can't be told: measure them one at a time"
		return
	}
	out.Apart = true
	out.Why = "it doesn't blink"
	out.BaseA, out.BaseU, out.BaseShown = o.BaseA, o.BaseU, true
	for i, a := range o.ExpectedA {
		if found&(1<<i) != 0 {
			out.Outputs = append(out.Outputs, OutputLevel{a, drawSpread * a, SteadyLit})
		} else {
			out.Outputs = append(out.Outputs, OutputLevel{0, math.Hypot(out.MeanU, o.BaseU), SteadyDark})
		}
	}
	switch found {
	case 0:
		out.Agreement = SteadyDark
	case 1<<n - 1:
		out.Agreement = SteadyLit
	}
}
