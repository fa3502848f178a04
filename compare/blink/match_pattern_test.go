package blink

import (
	"math"
	"testing"
)

// timed is a light that follows given lit and dark times.
func timed(litDark []float64, stretch, off, on float64) *light {
	period := total(litDark)
	return newLight(period*stretch, off, on, func(x float64) float64 {
		at := x * period
		for i, d := range litDark {
			if at < d {
				return float64(1 - i%2)
			}
			at -= d
		}
		return 0
	})
}

// TestMatchPatterns judges flashes in groups, three periods each.
func TestMatchPatterns(t *testing.T) {
	n := few(3)
	if long() {
		n = 60
	}
	patterns := map[string][]float64{
		"two and a pause":   {.15, .25, .15, 1.45},
		"three and a pause": {.12, .2, .12, .2, .12, 1.24},
		"long and short":    {.6, .3, .2, .9},
		"fixed and flash":   {1.5, .2, .4, .2},
	}
	for name, p := range patterns {
		for mi, k := range meters {
			k.span = 3.1 * total(p)
			agree, other, wrong, far := 0, 0, 0, 0
			for i := range n {
				r := seeded(uint64(mi), uint64(i))
				want := Pattern{Flashes: p}
				tol := planned(.020, .001)
				tol.DutyAbs = .04
				known := k.known()
				if i%2 == 1 {
					known.NoiseA = 0
				}
				good := timed(p, 1+.03*(2*r.Float64()-1), .001, .020)
				m := Match(k.read(r, good.mean), known, want, tol)
				switch m.Agreement {
				case Agrees:
					agree++
					if m.LevelsShown && math.Abs(m.OnA-.020) > 3*m.OnU+.0001 {
						far++
					}
				case CantTell:
				default:
					wrong++
					t.Logf("%s, meter %d: good called %v: %s", name, mi, m.Agreement, m.Why)
				}
				// One flash as long as all together, at the same period.
				lit := 0.0
				for j := 0; j < len(p); j += 2 {
					lit += p[j]
				}
				bad := newLight(total(p), .001, .020, rectangle(lit/total(p)))
				if i%2 == 0 {
					bad = timed(p, .7, .001, .020)
				}
				m = Match(k.read(r, bad.mean), known, want, tol)
				switch m.Agreement {
				case OffPace:
					other++
				case CantTell:
				case Agrees:
					// Readings at an even spacing that the period is a multiple of
					// see the same few phases over and over: they can't tell.
					if k.spread > 0 {
						wrong++
					}
					t.Logf("%s, meter %d, trial %d: bad called agrees: %s; chi %.2f", name, mi, i, m.Why, m.Chi)
				default:
					wrong++
					t.Logf("%s, meter %d, trial %d: bad called %v: %s; chi %.2f", name, mi, i, m.Agreement,
						m.Why, m.Chi)
				}
			}
			t.Logf("%s, %g/s window %g: good agrees %d, bad off pace %d, wrong %d, levels beyond 3u %d, of %d", name,
				k.rate, k.window, agree, other, wrong, far, n)
			if wrong*50 > n || far > 1+n/20 || agree*10 < 7*n {
				t.Errorf("%s, meter %d: %d agree, %d wrong, %d levels beyond three uncertainties, of %d", name, mi,
					agree, wrong, far, n)
			}
		}
	}
}

// TestMatchWrongWindow has a window that is off by 30 %, or isn't known.
func TestMatchWrongWindow(t *testing.T) {
	n := few(3)
	if long() {
		n = 60
	}
	for mi, k := range meters {
		for _, told := range []float64{0, 0.7, 1.3} {
			got := map[Agreement]int{}
			shown, far := 0, 0
			var on []float64
			for i := range n {
				r := seeded(uint64(mi), uint64(i))
				period := 0.9 + r.Float64()
				k.span = 6 * period
				l := newLight(period, .001, .020, rectangle(.2+.3*r.Float64()))
				known := k.known()
				known.WindowS *= told
				known.WindowRelU = 0.3
				m := Match(k.read(r, l.mean), known, Pattern{PeriodS: period, Duty: .35},
					Tolerance{DutyAbs: .2, OnA: .020, OnU: .0006, OffA: .001, OffU: .0001})
				got[m.Agreement]++
				if m.Agreement == Agrees && m.LevelsShown {
					shown++
					on = append(on, 100*(m.OnA/.020-1))
					if math.Abs(m.OnA-.020) > 3*m.OnU+.0002 {
						far++
					}
				}
			}
			t.Logf("%g/s window %g told %g: %v, levels shown %d, on RMS %.1f %%, beyond 3u %d", k.rate, k.window,
				told*k.window, got, shown, rms(on), far)
			if got[SteadyDark]+got[SteadyLit] > 0 || got[OffPace]*20 > n || got[Agrees]*10 < 7*n || far*20 > n {
				t.Errorf("window %g told as %g: %v, %d levels beyond three uncertainties of %d", k.window,
					told*k.window, got, far, n)
			}
		}
	}
}
