package belief

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/information"
	"sealworthy/compare/linear"
	"sealworthy/compare/look"
)

// alive: what is less than this part of the likeliest isn't asked about.
const alive = 1e-3

// candidate is a variant, or nothing wrong, that is still alive.
type candidate struct {
	label int // hypothesis; -1: nothing wrong
	p     float64
	m     *moment
}

// Information is, for each further reading that could be made (its Amps aren't
// used; U 0: as the readings so far), how many bits about what is wrong it is
// expected to give: the entropy of the hypotheses now less that expected after it
// (Lindley 1956). What is unknown within a hypothesis, as the ohms of a joint, doesn't
// count. The expectation is over a mixture of normal predictions, with 9
// nodes for each. An unknown cause predicts nothing and is left out.
func (e *Ensemble) Information(rs []Reading, l look.Look, next []Reading) ([]float64, error) {
	w, err := e.weigh(rs, l)
	if err != nil {
		return nil, err
	}
	var cs []candidate
	top := w.none
	for _, p := range w.of {
		top = math.Max(top, p)
	}
	if w.none > alive*top {
		cs = append(cs, candidate{-1, w.none, &e.m.healthy})
	}
	for i, p := range w.of {
		if p > alive*top {
			cs = append(cs, candidate{e.variants[i].hyp, p, &e.m.of[i]})
		}
	}
	total := 0.0
	for _, c := range cs {
		total += c.p
	}
	for i := range cs {
		cs[i].p /= total
	}
	out := make([]float64, len(next))
	for i, r := range next {
		if r.U == 0 {
			r.U, r.GainU = usual(rs)
		}
		if !(r.U > 0) || math.IsInf(r.U, 0) || !(r.GainU >= 0) {
			return nil, fmt.Errorf("a further reading at %g V: it needs its uncertainty", r.Volts)
		}
		k, err := e.index(r.Volts)
		if err != nil {
			return nil, err
		}
		out[i] = e.bits(w.view, cs, k, r)
	}
	return out, nil
}

// usual is the noise of the readings so far: that of the noisiest.
func usual(rs []Reading) (u, gain float64) {
	for _, r := range rs {
		u, gain = math.Max(u, r.U), math.Max(gain, r.GainU)
	}
	return u, gain
}

// bits is the expected information of one more reading at voltage k.
func (e *Ensemble) bits(v *view, cs []candidate, k int, r Reading) float64 {
	mean, sd, p := make([]float64, len(cs)), make([]float64, len(cs)), make([]float64, len(cs))
	labels := map[int]int{}
	at := make([]int, len(cs))
	for i, c := range cs {
		mean[i], sd[i] = e.predict(v, c.m, k, r)
		n, ok := labels[c.label]
		if !ok {
			n = len(labels)
			labels[c.label] = n
		}
		at[i], p[i] = n, c.p
	}
	q := information.NewQuestion(at, p)
	return math.Max(0, q.Now()-q.After(func(i int) float64 { return mean[i] }, func(i int) float64 { return sd[i] }))
}

// predict is the normal law of one more reading at voltage k if m holds, given
// those so far.
func (e *Ensemble) predict(v *view, m *moment, k int, r Reading) (after, sd float64) {
	n := len(v.at)
	j := e.perV[k] * e.bench.JitterV
	more := &view{at: append(slices.Clone(v.at), k), y: append(slices.Clone(v.y), 0),
		gain: append(slices.Clone(v.gain), r.GainU), off: append(slices.Clone(v.off), r.CommonU),
		u2: append(slices.Clone(v.u2), 0), model: v.model}
	mu, cov := e.given.expects(more, m)
	mean, variance := mu[n], cov[n*(n+1)+n]
	if n > 0 {
		c, d, cross := make([]float64, n*n), make([]float64, n), make([]float64, n)
		for a := range n {
			d[a], cross[a] = v.y[a]-mu[a], cov[n*(n+1)+a]
			copy(c[a*n:a*n+n], cov[a*(n+1):a*(n+1)+n])
		}
		linear.FactorHeld(c, n)
		linear.Forward(c, n, d)
		linear.Forward(c, n, cross)
		mean += linear.Dot(cross, d)
		variance -= linear.Dot(cross, cross)
	}
	return mean, math.Sqrt(math.Max(variance, 0) + r.U*r.U + j*j)
}

// Ahead is Information before anything is measured: what each further reading is
// expected to tell once the first ones were made, if something is wrong. The
// expectation is over the hypotheses by their priors, each with its own mean at the
// first readings, whose Amps aren't used. So a second voltage is chosen for a test.
func (e *Ensemble) Ahead(first, next []Reading) ([]float64, error) {
	likeliest := make([]int, len(e.Hypotheses))
	for i := range likeliest {
		likeliest[i] = -1
	}
	top := 0.0
	for i, v := range e.variants {
		if b := likeliest[v.hyp]; b < 0 || v.weight > e.variants[b].weight {
			likeliest[v.hyp] = i
		}
		top = math.Max(top, e.Hypotheses[v.hyp].Prior)
	}
	at := make([]int, len(first))
	for i, r := range first {
		k, err := e.index(r.Volts)
		if err != nil {
			return nil, err
		}
		at[i] = k
	}
	out := make([]float64, len(next))
	total := 0.0
	rs := append([]Reading(nil), first...)
	for h, i := range likeliest {
		p := e.Hypotheses[h].Prior
		if i < 0 || p < leastAhead*top {
			continue
		}
		for j, k := range at {
			rs[j].Volts, rs[j].Amps = e.Volts[k], e.m.of[i].mean[k]
		}
		bits, err := e.Information(rs, look.Look{}, next)
		if err != nil {
			return nil, err
		}
		total += p
		for j, b := range bits {
			out[j] += p * b
		}
	}
	for j := range out {
		if total > 0 {
			out[j] /= total
		}
	}
	return out, nil
}

// leastAhead: rarer than this part of the most frequent fault counts for nothing.
const leastAhead = 0.02
