package belief

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/fault"
)

// Shared is one cause above the groups, or a class of places that no reading here
// tells apart, with its probability.
type Shared struct {
	fault.Common
	P float64 // 0 to 1

	reaches []string // groups
}

// Reaches: a group hangs on it.
func (s Shared) Reaches(group string) bool { return slices.Contains(s.reaches, group) }

// Above is what several groups say together of causes above them. P of all
// causes, None and Own add up to 1.
type Above struct {
	Causes []Shared // the likeliest first
	None   float64  // nothing is wrong
	Own    float64  // one group or more has a fault of its own, and they have nothing in common
	// Alarm: one cause is likelier than all else together, at least two groups show
	// it, and for each that speaks against it four do.
	Alarm bool
	// Off are the groups that the likeliest explanation gives a fault of their own.
	Off []string
}

// Explains gives the cause that a group's reading goes back to, where there is an
// alarm: then the group needs no cause of its own.
func (a Above) Explains(group string) (Shared, bool) {
	if !a.Alarm || !slices.Contains(a.Causes[0].Shows, group) {
		return Shared{}, false
	}
	return a.Causes[0], true
}

// byThemselves are the groups with what each may have by itself, in one way.
func (t *together) byThemselves(way int) *run {
	if t.byWay[way] == nil {
		r := &run{}
		for i := range t.ms {
			r.units = append(r.units, t.unit(i, t.byItself(i, t.ways[way].s)))
		}
		r.sort(t.nothing(), aboveOutOf)
		t.byWay[way] = r
	}
	return t.byWay[way]
}

// outcome is one cause at one size with its weight.
type outcome struct {
	*cause
	log   float64
	p     float64
	size  float64       // mean of the size factor
	units []unitWeighed // with the stated tolerances; nil: not asked
	class *Shared       // that it is of
}

// weigh weighs all causes against nothing in common: by the stated tolerances and
// roughly first, then in all ways what is left. What each group has by itself, or
// beside a cause that is probable, is asked for last.
func (t *together) weigh(fs []family) Above {
	prior := 0.0
	for _, f := range fs {
		for _, x := range f.sizes {
			prior += x.prior
		}
	}
	alone := logOf(math.Max(1-prior, leastAlone))
	logs := []float64{alone + t.rest(0, nil).logZ}
	var byFamily [][]outcome
	for _, f := range fs {
		xs := t.sizes(f)
		byFamily, logs = append(byFamily, xs), append(logs, logOfAll(xs))
	}
	for f := range byFamily {
		if xs := byFamily[f]; logs[f+1]-logSum(logs) > math.Log(leastSharp) {
			for i, o := range xs {
				if o.log > logs[f+1]-farWorld && t.leavesSomethingOwn(o.cause) {
					xs[i] = t.outcome(o.cause, 0, true)
				}
			}
			logs[f+1] = logOfAll(xs)
		}
	}
	ways := 1
	for f, top := range logs[1:] {
		if top-logSum(logs) < math.Log(leastAsked) {
			continue
		}
		ways = len(t.ways)
		for i, o := range byFamily[f] {
			if o.log > top-farWorld {
				byFamily[f][i].log = t.byAllWays(o)
			}
		}
	}
	var plain, none []float64
	for w := range ways {
		log := alone
		if ways > 1 {
			log += t.ways[w].log
		}
		plain, none = append(plain, log+t.rest(w, nil).logZ), append(none, log+t.healthyAll(w))
	}
	logs[0] = logSum(plain)
	for f := range byFamily {
		logs[f+1] = logOfAll(byFamily[f])
	}
	total := logSum(logs)
	out := Above{None: math.Exp(math.Min(logSum(none), logs[0]) - total)}
	out.Own = math.Exp(logs[0]-total) - out.None
	t.outcomes = slices.Concat(byFamily...)
	for i := range t.outcomes {
		t.outcomes[i].p = math.Exp(t.outcomes[i].log - total)
	}
	t.byEach(alone)
	return t.sumUp(out)
}

