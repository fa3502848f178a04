package blink

import (
	"math"
	"math/rand/v2"
	"os"
	"sort"
	"testing"
)

// truth is one simulated light of a population.
type truth struct {
	light      *light
	period     float64
	duty       float64 // negative: the shape has none
	flash      float64 // s, the shortest flash
	minHz      float64
	shapeCount int
	shape      Shape
}

// outcome counts what a population gave.
type outcome struct {
	trials, periodic, ambiguous, noFit, short, wrong, shown, misshaped int
	period, duty, on, easyOn                                           []float64 // errors: %, absolute, %, %
	// errors beyond three standard uncertainties
	outside, bounds int
}

// long reports whether populations are to be of full size.
func long() bool { return os.Getenv("SEALWORTHY_LONG") == "1" && !raced }

// few is the size of a population in ordinary tests.
func few(n int) int {
	if raced {
		return 1
	}
	return n
}

// trials runs a population; the noise is 1 % of the lit current of 20 mA.
func trials(t *testing.T, n int, seed uint64, k taking, draw func(*rand.Rand) truth) outcome {
	var o outcome
	for i := range n {
		r := seeded(seed, uint64(i))
		tr := draw(r)
		known := k.known()
		known.MinHz = tr.minHz
		fit := Pace(k.read(r, tr.light.mean), known)
		o.trials++
		switch fit.Verdict {
		case Ambiguous:
			o.ambiguous++
			continue
		case NoFit, Steady:
			o.noFit++
			continue
		case TooShort:
			o.short++
			continue
		}
		o.periodic++
		e := fit.PeriodS/tr.period - 1
		if math.Abs(e) > 0.02 {
			o.wrong++
			t.Logf("wrong but sure: %.4f s for %.4f s, %v x%d, duty %.3f, chi %.2f", fit.PeriodS, tr.period, fit.Shape,
				fit.Count, tr.duty, fit.Chi)
			continue
		}
		o.period = append(o.period, 100*e)
		o.bounds++
		if math.Abs(fit.PeriodS-tr.period) > 3*fit.PeriodU {
			o.outside++
		}
		if fit.Shape != tr.shape || fit.Count != tr.shapeCount {
			if fit.LevelsShown {
				o.misshaped++
			}
			continue
		}
		if !fit.LevelsShown {
			continue
		}
		o.shown++
		if tr.duty >= 0 {
			o.duty = append(o.duty, fit.Duty-tr.duty)
		}
		rel := 100 * (fit.OnA/tr.light.on - 1)
		o.on = append(o.on, rel)
		o.bounds++
		if math.Abs(fit.OnA-tr.light.on) > 3*fit.OnU+0.002*tr.light.on {
			o.outside++
		}
		if tr.flash > 1.2*k.window {
			o.easyOn = append(o.easyOn, rel)
		}
	}
	return o
}

func rms(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x * x
	}
	return math.Sqrt(s / math.Max(float64(len(v)), 1))
}

func p95(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	a := make([]float64, len(v))
	for i, x := range v {
		a[i] = math.Abs(x)
	}
	sort.Float64s(a)
	return a[min(int(0.95*float64(len(a))), len(a)-1)]
}

func share(n, of int) float64 { return 100 * float64(n) / math.Max(float64(of), 1) }

// blinkers is the population of the table.
func blinkers(rate float64) func(*rand.Rand) truth {
	return func(r *rand.Rand) truth {
		top := math.Min(3, 0.8*rate)
		period := 1 / (0.5 + (top-0.5)*r.Float64())
		duty := 0.1 + 0.5*r.Float64()
		return truth{light: newLight(period, 0.001, 0.020, rectangle(duty)), period: period, duty: duty,
			flash: duty * period, shape: Flashes, shapeCount: 1}
	}
}

// log writes one line of a table.
func (o *outcome) log(t *testing.T, k taking) {
	t.Logf("|%g|%.0f|%.0f|%g| %.0f | %.0f | %.0f | %.2f | %.3f | %.0f | %.4f / %.4f | %.1f / %.1f | %.2f | %d | %.1f",
		k.rate, 1000*k.window, 100*k.spread, k.span, share(o.periodic, o.trials), share(o.ambiguous, o.trials),
		share(o.noFit+o.short, o.trials), share(o.wrong, o.trials), rms(o.period), share(o.shown, o.periodic),
		rms(o.duty), p95(o.duty), rms(o.on), p95(o.on), rms(o.easyOn), o.misshaped, share(o.outside, o.bounds))
}

const heading = "|rd/s|w ms|spacing %|T s| periodic % | ambiguous % | no-fit, short % | wrong but sure % | period " +
	"RMS % | duty shown % | duty RMS / 95 % | on RMS / 95 %, % | on RMS % if dP>1.2w | shape wrong, shown | outside 3u %"
