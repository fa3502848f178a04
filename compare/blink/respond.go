package blink

import "math"

// times are the flashes of a waveform at present parameters, in phases.
type times struct {
	n       int
	on, lit [20]float64
	share   float64 // lit of the whole period
}

func (w *times) set(m *model, p *params) {
	w.n, w.share = len(m.edges)/2, 0
	for i := range w.n {
		on, off := &m.edges[2*i], &m.edges[2*i+1]
		w.on[i] = on.at + on.byA*p[pA] + on.byB*p[pB]
		w.lit[i] = off.at + off.byA*p[pA] + off.byB*p[pB] - w.on[i]
		w.share += w.lit[i]
	}
}

// integral is the lit time from phase 0 to x. All flashes begin and end
// between 0 and 1.
func (w *times) integral(x float64) float64 {
	n := math.Floor(x)
	u := x - n
	sum := n*w.share + min(u, w.lit[0]) // the first flash begins at 0
	for i := 1; i < w.n; i++ {
		sum += min(max(u-w.on[i], 0), w.lit[i])
	}
	return sum
}

// means fills the window means of part j, all readings earlier or later by dt.
func (f *fitter) means(j int, dt float64, to []float64, stride int) {
	q := &f.parts[j]
	hz := q.p[pHz]
	span := f.window * hz
	shift := dt*hz - q.p[pPhase]
	if q.shape != Flashes || q.edges[0].at != 0 {
		for i, t := range f.d.t {
			x := t*hz + shift
			to[i*stride] = q.mean(x-span, x, &q.p)
		}
		return
	}
	var w times
	w.set(&q.model, &q.p)
	per := 1 / span
	if w.n == 1 {
		lit := w.share
		for i, t := range f.d.t {
			x1 := t*hz + shift
			x0 := x1 - span
			n1, n0 := math.Floor(x1), math.Floor(x0)
			to[i*stride] = ((n1-n0)*lit + min(x1-n1, lit) - min(x0-n0, lit)) * per
		}
		return
	}
	for i, t := range f.d.t {
		x := t*hz + shift
		to[i*stride] = (w.integral(x) - w.integral(x-span)) * per
	}
}

// blurred fills the window means of part j as they're expected at stamps that
// are uncertain: a stamp that is off rounds every corner of the response. The
// three points and their weights have the moments of a normal distribution.
func (f *fitter) blurred(j int) {
	n, np := len(f.d.t), len(f.parts)
	f.early, f.middle, f.late = grow(f.early, n), grow(f.middle, n), grow(f.late, n)
	f.means(j, -f.blur, f.early, 1)
	f.means(j, 0, f.middle, 1)
	f.means(j, f.blur, f.late, 1)
	for i, before := range f.early {
		f.resp[i*np+j] = (before + 4*f.middle[i] + f.late[i]) / 6
	}
}

// respond fills the window means and, with a softness of zero or more, the
// Jacobian columns of the non-linear parameters.
func (f *fitter) respond(soft float64) {
	np, m := len(f.parts), f.nl+f.lin
	for j := range f.parts {
		q := &f.parts[j]
		if f.blur > 0 {
			f.blurred(j)
		} else {
			f.means(j, 0, f.resp[j:], np)
		}
		if soft < 0 {
			continue
		}
		hz, phase := q.p[pHz], q.p[pPhase]
		span := f.window * hz
		amp := f.levels[1+j]
		per := amp / span
		for i, t := range f.d.t {
			x1 := t*hz - phase
			s := q.slopes(x1-span, x1, &q.p, soft)
			row := f.jac[i*m:]
			byHz := (s.end*t-s.start*(t-f.window))*per - amp*f.resp[i*np+j]/hz
			byPhase := (s.start - s.end) * per
			if j > 0 {
				row[0] += byHz
				row[1] += byPhase
				row[2] += per * s.byA
				continue
			}
			row[0], row[1] = byHz, byPhase
			if q.free > 2 {
				row[2] = per * s.byA
			}
			if q.free > 3 {
				row[3] = per * s.byB
			}
		}
	}
}
