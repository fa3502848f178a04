package blink

import (
	"math"
	"slices"

	"sealworthy/compare/linear"
)

// part is one waveform of a model of a trace, with its parameters. Several are
// one waveform at evenly spread phases: the first moves, the others follow.
type part struct {
	model
	p    params
	low  float64 // lowest and highest frequency it may take, Hz
	high float64
	// Limits of p[pA]; both 0: those of the model alone.
	leastA, mostA float64
}

// fitter fits off + sum of amplitude times waveform to a trace, by damped
// Gauss-Newton steps in the non-linear parameters; the levels are solved for at
// each step (variable projection). It's made once and used for many starts.
type fitter struct {
	d      *trace
	parts  []part
	nl     int       // non-linear parameters
	lin    int       // levels: off, then one amplitude for each part
	levels []float64 // off, amplitudes
	weight []float64 // 1/variance of each reading
	resp   []float64 // window means, n by parts
	jac    []float64 // n by nl+lin
	resid  []float64
	normal []float64
	rhs    []float64
	chol   []float64
	step   []float64
	kept   []params
	// Window means at three points of a stamp's distribution, and how far apart
	// these are; 0: stamps are taken at their word.
	early, middle, late []float64
	blur                float64
	window              float64
	// A base known otherwise, with its weight of one over variance; 0: unknown.
	base, baseWeight float64
}

func newFitter(d *trace, parts ...part) *fitter {
	f := &fitter{d: d, window: d.window}
	n := len(d.t)
	f.weight = make([]float64, n)
	f.resid = make([]float64, n)
	f.set(parts...)
	return f
}

// set replaces the waveforms.
func (f *fitter) set(parts ...part) {
	n := len(f.d.t)
	f.parts = append(f.parts[:0], parts...)
	f.nl, f.lin = 0, 1+len(parts)
	if len(parts) > 0 {
		f.nl = parts[0].free
	}
	m := f.nl + f.lin
	f.levels = grow(f.levels, f.lin)
	f.resp = grow(f.resp, n*len(parts))
	f.jac = grow(f.jac, n*m)
	f.normal, f.chol = grow(f.normal, m*m), grow(f.chol, m*m)
	f.rhs, f.step = grow(f.rhs, m), grow(f.step, m)
	if cap(f.kept) < len(parts) {
		f.kept = make([]params, len(parts))
	}
	f.kept = f.kept[:len(parts)]
}

func grow(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}

// flatWeights forgets what is known of edges: a start is still far off.
func (f *fitter) flatWeights() {
	f.blur = 0
	for i := range f.weight {
		f.weight[i] = 1 / (f.d.noise * f.d.noise)
	}
}

// solveLevels solves for the levels at the present waveforms and returns the
// weighted sum of squared residuals. Off and amplitudes don't go below zero.
func (f *fitter) solveLevels() float64 {
	if len(f.parts) == 1 {
		f.solveTwo()
	} else {
		f.solveMany()
	}
	np := len(f.parts)
	sum := f.baseWeight * (f.levels[0] - f.base) * (f.levels[0] - f.base)
	if np == 1 {
		off, amp := f.levels[0], f.levels[1]
		for i, y := range f.d.y {
			r := y - off - amp*f.resp[i]
			f.resid[i] = r
			sum += f.weight[i] * r * r
		}
		return sum
	}
	for i, y := range f.d.y {
		r := y - f.levels[0]
		for j := range np {
			r -= f.levels[1+j] * f.resp[i*np+j]
		}
		f.resid[i] = r
		sum += f.weight[i] * r * r
	}
	return sum
}

