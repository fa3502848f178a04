package blink

import (
	"math"
	"sort"
	"testing"
)

// The two usual ways to find a period, as a yardstick. Neither knows of the
// window; duty and level are read off percentiles of the readings: lit is the
// 95th, dark the 5th, and the duty is where the mean lies between them.

// lombScargle is the period at the highest peak of the periodogram.
func lombScargle(t *testing.T, s []Sample, hz []float64) float64 {
	t.Helper()
	peak := func(hz []float64) float64 {
		p, err := periodogram(s, hz)
		if err != nil {
			t.Fatal(err)
		}
		top := 0
		for i := range p {
			if p[i] > p[top] {
				top = i
			}
		}
		return hz[top]
	}
	best := peak(hz)
	return 1 / peak(around(best, hz[1]-hz[0]))
}

// dispersion is the period that leaves the least scatter within 10 bins of
// phase (phase dispersion minimisation: Stellingwerf, ApJ 224 (1978) 953).
func dispersion(s []Sample, hz []float64) float64 {
	theta := func(f float64) float64 {
		const bins = 10
		var n, sum, squares [bins]float64
		for _, r := range s {
			x := r.AtS * f
			b := min(int((x-math.Floor(x))*bins), bins-1)
			n[b]++
			sum[b] += r.Amps
			squares[b] += r.Amps * r.Amps
		}
		left, free := 0.0, 0.0
		for b := range n {
			if n[b] > 1 {
				left += squares[b] - sum[b]*sum[b]/n[b]
				free += n[b] - 1
			}
		}
		return left / math.Max(free, 1)
	}
	least := func(hz []float64) float64 {
		best, low := hz[0], math.Inf(1)
		for _, f := range hz {
			if v := theta(f); v < low {
				best, low = f, v
			}
		}
		return best
	}
	return 1 / least(around(least(hz), hz[1]-hz[0]))
}

// around is a fine grid of 41 frequencies one step to either side.
func around(hz, step float64) []float64 {
	out := make([]float64, 41)
	for i := range out {
		out[i] = hz + step*float64(i-20)/20
	}
	return out
}

func percentiles(s []Sample) (duty, on float64) {
	v := make([]float64, len(s))
	mean := 0.0
	for i, r := range s {
		v[i] = r.Amps
		mean += r.Amps / float64(len(s))
	}
	sort.Float64s(v)
	at := func(p float64) float64 {
		x := p * float64(len(v)-1)
		i := min(int(x), len(v)-2)
		return v[i] + (x-float64(i))*(v[i+1]-v[i])
	}
	off, on := at(0.05), at(0.95)
	return (mean - off) / (on - off), on
}

// errors collects what one method is off on one capture.
type errors struct{ wrong, period, duty, on []float64 }

func (e *errors) add(tr *truth, period, duty, on float64) {
	rel := 100 * (period/tr.period - 1)
	if math.Abs(rel) > 2 {
		e.wrong = append(e.wrong, 1)
	} else {
		e.period = append(e.period, rel)
	}
	e.duty, e.on = append(e.duty, duty-tr.duty), append(e.on, 100*(on/tr.light.on-1))
}

// TestAgainstOtherMethods sets the fit beside both on the same captures.
func TestAgainstOtherMethods(t *testing.T) {
	n := few(3)
	if long() {
		n = 100
	}
	captures := []struct {
		k         taking
		prototype string // its figures in the same order: wrong %, period RMS %, duty RMS, level RMS %
	}{
		{taking{4, .2, .1, 10, .005, .0002}, "0 .149 .13 28 | 4 .40 .13 28 | 0 .05-.10 .015 2.7"},
		{taking{4, .2, .1, 30, .005, .0002}, "0 .038 .17 34 | 0 .11 .17 34 | 0 .010 .010 2.6"},
		{taking{4, .25, 0, 20, .005, .0002}, "52 .07 .22 37 | 48 .16 .22 37 | 0 sure-wrong, 36 ambiguous"},
		{taking{10, .09, .1, 20, .005, .0002}, "0 .037 .028 8.7 | 0 .16 .028 8.7 | 0 .011 .003 1.2"},
		{taking{10, .2, .1, 20, .005, .0002}, "0 .041 .14 29 | 0 .12 .14 29 | 0 .011 .006 1.9"},
		{taking{20, .045, .1, 20, .005, .0002}, "0 .029 .011 2.6 | 0 .19 .011 2.6 | 0 .010 .003 1.4"},
		{taking{20, .3, .1, 20, .005, .0002}, "0 .026 .23 40 | 0 .12 .23 40 | 0 .008 .003 1.6"},
		{taking{3, .3, 0, 30, .005, .0002}, "55 .12 .20 36 | 51 .36 .20 36 | 0 sure-wrong, 12 ambiguous"},
	}
	t.Log("wrong period % / period RMS % / duty RMS / on-level RMS %: Lomb-Scargle, dispersion in bins, this package")
	for ci, c := range captures {
		var ls, pdm, ours errors
		ambiguous := 0
		for i := range n {
			r := seeded(uint64(500+ci), uint64(i))
			tr := blinkers(math.Inf(1))(r) // 0.5 to 3 Hz, whatever the rate
			s := c.k.read(r, tr.light.mean)
			d, why := newTrace(s, c.k.known(), leastFree)
			if d == nil {
				t.Fatal(why)
			}
			duty, on := percentiles(s)
			ls.add(&tr, lombScargle(t, s, d.grid()), duty, on)
			pdm.add(&tr, dispersion(s, d.grid()), duty, on)
			f := Pace(s, c.k.known())
			switch {
			case f.Verdict == Ambiguous:
				ambiguous++
			case f.Verdict == Periodic && f.LevelsShown && f.Count == 1:
				ours.add(&tr, f.PeriodS, f.Duty, f.OnA)
			case f.Verdict == Periodic && math.Abs(f.PeriodS/tr.period-1) > 0.02:
				ours.wrong = append(ours.wrong, 1)
			}
		}
		line := func(e *errors) []any {
			return []any{share(len(e.wrong), n), rms(e.period), rms(e.duty), rms(e.on)}
		}
		args := append(append([]any{c.k.rate, 1000 * c.k.window, 100 * c.k.spread, c.k.span}, line(&ls)...),
			line(&pdm)...)
		t.Logf("%g/s w%.0f +-%.0f %% %g s: %.0f %.3f %.3f %.1f | %.0f %.3f %.3f %.1f | %.0f %.3f %.4f %.1f, "+
			"ambiguous %.0f, shown %.0f",
			append(append(args, line(&ours)...), share(ambiguous, n), share(len(ours.on), n-ambiguous))...)
		t.Logf("   prototype: %s", c.prototype)
		if !long() {
			continue
		}
		if len(ours.wrong) > 1 {
			t.Errorf("capture %d: sure of a wrong period %d times of %d", ci+1, len(ours.wrong), n)
		}
		best := math.Min(rms(ls.period), rms(pdm.period))
		if rms(ours.duty) > 0.5*rms(ls.duty) || rms(ours.on) > rms(ls.on) ||
			(c.k.spread > 0 && rms(ours.period) > best) {
			t.Errorf("capture %d: no better than a method that knows nothing of windows", ci+1)
		}
		if c.k.spread == 0 && (len(ls.wrong)*5 < n || len(pdm.wrong)*5 < n) {
			t.Errorf("capture %d: even spacing should deceive both other methods", ci+1)
		}
	}
}
