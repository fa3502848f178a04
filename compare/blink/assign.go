package blink

import (
	"math"
	"slices"
	"sort"
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
func (out *Separated) assign(levels, cov []float64, o *Outputs, d *trace,
	hold func(base, u float64) ([]float64, []float64)) {
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
func (out *Separated) unnamed(levels, cov []float64, o *Outputs, d *trace,
	hold func(base, u float64) ([]float64, []float64)) {
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
