package belief

import (
	"maps"
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
)

// weighed is what readings and a look make of every variant.
type weighed struct {
	view    *view
	none    float64
	ofOne   float64 // that nothing is wrong with the group that is asked for
	unknown float64
	of      []float64 // by variant
	pairs   []pair
	common  []commonWeighed // lacks that others have, too
	top     float64         // the logarithm that all were divided by
	total   float64         // and the sum that was left then
}

// commonWeighed is a lack that the group has in common with others of its reel.
type commonWeighed struct {
	lack    *lack
	variant int
	p       float64
}

// weigh gives everything its share of the probability: prior times likelihood.
// Pairs are tried when no single fault explains what was seen.
func (e *Ensemble) weigh(rs []Reading, l look.Look) (*weighed, error) {
	v, err := e.look(rs)
	if err != nil {
		return nil, err
	}
	l = l.Counted(e.Lights)
	eye := e.priors.Eye
	w := &weighed{view: v, of: make([]float64, len(e.variants))}
	w.none = logOf(e.priors.None) + e.logHealthy(v, l)
	w.unknown = logOf(e.priors.Unknown) + e.logUnknowable(v, l) + eye.LogOfUnknown(l, e.Lights)
	w.top = math.Max(w.none, w.unknown)
	single := w.none
	for i, x := range e.variants {
		lp := logOf(e.Hypotheses[x.hyp].Prior * x.weight)
		if !math.IsInf(lp, -1) {
			lp += e.logFaulty(v, &e.m.of[i], l, x.dark, x.dim, e.Hypotheses[x.hyp].Suspect != nil) +
				eye.LogOfCount(l, x.more) + eye.LogOfFaint(l, x.dark, x.dim, x.faint)
		}
		w.of[i] = lp
		w.top = math.Max(w.top, lp)
		single = math.Max(single, lp)
	}
	e.weighCommon(w, l)
	if single < w.unknown+math.Log(lastResort) || e.uncounted(w, l) {
		w.pairs = e.pairsOf(v, l)
		for i := range w.pairs {
			w.top = math.Max(w.top, w.pairs[i].p)
		}
	}
	w.normalise(sumOf(e.given.above))
	w.ofOne = e.noneOf(w)
	return w, nil
}

// Of is the ensemble of several groups that are read as one, asked for one of them: what is
// wrong with the others is nothing wrong with that one. The ensemble itself doesn't change.
func (e *Ensemble) Of(group string) *Ensemble {
	out := *e
	out.of = group
	return &out
}

// Seeing is the ensemble of several groups of which only some were looked at: what is dark
// in the others nobody could see. What was counted is of the one that is asked for. The ensemble itself doesn't change.
func (e *Ensemble) Seeing(groups []string) *Ensemble {
	out := *e
	out.variants = make([]*variant, len(e.variants))
	for i, v := range e.variants {
		x := *v
		if !slices.Contains(groups, e.Hypotheses[v.hyp].Group) {
			x.dark, x.dim, x.faint = 0, 0, 0
		}
		if e.Hypotheses[v.hyp].Group != e.of {
			x.more = 0
		}
		out.variants[i] = &x
	}
	return &out
}

// noneOf is how probable it is that nothing is wrong with the group that is asked for.
func (e *Ensemble) noneOf(w *weighed) float64 {
	if e.of == "" || len(e.Groups) < 2 {
		return w.none
	}
	elsewhere := func(variant int) bool { return e.Hypotheses[e.variants[variant].hyp].Group != e.of }
	p := w.none
	for i, x := range w.of {
		if elsewhere(i) {
			p += x
		}
	}
	for _, x := range w.pairs {
		if elsewhere(x.a) && elsewhere(x.b) {
			p += x.p
		}
	}
	return p
}

// weighCommon adds what the group may have in common with others of its reel.
func (e *Ensemble) weighCommon(w *weighed, l look.Look) {
	for i := range e.given.worlds {
		x := &e.given.worlds[i]
		if x.lack == nil {
			continue
		}
		m := x.lack.of(e)
		v := e.interest[x.lack.interest].variant
		dark := x.lack.times * e.variants[v].dark
		lp := x.log + e.given.density(x, w.view, &m, fromThen) + e.priors.Eye.LogOf(l, dark, 0, e.Lights)
		if w.view.before != nil {
			lp += e.seenBeforeAlways(l, dark, 0)
		}
		w.common = append(w.common, commonWeighed{x.lack, v, lp})
		w.top = math.Max(w.top, lp)
	}
}

// lastResort: pairs are tried when every single explanation is this much less
// probable than an unknown one.
const lastResort = 0.1

func logOf(p float64) float64 {
	if p <= 0 {
		return math.Inf(-1)
	}
	return math.Log(p)
}

// sumOf adds up in one order, so that the same is the same to the last bit.
func sumOf(by map[fault.Kind]float64) float64 {
	s := 0.0
	for _, k := range slices.Sorted(maps.Keys(by)) {
		s += by[k]
	}
	return s
}

