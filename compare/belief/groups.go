package belief

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/look"
)

// Measured is a group with what was read and seen of it, to be weighed with others.
type Measured struct {
	Ensemble *Ensemble
	Readings []Reading
	Look     look.Look
	// Loose is what was read of the same pieces before they were joined, clipped at
	// their own wire; nil: nothing. InCommon alone asks for it.
	Loose *Measured
}

// Priors of what groups have in common, and how surely it must be excluded before one
// of them passes: what nobody can see in a single group isn't let by at one in
// twenty (common practice, no source).
const (
	commonLackPrior = 0.005
	commonGuard     = 2.33
	// leastAlike: a group that is healthy with less probability stands out from its reel. Where
	// all lack alike none does: they differ by what single pieces scatter.
	leastAlike = 0.01
)

// Together weighs groups that may share reels, parts, meter, supply and room by all
// their readings at once, none of them taken for healthy first. It gives for
// each what the others say, its own readings left out; nil where they share nothing.
func Together(ms []Measured) ([]*Others, error) {
	t, err := newTogether(ms)
	if err != nil {
		return nil, err
	}
	out := make([]*Others, len(ms))
	if len(t.keys) == 0 {
		return out, nil
	}
	t.weigh()
	t.exclude()
	for i := range ms {
		out[i] = t.others(i)
	}
	return out, nil
}

func newTogether(ms []Measured) (*together, error) {
	t := &together{ms: ms}
	for i := range ms {
		v, err := ms[i].Ensemble.look(ms[i].Readings)
		if err != nil {
			return nil, fmt.Errorf("group %v: %w", ms[i].Ensemble.Groups, err)
		}
		t.views = append(t.views, v)
	}
	t.share()
	return t, nil
}

// together is the work of weighing several groups.
type together struct {
	ms       []Measured
	views    []*view
	keys     []FactorKey
	givens   []*given
	patterns []pattern
	worlds   []world
	of       []othersWorld // by worlds, but for the cloud: what they are
	pattern  []int         // by worlds: index in patterns; -1: none
	result   jointly
	common   []commonLack // by patterns
}

// pattern is how often each group lacks its branch; 0: not.
type pattern struct {
	reel  string
	times []int
	at    []int // by group: index in Ensemble.interest
}

// share finds the factors that at least two groups load on.
func (t *together) share() {
	by := map[FactorKey]int{}
	var order []FactorKey
	for i, m := range t.ms {
		e, v := m.Ensemble, t.views[i]
		see := func(k FactorKey) {
			if by[k]++; by[k] == 2 {
				order = append(order, k)
			}
		}
		for f, k := range e.keys {
			if k.Kind == LeadsFactor {
				continue // every clip is another one
			}
			if slices.ContainsFunc(v.at, func(a int) bool { return e.m.healthy.load[f*e.m.n+a] != 0 }) {
				see(k)
			}
		}
		if slices.ContainsFunc(v.gain, func(g float64) bool { return g > 0 }) {
			see(FactorKey{GainFactor, e.bench.Meter})
		}
	}
	t.keys = order
	for _, m := range t.ms {
		g := &given{e: m.Ensemble}
		g.know(t.keys)
		t.givens = append(t.givens, g)
	}
}

// farWorld: a world that is by so much less probable than the best is left out (e-folds).
const farWorld = 12

// way is a dispersion with the logarithm of its probability.
type way struct {
	s   dispersion
	log float64
}

// waysOf lists the dispersions, the stated one first.
func waysOf(loose float64) []way {
	var out []way
	for i, x := range shareShifts {
		out = append(out, way{dispersion{1, i}, logOf((1 - loose) * x.weight)})
	}
	if loose > 0 {
		out = append(out, way{dispersion{looseBy, 0}, logOf(loose)})
	}
	return out
}

