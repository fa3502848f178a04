package blink

import "math"

// The scan looks at edges on a grid of phases and puts readings into bins of
// phase, so that its cost doesn't grow with the number of readings.
const (
	scanEdges  = 24 // of the scan over all paces
	fineEdges  = 48 // at the few paces at which patterns are looked for
	scanFill   = 2  // bins from one edge to the next
	maxFlashes = 3  // in one period of a free fit
)

// scanner finds, for one frequency after the other, the best rectangle on the
// grid. A rectangle is a run of cells, each one edge spacing long, so the Gram
// matrix of the cells, summed up twice, serves all pairs of edges. A cell is
// felt only as far as the window reaches: the matrix is a narrow band.
type scanner struct {
	d     *trace
	edges int
	bins  int
	count []float64 // readings in a bin of phase, twice over
	sum   []float64 // of centred readings, twice over
	cell  []float64 // response of the first cell, twice over
	prod  []float64
	mean  []float64 // of a cell's response, then of the cells before an edge
	gram  []float64 // of centred responses of the cells before an edge, edges by edges
	with  []float64 // responses times readings
	chol  []float64 // room for anyWaveform
	rhs   []float64
}

func newScanner(d *trace, edges int) *scanner {
	bins := scanFill * edges
	return &scanner{d: d, edges: edges, bins: bins, count: make([]float64, 2*bins), sum: make([]float64, 2*bins),
		cell: make([]float64, 2*bins), prod: make([]float64, bins), mean: make([]float64, edges),
		gram: make([]float64, edges*edges), with: make([]float64, edges),
		chol: make([]float64, edges*edges), rhs: make([]float64, edges)}
}

// sawtooth is the integral of the fraction of x.
func sawtooth(x float64) float64 {
	n := math.Floor(x)
	f := x - n
	return n/2 + f*f/2
}

// fold puts the readings into bins of phase.
func (s *scanner) fold(hz float64) {
	d := s.d
	clear(s.count)
	clear(s.sum)
	bins := float64(s.bins)
	for k, t := range d.t {
		x := t * hz
		q := min(int((x-math.Floor(x))*bins), s.bins-1)
		s.count[q]++
		s.sum[q] += d.y[k] - d.mean
	}
	copy(s.count[s.bins:], s.count[:s.bins])
	copy(s.sum[s.bins:], s.sum[:s.bins])
}

// prepare fills the Gram matrix for a frequency.
func (s *scanner) prepare(hz float64) {
	s.fold(hz)
	edges := s.edges
	reach := s.respond(hz)
	for i := range edges {
		count, sum := s.count[scanFill*i:], s.sum[scanFill*i:]
		m, w := 0.0, 0.0
		for u, r := range s.cell[:reach] {
			m += count[u] * r
			w += sum[u] * r
		}
		s.mean[i], s.with[i] = m, w
	}
	clear(s.gram)
	if reach <= s.bins/2 {
		s.band(reach)
	} else {
		s.whole()
	}
	s.sumUp()
}

// respond fills in what windows that end in each bin see of the first cell,
// and returns how many bins see anything of it.
func (s *scanner) respond(hz float64) int {
	bins := s.bins
	span := s.d.window * hz
	width := 1 / float64(s.edges)
	reach := scanFill + int(math.Ceil(min(span, 1)*float64(bins)))
	if reach <= bins/2 {
		for q := range reach {
			x := (float64(q) + 0.5) / float64(bins)
			s.cell[q] = max(min(x, width)-max(x-span, 0), 0) / span
		}
		return reach
	}
	for q := range bins {
		x := (float64(q) + 0.5) / float64(bins)
		s.cell[q] = (sawtooth(x-width)-sawtooth(x-width-span)-sawtooth(x)+sawtooth(x-span))/span + width
	}
	copy(s.cell[bins:], s.cell[:bins])
	return bins
}

// band fills the Gram matrix of cells that feel only their neighbours.
func (s *scanner) band(reach int) {
	edges := s.edges
	for m := 0; scanFill*m < reach; m++ {
		from := scanFill * m
		prod := s.prod[:reach-from]
		for u := range prod {
			prod[u] = s.cell[u+from] * s.cell[u]
		}
		for i := range edges {
			count := s.count[scanFill*i+from:][:len(prod)]
			g := 0.0
			for u, p := range prod {
				g += count[u] * p
			}
			j := i + m
			if j >= edges {
				j -= edges
			}
			s.gram[i*edges+j], s.gram[j*edges+i] = g, g
		}
	}
}

