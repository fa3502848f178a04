package blink

import (
	"math"
	"testing"
)

// plainNorm works out the response of a lit span straight from its window
// means at each reading, moved to the middle of its bin as the scan does.
func plainNorm(d *trace, hz float64, edges, from, to int) (p, norm float64) {
	m := flashes(1)
	lit := float64((to-from+edges)%edges) / float64(edges)
	bins := float64(scanFill * edges)
	var sum, squares float64
	for k, t := range d.t {
		x := t * hz
		x = (math.Floor((x-math.Floor(x))*bins)+0.5)/bins - float64(from)/float64(edges)
		r := m.mean(x-d.window*hz, x, &params{hz, 0, lit, 0})
		p += r * (d.y[k] - d.mean)
		sum += r
		squares += r * r
	}
	return p, squares - sum*sum/float64(len(d.t))
}

// TestScan compares the summed Gram matrix with responses worked out one by
// one, for windows much shorter than the period up to longer ones.
func TestScan(t *testing.T) {
	for _, window := range []float64{0.02, 0.2, 0.45, 0.9, 1.7} {
		k := taking{10, window, 0.2, 20, 0.005, 0.0002}
		l := newLight(1.1, 0.001, 0.020, rectangle(0.3))
		d, _ := newTrace(k.read(seeded(8, 1), l.mean), k.known(), leastFree)
		for _, edges := range []int{scanEdges, fineEdges} {
			s := newScanner(d, edges)
			for _, hz := range []float64{0.3, 1 / 1.1, 2.3} {
				s.prepare(hz)
				for _, at := range [][2]int{{0, 5}, {3, 4}, {2, edges - 1}, {edges - 3, 4}, {edges / 2, 0}} {
					i, j := at[0], at[1]
					p, norm := plainNorm(d, hz, edges, i, j)
					gotP := s.with[j] - s.with[i]
					got := s.gram[i*edges+i] + s.gram[j*edges+j] - 2*s.gram[i*edges+j]
					if math.Abs(gotP-p) > 1e-9 || math.Abs(got-norm) > 1e-9*float64(len(d.t)) {
						t.Errorf("window %g, %g Hz, lit from %d to %d of %d: response %.6g of %.6g, want %.6g of %.6g",
							window, hz, i, j, edges, gotP, got, p, norm)
					}
				}
			}
		}
	}
}
