package returns

import (
	"math"
	"slices"

	"sealworthy/compare/blink"
)

// fitter finds base and steps by least squares, and searches for the periods and
// phases that they are fitted with.
type fitter struct {
	*blink.Steps // outputs beat by beat
	t            []blink.Sample
	w            float64
	beats        []beat
}

// fill computes the columns of one beat.
func (f *fitter) fill(first int, b beat) {
	for k, o := range b.outputs {
		col := f.Cols[first+k]
		for i, s := range f.t {
			col[i] = o.lit(s.AtS, f.w, b.periodS, b.phase)
		}
	}
	f.Changed(first, first+len(b.outputs))
}

// most parameters of a fit: base and seven outputs.
const mostSteps = 7

// fitBeats takes a trace apart: base, and the step of every output, each board
// with one period and phase. With narrow the periods are held to a thousandth.
func fitBeats(t []blink.Sample, windowS float64, beats []beat, narrow bool) beatFit {
	f := &fitter{t: t, w: windowS, beats: slices.Clone(beats)}
	k := 1
	for _, b := range beats {
		k += len(b.outputs)
	}
	if k < 2 || k > mostSteps+1 || len(t) < 3*k {
		return beatFit{}
	}
	var amps []float64
	for _, s := range t {
		amps = append(amps, s.Amps)
	}
	f.Steps = blink.NewSteps(amps, k-1)
	for i := range f.Ridge {
		f.Ridge[i] = 1e-9 * float64(len(t))
	}
	f.Toward[0] = -f.MeanY // toward no base at all
	spanS := t[len(t)-1].AtS - t[0].AtS
	order := make([]int, len(f.beats))
	first := make([]int, len(f.beats))
	at := 1
	for i, b := range f.beats {
		order[i], first[i] = i, at
		at += len(b.outputs)
	}
	moves := func(b beat) float64 {
		s := 0.0
		for _, o := range b.outputs {
			s += o.builtA * o.builtA * o.duty * (1 - o.duty)
		}
		return s
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch x, y := moves(f.beats[a]), moves(f.beats[b]); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	for round := range 5 {
		for _, i := range order {
			f.search(i, first, spanS, round, narrow)
		}
		switch round {
		case 1:
			f.weigh()
		case 3:
			for _, i := range order {
				f.turn(i, first[i])
			}
		}
	}
	return f.result()
}

// turn tries one beat with its outputs' roles changed, or upside down: it fits
// nearly as well, and what its steps are as built decides.
func (f *fitter) turn(i, first int) {
	b := f.beats[i]
	n := max(2, len(b.outputs))
	best, bestAt := math.Inf(1), b
	for q := range n {
		x := b
		x.phase += float64(q) / float64(n)
		f.fill(first, x)
		if c := f.Solve() * (1 + 0.03*f.unlike(i, first)); c < best {
			best, bestAt = c, x
		}
	}
	f.beats[i] = bestAt
	f.fill(first, bestAt)
}

// search finds period and phase of one beat with the others held; those not yet
// placed have empty columns in the first round.
func (f *fitter) search(i int, first []int, spanS float64, round int, narrow bool) {
	const phases = 48
	b := &f.beats[i]
	tol := b.tol
	if narrow {
		tol = 0.001
	}
	best, bestAt := math.Inf(1), *b
	try := func(period, phase float64) {
		x := *b
		x.periodS, x.phase = period, phase
		f.fill(first[i], x)
		if c := f.Solve() * (1 + 0.002*f.unlike(i, first[i])); c < best {
			best, bestAt = c, x
		}
	}
	if round < 2 {
		hz := 1 / b.periodS
		step := 1 / (8 * math.Max(spanS, b.periodS))
		n := 0
		if round == 0 {
			n = int(tol * hz / step)
		}
		for q := -n; q <= n; q++ {
			for p := range phases {
				try(1/(hz+float64(q)*step), float64(p)/phases)
			}
		}
		*b = bestAt
	}
	// The phase belongs to the middle of the trace, so that it and the period
	// don't pull at each other.
	mid := (f.t[0].AtS + f.t[len(f.t)-1].AtS) / 2
	dp, df := 1.0/phases, 0.5/(8*math.Max(spanS, b.periodS))
	if narrow {
		df = 0
	}
	for range 9 {
		centre := bestAt
		hz := 1 / centre.periodS
		for _, m := range [][2]float64{{0, 0}, {1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			if m[1] != 0 && df == 0 {
				continue
			}
			h := hz + m[1]*df
			try(1/h, centre.phase+m[0]*dp+mid*(h-hz))
		}
		if bestAt.phase == centre.phase && bestAt.periodS == centre.periodS {
			dp, df = dp/2, df/2
		}
	}
	*b = bestAt
	f.fill(first[i], *b)
}

// unlike says how far the steps of a beat are from those as built or from none.
// Two outputs that take turns fit as well the other way round, and a duty of one
// half as well upside down: only this decides then.
func (f *fitter) unlike(i, first int) float64 {
	sum := 0.0
	for k, o := range f.beats[i].outputs {
		x, s := f.X[first+k], 0.1*o.builtA
		as, none := (x-o.builtA)/s, x/s
		u := math.Min(as*as, none*none+2)
		if x < -s {
			u = 1000
		}
		sum += math.Min(u, 1000)
	}
	return sum
}

// weigh gives less weight to readings whose window holds an edge: the time
// stamp's jitter of 5 ms moves them by a share of the step.
func (f *fitter) weigh() {
	k := len(f.Cols)
	rss := f.Solve()
	noise := math.Sqrt(rss / float64(max(1, len(f.t)-k-2*len(f.beats))))
	floor := 1e-4 * math.Abs(f.MeanY+f.X[0])
	noise = math.Max(noise/3, floor) // the edges made most of it
	for m := range f.t {
		v := noise * noise
		for i := 1; i < k; i++ {
			if c := f.Cols[i][m]; c > 1e-9 && math.Abs(c-math.Round(c)) > 1e-9 && f.w > 0 {
				e := f.X[i] * math.Min(1, 0.005/f.w)
				v += e * e
			}
		}
		f.Weight[m] = noise * noise / v
	}
	f.Weighed()
}

// result reads the fit.
func (f *fitter) result() beatFit {
	k := len(f.Cols)
	rss := f.Solve()
	sum := 0.0
	for _, w := range f.Weight {
		sum += w
	}
	v := rss / math.Max(1, sum-float64(k))
	out := beatFit{ok: true, baseA: f.MeanY + f.X[0], beats: f.beats, noiseA: math.Sqrt(v)}
	var calm []float64
	for m := range f.t {
		d, edge := f.Rest(m), false
		for i := range k {
			edge = edge || math.Abs(f.Cols[i][m]-math.Round(f.Cols[i][m])) > 1e-9
		}
		out.rest, out.edge = append(out.rest, d), append(out.edge, edge)
		if !edge {
			calm = append(calm, math.Abs(d))
		}
	}
	out.scatterA = out.noiseA
	if len(calm) > 8 {
		slices.Sort(calm)
		out.scatterA = calm[len(calm)/2] / 0.6745
	}
	// Columns of the inverse of the normal matrix, for the variances.
	cov := f.Covariance()
	out.baseU = math.Sqrt(v * cov[0])
	out.meanA = out.baseA
	g := make([]float64, k)
	g[0] = 1
	i := 1
	for _, b := range f.beats {
		for _, o := range b.outputs {
			out.stepA = append(out.stepA, f.X[i])
			out.stepU = append(out.stepU, math.Sqrt(v*cov[i*k+i]))
			out.meanA += o.duty * f.X[i]
			g[i] = o.duty
			i++
		}
	}
	s := 0.0
	for a := range k {
		for b := range k {
			s += g[a] * g[b] * cov[a*k+b]
		}
	}
	out.meanU = math.Sqrt(math.Max(0, v*s))
	return out
}
