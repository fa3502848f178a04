package together

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/linear"
)

// A fault of a group's own may do anything to its draw: these shares of the
// draw as standard deviations, each as likely.
var ownSizes = []float64{0.02, 0.07, 0.25, 1, 3}

// Most groups with a fault of their own beside a common cause, and without one.
const (
	ownBesides = 2
	ownAlone   = 8
)

// ownFault is one way in which one group can be off by itself: since always, or
// since it was fitted.
type ownFault struct {
	group string
	v     []float64 // the draws of the readings that it touches
	share float64   // of the group's prior
}

// outcome is a hypothesis with what it is worth.
type outcome struct {
	hypothesis
	// logs[k]: the log weight with k groups that have a fault of their own.
	logs []float64
	own  []string // of the best set
	best int      // the k whose single best set weighs most
}

func (m *model) rank(pr fault.CommonPriors) (Result, error) {
	res := Result{None: 1}
	if len(m.groups) >= 2 {
		var err error
		if res, err = m.weighAll(pr); err != nil {
			return Result{}, err
		}
	}
	if len(m.wild) > 0 {
		// So much is wrong for certain.
		res.Several, res.One = res.Several+res.One, res.None
		if res.None = 0; len(m.wild) > 1 {
			res.Several, res.One = res.Several+res.One, 0
		}
		res.Own = append(slices.Clone(m.wild), slices.DeleteFunc(res.Own, func(g string) bool { return slices.Contains(m.wild, g) })...)
	}
	return res, nil
}

// weighAll weighs every common cause against none and against faults of the
// groups' own.
func (m *model) weighAll(pr fault.CommonPriors) (Result, error) {
	own := m.ownFaults()
	none := m.weigh(hypothesis{}, own, pr, ownAlone)
	all := []outcome{none}
	rest := 1.0
	for _, h := range m.hypotheses(pr) {
		if o := m.weigh(h, own, pr, ownBesides); o.logs != nil {
			all = append(all, o)
			rest -= h.prior
		}
	}
	if none.logs == nil {
		return Result{}, errors.New("the doubts of these readings don't fit together: look for a reading whose uncertainty is missing")
	}
	for k := range none.logs {
		none.logs[k] += math.Log(max(rest, 0.1))
	}
	var every []float64
	for _, o := range all {
		every = append(every, o.logs...)
	}
	total := logSum(every)
	res := Result{}
	for k, x := range none.logs {
		switch p := math.Exp(x - total); k {
		case 0:
			res.None += p
		case 1:
			res.One += p
		default:
			res.Several += p
		}
	}
	res.Causes = m.causes(all[1:], total)
	if len(res.Causes) > 0 {
		c := res.Causes[0]
		res.Alarm = c.P > 0.5 && len(c.Shows) >= 2 && 4*len(c.Against) <= len(c.Shows)
		if c.P > res.None+res.One+res.Several {
			res.Own = c.Besides
			return res, nil
		}
	}
	if res.None < res.One+res.Several {
		res.Own = none.own
	}
	return res, nil
}

// ownFaults lists what each group can have for itself.
func (m *model) ownFaults() []ownFault {
	var out []ownFault
	for _, g := range m.groups {
		all, fitted := make([]float64, len(m.r)), make([]float64, len(m.r))
		var loose, joined bool
		for i, r := range m.r {
			if r.Group != g {
				continue
			}
			all[i] = r.ExpectedA
			if r.Loose {
				loose = true
			} else {
				joined = true
				fitted[i] = r.ExpectedA
			}
		}
		if loose && joined {
			out = append(out, ownFault{g, all, .5}, ownFault{g, fitted, .5})
		} else {
			out = append(out, ownFault{g, all, 1})
		}
	}
	return out
}

// elsewhere is how often a group doesn't hang where the plan says, of the faults
// of its own (common practice, no source).
const elsewhere = 0.05

