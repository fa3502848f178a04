package blink

import (
	"math"
	"math/rand/v2"
	"testing"
)

// groups is a population of n flashes and a pause: flashes of 0.06 to 0.14 of
// a period of 1.2 to 3 s, spaced by 1.8 to 2.5 times their length.
func groups(n int) func(*rand.Rand) truth {
	return func(r *rand.Rand) truth {
		period := 1.2 + 1.8*r.Float64()
		lit := 0.06 + 0.08*r.Float64()
		spacing := lit * (1.8 + 0.7*r.Float64())
		if n*int(1000*spacing) > 820 {
			spacing = 0.82 / float64(n)
		}
		if spacing < 1.5*lit {
			lit = spacing / 1.8
		}
		return truth{light: newLight(period, 0.001, 0.020, group(n, lit, spacing)), period: period,
			duty:  float64(n) * lit,
			flash: lit * period, shape: Flashes, shapeCount: n}
	}
}

// slow is a population of lights with periods of 5 to 20 s.
func slow(r *rand.Rand) truth {
	period := 5 + 15*r.Float64()
	duty := 0.1 + 0.5*r.Float64()
	return truth{light: newLight(period, 0.001, 0.020, rectangle(duty)), period: period, duty: duty,
		flash: duty * period, minHz: 0.045, shape: Flashes, shapeCount: 1}
}

func sines(rate float64) func(*rand.Rand) truth {
	return func(r *rand.Rand) truth {
		period := 1 / (0.3 + (math.Min(1.2, 0.4*rate)-0.3)*r.Float64())
		return truth{light: newLight(period, 0.001, 0.020, sineFade), period: period, duty: -1, flash: period,
			shape: Sine}
	}
}

func ramps(rate float64) func(*rand.Rand) truth {
	return func(r *rand.Rand) truth {
		period := 1 / (0.3 + (math.Min(1.2, 0.4*rate)-0.3)*r.Float64())
		rise := []float64{0.05 + 0.25*r.Float64(), 0.4 + 0.2*r.Float64(), 0.7 + 0.25*r.Float64()}[r.IntN(3)]
		return truth{light: newLight(period, 0.001, 0.020, rampFade(rise)), period: period, duty: rise, flash: period,
			shape: Ramp}
	}
}

// TestShapes measures error rates of everything but the ordinary blinker, in
// the same columns.
func TestShapes(t *testing.T) {
	n := few(1)
	if long() {
		n = 80
	}
	jittered := []taking{{4, .2, .3, 0, .005, .0002}, {10, .09, .1, 0, .005, .0002}, {10, .2, .1, 0, .005, .0002},
		{20, .045, .1, 0, .005, .0002}, {20, .1, .1, 0, .005, .0002}}
	kinds := []struct {
		name  string
		spans []float64
		draw  func(rate float64) func(*rand.Rand) truth
	}{
		{"two flashes and a pause", []float64{20, 30}, func(float64) func(*rand.Rand) truth { return groups(2) }},
		{"three flashes and a pause", []float64{20, 30}, func(float64) func(*rand.Rand) truth { return groups(3) }},
		{"slow, three periods of 20 s", []float64{60}, func(float64) func(*rand.Rand) truth { return slow }},
		{"sine fade", []float64{20}, sines},
		{"ramp fade", []float64{20}, ramps},
	}
	all, wrong, misshaped := 0, 0, 0
	for ki, kind := range kinds {
		t.Log(kind.name)
		t.Log(heading)
		for mi, k := range jittered {
			for si, span := range kind.spans {
				k.span = span
				o := trials(t, n, uint64(1000+100*ki+10*mi+si), k, kind.draw(k.rate))
				o.log(t, k)
				all += o.trials
				wrong += o.wrong
				misshaped += o.misshaped
			}
		}
	}
	t.Logf("wrong but sure: %d of %d; levels shown of a wrong shape: %d", wrong, all, misshaped)
	if float64(wrong) > 0.005*float64(all) || float64(misshaped) > 0.01*float64(all) {
		t.Errorf("%d of %d sure of a wrong period, %d with levels of a wrong shape", wrong, all, misshaped)
	}
}
