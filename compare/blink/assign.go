package blink

import (
	"math"
	"slices"
	"sort"

	"sealworthy/compare/linear"
)

// Limits of telling which output does what.
const (
	drawSpread   = 0.12 // standard deviation of a draw about the expected one, fraction
	weakSpread   = 0.5  // and of one whose lights are partly dark
	weakPenalty  = 4.0  // in -2 ln likelihood, for such a one
	idleSpread   = 0.05 // and about zero, when dark
	leastBlink   = 0.06 // of the expected draw: below, an output doesn't blink
	faultPenalty = 8.0  // in -2 ln likelihood, for an output that doesn't blink
	wayMargin    = 6.0  // two ways closer than this can't be told apart

	// What stays lit often does because more hangs on it than planned.
	overTimes, overSpread = 1.7, 0.4 // its draw beside the expected one, and the standard deviation of that
)

// doing is what an output may do, and how its levels then lie about the expected draw.
type doing struct {
	does      Agreement
	spread    float64 // of the step of its turn
	penalty   float64 // in -2 ln likelihood
	lit       float64 // what it adds to the base, beside the expected draw
	litSpread float64
}

var doings = [...]doing{
	{Agrees, drawSpread, 0, 0, 0},
	{Agrees, weakSpread, weakPenalty, 0, 0},
	{SteadyDark, idleSpread, faultPenalty, 0, 0},
	{SteadyLit, idleSpread, faultPenalty, 1, drawSpread},
	{SteadyLit, idleSpread, faultPenalty, overTimes, overSpread},
}

// way is one way in which outputs may run: which output lights which turn, and
// what each does.
type way struct {
	order []int       // order[turn] is an output
	does  []Agreement // of each output
	cost  float64
}

// assign tells from levels (base, then the step of each turn) with their
// covariance what each output does and draws. Hold gives levels and covariance
// for a base known otherwise.
func (out *Separated) assign(levels, cov []float64, o *Outputs, d *trace, hold func(base, u float64) ([]float64, []float64)) {
	if len(o.ExpectedA) == 0 {
		out.unnamed(levels, cov, o, d, hold)
		return
	}
	ways := waysToRun(levels, cov, o, d)
	best := ways[0]
	x, c := levels, cov
	if o.BaseKnown {
		x, c = hold(best.base(levels, cov, o, d))
		// A search with the base may count the turns from another one.
		ways = waysToRun(x, c, o, d)
		best = ways[0]
	}
	out.Outputs = best.levels(x, c, o)
	out.BaseA, out.BaseU = x[0], math.Sqrt(math.Max(c[0], 0))
	out.setSum(x, c)
	out.BaseShown = o.BaseKnown || out.BaseU < 0.2*out.SumA
	out.Apart = true
	fit := ways
	for i, w := range ways {
		if w.cost-best.cost > wayMargin {
			fit = ways[:i]
			break
		}
	}
	out.whichDoes(fit, x, c, o)
	out.whichTurn(fit, x, c, o)
	for i := range out.Outputs {
		switch out.Outputs[i].Agreement {
		case CantTell:
			out.Agreement = CantTell
			out.Why = "what each output does can't be told from the levels: measure them one at a time"
		case SteadyDark, SteadyLit:
			if out.Agreement == Agrees {
				out.Why = "the pace agrees, but not every output follows it"
			}
		}
	}
}

// levels gives each output what it draws in this way of running.
func (w *way) levels(x, cov []float64, o *Outputs) []OutputLevel {
	out := make([]OutputLevel, len(w.order))
	l := len(x)
	for turn, i := range w.order {
		out[i] = OutputLevel{x[1+turn], math.Sqrt(math.Max(cov[(1+turn)*l+1+turn], 0)), w.does[i]}
		if w.does[i] == SteadyLit {
			out[i].Amps, out[i].U = w.litAmps(i, x[0], cov[0], o)
		}
	}
	return out
}

// litAmps is what output i, which stays lit, adds to the base: it can't be told
// from others that stay lit, nor where the board's own draw isn't known.
func (w *way) litAmps(i int, base, baseVar float64, o *Outputs) (amps, u float64) {
	if !o.BaseKnown || w.oddOne() != SteadyLit {
		return o.ExpectedA[i], drawSpread * o.ExpectedA[i]
	}
	return base - o.BaseA, math.Hypot(o.BaseU, math.Sqrt(math.Max(baseVar, 0)))
}