// reached are the groups' own faults beside a cause: they can't make a group draw
// what doesn't reach it, unless it hangs elsewhere than planned.
func (m *model) reached(own []ownFault, mean []float64) []ownFault {
	if mean == nil {
		return own
	}
	left := m.left(mean)
	var out []ownFault
	for _, f := range own {
		v, least := slices.Clone(f.v), 1.0
		for i := range v {
			if v[i] > 0 {
				v[i] *= left[i]
				least = min(least, left[i])
			}
		}
		out = append(out, ownFault{f.group, v, f.share * (1 - elsewhere)})
		if least < 0.9 {
			out = append(out, ownFault{f.group, f.v, f.share * elsewhere})
		}
	}
	return out
}

// weigh gives a hypothesis its log weights: with no fault beside it, with one in
// any group, with one more beside the likeliest, and so on.
func (m *model) weigh(h hypothesis, own []ownFault, pr fault.CommonPriors, most int) outcome {
	o := outcome{hypothesis: h}
	residual := slices.Clone(m.d)
	c := m.under(h.mean)
	for i := range h.mean {
		residual[i] -= h.mean[i]
		c[i][i] += sq(h.blur * h.mean[i])
	}
	spread := func(v []float64, s float64) {
		for i := range v {
			for j := range v {
				c[i][j] += s * s * v[i] * v[j]
			}
		}
	}
	if h.wide != nil {
		spread(h.wide, 1)
	}
	for _, s := range h.s {
		spread(h.v, s)
	}
	g, ok := newNormal(c, residual)
	if !ok {
		return o
	}
	pg := min(max(pr.Group, 1e-6), 0.9)
	sick, well := math.Log(pg), math.Log(1-pg)
	at := float64(len(m.groups)) * well
	if h.kind != "" {
		if !(h.prior > 0) {
			return o
		}
		at += math.Log(h.prior)
	}
	o.logs = []float64{at + g.logP}
	top := o.logs[0]
	own = m.reached(own, h.mean)
	var set []string
	for range min(most, len(m.groups)) {
		var logs []float64
		best, bestV, bestS, bestG := math.Inf(-1), []float64(nil), 0.0, ""
		for _, f := range own {
			if slices.Contains(set, f.group) {
				continue
			}
			kv := times(g.k, f.v)
			vkv, vkr := linear.Dot(f.v, kv), linear.Dot(f.v, g.kr)
			for _, s := range ownSizes {
				x := at + sick - well + math.Log(f.share/float64(len(ownSizes))) + g.logP + g.wider(kv, vkv, vkr, s)
				logs = append(logs, x)
				if x > best {
					best, bestV, bestS, bestG = x, f.v, s, f.group
				}
			}
		}
		if bestV == nil {
			break
		}
		o.logs = append(o.logs, logSum(logs))
		g = g.widen(bestV, bestS)
		at += sick - well + math.Log(1/float64(len(ownSizes)))
		set = append(set, bestG)
		if best > top {
			top, o.best, o.own = best, len(set), slices.Clone(set)
		}
	}
	return o
}

// causes gathers the outcomes into classes that no reading here tells apart, and
// gives each its probability.
func (m *model) causes(all []outcome, total float64) []Cause {
	type class struct {
		members []outcome
	}
	var classes []*class
	for _, o := range all {
		i := slices.IndexFunc(classes, func(c *class) bool { return alike(c.members[0].hypothesis, o.hypothesis) })
		if i < 0 {
			classes = append(classes, &class{})
			i = len(classes) - 1
		}
		classes[i].members = append(classes[i].members, o)
	}
	var out []Cause
	for _, c := range classes {
		out = append(out, m.cause(c.members, total))
	}
	slices.SortStableFunc(out, func(a, b Cause) int { return -cmp.Compare(a.P, b.P) })
	return out
}

// alike: places that the same readings hang on, and one cause at its several sizes.
func alike(a, b hypothesis) bool {
	if a.place.Kind != "" && b.place.Kind != "" {
		return slices.Equal(a.hangs, b.hangs)
	}
	return a.kind == b.kind && a.place == b.place && a.part == b.part
}
