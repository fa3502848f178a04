package plan

import (
	"math"
	"testing"
)

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