// normalise turns logarithms into probabilities; so much of it is above the group.
func (w *weighed) normalise(above float64) {
	total := 0.0
	each := func(x *float64) {
		*x = math.Exp(*x - w.top)
		total += *x
	}
	each(&w.none)
	each(&w.unknown)
	for i := range w.of {
		each(&w.of[i])
	}
	for i := range w.pairs {
		each(&w.pairs[i].p)
	}
	for i := range w.common {
		each(&w.common[i].p)
	}
	w.total = total
	total /= math.Max(0, 1-above)
	w.none /= total
	w.unknown /= total
	for i := range w.of {
		w.of[i] /= total
	}
	for i := range w.pairs {
		w.pairs[i].p /= total
	}
	for i := range w.common {
		c := &w.common[i]
		c.p /= total
		// It is that fault of the group, whatever the others have.
		if c.lack.times == 1 {
			w.of[c.variant] += c.p
		} else {
			w.pairs = append(w.pairs, pair{c.variant, c.variant, c.lack.times, c.p})
		}
	}
}

// LogEvidence is the logarithm of the density of readings and a look, whatever is so of the
// group: of several ways to take readings for those of groups, the likelier has the larger sum.
func (e *Ensemble) LogEvidence(rs []Reading, l look.Look) (float64, error) {
	w, err := e.weigh(rs, l)
	if err != nil {
		return 0, err
	}
	return w.top + math.Log(w.total), nil
}

// leastUnknownA: an unknown cause draws anything from here to the supply's limit.
const leastUnknownA = 1e-4

// logUnknown is the density of readings from a cause that isn't known: flat in
// the logarithm of the current.
func (e *Ensemble) logUnknown(v *view) float64 {
	s := 0.0
	for a, y := range v.y {
		width := math.Log(e.bench.LimitAt(e.Volts[v.at[a]]) / leastUnknownA)
		// Below the least it is as flat as the meter sees it.
		y = math.Max(math.Abs(y), math.Max(leastUnknownA, math.Sqrt(v.u2[a]+v.off[a]*v.off[a])))
		s -= math.Log(y * width)
	}
	return s
}

// Posterior gives the probabilities after readings and a look. Their order
// doesn't matter. Without readings it gives the priors and what the look makes of them.
//
// The likelihood of a fault is a normal density over all voltages together, with
// its mean and covariance, the meter's own doubt, the
// gain that its readings share, and half a per cent of the draw for the model
// itself, most of it common. What is unknown about a fault is summed over. An
// unknown cause has a density flat in the logarithm of each current.
func (e *Ensemble) Posterior(rs []Reading, l look.Look) (Result, error) {
	w, err := e.weigh(rs, l)
	if err != nil {
		return Result{}, err
	}
	r := Result{None: w.none, Unknown: w.unknown, Above: sumOf(e.given.above), AboveBy: e.given.above,
		Weighed: make([]float64, len(e.Hypotheses)),
		Double:  len(w.pairs) > 0}
	for i, v := range e.variants {
		r.Weighed[v.hyp] += w.of[i]
	}
	most := 0.0
	for _, c := range w.common {
		r.Common += c.p
		if c.p > most {
			most, r.CommonReel = c.p, c.lack.reel
		}
	}
	r.Classes = e.classes(w, r.Weighed)
	return r, nil
}

// uncounted says that so many dark lights were counted as no single fault that is
// still in question darkens.
func (e *Ensemble) uncounted(w *weighed, l look.Look) bool {
	if l.Saw != look.SomeDark || l.Dark < 2 {
		return false
	}
	best := w.unknown
	for i, x := range e.variants {
		if x.dark == l.Dark || x.dark+x.dim == l.Dark {
			best = math.Max(best, w.of[i])
		}
	}
	return best <= w.unknown
}

// pair is two faults at once, or one of them several times.
type pair struct {
	a, b  int // variants; the same: times of it
	times int
	p     float64
}

// mostTimes is how often one fault may be there at once.
const mostTimes = 12

// pairsOf weighs pairs of faults of single branches, whose effects add, and
// one of them several times over: a crack across a strip darkens all behind it.
func (e *Ensemble) pairsOf(v *view, l look.Look) []pair {
	var alone []int
	for i, x := range e.variants {
		if x.how == altered && x.law.plus == 0 && (x.at == 0 || x.at == 1) {
			alone = append(alone, i)
		}
	}
	n := e.m.n
	var out []pair
	base := &e.m.healthy
	try := func(a, b, times int, prior float64) {
		va, vb := e.variants[a], e.variants[b]
		ma, mb := &e.m.of[a], &e.m.of[b]
		more := float64(times - 1)
		for k := range n {
			if ma.mean[k]+more*(mb.mean[k]-base.mean[k]) < 0 {
				return
			}
		}
		x := ma.clone()
		x.add(more, mb, base)
		dark, dim := va.dark+(times-1)*vb.dark, va.dim+(times-1)*vb.dim
		lp := logOf(prior) + e.logFaulty(v, &x, l, dark, dim, false) +
			e.priors.Eye.LogOfCount(l, va.more+(times-1)*vb.more)
		if !math.IsInf(lp, 0) && !math.IsNaN(lp) {
			out = append(out, pair{a, b, times, lp})
		}
	}
	for i, a := range alone {
		ha := &e.Hypotheses[e.variants[a].hyp]
		pa := ha.Prior * e.variants[a].weight
		p := pa * e.priors.Two
		for t := 2; t <= min(mostTimes, ha.Places); t++ {
			try(a, a, t, p)
			p /= 2
		}
		if ha.Kinds[0] == fault.ExtraBranch {
			try(a, a, 2, pa*e.priors.Two)
		}
		for _, b := range alone[i+1:] {
			hb := &e.Hypotheses[e.variants[b].hyp]
			if ha == hb {
				continue
			}
			try(a, b, 2, pa*hb.Prior*e.variants[b].weight/math.Max(e.priors.None, 0.1))
		}
	}
	return out
}