// Worlds of less probability aren't asked what is so of single groups in them: it moves
// nothing that is shown.
const (
	leastWorld = 1e-5 // a lack in each group of a reel, which must not pass
	leastHeard = 0.02 // any other cause
)

// byEach weighs what is so of each group, in every way: nothing in common, and beside
// what may be.
func (t *together) byEach(alone float64) {
	var plain []world
	for w, x := range t.ways {
		plain = append(plain, world{logPrior: alone + x.log, units: t.byThemselves(w).units, s: x.s})
	}
	for w, x := range weighJointly(len(t.keys), plain).worlds {
		if x.p >= math.Exp(-farWorld) {
			t.worlds, t.result.worlds = append(t.worlds, plain[w]), append(t.result.worlds, x)
		}
	}
	live := t.worlds
	for k := range t.outcomes {
		o := &t.outcomes[k]
		if o.p < leastWorld || o.pattern == nil && (o.p < leastHeard || !t.isFelt(o)) {
			continue
		}
		for _, x := range live {
			y := t.with(o.cause, x.units, x.s)
			y.logPrior = x.logPrior - alone + logOf(o.prior)
			r := weighJointly(len(t.keys), []world{y}).worlds
			if o.units == nil {
				o.units = r[0].units
			}
			t.worlds, t.result.worlds = append(t.worlds, y), append(t.result.worlds, r...)
		}
	}
	t.result.level()
}

// with is a world in which a cause takes the place of what is healthy in the groups that
// it reaches.
func (t *together) with(x *cause, units []unit, s dispersion) world {
	out := world{units: slices.Clone(units), s: s, cause: x}
	for i, h := range x.hangs {
		if h {
			out.units[i] = t.unit(i, x.alternatives(t, i, s, true))
		}
	}
	return out
}

// leastAsked: a cause that is less probable by the stated tolerances isn't asked by others.
const leastAsked = 0.05

// leastSharp: beside a cause that is less probable no single faults are asked for.
const leastSharp = 1e-3

func logOfAll(xs []outcome) float64 {
	var logs []float64
	for _, o := range xs {
		logs = append(logs, o.log)
	}
	return logSum(logs)
}

// sizes weighs every other size of a cause, and those between that lie beside a
// probable one.
func (t *together) sizes(f family) []outcome {
	out := make([]outcome, len(f.sizes))
	for i := range out {
		out[i] = outcome{cause: &f.sizes[i], log: math.Inf(-1)}
		if i%2 == 0 || out[i].each == 0 {
			out[i] = t.outcome(&f.sizes[i], 0, false)
		}
	}
	top := logOfAll(out)
	near := func(i int) bool { return i >= 0 && i < len(out) && out[i].log > top-farWorld }
	for i := 1; i < len(out); i += 2 {
		if out[i].each != 0 && (near(i-1) || near(i+1)) {
			out[i] = t.outcome(&f.sizes[i], 0, false)
		}
	}
	return out
}

// byAllWays is the logarithm of an outcome's weight in all ways, from what it is in the first.
func (t *together) byAllWays(o outcome) float64 {
	logs := []float64{o.log + t.ways[0].log}
	for w := 1; w < len(t.ways); w++ {
		logs = append(logs, t.outcome(o.cause, w, true).log+t.ways[w].log)
	}
	return logSum(logs)
}

// healthyAll is the logarithm of the evidence where nothing is wrong.
func (t *together) healthyAll(way int) float64 {
	x, r := t.nothing(), t.byThemselves(way)
	for _, i := range r.order {
		x = x.after(&r.units[i], []int{0})
	}
	return x.logZ
}

// leastAlone is how probable it is at least, before anything is read, that groups
// have nothing in common, however many places a plan has.
const leastAlone = 0.1

