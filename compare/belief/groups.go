package belief

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

// Measured is a group with what was read and seen of it, to be weighed with others.
type Measured struct {
	Ensemble *Ensemble
	Readings []Reading
	Look     look.Look
	// Loose is what was read of the same pieces before they were joined, clipped at
	// their own wire; nil: nothing.
	Loose *Measured
	// Beside: other groups were lit while it was read, or its maker knows what is wrong with
	// it: no cause above it is asked for its reading.
	Beside bool
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

// All is what groups say together.
type All struct {
	Above
	// Others is what the others say to each, its own readings left out; nil: nothing.
	Others []*Others
}

// Together weighs groups by all their readings at once, none of them taken for healthy
// first: what each may have by itself, and what they may have in common: a joint, a
// return, a board's wire, the jack or the leads with ohms too many or open, a supply or
// a meter that is off, a reel whose figures are wrong or of which each group lacks as
// much. Each is a world in which it takes the place of what is healthy in every
// group that it reaches, a fault of a group's own may stand beside it; elsewhere each
// group has what it may have by itself. What stands for less than two groups is left out.
//
// An error beside a result says what above the groups couldn't be computed.
func Together(p *plan.Plan, ms []Measured, pr fault.CommonPriors) (All, error) {
	out := All{Above: Above{None: 1}, Others: make([]*Others, len(ms))}
	var at []int
	var in []Measured
	for i, m := range ms {
		if len(m.Ensemble.Groups) == 1 && len(m.Readings) > 0 {
			at, in = append(at, i), append(in, m)
		}
	}
	if len(in) < 2 {
		return out, nil
	}
	t, err := newTogether(p, in)
	if err != nil {
		return out, err
	}
	fs, err := t.families(pr)
	if err != nil {
		err = fmt.Errorf("what a cause above the groups would make of their draws: %w", err)
	}
	a := t.weigh(fs)
	if math.IsNaN(a.None) {
		return out, errors.New("the doubts of the groups' readings don't fit together: " +
			"look for a reading whose uncertainty is missing")
	}
	out.Above = a
	t.exclude()
	for k, i := range at {
		out.Others[i] = t.others(k)
	}
	return out, err
}

func newTogether(p *plan.Plan, ms []Measured) (*together, error) {
	t := &together{ms: ms, p: p, ways: waysOf(ms[0].Ensemble.priors.Loose), memo: map[string]cloud{}}
	for i := range ms {
		e := ms[i].Ensemble
		v, err := e.look(ms[i].Readings)
		if err != nil {
			return nil, fmt.Errorf("group %v: %w", e.Groups, err)
		}
		t.views = append(t.views, v.aboveFaint(e))
	}
	t.share()
	for i := range ms {
		b, err := t.beforeOf(i)
		if err != nil {
			return nil, err
		}
		t.before = append(t.before, b)
		t.factors = append(t.factors, t.factorsOf(i))
	}
	t.patterns = t.lacks()
	t.byWay = make([]*run, len(t.ways))
	return t, nil
}

// together is the work of weighing several groups.
type together struct {
	ms       []Measured
	p        *plan.Plan
	views    []*view
	before   []*before
	keys     []FactorKey // the size's last
	givens   []*given
	factors  [][]int // by group: numbers of the factors that its readings load, the size's last
	ways     []way
	byWay    []*run // nothing in common, by way; nil: not asked yet
	memo     map[string]cloud
	patterns []pattern
	outcomes []outcome
	worlds   []world
	result   jointly
	common   []commonLack // by patterns
}

// name of a group.
func (t *together) name(i int) string { return t.ms[i].Ensemble.Groups[0] }

// size is the number of the factor that says where in its step the size of a cause lies.
func (t *together) size() int { return len(t.keys) - 1 }

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
	t.keys = append(order, FactorKey{Kind: sizeFactor})
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

// mostAlike is how many lacks of one kind in a group are thought of.
const mostAlike = 3

// none and unknown are the logarithms of the priors that nothing is wrong with a group by
// itself, and something unknown, with what the eye says of it.
func (t *together) none(i int) float64 {
	e := t.ms[i].Ensemble
	return logOf(e.priors.None) + e.priors.Eye.LogOf(t.look(i), 0, 0, e.Lights)
}

func (t *together) unknown(i int) float64 {
	e := t.ms[i].Ensemble
	return logOf(e.priors.Unknown) + e.priors.Eye.LogOfUnknown(t.look(i), e.Lights)
}

func (t *together) look(i int) look.Look { return t.ms[i].Look.Counted(t.ms[i].Ensemble.Lights) }

// each adds the faults that a group may have by itself: every variant, and the loss of some
// branches more.
func (t *together) each(i int, add func(m *moment, log float64)) {
	e, l := t.ms[i].Ensemble, t.look(i)
	eye := e.priors.Eye
	for k, x := range e.variants {
		if p := e.Hypotheses[x.hyp].Prior * x.weight; p > 0 {
			add(&e.m.of[k], logOf(p)+eye.LogOf(l, x.dark, x.dim, e.Lights)+eye.LogOfCount(l, x.more))
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
	out := &Others{keys: t.keys, above: t.reached(i)}
	if t.size() == 0 && len(out.above) == 0 {
		return nil // nothing is shared
	}
	top := math.Inf(-1)
	for w := range t.worlds {
		y := &t.worlds[w]
		c := y.cause
		if c != nil && c.pattern == nil && c.hangs[i] {
			continue // it's reached
		}
		x := othersWorld{dispersion: y.s, cloud: t.result.worlds[w].units[i].others}
		x.log = y.logPrior + x.cloud.logZ
		if c != nil && c.pattern != nil && c.hangs[i] {
			x.lack = &lack{interest: c.pattern.at[i], times: c.pattern.times[i], reel: c.pattern.reel}
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

// leastFelt: what takes or adds less than that part of a group's draw, and isn't shown by it,
// leaves it as it should be (common practice, no source).
const leastFelt = 0.05

// reached is how probable it is that causes above a group are felt in its draw, by
// all readings, its own among them.
func (t *together) reached(i int) map[fault.Kind]float64 {
	by := map[fault.Kind]float64{}
	for k := range t.outcomes {
		o := &t.outcomes[k]
		if o.pattern != nil || !o.hangs[i] || !t.isFeltBy(o, i) && !slices.Contains(o.class.Shows, t.name(i)) {
			continue
		}
		p := o.p
		if o.units != nil && len(o.Spots) > 0 {
			p *= 1 - o.units[i].p[hangsElsewhere]
		}
		by[o.Kind] += p
	}
	return by
}

// isFelt: by any group.
func (t *together) isFelt(o *outcome) bool {
	for i, h := range o.hangs {
		if h && t.isFeltBy(o, i) {
			return true
		}
	}
	return false
}

func (t *together) isFeltBy(o *outcome, i int) bool {
	h := &t.ms[i].Ensemble.m.healthy
	for a, x := range t.makes(o, i) {
		if math.Abs(x) >= leastFelt*h.mean[t.views[i].at[a]] {
			return true
		}
	}
	return false
}