// weigh weighs every dispersion without anything in common, then those that are left
// with each pattern.
func (t *together) weigh() {
	t.patterns = t.lacks()
	loose := 0.0
	if len(t.ms) > 0 {
		loose = t.ms[0].Ensemble.priors.Loose
	}
	ways := waysOf(loose)
	alone := logOf(1 - commonLackPrior*float64(min(1, len(t.patterns))))
	var plain []world
	for _, w := range ways {
		plain = append(plain, t.world(w.s, w.log+alone))
	}
	first := weighJointly(len(t.keys), plain)
	var lacking []world
	for i, w := range ways {
		if first.worlds[i].p < math.Exp(-farWorld) {
			continue
		}
		t.worlds, t.pattern = append(t.worlds, plain[i]), append(t.pattern, -1)
		t.of = append(t.of, othersWorld{dispersion: w.s})
		t.result.worlds = append(t.result.worlds, first.worlds[i])
	}
	for i, x := range t.of {
		log := t.worlds[i].logPrior - alone
		for p := range t.patterns {
			lacking = append(lacking, t.lacking(t.worlds[i], p, x.dispersion,
				log+logOf(commonLackPrior/float64(len(t.patterns)))))
			t.pattern, t.of = append(t.pattern, p), append(t.of, x)
		}
	}
	t.worlds = append(t.worlds, lacking...)
	t.result.join(len(t.keys), lacking)
}

// world has all groups with what each may have by itself.
func (t *together) world(s dispersion, log float64) world {
	w := world{logPrior: log}
	for i := range t.ms {
		u := t.givens[i].unit(t.views[i], t.alternatives(i, s)...)
		w.units = append(w.units, *u)
	}
	return w
}

// mostAlike is how many lacks of one kind in a group are thought of.
const mostAlike = 3

// alternatives of a group: nothing wrong first, then something unknown, every variant
// and the loss of some branches more.
func (t *together) alternatives(i int, s dispersion) []alternative {
	v, g := t.views[i], t.givens[i]
	var out []alternative
	t.each(i, func(m *moment, log float64) {
		if m == nil {
			out = append(out, alternative{flat: true, logPrior: log, logDensity: g.e.logUnknown(v)})
			return
		}
		a := g.alternative(v, m, s)
		a.logPrior = log
		out = append(out, a)
	})
	return out
}

// each adds what a group may have by itself, in that order, with the logarithm of
// its prior and of what the eye says of it; nil: something unknown.
func (t *together) each(i int, add func(m *moment, log float64)) {
	e := t.ms[i].Ensemble
	l, eye := t.ms[i].Look.Counted(e.Lights), e.priors.Eye
	add(&e.m.healthy, logOf(e.priors.None)+eye.LogOf(l, 0, 0, e.Lights))
	add(nil, logOf(e.priors.Unknown)+eye.LogOfUnknown(l, e.Lights))
	for k, x := range e.variants {
		if p := e.Hypotheses[x.hyp].Prior * x.weight; p > 0 {
			add(&e.m.of[k], logOf(p)+eye.LogOf(l, x.dark, x.dim, e.Lights))
		}
	}
	for k, x := range e.interest {
		if x.gain {
			continue
		}
		h := &e.Hypotheses[x.hyp]
		p := h.Prior * e.priors.Two
		for n := 2; n <= min(mostAlike, h.Places-1); n++ {
			m := (&lack{interest: k, times: n}).of(e)
			add(&m, logOf(p)+eye.LogOf(l, n*e.variants[x.variant].dark, 0, e.Lights))
			p /= 2
		}
	}
}

// lacking is a world with a pattern in place of what its groups may have by themselves.
func (t *together) lacking(w world, p int, s dispersion, log float64) world {
	out := world{logPrior: log, units: slices.Clone(w.units)}
	q := &t.patterns[p]
	for i, n := range q.times {
		if n == 0 {
			continue
		}
		e := t.ms[i].Ensemble
		l := t.ms[i].Look.Counted(e.Lights)
		m := (&lack{interest: q.at[i], times: n}).of(e)
		a := t.givens[i].alternative(t.views[i], &m, s)
		a.logPrior = e.priors.Eye.LogOf(l, n*e.variants[e.interest[q.at[i]].variant].dark, 0, e.Lights)
		out.units[i].alts = []alternative{a}
	}
	return out
}