// whole fills the Gram matrix of cells that feel each other all round.
func (s *scanner) whole() {
	edges, bins := s.edges, s.bins
	for m := 0; m <= edges/2; m++ {
		back := s.cell[(edges-m)*scanFill%bins:][:bins]
		for u := range s.prod {
			s.prod[u] = s.cell[u] * back[u]
		}
		for i := range edges {
			count, prod := s.count[scanFill*i:][:bins], s.prod[:bins]
			var g0, g1, g2, g3 float64
			for u := 0; u+3 < len(prod) && u+3 < len(count); u += 4 {
				g0 += count[u] * prod[u]
				g1 += count[u+1] * prod[u+1]
				g2 += count[u+2] * prod[u+2]
				g3 += count[u+3] * prod[u+3]
			}
			j := i + m
			if j >= edges {
				j -= edges
			}
			g := (g0 + g1) + (g2 + g3)
			s.gram[i*edges+j], s.gram[j*edges+i] = g, g
		}
	}
}

// sumUp turns the matrix of the cells into that of the cells before each edge,
// and takes the means off.
func (s *scanner) sumUp() {
	edges := s.edges
	n := float64(len(s.d.t))
	var above [fineEdges]float64 // sums over the rows before
	m, w := 0.0, 0.0
	for i := range edges {
		row := s.gram[i*edges:][:edges]
		run := 0.0
		for j, g := range row {
			row[j] = above[j]
			run += g
			above[j] += run - g // the cells before j of this row
		}
		m, s.mean[i] = m+s.mean[i], m
		w, s.with[i] = w+s.with[i], w
	}
	for i := range edges {
		row, mi := s.gram[i*edges:][:edges], s.mean[i]/n
		for j, mj := range s.mean {
			row[j] -= mi * mj
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
	edges := s.edges
	floor := 1e-9 * float64(len(s.d.t))
	for j := range edges {
		row, wj, gj := s.gram[j*edges:][:j], s.with[j], s.gram[j*edges+j]
		for i, g := range row {
			// Lit from i to j, or the other way round where that draws more.
			p := wj - s.with[i]
			norm := s.gram[i*edges+i] + gj - 2*g
			if p*p*under > top*norm && norm > floor {
				top, under, bi, bj = p*p, norm, i, j
				if p < 0 {
					bi, bj = j, i
				}
			}
		}
	}
	lit := float64((bj-bi+edges)%edges) / float64(edges)
	return start{hz, s.d.squares - top/under, params{hz, float64(bi) / float64(edges), lit, 0}}
}

// spread returns the residual sum of squares of a staircase of one step for
// each edge at the frequency last prepared, windows not regarded: enough to
// tell paces at which any waveform fits from those at which none does.
func (s *scanner) spread() float64 {
	gain := 0.0
	for q := 0; q < s.bins; q += scanFill {
		sum, count := s.sum[q]+s.sum[q+1], s.count[q]+s.count[q+1]
		gain += sum * sum / (count + 1)
	}
	return s.d.squares - gain
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

// slowest returns the lowest frequency, in Hz, that a pace is brought to: a little
// below the grid, whose lowest point may be the best one.
func (d *trace) slowest() float64 { return 0.9 * d.minHz }

// samplingPeaks returns the frequencies at which the reading instants
// themselves are periodic: a pace f then has mirrors at |q +- f|.
func (d *trace) samplingPeaks() []float64 {
	step := 1 / (5 * d.spanS)
	n := int(2*d.maxHz/step) + 2
	first := int(0.5 * d.minHz / step)
	re, im := make([]float64, n), make([]float64, n)
	// One phasor for each reading, turned on from frequency to frequency: no
	// turn waits for the one before it.
	type phasor struct{ c, s, turnC, turnS float64 }
	ph := make([]phasor, len(d.t))
	for k, t := range d.t {
		p := &ph[k]
		p.turnS, p.turnC = math.Sincos(2 * math.Pi * step * t)
		p.s, p.c = math.Sincos(2 * math.Pi * step * float64(first) * t)
	}
	for i := first; i < n; i++ {
		c, s := 0.0, 0.0
		for k := range ph {
			p := &ph[k]
			c += p.c
			s += p.s
			p.c, p.s = p.c*p.turnC-p.s*p.turnS, p.s*p.turnC+p.c*p.turnS
		}
		re[i], im[i] = c, s
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
