package plan

import (
	"math"
	"testing"
)

// Copper at 20 degC, NBS Handbook 100 (1966): ohm per 1000 ft of solid wire.
func TestWireResistanceAgainstTheCopperTables(t *testing.T) {
	for awg, per1000ft := range map[int]float64{
		0: 0.0983, 10: 0.9989, 16: 4.016, 20: 10.15, 22: 16.14, 24: 25.67, 26: 40.81, 28: 64.9, 30: 103.2, 32: 164.1, 36: 414.8, 40: 1049,
	} {
		w := newWire(areaM2(awgDiameterM(float64(awg))), 1, 0, false)
		want := per1000ft / 304.8
		if d := math.Abs(w.Ohms.Nominal/want - 1); d > 1e-3 {
			t.Errorf("AWG %d: %v ohm/m, want %v", awg, w.Ohms.Nominal, want)
		}
	}
}

// Common practice, no source: figures that makers go by.
func TestWireAgainstPractice(t *testing.T) {
	for _, c := range []struct{ mm, ohmPerM, amps float64 }{{0.2, 0.55, 0.2}, {0.1, 2.2, 0.05}, {0.25464, 0.34, 0.5}} {
		w := newWire(areaM2(c.mm*1e-3), 1, 0, false)
		if math.Abs(w.Ohms.Nominal/c.ohmPerM-1) > 0.02 || math.Abs(w.WorkAmps/c.amps-1) > 0.01 {
			t.Errorf("%v mm: %v ohm/m, %v A; want %v, %v", c.mm, w.Ohms.Nominal, w.WorkAmps, c.ohmPerM, c.amps)
		}
	}
	last := 0.0
	for mm := 0.02; mm < 3; mm *= 1.05 {
		w := newWire(areaM2(mm*1e-3), 1, 0, false)
		if w.WorkAmps <= last || w.WorkAmps >= w.FuseAmps {
			t.Errorf("%v mm works to %v A and melts at %v A", mm, w.WorkAmps, w.FuseAmps)
		}
		last = w.WorkAmps
	}
}

// Preece's law for copper gives 80 A at 1 mm (from memory).
func TestWireMelts(t *testing.T) {
	if got := meltAmps(areaM2(1e-3)); math.Abs(got-80) > 1e-9 {
		t.Errorf("1 mm melts at %v A, want 80", got)
	}
}