// solveTwo solves for off and one amplitude.
func (f *fitter) solveTwo() {
	var s, sr, srr, sy, sry float64
	resp, weight := f.resp[:len(f.d.y)], f.weight[:len(f.d.y)]
	for i, y := range f.d.y {
		w, r := weight[i], resp[i]
		wr := w * r
		s += w
		sr += wr
		srr += wr * r
		sy += w * y
		sry += wr * y
	}
	s += f.baseWeight
	sy += f.baseWeight * f.base
	off, amp := sy/s, 0.0
	if det := s*srr - sr*sr; det > 1e-12*s*srr {
		off, amp = (srr*sy-sr*sry)/det, (s*sry-sr*sy)/det
		switch {
		case amp < 0:
			off, amp = sy/s, 0
		case off < 0:
			off, amp = 0, sry/srr
		}
	}
	f.levels[0], f.levels[1] = max(off, 0), max(amp, 0)
}

func (f *fitter) solveMany() {
	np, l := len(f.parts), f.lin
	var a [10 * 10]float64
	var b [10]float64
	for i, y := range f.d.y {
		w := f.weight[i]
		row := f.resp[i*np : i*np+np]
		a[0] += w
		b[0] += w * y
		for j, r := range row {
			wr := w * r
			a[(j+1)*l] += wr
			b[j+1] += wr * y
			for k := 0; k <= j; k++ {
				a[(j+1)*l+k+1] += wr * row[k]
			}
		}
	}
	a[0] += f.baseWeight
	b[0] += f.baseWeight * f.base
	nonNegative(a[:l*l], b[:l], f.levels)
}

// descend makes up to steps Gauss-Newton steps with Marquardt's damping.
func (f *fitter) descend(steps int, soft float64) float64 {
	f.respond(-1)
	best := f.solveLevels()
	damp := 1e-3
	m := f.nl + f.lin
	for range steps {
		f.respond(soft)
		f.fillNormal()
		for i := range f.parts {
			f.kept[i] = f.parts[i].p
		}
		was := best
		for range 5 {
			f.restore()
			copy(f.chol, f.normal)
			for i := range m {
				f.chol[i*m+i] += damp*f.normal[i*m+i] + 1e-300
			}
			copy(f.step, f.rhs)
			if !linear.Solve(f.chol, f.step, m) {
				damp *= 10
				continue
			}
			f.move()
			f.respond(-1)
			if now := f.solveLevels(); now < best {
				best = now
				damp = math.Max(damp/5, 1e-7)
				break
			}
			damp *= 8
		}
		if best >= was {
			f.restore()
			f.respond(-1)
			return f.solveLevels()
		}
		if was-best < 1e-4*best/float64(len(f.d.t))+1e-6 {
			break
		}
	}
	return best
}

func (f *fitter) restore() {
	for i := range f.parts {
		f.parts[i].p = f.kept[i]
	}
}

// move adds the step to the parameters, within their limits.
func (f *fitter) move() {
	q := &f.parts[0]
	for i := range q.free {
		most := 0.1
		if i == pHz {
			most = 0.3 / f.d.spanS
		}
		q.p[i] += math.Max(math.Min(f.step[i], most), -most)
	}
	q.p[pHz] = math.Min(math.Max(q.p[pHz], q.low), q.high)
	if q.mostA > 0 {
		q.p[pA] = math.Min(math.Max(q.p[pA], q.leastA), q.mostA)
	}
	q.clamp(&q.p)
	for j := 1; j < len(f.parts); j++ {
		f.parts[j].p = q.p
		f.parts[j].p[pPhase] += float64(j) / float64(len(f.parts))
	}
}

// fillNormal forms J'WJ and J'Wr over all parameters, levels last.
func (f *fitter) fillNormal() {
	np, m := len(f.parts), f.nl+f.lin
	for i := range f.normal[:m*m] {
		f.normal[i] = 0
	}
	for i := range f.rhs[:m] {
		f.rhs[i] = 0
	}
	for i := range f.d.t {
		row := f.jac[i*m : i*m+m]
		row[f.nl] = 1
		copy(row[f.nl+1:], f.resp[i*np:i*np+np])
		w := f.weight[i]
		for a, ja := range row {
			wj := w * ja
			f.rhs[a] += wj * f.resid[i]
			n := f.normal[a*m:]
			for b := 0; b <= a; b++ {
				n[b] += wj * row[b]
			}
		}
	}
	f.normal[f.nl*m+f.nl] += f.baseWeight
	f.rhs[f.nl] += f.baseWeight * (f.base - f.levels[0])
	for a := range m {
		for b := range a {
			f.normal[b*m+a] = f.normal[a*m+b]
		}
	}
}

