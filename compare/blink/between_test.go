package blink

import (
	"math"
	"testing"
)

// A period that is a multiple of the reading's spacing, with every edge in the gap between two
// windows: when exactly it goes on and off isn't seen, how much flows lit and dark is.
func TestEdgesBetweenTheReadings(t *testing.T) {
	const spacingS, windowS, n = 0.158, 0.1, 126
	periodS := 24 * spacingS
	for _, litS := range []float64{13 * spacingS, 5 * spacingS} {
		var s []Sample
		for i := range n {
			at := float64(i) * spacingS
			from := math.Mod(at-windowS-0.03+periodS, periodS) // an edge comes 30 ms behind a reading
			amps := 0.0039
			if from < litS {
				amps = 0.0227
			}
			s = append(s, Sample{AtS: at, Amps: amps + 2e-6*math.Sin(7*float64(i))})
		}
		duty := litS / periodS
		m := Match(s, Known{WindowS: windowS}, Pattern{PeriodS: periodS, Duty: duty}, Tolerance{})
		if m.Agreement != Agrees || !m.LevelsShown || math.Abs(m.OnA-0.0227) > 3*m.OnU+1e-5 ||
			math.Abs(m.OffA-0.0039) > 3*m.OffU+1e-5 {
			t.Errorf("lit for %.2f of %.2f s: %+v", litS, periodS, m)
		}
		// Each edge lies in a gap of 58 ms.
		if most := (spacingS - windowS) / periodS; math.Abs(m.Duty-duty) > most+3*m.DutyU || !(m.DutyU > most/20) {
			t.Errorf("duty %.4f ±%.4f, %.4f lit", m.Duty, m.DutyU, duty)
		}
	}
}

// The same with two outputs in turn: each level is read.
func TestEdgesOfOutputsInTurnBetweenTheReadings(t *testing.T) {
	const spacingS, windowS, n = 0.158, 0.1, 160
	periodS := 32 * spacingS
	var s []Sample
	for i := range n {
		at := float64(i) * spacingS
		from := math.Mod(at-windowS-0.03+periodS, periodS)
		amps := 0.0038
		switch {
		case from < 12*spacingS:
			amps += 0.0037
		case from >= 16*spacingS && from < 28*spacingS:
			amps += 0.0062
		}
		s = append(s, Sample{AtS: at, Amps: amps + 2e-6*math.Sin(7*float64(i))})
	}
	sep := Levels(s, Known{WindowS: windowS}, Outputs{Run: Alternate, Pattern: Pattern{PeriodS: periodS, Duty: 0.375},
		BaseA: 0.0038, BaseU: 0.0001, BaseKnown: true, ExpectedA: []float64{0.0036, 0.0061}})
	if !sep.Apart || len(sep.Outputs) != 2 {
		t.Fatalf("%+v", sep)
	}
	for i, want := range []float64{0.0037, 0.0062} {
		if l := sep.Outputs[i]; math.Abs(l.Amps-want) > 3*l.U+2e-5 || l.U > 1e-3 {
			t.Errorf("output %d: %.3f ±%.3f mA, %.3f flow", i+1, 1e3*l.Amps, 1e3*l.U, 1e3*want)
		}
	}
}