// whichDoes leaves open what an output does where ways that fit differ in it. Where
// all of them agree that one output stays lit or dark, and only not which, that much
// is said.
func (out *Separated) whichDoes(fit []way, x, cov []float64, o *Outputs) {
	odd := NotCompared
	for k, w := range fit {
		one := w.oddOne()
		if k == 0 {
			odd = one
		}
		if one != odd {
			odd = NotCompared
		}
		for i := range w.does {
			if w.does[i] != fit[0].does[i] {
				out.Outputs[i].Agreement = CantTell
			}
		}
	}
	if slices.ContainsFunc(out.Outputs, func(l OutputLevel) bool { return l.Agreement == CantTell }) {
		out.OddOne = odd
	}
	for i := range fit {
		if out.OddOne != NotCompared {
			out.Odd = append(out.Odd, fit[i].levels(x, cov, o))
		}
	}
}

// oddOne is what the single output does that doesn't blink; NotCompared where
// none or several don't.
func (w *way) oddOne() Agreement {
	odd := NotCompared
	for _, a := range w.does {
		switch {
		case a == Agrees:
		case odd != NotCompared:
			return NotCompared
		default:
			odd = a
		}
	}
	return odd
}

// whichTurn keeps the other orders of the same outputs that fit as well, where the
// turns differ.
func (out *Separated) whichTurn(fit []way, x, cov []float64, o *Outputs) {
	best := &fit[0]
	for k := range fit[1:] {
		w := &fit[1+k]
		if !slices.Equal(w.does, best.does) {
			continue
		}
		differs := false
		for turn, i := range w.order {
			if was := best.order[turn]; was != i && best.does[i] == Agrees && best.does[was] == Agrees {
				a, b := out.Outputs[i], out.Outputs[was]
				differs = differs || math.Abs(a.Amps-b.Amps) > 3*math.Hypot(a.U, b.U)
			}
		}
		if differs {
			out.Else = append(out.Else, w.levels(x, cov, o))
		}
	}
}

func (out *Separated) setSum(x, c []float64) {
	l := len(x)
	v := 0.0
	for i := 1; i < l; i++ {
		out.SumA += x[i]
		for j := 1; j < l; j++ {
			v += c[i*l+j]
		}
	}
	out.SumU = math.Sqrt(math.Max(v, 0))
}

// unnamed gives levels in the order of size where no draw is expected.
func (out *Separated) unnamed(levels, cov []float64, o *Outputs, d *trace, hold func(base, u float64) ([]float64, []float64)) {
	x, c := levels, cov
	if o.BaseKnown {
		x, c = hold(o.BaseA, math.Max(o.BaseU, d.noise/10))
	}
	l := len(x)
	for i := 1; i < l; i++ {
		u := math.Sqrt(math.Max(c[i*l+i], 0))
		does := CantTell
		if x[i] > 3*u {
			does = Agrees
		}
		out.Outputs = append(out.Outputs, OutputLevel{x[i], u, does})
	}
	sort.SliceStable(out.Outputs, func(i, j int) bool { return out.Outputs[i].Amps > out.Outputs[j].Amps })
	out.BaseA, out.BaseU = x[0], math.Sqrt(math.Max(c[0], 0))
	out.setSum(x, c)
	out.BaseShown = o.BaseKnown || out.BaseU < 0.2*out.SumA
	out.Apart = true
	for _, x := range out.Outputs {
		if x.Agreement != Agrees {
			out.Apart, out.Agreement = false, CantTell
			out.Why = "the outputs can't be separated without the draw of the board itself"
		}
	}
}

// held conditions levels and covariance on level k, known otherwise.
func held(x, cov []float64, k int, value, u float64) ([]float64, []float64) {
	l := len(x)
	y, c := make([]float64, l), make([]float64, l*l)
	gain := 1 / (cov[k*l+k] + u*u + 1e-300)
	for i := range l {
		y[i] = x[i] + cov[i*l+k]*gain*(value-x[k])
		for j := range l {
			c[i*l+j] = cov[i*l+j] - cov[i*l+k]*gain*cov[k*l+j]
		}
	}
	return y, c
}

// base is what flows with every output that blinks dark: the board's own draw, and
// what stays lit. How much that draws is in doubt, but its turn adds nothing: then
// the trace tells.
func (w *way) base(levels, cov []float64, o *Outputs, d *trace) (amps, u float64) {
	amps, u = o.BaseA, math.Max(o.BaseU, d.noise/10)
	if !slices.Contains(w.does, SteadyLit) {
		return amps, u
	}
	x, c := levels, cov
	for turn, i := range w.order {
		amps += lit(w.does[i]) * o.ExpectedA[i]
		if w.does[i] != Agrees {
			x, c = held(x, c, 1+turn, 0, math.Max(d.noise/10, 0.001*o.ExpectedA[i]))
		}
	}
	wide := overTimes * total(o.ExpectedA)
	x, c = held(x, c, 0, amps, math.Hypot(u, wide))
	return x[0], math.Max(math.Sqrt(math.Max(c[0], 0)), d.noise/10)
}

func lit(a Agreement) float64 {
	if a == SteadyLit {
		return 1
	}
	return 0
}

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
