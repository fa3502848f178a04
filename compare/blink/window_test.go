package blink

import (
	"math"
	"testing"
)

func TestWindow(t *testing.T) {
	n := few(1)
	if long() {
		n = 30
	}
	for i, k := range []taking{{10, .09, .1, 30, .005, .0002}, {10, .2, .1, 30, .005, .0002},
		{4, .2, .3, 40, .005, .0002}, {20, .1, .1, 20, .005, .0002}, {20, .02, .1, 20, .002, .0002}} {
		if i > 1 && !long() {
			break // each search for a window is some 60 fits
		}
		for _, told := range []float64{0, 1.5} {
			found, far := 0, 0
			var rel []float64
			for i := range n {
				r := seeded(7, uint64(i))
				period := 1.7 + r.Float64()
				l := newLight(period, .001, .020, rectangle(0.5))
				known := k.known()
				known.WindowS = k.window * told
				w := Window(k.read(r, l.mean), known)
				if !w.Found {
					t.Logf("not found: %s", w.Why)
					continue
				}
				found++
				rel = append(rel, 100*(w.WindowS/k.window-1))
				if math.Abs(w.WindowS-k.window) > 3*w.U {
					far++
				}
			}
			t.Logf("rate %g, window %g, told %g: found %d of %d, off by %.2f %% RMS, beyond 3u %d", k.rate, k.window,
				told*k.window, found, n, rms(rel), far)
			if k.window > 0.05 && (found*10 < 8*n || rms(rel) > 12 || far*10 > n) {
				t.Errorf("window %g at %g/s: found %d of %d, RMS %.1f %%, %d beyond three uncertainties", k.window,
					k.rate, found, n, rms(rel), far)
			}
		}
	}
	k := taking{10, .2, .1, 30, .005, .0002}
	fast := newLight(.6, .001, .020, rectangle(.5))
	if w := Window(k.read(seeded(1, 1), fast.mean), k.known()); w.Found {
		t.Errorf("found %.3f s from a blink too fast for it", w.WindowS)
	}
}
