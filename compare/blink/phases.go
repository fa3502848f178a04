package blink

import "math"

// phaseBins is how finely readings are put into bins of phase where a waveform
// of known shape is looked for; a multiple of the phases tried.
const phaseBins = 160

// tryPhases fits a waveform of fixed shape to values at the trace's times, at
// one pace and at evenly spread phases, and returns the best. Readings in one
// bin of phase are taken together, so that a long trace costs no more.
func (d *trace) tryPhases(m *model, first, hz float64, phases int, y []float64) start {
	n := float64(len(d.t))
	mean, squares := 0.0, 0.0
	for _, v := range y {
		mean += v / n
	}
	var count, sum [2 * phaseBins]float64 // twice over
	for k, t := range d.t {
		v := y[k] - mean
		squares += v * v
		x := t * hz
		q := min(int((x-math.Floor(x))*phaseBins), phaseBins-1)
		count[q]++
		sum[q] += v
	}
	copy(count[phaseBins:], count[:phaseBins])
	copy(sum[phaseBins:], sum[:phaseBins])
	p := params{hz, 0, first, 0}
	span := d.window * hz
	var resp [phaseBins]float64
	for q := range resp {
		x := (float64(q) + 0.5) / phaseBins
		resp[q] = m.mean(x-span, x, &p)
	}
	best := start{hz, squares, p}
	for i := range phases {
		shift := i * phaseBins / phases
		c, s := count[shift:][:phaseBins], sum[shift:][:phaseBins]
		var sr, srr, sry float64
		for q, r := range resp {
			cr := c[q] * r
			sr += cr
			srr += cr * r
			sry += s[q] * r
		}
		cost := squares
		if norm := srr - sr*sr/n; norm > 1e-9*n && sry > 0 {
			cost -= sry * sry / norm
		}
		if cost < best.cost {
			best.cost, best.p[pPhase] = cost, float64(shift)/phaseBins
		}
	}
	return best
}
