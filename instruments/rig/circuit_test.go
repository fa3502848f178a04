package rig

import (
	"math"
	"testing"
	"time"
)

func TestRisingFindsZerosAndSteps(t *testing.T) {
	for name, k := range map[string]struct {
		f    func(float64) float64
		want float64
	}{
		"line":        {func(x float64) float64 { return 3*x - 6 }, 2},
		"exponential": {func(x float64) float64 { return math.Exp(x) - 100 }, math.Log(100)},
		"steep":       {func(x float64) float64 { return math.Exp(8*x) - 1e20 }, math.Log(1e20) / 8},
		"step":        {func(x float64) float64 { return math.Copysign(1, x-3.25) }, 3.25},
		"flat start":  {func(x float64) float64 { return math.Max(0, x-4)*10 - 1 }, 4.1},
		"below":       {func(x float64) float64 { return -1 }, 10},
		"above":       {func(x float64) float64 { return 1 }, 0},
	} {
		if got := rising(0, 10, k.f(10), 1e-10, k.f); math.Abs(got-k.want) > 2*voltsTol {
			t.Errorf("%s: %.12g, want %.12g", name, got, k.want)
		}
	}
}

func TestSourceRisesExponentially(t *testing.T) {
	at := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	s := source{on: true, from: 2, target: 12, began: at, tau: 10 * time.Millisecond}
	// After one time constant 1/e of the way is left.
	if v := s.volts(at.Add(10 * time.Millisecond)); math.Abs(v-(12-10/math.E)) > 1e-9 {
		t.Error(v)
	}
	if v := s.volts(at.Add(time.Hour)); v != 12 {
		t.Error(v)
	}
	if s.on = false; s.volts(at) != 0 {
		t.Error("off, and it gives volts")
	}
}
