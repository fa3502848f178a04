package belief

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// Shared is one cause above the groups, or a class of places that no reading here
// tells apart, with its probability.
type Shared struct {
	fault.Common
	P float64 // 0 to 1
}

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

// InCommon weighs what groups may have in common by all their readings at once: a
// joint, a return, a board's wire, the jack or the leads with ohms too many or
// open, a supply or a meter that is off, a reel whose figures are wrong or of which each group
// lacks as much. Each is a world in which it takes the place of what is
// healthy in every group that it reaches; elsewhere each group has what it may
// have by itself. A fault of a group's own may stand beside it.
//
// Every group was lit alone. What stands for less than two groups is left out. The
// error says which circuit can't be solved.
func InCommon(p *plan.Plan, ms []Measured, pr fault.CommonPriors) (Above, error) {
	ms = slices.DeleteFunc(slices.Clone(ms), func(m Measured) bool {
		return len(m.Ensemble.Groups) != 1 || len(m.Readings) == 0
	})
	if len(ms) < 2 {
		return Above{None: 1}, nil
	}
	c, err := newAbove(p, ms)
	if err != nil {
		return Above{}, err
	}
	fs, err := c.families(pr)
	if err != nil {
		return Above{}, fmt.Errorf("what a cause above the groups would make of their draws: %w", err)
	}
	out := c.weigh(fs)
	if math.IsNaN(out.None) {
		return Above{}, errors.New("the doubts of the groups' readings don't fit together: " +
			"look for a reading whose uncertainty is missing")
	}
	return out, nil
}

// above is the work of weighing what groups have in common.
type above struct {
	*together
	p       *plan.Plan
	names   []string // by group
	before  []*before
	factors [][]int // by group: numbers of the factors that its readings load, the size's last
	size    int     // number of the factor that says where in its step the size of a cause lies
	ways    []way
	plain   []*run // by way; nil: not asked yet
	memo    map[string]cloud
}

func newAbove(p *plan.Plan, ms []Measured) (*above, error) {
	t, err := newTogether(ms)
	if err != nil {
		return nil, err
	}
	c := &above{together: t, p: p, size: len(t.keys), ways: waysOf(ms[0].Ensemble.priors.Loose),
		memo: map[string]cloud{}}
	for i := range ms {
		t.views[i] = t.views[i].aboveFaint(ms[i].Ensemble)
		c.names = append(c.names, ms[i].Ensemble.Groups[0])
		b, err := c.beforeOf(i)
		if err != nil {
			return nil, err
		}
		c.before = append(c.before, b)
		c.factors = append(c.factors, c.factorsOf(i))
	}
	c.plain = make([]*run, len(c.ways))
	return c, nil
}

// byThemselves are the groups with what each may have by itself, in one way.
func (c *above) byThemselves(way int) *run {
	if c.plain[way] == nil {
		r := &run{}
		for i := range c.ms {
			r.units = append(r.units, c.unit(i, c.byItself(i, c.ways[way].s)))
		}
		r.sort(c.nothing(), aboveOutOf)
		c.plain[way] = r
	}
	return c.plain[way]
}

// outcome is one cause at one size with its weight.
type outcome struct {
	*cause
	log  float64
	p    float64
	size float64 // mean of the size factor
}

// weigh weighs all causes against nothing in common: by the stated tolerances first, then in
// all ways what is left.
func (c *above) weigh(fs []family) Above {
	prior := 0.0
	for _, f := range fs {
		for _, x := range f.sizes {
			prior += x.prior
		}
	}
	alone := logOf(math.Max(1-prior, leastAlone))
	logs := []float64{alone + c.rest(0, nil).logZ}
	var byFamily [][]outcome
	for _, f := range fs {
		xs := c.sizes(f)
		byFamily, logs = append(byFamily, xs), append(logs, logOfAll(xs))
	}
	ways := 1
	for f, top := range logs[1:] {
		if top-logSum(logs) < math.Log(leastAsked) {
			continue
		}
		ways = len(c.ways)
		for i, o := range byFamily[f] {
			if o.log > top-farWorld {
				byFamily[f][i].log = c.byAllWays(o)
			}
		}
	}
	var plain, none []float64
	for w := range ways {
		log := alone
		if ways > 1 {
			log += c.ways[w].log
		}
		plain, none = append(plain, log+c.rest(w, nil).logZ), append(none, log+c.healthyAll(w))
	}
	logs[0] = logSum(plain)
	for f := range byFamily {
		logs[f+1] = logOfAll(byFamily[f])
	}
	total := logSum(logs)
	out := Above{None: math.Exp(math.Min(logSum(none), logs[0]) - total)}
	out.Own = math.Exp(logs[0]-total) - out.None
	return c.sumUp(out, slices.Concat(byFamily...), total)
}

// leastAsked: a cause that is less probable by the stated tolerances isn't asked by others.
const leastAsked = 0.05

