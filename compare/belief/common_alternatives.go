package belief

import (
	"math"
	"slices"

	"sealworthy/compare/plan"
)

func named(group string) func(g plan.Group) bool {
	return func(g plan.Group) bool { return g.Name == group }
}

// alternatives of a group that a cause reaches: what it leaves of a healthy draw first,
// then that with a fault of the group's own beside it.
func (x *cause) alternatives(c *above, i int, s dispersion) []alternative {
	e := c.ms[i].Ensemble
	l, eye := c.ms[i].Look.Counted(e.Lights), e.priors.Eye
	if x.pattern != nil {
		q := lack{interest: x.pattern.at[i], times: x.pattern.times[i]}
		m := q.of(e)
		a := c.both(i, &m, c.shared(i, c.left(i, &m)), s)
		a.logPrior = eye.LogOf(l, q.times*e.variants[e.interest[q.interest].variant].dark, 0, e.Lights)
		return []alternative{a}
	}
	a := x.leaves(c, i, s)
	dark, dim := x.seen(c, i)
	a.logPrior = logOf(e.priors.None) + eye.LogOf(l, dark, dim, e.Lights)
	own := logOf(1-e.priors.None) + eye.LogOfUnknown(l, e.Lights)
	return append([]alternative{a}, c.somethingOwn(i, a, own)...)
}

// leaves is what a cause leaves of a healthy group.
func (x *cause) leaves(c *above, i int, s dispersion) alternative {
	v := c.views[i]
	m := &c.ms[i].Ensemble.m.healthy
	var loose []float64
	left := x.left[i]
	if left != nil {
		m = m.leaving(v.at, left)
		if c.before[i] != nil {
			loose = left[len(v.at):]
		}
	}
	a := c.both(i, m, loose, s)
	n := len(a.mean)
	if left != nil && !x.Open {
		blur := c.healthy(i)
		for r := range blur {
			blur[r] *= blurred * (1 - left[r])
		}
		a.widen(blur) // the same pieces: the same error in all readings
		top := slices.Max(c.healthy(i))
		for r, h := range c.healthy(i) {
			if left[r]*h < faintPart*top {
				a.cov[r*n+r] += faintU * top * faintU * top
			}
		}
	}
	copy(a.load[(len(c.factors[i])-1)*n:], x.step[i])
	return a
}

// shared is what is left of the readings loose where so much is of those joined.
func (c *above) shared(i int, left []float64) []float64 {
	b := c.before[i]
	if b == nil {
		return nil
	}
	out := make([]float64, len(b.near))
	for r, at := range b.near {
		out[r] = left[at]
	}
	return out
}

// seen is how many lights of a group the eye finds dark or dim behind a cause.
func (x *cause) seen(c *above, i int) (dark, dim int) {
	if x.left[i] == nil {
		return 0, 0
	}
	top, ok := c.top(i)
	if !ok {
		return 0, 0
	}
	return seen(x.left[i][slices.Index(c.views[i].at, top)], c.ms[i].Ensemble.Lights, 0)
}

// ownSizes are standard deviations of what a fault of a group's own makes of its draw
// beside something in common, as shares of it (common practice, no source).
var ownSizes = []float64{0.07, 0.3, 1}

// somethingOwn is something of a group's own beside what else is so: nobody knows what,
// or in proportion to its draw, since always or since it was joined.
func (c *above) somethingOwn(i int, a alternative, log float64) []alternative {
	k, n := len(c.views[i].at), len(a.mean)
	rows := []int{n}
	if c.before[i] != nil {
		rows = []int{n, k}
	}
	each := log - math.Log(float64(1+len(rows)*len(ownSizes)))
	out := []alternative{c.unknown(i, each)}
	for _, upto := range rows {
		for _, s := range ownSizes {
			w := a
			w.logPrior, w.cov = each, slices.Clone(a.cov)
			by := make([]float64, n)
			for r := range upto {
				by[r] = s * a.mean[r]
			}
			w.widen(by)
			out = append(out, w)
		}
	}
	return out
}

// widen adds the square of what readings may be off by together.
func (a *alternative) widen(by []float64) {
	n := len(by)
	for x := range n {
		for y := range n {
			a.cov[x*n+y] += by[x] * by[y]
		}
	}
}