// reweigh sets the variance of each reading from the noise, from what the
// stamp's uncertainty makes of an edge in its window, and from model error.
// From now on waveforms are blurred as the stamps blur them.
func (f *fitter) reweigh() {
	f.blur = math.Sqrt(3) * f.d.stampStd
	np := len(f.parts)
	for i := range f.weight {
		f.weight[i] = f.d.noise * f.d.noise
	}
	for j := range f.parts {
		f.blurred(j)
		a2 := f.levels[1+j] * f.levels[1+j]
		for i, before := range f.early {
			mean := f.resp[i*np+j]
			b, m, c := before-mean, f.middle[i]-mean, f.late[i]-mean
			f.weight[i] += a2 * ((b*b+4*m*m+c*c)/6 + modelRel*modelRel)
		}
	}
	for i, v := range f.weight {
		f.weight[i] = 1 / v
	}
}

// misfit returns -2 ln likelihood, up to a constant, and chi-square for the
// present weights and residuals.
func (f *fitter) misfit() (m2l, chi2 float64) {
	noise2 := f.d.noise * f.d.noise
	for i, r := range f.resid {
		c := r * r * f.weight[i]
		chi2 += c
		m2l += c - math.Log(noise2*f.weight[i])
	}
	return m2l, chi2
}

// polish ends a search: weights and parameters in turn.
func (f *fitter) polish(rounds int) (m2l, chi2 float64) {
	for range rounds {
		f.reweigh()
		f.descend(4, f.jitterSoft())
	}
	return f.misfit()
}

// jitterSoft is the phase over which stamps blur an edge.
func (f *fitter) jitterSoft() float64 {
	hz := 0.0
	for i := range f.parts {
		hz = math.Max(hz, f.parts[i].p[pHz])
	}
	return math.Min(2*math.Sqrt(3)*f.d.stampStd*hz, 0.2)
}

// covariance returns the covariance of all parameters at the present point,
// before scaling with chi, and whether they are determined at all. An edge
// that no window straddles has no derivative; it's then no better known than
// the gap between readings, and the answer is false.
func (f *fitter) covariance() ([]float64, bool) {
	f.respond(f.jitterSoft())
	f.fillNormal()
	m := f.nl + f.lin
	cov := make([]float64, m*m)
	ok := linear.Invert(f.normal[:m*m], cov, m)
	return cov, ok
}

// betweenReadings is covariance where it isn't determined: an edge that no window straddles lies
// in the gap between two of them, anywhere in it (rectangular, JCGM 100:2008, 4.3.7), a frequency
// is known to as much over the whole trace. scale is what it's scaled by.
func (f *fitter) betweenReadings(scale float64) ([]float64, bool) {
	f.respond(f.jitterSoft())
	f.fillNormal()
	m := f.nl + f.lin
	gap := (f.d.gapS() + 2*f.d.stampStd) * f.parts[0].p[pHz] / math.Sqrt(12)
	known := scale / (gap * gap)
	f.normal[pHz*m+pHz] += known * f.d.spanS * f.d.spanS
	for i := pPhase; i < f.nl; i++ {
		f.normal[i*m+i] += known
	}
	cov := make([]float64, m*m)
	ok := linear.Invert(f.normal[:m*m], cov, m)
	return cov, ok
}

// gapS is the time between two windows that nothing is seen of, s: half of the gaps are no longer.
func (d *trace) gapS() float64 {
	gaps := make([]float64, 0, len(d.t))
	for i := 1; i < len(d.t); i++ {
		gaps = append(gaps, math.Max(0, d.t[i]-d.t[i-1]-d.window))
	}
	if len(gaps) == 0 {
		return 0
	}
	slices.Sort(gaps)
	return gaps[len(gaps)/2]
}