// outcome weighs a cause at one size, in one way; sharp: with every fault that a group may
// have beside it, else with faults of any size.
func (t *together) outcome(x *cause, way int, sharp bool) outcome {
	cl := t.rest(way, x.hangs)
	o := outcome{cause: x}
	for _, i := range t.byThemselves(way).order {
		if x.hangs[i] {
			u := t.unit(i, x.alternatives(t, i, t.ways[way].s, sharp))
			cl = cl.after(&u, everyOf(len(u.alts)))
		}
	}
	o.log = logOf(x.prior) + cl.logZ
	for _, p := range cl.parts {
		o.size += math.Exp(p.logW) * p.mean[t.size()]
	}
	return o
}

// leavesSomethingOwn: a group that a cause reaches is likelier off by something of its own
// beside it than as the cause leaves it, or than it is where it doesn't hang there.
func (t *together) leavesSomethingOwn(x *cause) bool {
	c := t.rest(0, x.hangs)
	for i, h := range x.hangs {
		if !h || x.pattern != nil {
			continue
		}
		u := t.unit(i, x.alternatives(t, i, t.ways[0].s, false))
		first := c.logDensity(&u, 0)
		for a := range u.alts[1:] {
			if c.logDensity(&u, a+1) > first {
				return true
			}
		}
	}
	return false
}

// rest is what the groups that don't hang on a cause say; nil: all of them.
func (t *together) rest(way int, hangs []bool) cloud {
	key := fmt.Sprint(way, hangs)
	if x, ok := t.memo[key]; ok {
		return x
	}
	x, r := t.nothing(), t.byThemselves(way)
	for _, i := range r.order {
		if hangs == nil || !hangs[i] {
			x = x.after(&r.units[i], r.live[i])
		}
	}
	t.memo[key] = x
	return x
}

func everyOf(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// sumUp gathers outcomes into classes that no reading here tells apart.
func (t *together) sumUp(out Above) Above {
	var classes [][]*outcome
	best := &outcome{p: -1}
	for k := range t.outcomes {
		o := &t.outcomes[k]
		i := slices.IndexFunc(classes, func(x []*outcome) bool { return x[0].alike(o.cause) })
		if i < 0 {
			i, classes = len(classes), append(classes, nil)
		}
		classes[i] = append(classes[i], o)
		if o.p > best.p {
			best = o
		}
	}
	for _, x := range classes {
		s := t.shownAs(x)
		for _, o := range x {
			o.class = &s
		}
		out.Causes = append(out.Causes, s)
	}
	slices.SortStableFunc(out.Causes, func(a, b Shared) int { return -cmp.Compare(a.P, b.P) })
	if len(out.Causes) > 0 {
		top := out.Causes[0]
		out.Alarm = top.P > evenOdds && !top.Lack && len(top.Shows) >= 2 && 4*len(top.Against) <= len(top.Shows)
		if top.P > out.None+out.Own {
			out.Off = t.offBeside(best)
			return out
		}
	}
	if out.None < out.Own {
		out.Off = t.off(t.result.worlds[0].units)
	}
	return out
}

// off lists the groups that likely have a fault of their own.
func (t *together) off(units []unitWeighed) []string {
	var out []string
	for i, u := range units {
		if u.p[0] < evenOdds {
			out = append(out, t.name(i))
		}
	}
	return out
}

// offBeside lists those beside a cause.
func (t *together) offBeside(o *outcome) []string {
	if o.units == nil {
		x := t.with(o.cause, t.byThemselves(0).units, t.ways[0].s)
		o.units = make([]unitWeighed, len(x.units))
		r := run{units: x.units, out: o.units}
		r.all(t.nothing())
	}
	return t.off(o.units)
}

// How a cloud is kept small here: a hundred causes are weighed at twenty sizes, and what a
// group has by itself matters in sum alone. On the demo's plan a cloud of 16 parts with all
// but 1e-6 of the mass gives the same probabilities to three digits.
const (
	aboveParts = 2
	aboveMass  = 1e-2
	aboveOutOf = 12
)

// nothing is what is known of the factors before anything was read.
func (t *together) nothing() cloud {
	x := newCloud(len(t.keys))
	x.most, x.least = aboveParts, aboveMass
	return x
}
