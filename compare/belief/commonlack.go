package belief

import (
	"math"
	"slices"

	"sealworthy/compare/linear"
	"sealworthy/compare/look"
)

// commonLack is one way in which all groups of a reel may lack alike, and how far the
// readings of all of them exclude it: the rule of a single group, over all readings.
type commonLack struct {
	reel      string
	z, dPrime float64
}

// exclude says how far the readings of all groups of a pattern exclude it, if else
// nothing is wrong with them; a group that stands out by itself is left out. Where the eye counted all lit it isn't
// thought of: that group tells what the reel draws.
func (t *together) exclude() {
	t.common = make([]commonLack, len(t.patterns))
	for p := range t.patterns {
		t.common[p] = t.excluded(&t.patterns[p])
	}
}

func (t *together) excluded(q *pattern) commonLack {
	out := commonLack{reel: q.reel}
	var in []int // groups
	for i := range t.ms {
		if q.at[i] >= 0 && len(t.views[i].at) > 0 && !t.standsOut(i) {
			in = append(in, i)
		}
	}
	lacks := 0
	var d, delta []float64
	var first []int // of each group, in the stacked readings
	for _, i := range in {
		first = append(first, len(d))
		e, v := t.ms[i].Ensemble, t.views[i]
		seenLit := t.ms[i].Look.Saw == look.AllLit
		for a, k := range v.at {
			d = append(d, v.y[a]-e.m.healthy.mean[k])
			x := float64(q.times[i]) * e.interest[q.at[i]].delta[k]
			if seenLit {
				x = 0
			}
			delta = append(delta, x)
		}
		if q.times[i] > 0 && !seenLit {
			lacks++
		}
	}
	n := len(d)
	if lacks == 0 {
		out.dPrime = math.Inf(1)
		return out
	}
	c := make([]float64, n*n)
	weight := 0.0
	for w := range t.worlds {
		if t.worlds[w].cause == nil {
			weight += t.result.worlds[w].p
		}
	}
	for w := range t.worlds {
		if t.worlds[w].cause == nil && weight > 0 {
			t.stack(c, in, first, w, t.result.worlds[w].p/weight)
		}
	}
	linear.FactorHeld(c, n)
	linear.Forward(c, n, d)
	linear.Forward(c, n, delta)
	out.dPrime = math.Sqrt(linear.Dot(delta, delta))
	if out.dPrime > 0 {
		out.z = linear.Dot(delta, d) / out.dPrime
	}
	return out
}

// standsOut: by itself a group is surely not as the others of its reel are. Then its
// readings say what is wrong with it, and nothing of a lack that all have.
func (t *together) standsOut(i int) bool {
	healthy, all := 0.0, 0.0
	for w := range t.worlds {
		if p := t.result.worlds[w].p; t.worlds[w].cause == nil {
			all += p
			healthy += p * t.result.worlds[w].units[i].p[0]
		}
	}
	return healthy < leastAlike*all
}

// stack adds the covariance of the readings, as joined, of several healthy groups in a world.
func (t *together) stack(c []float64, in, first []int, w int, weight float64) {
	n := int(math.Sqrt(float64(len(c))) + 0.5)
	for x, i := range in {
		u := &t.worlds[w].units[i]
		a, k, of := &u.alts[0], len(t.views[i].at), len(u.y)
		for p := range k {
			for q := range k {
				c[(first[x]+p)*n+first[x]+q] += weight * a.cov[p*of+q]
			}
		}
		for y, j := range in {
			o := &t.worlds[w].units[j]
			b, l, by := &o.alts[0], len(t.views[j].at), len(o.y)
			for f, g := range u.factors {
				h := slices.Index(o.factors, g)
				if h < 0 {
					continue
				}
				for p := range k {
					for q := range l {
						c[(first[x]+p)*n+first[y]+q] += weight * a.load[f*of+p] * b.load[h*by+q]
					}
				}
			}
		}
	}
}
