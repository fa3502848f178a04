package blink

import (
	"math"
	"testing"
)

// levels the plan would give: 3 % uncertain.
func planned(on, off float64) Tolerance {
	return Tolerance{PeriodRel: 0.05, DutyAbs: 0.05, OnA: on, OnU: 0.03 * on, OffA: off, OffU: 0.1 * off}
}

var meters = []taking{
	{4, 0.2, 0.3, 0, 0.005, 0.0002},
	{4, 0.25, 0, 0, 0.005, 0.0002},
	{10, 0.09, 0.1, 0, 0.005, 0.0002},
	{10, 0.2, 0.1, 0, 0.005, 0.0002},
	{20, 0.045, 0.1, 0, 0.005, 0.0002},
}

// TestMatchShort judges captures of three periods, as the power-on test takes them.
func TestMatchShort(t *testing.T) {
	n := few(12)
	if long() {
		n = 200
	}
	for stated := range 2 {
		for mi, k := range meters {
			count := map[Agreement]int{}
			offPace := map[Agreement]int{}
			stuck := map[Agreement]int{}
			var on []float64
			shown, far, wrong := 0, 0, 0
			for i := range n {
				r := seeded(uint64(mi), uint64(i))
				period := 0.8 + 2.2*r.Float64()
				duty := 0.2 + 0.4*r.Float64()
				k.span = math.Max(3.1*period, 12/k.rate)
				known := k.known()
				if stated == 0 {
					known.NoiseA = 0
				}
				want := Pattern{PeriodS: period, Duty: duty}
				tol := planned(0.020, 0.001)
				real := newLight(period*(1+0.03*(2*r.Float64()-1)), 0.001, 0.020,
					rectangle(duty+0.03*(2*r.Float64()-1)))
				m := Match(k.read(r, real.mean), known, want, tol)
				count[m.Agreement]++
				if m.Agreement == OffPace || m.Agreement == SteadyLit || m.Agreement == SteadyDark {
					wrong++
					t.Logf("healthy called %v: %s; period %.3f duty %.2f, %+v", m.Agreement, m.Why, period, duty, k)
				}
				if m.Agreement == Agrees && m.LevelsShown {
					shown++
					on = append(on, 100*(m.OnA/0.020-1))
					if math.Abs(m.OnA-0.020) > 3*m.OnU+0.0001 {
						far++
					}
				}
				factor := 0.5
				if r.Float64() < 0.5 {
					factor = 1.6
				}
				other := newLight(period*factor, 0.001, 0.020, rectangle(duty))
				m = Match(k.read(r, other.mean), known, want, tol)
				offPace[m.Agreement]++
				if m.Agreement != OffPace && m.Agreement != CantTell {
					wrong++
					t.Logf("off by %g called %v: %s; period %.3f duty %.2f", factor, m.Agreement, m.Why, period, duty)
				}
				level, want2 := 0.020, SteadyLit
				if i%2 == 0 {
					level, want2 = 0.001, SteadyDark
				}
				m = Match(k.read(r, func(at, w float64) float64 { return level * (1 + 0.02*math.Exp(-at/4)) }), known,
					want, tol)
				if m.Agreement != want2 {
					t.Logf("stuck at %g A called %v: %s", level, m.Agreement, m.Why)
				}
				if m.Agreement != want2 && m.Agreement != CantTell {
					wrong++
				}
				stuck[m.Agreement]++
			}
			t.Logf("%+v noise stated %v: healthy %v, levels shown %d, on RMS %.2f %% p95 %.2f %%, beyond 3u %d; off "+
				"pace %v; stuck %v",
				k, stated == 1, count, shown, rms(on), p95(on), far, offPace, stuck)
			if count[Agrees] < n*8/10 || float64(wrong) > 0.01*float64(3*n)+0.5 || float64(far) > 0.02*float64(n)+0.5 {
				t.Errorf("too many wrong: %d agree of %d, %d wrong, %d levels beyond three uncertainties",
					count[Agrees], n, wrong, far)
			}
		}
	}
}
