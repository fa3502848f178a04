package returns

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/linear"
	"sealworthy/compare/look"
)

// posterior is the probability of each hypothesis and of each pair.
type posterior struct {
	none, unknown, two float64
	slight             float64   // of single: what nobody sees
	single             []float64 // by Library.Hypotheses
	pairs              []pair    // the likeliest, most first
	white              *whitener
	rest               []float64 // whitened deviation from healthy
	js                 [][]float64
}

type pair struct {
	a, b int
	p    float64
}

// whitened is a hypothesis in white coordinates.
type whitened struct {
	z []float64
	w [][]float64
}

// posterior weighs all hypotheses against a sweep y, with what else is known.
func (l *Library) posterior(y []float64, noise []float64, n Nuisances, pr fault.ReturnPriors,
	known evidence) (*posterior, error) {
	ns := l.nuisances(n)
	js := make([][]float64, len(ns))
	for i := range ns {
		js[i] = ns[i].j
	}
	off, unknown := l.discrepancy(n), l.unknownCovariance()
	w, err := newWhitener(noise, js, off)
	if err != nil {
		return nil, err
	}
	loose, err := newWhitener(noise, js, func(i, j int) float64 {
		if off == nil {
			return unknown(i, j)
		}
		return unknown(i, j) + off(i, j)
	})
	if err != nil {
		return nil, err
	}
	dev := minus(y, l.expected(n))
	out := &posterior{white: w, rest: w.of(dev), js: js, single: make([]float64, len(l.Hypotheses))}
	healthy := Hypothesis{Class: fault.Nothing}
	said := known.of
	r := out.rest
	rr := linear.Dot(r, r)
	lnNone := math.Log(pr.Nothing) - rr/2 + said(healthy)
	u := loose.of(dev)
	lnUnknown := math.Log(pr.Unknown) - (linear.Dot(u, u)+loose.logDet-w.logDet)/2 + known.unknown
	hs := make([]whitened, len(l.Hypotheses))
	ln := make([]float64, len(l.Hypotheses))
	top := math.Max(lnNone, lnUnknown)
	for i, h := range l.Hypotheses {
		hs[i].z = w.of(h.DeltaA)
		for _, x := range h.extra {
			hs[i].w = append(hs[i].w, w.of(x))
		}
		ln[i] = math.Log(h.Prior) + single(r, hs[i]) + said(h)
		top = math.Max(top, ln[i])
	}
	pairs := l.pairs(r, hs, pr, said)
	for _, q := range pairs {
		top = math.Max(top, q.p)
	}
	sum := math.Exp(lnNone-top) + math.Exp(lnUnknown-top)
	for i := range ln {
		out.single[i] = math.Exp(ln[i] - top)
		sum += out.single[i]
	}
	for i := range pairs {
		pairs[i].p = math.Exp(pairs[i].p - top)
		sum += pairs[i].p
	}
	out.none, out.unknown = math.Exp(lnNone-top)/sum, math.Exp(lnUnknown-top)/sum
	for i := range out.single {
		out.single[i] /= sum
		if l.Hypotheses[i].slight {
			out.slight += out.single[i]
		}
	}
	for i := range pairs {
		pairs[i].p /= sum
		out.two += pairs[i].p
	}
	out.pairs = pairs
	return out, nil
}

// single is the log likelihood of one fault.
func single(r []float64, h whitened) float64 {
	d := minus(r, h.z)
	k := len(h.w)
	b, g := make([]float64, k), make([]float64, k*k)
	for i := range h.w {
		b[i] = linear.Dot(h.w[i], d)
		for j := range h.w {
			g[i*k+j] = linear.Dot(h.w[i], h.w[j])
		}
	}
	return logLikelihood(linear.Dot(d, d), b, g)
}

// pairs weighs two faults at different places. All inner products come from
// one Gram matrix of deltas and extra vectors, so that a pair costs no vector.
// They come sorted, the likeliest first; p holds ln(prior x likelihood).
func (l *Library) pairs(r []float64, hs []whitened, pr fault.ReturnPriors, said func(Hypothesis) float64) []pair {
	if !(pr.Two > 0) {
		return nil
	}
	var cols [][]float64
	at := make([]int, len(hs)) // first column of each: z, then w
	for i, h := range hs {
		at[i] = len(cols)
		cols = append(append(cols, h.z), h.w...)
	}
	n := len(cols)
	gram, onR := make([]float64, n*n), make([]float64, n)
	for i := range cols {
		onR[i] = linear.Dot(cols[i], r)
		for j := 0; j <= i; j++ {
			x := linear.Dot(cols[i], cols[j])
			gram[i*n+j], gram[j*n+i] = x, x
		}
	}
	rr := linear.Dot(r, r)
	total := 0.0
	for i, a := range l.Hypotheses {
		for _, b := range l.Hypotheses[i+1:] {
			if a.at() != b.at() {
				total += a.Prior * b.Prior
			}
		}
	}
	if total == 0 {
		return nil
	}
	var out []pair
	var idx []int
	var b, g []float64
	for i, ha := range l.Hypotheses {
		for j := i + 1; j < len(l.Hypotheses); j++ {
			hb := l.Hypotheses[j]
			if ha.at() == hb.at() {
				continue
			}
			za, zb := at[i], at[j]
			dd := rr - 2*(onR[za]+onR[zb]) + gram[za*n+za] + gram[zb*n+zb] + 2*gram[za*n+zb]
			idx = idx[:0]
			for k := range hs[i].w {
				idx = append(idx, za+1+k)
			}
			for k := range hs[j].w {
				idx = append(idx, zb+1+k)
			}
			k := len(idx)
			b, g = b[:0], g[:0]
			for _, x := range idx {
				b = append(b, onR[x]-gram[x*n+za]-gram[x*n+zb])
				for _, y := range idx {
					g = append(g, gram[x*n+y])
				}
			}
			ln := logLikelihood(dd, b[:k], g[:k*k]) + math.Log(pr.Two*ha.Prior*hb.Prior/total)
			out = append(out, pair{i, j, ln + said(both(ha, hb))})
		}
	}
	slices.SortFunc(out, func(a, b pair) int { return cmp.Compare(b.p, a.p) })
	return out
}

// both is what two faults together make of the blinkers, and of the lights.
func both(a, b Hypothesis) Hypothesis {
	h := Hypothesis{Class: fault.TwoFaults, steps: map[string]float64{}, lights: maps.Clone(a.lights)}
	if h.lights == nil {
		h.lights = map[string]look.Lights{}
	}
	for g, x := range b.lights {
		h.lights[g] = h.lights[g].With(x)
	}
	for _, m := range []map[string]float64{a.steps, b.steps} {
		for g, x := range m {
			if y, ok := h.steps[g]; ok {
				x = math.Max(0, x+y-1)
			}
			h.steps[g] = x
		}
	}
	return h
}
