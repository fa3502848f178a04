package blink

import (
	"math"
	"math/rand/v2"
	"os"
	"sort"
	"testing"
)

// row is one line of the table of error rates.
type row struct {
	rate, windowMs, spread, span float64
	// What a prototype in another language reached on a population of the same
	// description: the share judged periodic, %, period RMS, %, share with
	// duty shown, %, 95th percentiles of duty and on-level error (absolute, %).
	periodic, period, shown, duty, on float64
}

var table = []row{
	{3, 300, 30, 10, 100, .074, 78, .0211, 5.3}, {3, 300, 30, 20, 100, .019, 85, .0164, 5.8}, {3, 300, 30, 30, 100, .011, 95, .0106, 3.7},
	{4, 200, 10, 10, 100, .104, 80, .0207, 5.1}, {4, 200, 10, 20, 100, .018, 91, .0111, 4.4}, {4, 200, 10, 30, 100, .010, 92, .0160, 5.1},
	{4, 250, 0, 10, 72, .254, 84, .1074, 37.8}, {4, 250, 0, 20, 64, .135, 88, .0131, 6.2}, {4, 250, 0, 30, 66, .028, 94, .0153, 7.5},
	{4, 250, 30, 10, 100, .051, 85, .0172, 5.0}, {4, 250, 30, 20, 100, .015, 92, .0128, 5.3}, {4, 250, 30, 30, 100, .010, 92, .0121, 5.2},
	{10, 90, 10, 10, 100, .042, 98, .0124, 3.7}, {10, 90, 10, 20, 100, .011, 100, .0044, 3.3}, {10, 90, 10, 30, 100, .007, 100, .0066, 3.5},
	{10, 100, 0, 10, 100, .036, 90, .0058, 0.8}, {10, 100, 0, 20, 100, .011, 100, .0055, 3.1}, {10, 100, 0, 30, 100, .008, 100, .0048, 1.2},
	{10, 200, 10, 10, 100, .034, 94, .0130, 4.3}, {10, 200, 10, 20, 100, .011, 96, .0120, 4.5}, {10, 200, 10, 30, 100, .006, 99, .0060, 2.5},
	{20, 45, 10, 10, 100, .033, 100, .0078, 0.8}, {20, 45, 10, 20, 100, .010, 100, .0042, 0.3}, {20, 45, 10, 30, 100, .007, 100, .0030, 1.5},
	{20, 100, 10, 10, 100, .025, 99, .0074, 4.3}, {20, 100, 10, 20, 100, .009, 100, .0049, 2.5}, {20, 100, 10, 30, 100, .004, 100, .0047, 2.4},
	{20, 300, 10, 10, 100, .024, 98, .0082, 2.4}, {20, 300, 10, 20, 100, .008, 100, .0067, 4.4}, {20, 300, 10, 30, 100, .005, 100, .0083, 4.5},
}

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
	period, duty, on, easyOn                                           []float64
	outside, bounds                                                    int // errors beyond three standard uncertainties
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
		r := rand.New(rand.NewPCG(seed, uint64(i)))
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
			t.Logf("wrong but sure: %.4f s for %.4f s, %v x%d, duty %.3f, chi %.2f", fit.PeriodS, tr.period, fit.Shape, fit.Count, tr.duty, fit.Chi)
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

const heading = "|rd/s|w ms|spacing %|T s| periodic % | ambiguous % | no-fit, short % | wrong but sure % | period RMS % | duty shown % | duty RMS / 95 % | on RMS / 95 %, % | on RMS % if dP>1.2w | shape wrong, shown | outside 3u %"

func TestErrorRates(t *testing.T) {
	n := few(3)
	if long() {
		n = 80
	}
	t.Log(heading)
	var all, wrong int
	for i, w := range table {
		k := taking{w.rate, w.windowMs / 1000, w.spread / 100, w.span, 0.005, 0.0002}
		o := trials(t, n, uint64(100+i), k, blinkers(w.rate))
		o.log(t, k)
		t.Logf("   prototype: periodic %.0f, period RMS %.3f, shown %.0f, duty 95 %% %.4f, on 95 %% %.1f", w.periodic, w.period, w.shown, w.duty, w.on)
		all += o.trials
		wrong += o.wrong
		// Both sides are samples of 80: a few points and a factor of two apart is chance.
		if long() && (share(o.periodic, o.trials) < w.periodic-15 || rms(o.period) > 2*w.period+0.01 || share(o.shown, o.periodic) < w.shown-15 ||
			p95(o.duty) > 2*w.duty+0.003 || p95(o.on) > 2*w.on+2) {
			t.Errorf("row %d is worse than the prototype's", i+1)
		}
	}
	t.Logf("wrong but sure: %d of %d", wrong, all)
	if float64(wrong) > 0.005*float64(all) {
		t.Errorf("%d of %d sure of a wrong period", wrong, all)
	}
}