func logOfAll(xs []outcome) float64 {
	var logs []float64
	for _, o := range xs {
		logs = append(logs, o.log)
	}
	return logSum(logs)
}

// sizes weighs every other size of a cause, and those between that lie beside a
// probable one.
func (c *above) sizes(f family) []outcome {
	out := make([]outcome, len(f.sizes))
	for i := range out {
		out[i] = outcome{cause: &f.sizes[i], log: math.Inf(-1)}
		if i%2 == 0 || out[i].each == 0 {
			out[i] = c.outcome(&f.sizes[i], 0)
		}
	}
	top := logOfAll(out)
	near := func(i int) bool { return i >= 0 && i < len(out) && out[i].log > top-farWorld }
	for i := 1; i < len(out); i += 2 {
		if out[i].each != 0 && (near(i-1) || near(i+1)) {
			out[i] = c.outcome(&f.sizes[i], 0)
		}
	}
	return out
}

// byAllWays is the logarithm of an outcome's weight in all ways, from what it is in the first.
func (c *above) byAllWays(o outcome) float64 {
	logs := []float64{o.log + c.ways[0].log}
	for w := 1; w < len(c.ways); w++ {
		logs = append(logs, c.outcome(o.cause, w).log+c.ways[w].log)
	}
	return logSum(logs)
}

// healthyAll is the logarithm of the evidence where nothing is wrong.
func (c *above) healthyAll(way int) float64 {
	x, r := c.nothing(), c.byThemselves(way)
	for _, i := range r.order {
		x = x.after(&r.units[i], []int{0})
	}
	return x.logZ
}

// leastAlone is how probable it is at least, before anything is read, that groups
// have nothing in common, however many places a plan has.
const leastAlone = 0.1

// outcome weighs a cause at one size, in one way.
func (c *above) outcome(x *cause, way int) outcome {
	cl := c.rest(way, x.hangs)
	for _, i := range c.byThemselves(way).order {
		if x.hangs[i] {
			u := c.unit(i, x.alternatives(c, i, c.ways[way].s))
			cl = cl.after(&u, everyOf(len(u.alts)))
		}
	}
	o := outcome{cause: x, log: logOf(x.prior) + cl.logZ}
	for _, p := range cl.parts {
		o.size += math.Exp(p.logW) * p.mean[c.size]
	}
	return o
}

// rest is what the groups that don't hang on a cause say; nil: all of them.
func (c *above) rest(way int, hangs []bool) cloud {
	key := fmt.Sprint(way, hangs)
	if x, ok := c.memo[key]; ok {
		return x
	}
	x, r := c.nothing(), c.byThemselves(way)
	for _, i := range r.order {
		if hangs == nil || !hangs[i] {
			x = x.after(&r.units[i], r.live[i])
		}
	}
	c.memo[key] = x
	return x
}

func everyOf(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// sumUp gathers outcomes into classes that no reading here tells apart; total is the
// logarithm of all evidence.
func (c *above) sumUp(out Above, all []outcome, total float64) Above {
	for i := range all {
		all[i].p = math.Exp(all[i].log - total)
	}
	var classes [][]outcome
	for _, o := range all {
		i := slices.IndexFunc(classes, func(x []outcome) bool { return x[0].alike(o.cause) })
		if i < 0 {
			i, classes = len(classes), append(classes, nil)
		}
		classes[i] = append(classes[i], o)
	}
	best := outcome{p: -1}
	for _, o := range all {
		if o.p > best.p {
			best = o
		}
	}
	for _, x := range classes {
		out.Causes = append(out.Causes, c.shownAs(x))
	}
	slices.SortStableFunc(out.Causes, func(a, b Shared) int { return -cmp.Compare(a.P, b.P) })
	if len(out.Causes) > 0 {
		top := out.Causes[0]
		out.Alarm = top.P > evenOdds && !top.Lack && len(top.Shows) >= 2 && 4*len(top.Against) <= len(top.Shows)
		if top.P > out.None+out.Own {
			out.Off = c.offBeside(best)
			return out
		}
	}
	if out.None < out.Own {
		out.Off = c.offBeside(outcome{})
	}
	return out
}

// offBeside lists the groups that likely have a fault of their own beside a cause; beside
// none where there is none.
func (c *above) offBeside(o outcome) []string {
	units := slices.Clone(c.byThemselves(0).units)
	if o.cause != nil {
		for i, h := range o.hangs {
			if h {
				units[i] = c.unit(i, o.alternatives(c, i, c.ways[0].s))
			}
		}
	}
	r := run{units: units, out: make([]unitWeighed, len(units))}
	r.all(c.nothing())
	var out []string
	for i, u := range r.out {
		if u.p[0] < evenOdds {
			out = append(out, c.names[i])
		}
	}
	return out
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
func (c *above) nothing() cloud {
	x := newCloud(c.size + 1)
	x.most, x.least = aboveParts, aboveMass
	return x
}
