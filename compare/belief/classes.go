package belief

import (
	"cmp"
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/linear"
)

// apart is the distance from which two faults are told apart, in standard
// deviations of their difference.
const apart = 1.5

// leastP: what is less probable isn't listed.
const leastP = 1e-6

// classes puts hypotheses together that the readings can't tell apart, the
// likeliest first: each joins the first class whose likeliest member is near.
func (e *Ensemble) classes(w *weighed, by []float64) []Class {
	best := make([]int, len(by)) // the likeliest variant of each hypothesis
	for i := range best {
		best[i] = -1
	}
	for i, v := range e.variants {
		if b := best[v.hyp]; b < 0 || w.of[i] > w.of[b] {
			best[v.hyp] = i
		}
	}
	order := make([]int, 0, len(by))
	rest := 0.0
	for h, p := range by {
		if p > leastP && best[h] >= 0 {
			order = append(order, h)
		} else {
			rest += p
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return -cmp.Compare(by[a], by[b]) })
	var out []Class
	var heads []int // variant of each class
	for _, h := range order {
		at := slices.IndexFunc(heads, func(x int) bool { return e.distance(w.view, x, best[h]) < apart })
		if at < 0 {
			out, heads = append(out, e.newClass(h, best[h])), append(heads, best[h])
			at = len(out) - 1
		}
		e.join(&out[at], h, by[h])
	}
	out = append(out, e.pairClasses(w)...)
	slices.SortStableFunc(out, func(a, b Class) int { return -cmp.Compare(a.P, b.P) })
	// What isn't listed goes to the last line, so that all adds up.
	if len(out) > 0 {
		out[len(out)-1].P += rest
	}
	return out
}

// distance of two variants over the readings: Mahalanobis, with both covariances.
func (e *Ensemble) distance(v *view, a, b int) float64 {
	k := len(v.at)
	if k == 0 || a == b {
		return 0
	}
	ma, mb := &e.m.of[a], &e.m.of[b]
	_, c := e.given.expects(v, ma)
	_, cb := e.given.expects(v, mb)
	d := make([]float64, k)
	for i := range c {
		c[i] += cb[i]
	}
	for i, at := range v.at {
		d[i] = ma.mean[at] - mb.mean[at]
	}
	linear.FactorHeld(c, k)
	linear.Forward(c, k, d)
	return math.Sqrt(linear.Dot(d, d))
}

func (e *Ensemble) newClass(h, variant int) Class {
	v := e.variants[variant]
	c := Class{Fault: e.faultAt(h, v.at), Dark: v.dark, Count: 1, PredictedA: slices.Clone(e.m.of[variant].mean)}
	c.Suspect = e.Hypotheses[h].Suspect
	return c
}

// faultAt is the likeliest fault of a hypothesis, with the ohms that were found.
func (e *Ensemble) faultAt(h int, at float64) fault.Fault {
	x := &e.Hypotheses[h]
	i := slices.IndexFunc(x.Faults, func(f fault.Fault) bool {
		return f.Kind == fault.OpenBranch ||
			f.Kind == fault.DarkSegment
	})
	if i < 0 { // a branch that is dark is just that, whatever made it so
		i = max(0, slices.IndexFunc(x.Faults, func(f fault.Fault) bool { return f.Kind == x.Kinds[0] }))
	}
	f := x.Faults[i]
	switch f.Kind {
	case fault.BadJoint, fault.Short, fault.BranchJoint:
		f.Ohms = at
	}
	return f
}

// join adds a hypothesis to a class; they come the likeliest first.
func (e *Ensemble) join(c *Class, h int, p float64) {
	x := &e.Hypotheses[h]
	c.P += p
	c.Members = append(c.Members, h)
	c.Places += x.Places
	for _, k := range x.Kinds {
		if !slices.Contains(c.Kinds, k) {
			c.Kinds = append(c.Kinds, k)
		}
	}
	if !slices.Contains(c.Groups, x.Group) {
		c.Groups = append(c.Groups, x.Group)
	}
	for _, l := range x.Lights {
		if !slices.Contains(c.Lights, l) {
			c.Lights = append(c.Lights, l)
		}
	}
	if c.Suspect == nil {
		c.Suspect = x.Suspect
	}
}

// pairClasses lists the likeliest pairs; those that look like one already listed
// are added to it.
func (e *Ensemble) pairClasses(w *weighed) []Class {
	ps := slices.Clone(w.pairs)
	slices.SortStableFunc(ps, func(a, b pair) int { return -cmp.Compare(a.p, b.p) })
	var out []Class
	for _, q := range ps {
		va, vb := e.variants[q.a], e.variants[q.b]
		mean := make([]float64, e.m.n)
		for k := range mean {
			mean[k] = e.m.of[q.a].mean[k] + float64(q.times-1)*(e.m.of[q.b].mean[k]-e.m.healthy.mean[k])
		}
		at := slices.IndexFunc(out, func(c Class) bool { return e.near(w.view, c.PredictedA, mean, q.a) })
		if at < 0 {
			if q.p < leastP && len(out) > 0 {
				out[len(out)-1].P += q.p
				continue
			}
			c := e.newClass(va.hyp, q.a)
			c.PredictedA, c.Dark = mean, va.dark+(q.times-1)*vb.dark
			if q.a == q.b {
				c.Count = q.times
			} else {
				second := e.faultAt(vb.hyp, vb.at)
				c.Second, c.Count = &second, 2
			}
			out = append(out, c)
			at = len(out) - 1
			e.join(&out[at], va.hyp, q.p)
			if q.a != q.b {
				e.join(&out[at], vb.hyp, 0)
			}
			continue
		}
		out[at].P += q.p
	}
	return out
}

// near says that two draws can't be told apart with the doubt of a variant.
func (e *Ensemble) near(v *view, a, b []float64, variant int) bool {
	k := len(v.at)
	d := make([]float64, k)
	_, c := e.given.expects(v, &e.m.of[variant])
	for i, at := range v.at {
		d[i] = a[at] - b[at]
	}
	linear.FactorHeld(c, k)
	linear.Forward(c, k, d)
	return linear.Dot(d, d) < 2*apart*apart
}
