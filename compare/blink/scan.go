package blink

import "math"

// The scan looks at edges on a grid of phases and puts readings into bins of
// phase, so that its cost doesn't grow with the number of readings.
const (
	scanEdges  = 24
	scanBins   = 2 * scanEdges
	scanFill   = scanBins / scanEdges
	maxFlashes = 3 // in one period of a free fit
)

// scanner finds, for one frequency after the other, the best rectangle on the
// grid. A rectangle's response to the window is the difference of two
// responses to a sawtooth, so one Gram matrix serves all pairs of edges.
type scanner struct {
	d     *trace
	count [2 * scanBins]float64 // readings in a bin of phase, twice over
	sum   [2 * scanBins]float64 // of centred readings
	saw   [2 * scanBins]float64
	prod  [scanBins]float64
	mean  [scanEdges]float64
	gram  [scanEdges][scanEdges]float64 // of centred responses
	with  [scanEdges]float64            // responses times readings
}

// sawtooth is the integral of the fraction of x.
func sawtooth(x float64) float64 {
	n := math.Floor(x)
	f := x - n
	return n/2 + f*f/2
}

// prepare fills the Gram matrix for a frequency.
func (s *scanner) prepare(hz float64) {
	d := s.d
	for i := range s.count {
		s.count[i], s.sum[i] = 0, 0
	}
	for k, t := range d.t {
		x := t * hz
		q := int((x - math.Floor(x)) * scanBins)
		if q >= scanBins {
			q = scanBins - 1
		}
		s.count[q]++
		s.sum[q] += d.y[k] - d.mean
	}
	copy(s.count[scanBins:], s.count[:scanBins])
	copy(s.sum[scanBins:], s.sum[:scanBins])
	span := d.window * hz
	for q := range scanBins {
		x := (float64(q) + 0.5) / scanBins
		s.saw[q] = (sawtooth(x) - sawtooth(x-span)) / span
	}
	copy(s.saw[scanBins:], s.saw[:scanBins])
	n := float64(len(d.t))
	for i := range scanEdges {
		count, sum := s.count[scanFill*i:][:scanBins], s.sum[scanFill*i:][:scanBins]
		m, w := 0.0, 0.0
		for u, r := range s.saw[:scanBins] {
			m += count[u] * r
			w += sum[u] * r
		}
		s.mean[i], s.with[i] = m, w
	}
	for m := 0; m <= scanEdges/2; m++ {
		back := s.saw[(scanEdges-m)*scanFill%scanBins:][:scanBins]
		for u := range s.prod {
			s.prod[u] = s.saw[u] * back[u]
		}
		for i := range scanEdges {
			count := s.count[scanFill*i:][:scanBins]
			var g0, g1, g2, g3 float64
			for u := 0; u+3 < scanBins; u += 4 {
				g0 += count[u] * s.prod[u]
				g1 += count[u+1] * s.prod[u+1]
				g2 += count[u+2] * s.prod[u+2]
				g3 += count[u+3] * s.prod[u+3]
			}
			j := (i + m) % scanEdges
			g := (g0 + g1) + (g2 + g3) - s.mean[i]*s.mean[j]/n
			s.gram[i][j], s.gram[j][i] = g, g
		}
	}
}

// start is where a refinement starts.
type start struct {
	hz   float64
	cost float64 // residual sum of squares
	p    params
}

// rectangle returns the best rectangle at the frequency last prepared.
func (s *scanner) rectangle(hz float64) start {
	top, under := 0.0, 1.0
	bi, bj := 0, 1
	floor := 1e-9 * float64(len(s.d.t))
	for i := range scanEdges {
		row := &s.gram[i]
		for j := range scanEdges {
			p := s.with[j] - s.with[i]
			if p <= 0 || i == j {
				continue
			}
			norm := row[i] + s.gram[j][j] - 2*row[j]
			if norm > floor && p*p*under > top*norm {
				top, under, bi, bj = p*p, norm, i, j
			}
		}
	}
	lit := float64((bj-bi+scanEdges)%scanEdges) / scanEdges
	return start{hz, s.d.squares - top/under, params{hz, float64(bi) / scanEdges, lit, 0}}
}

// pattern returns the best pattern of n equal flashes and a pause on the grid.
func (s *scanner) pattern(hz float64, n int) start {
	top, under := 0.0, 1.0
	best := params{hz, 0, 1.0 / scanEdges, 2.0 / scanEdges}
	floor := 1e-9 * float64(len(s.d.t))
	var at [2 * maxFlashes]int
	for gap := 2; gap*n < scanEdges; gap++ {
		for lit := 1; lit < gap; lit++ {
			for from := range scanEdges {
				p := 0.0
				for i := range n {
					on := (from + i*gap) % scanEdges
					off := (on + lit) % scanEdges
					at[2*i], at[2*i+1] = on, off
					p += s.with[off] - s.with[on]
				}
				if p <= 0 {
					continue
				}
				norm := 0.0
				for a := range 2 * n {
					row := &s.gram[at[a]]
					for b := range 2 * n {
						if (a+b)%2 == 0 {
							norm += row[at[b]]
						} else {
							norm -= row[at[b]]
						}
					}
				}
				if norm > floor && p*p*under > top*norm {
					top, under = p*p, norm
					best[pPhase] = float64(from) / scanEdges
					best[pA], best[pB] = float64(lit)/scanEdges, float64(gap)/scanEdges
				}
			}
		}
	}
	return start{hz, s.d.squares - top/under, best}
}

// grid returns the frequencies of a scan: five to each resolvable one.
func (d *trace) grid() []float64 {
	step := 1 / (5 * d.spanS)
	var g []float64
	for f := d.minHz; f <= d.maxHz; f += step {
		g = append(g, f)
	}
	return g
}

// samplingPeaks returns the frequencies at which the reading instants
// themselves are periodic: a pace f then has mirrors at |q +- f|.
func (d *trace) samplingPeaks() []float64 {
	step := 1 / (5 * d.spanS)
	n := int(2*d.maxHz/step) + 2
	first := int(0.5 * d.minHz / step)
	re, im := make([]float64, n), make([]float64, n)
	for _, t := range d.t {
		sn, cs := math.Sincos(2 * math.Pi * step * t)
		s, c := math.Sincos(2 * math.Pi * step * float64(first) * t)
		for i := first; i < n; i++ {
			re[i] += c
			im[i] += s
			c, s = c*cs-s*sn, s*cs+c*sn
		}
	}
	size := func(i int) float64 { return math.Hypot(re[i], im[i]) / float64(len(d.t)) }
	var peaks []float64
	// The peak at zero is as wide as the trace is short: begin beyond it.
	for i := max(first+1, 8); i+1 < n && len(peaks) < 6; i++ {
		if v := size(i); v > 0.4 && v >= size(i-1) && v >= size(i+1) {
			peaks = append(peaks, float64(i)*step)
		}
	}
	return peaks
}