// lacks lists the patterns: for each reel and each of its groups, the loss of one
// branch there and of as large a part of the draw in each of the others, for one
// of 8 and two of 16 look like a reel that draws an eighth less.
func (t *together) lacks() []pattern {
	var out []pattern
	for _, reel := range t.reels() {
		at, part := t.inReel(reel)
		for i := range t.ms {
			if at[i] < 0 {
				continue
			}
			p := pattern{reel: reel, times: make([]int, len(t.ms)), at: at}
			groups := 0
			for k := range t.ms {
				if at[k] < 0 {
					continue
				}
				p.times[k] = int(math.Round(part[i] / part[k]))
				if t.ms[k].Ensemble.Hypotheses[t.ms[k].Ensemble.interest[at[k]].hyp].Places < p.times[k] {
					p.times[k] = 0
				}
				if p.times[k] > 0 {
					groups++
				}
			}
			if groups > 1 && !slices.ContainsFunc(out, func(q pattern) bool {
				return q.reel == reel &&
					slices.Equal(q.times, p.times)
			}) {
				out = append(out, p)
			}
		}
	}
	return out
}

func (t *together) reels() []string {
	var out []string
	for _, m := range t.ms {
		for _, x := range m.Ensemble.interest {
			if !slices.Contains(out, x.reel) {
				out = append(out, x.reel)
			}
		}
	}
	return out
}

// inReel gives, for each group, its least branch of a reel and what part of the draw
// that is where it was read at the highest voltage; -1: none.
func (t *together) inReel(reel string) (at []int, part []float64) {
	at, part = make([]int, len(t.ms)), make([]float64, len(t.ms))
	for i, m := range t.ms {
		at[i] = -1
		e := m.Ensemble
		top, ok := t.top(i)
		if !ok || !(e.m.healthy.mean[top] > 0) {
			continue
		}
		for k, x := range e.interest {
			p := -x.delta[top] / e.m.healthy.mean[top]
			if x.reel == reel && p > 0 && (at[i] < 0 || p < part[i]) {
				at[i], part[i] = k, p
			}
		}
	}
	return at, part
}

// top is the highest voltage that a group was read at.
func (t *together) top(i int) (int, bool) {
	best := -1
	for _, k := range t.views[i].at {
		if best < 0 || t.ms[i].Ensemble.Volts[k] > t.ms[i].Ensemble.Volts[best] {
			best = k
		}
	}
	return best, best >= 0
}

// others is what all others say to one group.
func (t *together) others(i int) *Others {
	out := &Others{keys: t.keys}
	top := math.Inf(-1)
	for w := range t.worlds {
		if t.result.worlds[w].units == nil {
			continue // too improbable
		}
		x := t.of[w]
		x.cloud = t.result.worlds[w].units[i].others
		x.log = t.worlds[w].logPrior + x.cloud.logZ
		if p := t.pattern[w]; p >= 0 && t.patterns[p].times[i] > 0 {
			x.lack = &lack{interest: t.patterns[p].at[i], times: t.patterns[p].times[i], reel: t.patterns[p].reel}
		}
		top = math.Max(top, x.log)
		out.worlds = append(out.worlds, x)
	}
	out.worlds = slices.DeleteFunc(out.worlds, func(x othersWorld) bool { return x.log < top-2*farWorld })
	for p, c := range t.common {
		if t.patterns[p].times[i] > 0 && !math.IsInf(c.dPrime, 1) {
			out.common = append(out.common, c)
		}
	}
	return out
}
