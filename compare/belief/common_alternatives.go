package belief

import (
	"math"
	"slices"

	"sealworthy/compare/plan"
)

func named(group string) func(g plan.Group) bool {
	return func(g plan.Group) bool { return g.Name == group }
}

// hangsElsewhere is the alternative by which a group doesn't hang at a place where the
// plan says so, and is as it should be; elsewhere is how often that is so, of what may be
// wrong with a group by itself (common practice, no source).
const (
	hangsElsewhere = 1
	elsewhere      = 0.05
)

// alternatives of a group that a cause reaches: what it leaves of a healthy draw first,
// that it doesn't hang there, then a fault of the group's own beside the cause: of any size, or
// sharp, with all that it may have by itself.
func (x *cause) alternatives(t *together, i int, s dispersion, sharp bool) []alternative {
	e, l := t.ms[i].Ensemble, t.look(i)
	eye, h := e.priors.Eye, &e.m.healthy
	if x.pattern != nil {
		q := lack{interest: x.pattern.at[i], times: x.pattern.times[i]}
		m := q.of(e)
		a := t.both(i, &m, t.shared(i, t.left(i, &m)), s)
		a.logPrior = eye.LogOf(l, q.times*e.variants[e.interest[q.interest].variant].dark, 0, e.Lights)
		return []alternative{a}
	}
	a := x.leaves(t, i, h, nil, s)
	dark, dim := x.seen(t, i)
	a.logPrior = logOf(e.priors.None) + eye.LogOf(l, dark, dim, e.Lights)
	out := []alternative{a}
	own := 1 - e.priors.None
	if len(x.Spots) > 0 {
		b := t.both(i, h, nil, s)
		b.logPrior = logOf(elsewhere*own) + eye.LogOf(l, 0, 0, e.Lights)
		out, own = append(out, b), own*(1-elsewhere)
	}
	if sharp {
		return append(append(out, t.somethingOwn(i, a, t.unknown(i))...), t.faults(i, x, s)...)
	}
	log := logOf(own) + eye.LogOfUnknown(l, e.Lights)
	return append(append(out, t.somethingOwn(i, a, log+math.Log(1-ownDark))...),
		t.dark(i, log+math.Log(ownDark), s)...)
}

// ownDark is how often nothing flows in a group, of what may be wrong with it by itself
// (common practice, no source). A reading of nothing is so much sharper than a share of its
// draw that faults of any size can't stand for it.
const ownDark = 0.1

// dark is that nothing flows in a group.
func (t *together) dark(i int, log float64, s dispersion) []alternative {
	v := t.views[i]
	nothing := make([]float64, len(v.at))
	return t.either(i, nil, t.ms[i].Ensemble.m.healthy.leaving(v.at, nothing), t.shared(i, nothing), log, s)
}

// either is a fault of a group's own, beside a cause or, nil, with nothing in common: since
// always, when it left so much of what was read loose, as probably as without that; or
// since its pieces were joined, half as probably.
func (t *together) either(i int, x *cause, m *moment, was []float64, log float64, s dispersion) []alternative {
	since := x.leaves(t, i, m, nil, s)
	since.logPrior = log
	if was == nil {
		return []alternative{since}
	}
	since.logPrior -= math.Ln2
	always := x.leaves(t, i, m, was, s)
	always.logPrior = log
	return []alternative{since, always}
}

// leaves is what a cause, or nil, leaves of a group of which a moment holds; was is what that
// leaves of what was read of it loose, nil: all.
func (x *cause) leaves(t *together, i int, m *moment, was []float64, s dispersion) alternative {
	if x == nil {
		return t.both(i, m, was, s)
	}
	v, h, n := t.views[i], &t.ms[i].Ensemble.m.healthy, len(t.healthy(i))
	left := all(n) // by the cause
	if x.left[i] != nil {
		copy(left, x.left[i])
	}
	part := all(n) // of a healthy draw that is there without it
	for r, k := range v.at {
		if m != h && h.mean[k] > fewAmps {
			part[r] = math.Max(0, m.mean[k]/h.mean[k])
		}
		// Of ohms in series with a share of the group's conductance more is left:
		// 1/(1 + s g R), where 1/(1 + g R) is left of all of it.
		if l := left[r]; len(x.Spots) > 0 && l > 0 && l < 1 {
			left[r] = l / (l + part[r]*(1-l))
		}
	}
	copy(part[len(v.at):], was)
	loose := slices.Clone(left[len(v.at):])
	for r := range loose {
		loose[r] *= part[len(v.at)+r]
	}
	a := t.both(i, m.leaving(v.at, left[:len(v.at)]), loose, s)
	size, blur, top := a.load[(len(t.factors[i])-1)*n:], make([]float64, n), slices.Max(t.healthy(i))
	copy(size, x.step[i])
	for r, is := range t.healthy(i) {
		size[r] *= part[r] // of less it takes less
		blur[r] = blurred * is * part[r] * (1 - left[r])
		if left[r] < 1 && left[r]*is < faintPart*top && !x.Open {
			a.cov[r*n+r] += faintU * top * faintU * top
		}
	}
	if !x.Open {
		a.widen(blur) // the same pieces: the same error in all readings
	}
	return a
}

// shared is what is left of the readings loose where so much is of those joined.
func (t *together) shared(i int, left []float64) []float64 {
	if t.before[i] == nil {
		return nil
	}
	return t.before[i].shared(left)
}

// seen is how many lights of a group the eye finds dark or dim behind a cause.
func (x *cause) seen(t *together, i int) (dark, dim int) {
	if x.left[i] == nil {
		return 0, 0
	}
	top, ok := t.top(i)
	if !ok {
		return 0, 0
	}
	return seen(x.left[i][slices.Index(t.views[i].at, top)], t.ms[i].Ensemble.Lights, 0)
}

// ownSizes are standard deviations of what a fault of a group's own makes of its draw
// beside something in common, as shares of it (common practice, no source).
var ownSizes = []float64{0.07, 0.3, 1}

// somethingOwn is something of a group's own beside what else is so: nobody knows what,
// or in proportion to its draw, since always or since it was joined.
func (t *together) somethingOwn(i int, a alternative, log float64) []alternative {
	k, n := len(t.views[i].at), len(a.mean)
	rows := []int{n}
	if t.before[i] != nil {
		rows = []int{n, k}
	}
	each := log - math.Log(float64(1+len(rows)*len(ownSizes)))
	out := []alternative{t.flat(i, each)}
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
