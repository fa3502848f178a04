package belief

import (
	"fmt"
	"math"
)

// Defaults of a Bench; common practice, no source.
const (
	defaultHalfC     = 5.0
	measuredHalfC    = 2.0
	defaultSetHalfV  = 0.010
	defaultLimitA    = 3.0
	leastLimitA      = 0.001
	modelCorrelation = 0.9 // of what the device model is off, between two voltages
)

func (b Bench) halfC() float64 {
	switch {
	case b.AmbientHalfC > 0:
		return b.AmbientHalfC
	case b.AmbientC != nil:
		return measuredHalfC
	}
	return defaultHalfC
}

func (b Bench) setHalfV() float64 {
	if b.SetHalfV > 0 {
		return b.SetHalfV
	}
	return defaultSetHalfV
}

func (b Bench) limitA() float64 {
	if b.LimitA > 0 {
		return math.Max(b.LimitA, leastLimitA)
	}
	return defaultLimitA
}

// check refuses what no bench can be.
func (b Bench) check() error {
	for _, f := range []struct {
		name   string
		x, max float64
	}{
		{"series ohms", b.SeriesOhm, 1e6}, {"half-width of the series ohms", b.SeriesHalfOhm, 1e6},
		{"half-width of the set voltage", b.SetHalfV, 10}, {"jitter of the voltage", b.JitterV, 10},
		{"half-width of the temperature", b.AmbientHalfC, 60}, {"limit of the supply", b.LimitA, 1000},
	} {
		if !(f.x >= 0 && f.x <= f.max) {
			return fmt.Errorf("%s is %g: it must lie between 0 and %g", f.name, f.x, f.max)
		}
	}
	if c := b.AmbientC; c != nil && !(*c > -60 && *c < 100) {
		return fmt.Errorf("a room at %g degC: expected -60 to 100", *c)
	}
	return nil
}
