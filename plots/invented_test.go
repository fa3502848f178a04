package plots_test

import (
	"math"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/instruments"
	"sealworthy/plots"
)

// Invented data throughout: the lightship Brackwater.

var began = time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC)

// wobble is a noise that is the same on every run.
func wobble(i int) float64 { return math.Sin(float64(i)*12.9898) * math.Cos(float64(i)*78.233) }

// record makes a step with one reading each 0.1 s, as draw says; NaN is an
// overload, +Inf no reading at all.
func record(feed string, toS float64, draw func(s float64) float64) capture.StepRecord {
	r := capture.StepRecord{
		Step: capture.Step{ID: feed, Feed: feed, Groups: []string{feed}, Volts: 12,
			Ramp: []capture.RampPoint{{Volts: 12, LimitA: 0.15}}},
		Began: began, Settled: began.Add(4 * time.Second), Ended: began.Add(time.Duration(toS * 1e9)),
		Outcome: capture.Measured, Simulated: true,
	}
	for i := 0; float64(i)*0.1 <= toS; i++ {
		s := float64(i)*0.1 + 0.02*wobble(i)
		a := draw(s)
		x := instruments.Reading{Instrument: "meter", Quantity: instruments.Current, Unit: "A", Status: instruments.OK,
			Value: &a,
			At:    began.Add(time.Duration(s * 1e9))}
		if math.IsNaN(a) {
			x.Value, x.Status = nil, instruments.Overload
		}
		if !math.IsInf(a, 1) {
			r.Readings = append(r.Readings, x)
		}
	}
	return r
}

func steady() capture.StepRecord {
	return record("cabin windows", 16, func(s float64) float64 {
		switch {
		case s < 1.5:
			return 0.0008 * s
		case s < 3:
			return 0.020 * (s - 1.5)
		case s > 8 && s < 9.5:
			return math.Inf(1) // paused
		case s > 3.4 && s < 3.6:
			return math.NaN()
		}
		return 0.1105 + 0.002*math.Exp(-(s-3)/2) + 0.0003*wobble(int(s*10))
	})
}

func blinking() capture.StepRecord {
	r := record("port beacon", 14, func(s float64) float64 {
		a := 0.0021
		if math.Mod(s, 2) < 0.6 {
			a = 0.0217
		}
		return a + 0.0001*wobble(int(s*10))
	})
	r.Step.Pace = "slow"
	return r
}

func band(low, high float64) compare.Band {
	return compare.Band{LowA: low / 1e3, HighA: high / 1e3, Coverage: 0.95}
}

var beacon = []plots.Level{{Name: "lit", Band: band(19, 24)}, {Name: "dark", Band: band(1.5, 2.6)}}

func style() plots.Style {
	s := plots.DefaultStyle()
	s.EmbedFont = false
	return s
}
