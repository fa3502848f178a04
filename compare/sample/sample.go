// Package sample learns a part from loose pieces: a few of a reel or bag are
// measured over a short sweep, and what they show becomes an entry of the maker's
// part book, with the spread that was observed and how much of it a reel shares.
//
// Start with Steps for what to measure and Learn for what it tells. A strip is
// sampled by segment and a pre-resistored SMD by piece, at their rated voltage
// and below; a bare LED behind a resistor that the maker states. The package
// refuses to learn from readings that tripped, overloaded or never settled.
//
// Units: V, A, ohm.
package sample

import (
	"errors"
	"fmt"
	"math"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
)

// Bench is what the readings depend on besides the pieces.
type Bench struct {
	Volts      float64 // the highest to be set; 0: the part's rated voltage, 12 V for a bare LED
	SeriesOhm  float64 // the maker's resistor in series with a bare LED
	SeriesHalf float64 // its half-width, ohm
	LeadsOhm   float64
	Window     time.Duration // of one reading; 0: 250 ms
}

// Sampling is what is to be sampled and how.
type Sampling struct {
	Part   plan.Part // the generic one, whose spread is to be narrowed
	Pieces int       // 1 to 20
	Bench  Bench
}

const (
	mostPieces  = 20
	sweepPoints = 5
	readings    = 10
	bareVolts   = 12
	bareMostA   = 0.020 // of a bare LED that states no rating (common practice, no source)
)

// check fills in defaults and refuses what can't be sampled.
func (s *Sampling) check() error {
	switch s.Part.Kind {
	case plan.PartStrip, plan.PartSMD:
		if s.Bench.Volts == 0 {
			s.Bench.Volts = s.Part.RatedVolts
		}
		if s.Bench.Volts > s.Part.RatedVolts*1.05 {
			return fmt.Errorf("%s is made for %g V: %g V would hurt it", s.Part.Name, s.Part.RatedVolts, s.Bench.Volts)
		}
	case plan.PartLED:
		if s.Bench.Volts == 0 {
			s.Bench.Volts = bareVolts
		}
		if !(s.Bench.SeriesOhm > 0) {
			return fmt.Errorf("%s is a bare LED: put a resistor in series and say its ohms, 1000 for 12 V",
				s.Part.Name)
		}
		if a := (s.Bench.Volts - 1.5) / s.Bench.SeriesOhm; a > s.mostA() {
			return fmt.Errorf("%g ohm at %g V lets up to %.0f mA through %s: take %.0f ohm or more", s.Bench.SeriesOhm,
				s.Bench.Volts,
				a*1e3, s.Part.Name, math.Ceil((s.Bench.Volts-1.5)/s.mostA()/10)*10)
		}
	default:
		return fmt.Errorf("%s is a %s: only strips, pre-resistored SMDs and bare LEDs can be sampled", s.Part.Name,
			s.Part.Kind)
	}
	if s.Pieces < 1 || s.Pieces > mostPieces {
		return fmt.Errorf("%d pieces: sample 1 to %d", s.Pieces, mostPieces)
	}
	if s.Bench.Window <= 0 {
		s.Bench.Window = 250 * time.Millisecond
	}
	return nil
}

// mostA is what a piece may draw at most.
func (s *Sampling) mostA() float64 {
	if s.Part.Kind != plan.PartLED {
		return s.Part.Amps * (1 + 2*math.Max(s.Part.Tolerance, 0.3))
	}
	if s.Part.MaxAmps > 0 {
		return s.Part.MaxAmps
	}
	return bareMostA
}

// volts are the voltages of the sweep, rising to the highest.
func (s *Sampling) volts() []float64 {
	low := 0.7 * s.Bench.Volts
	if s.Part.Kind == plan.PartLED {
		low = 0.4 * s.Bench.Volts
	}
	var out []float64
	for i := range sweepPoints {
		v := low + (s.Bench.Volts-low)*float64(i)/(sweepPoints-1)
		out = append(out, math.Round(v*100)/100)
	}
	return out
}

// Steps lists what to measure: each piece at each voltage, lowest first.
func Steps(s Sampling) ([]capture.Step, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	most := s.mostA()
	limit := math.Ceil(1.3*most*1e3+5) / 1e3
	what := "piece"
	if s.Part.Kind == plan.PartStrip {
		what = "segment"
	}
	var out []capture.Step
	for piece := range s.Pieces {
		name := fmt.Sprintf("%s %d", what, piece+1)
		for _, v := range s.volts() {
			x := capture.Step{
				ID: fmt.Sprintf("%s/%s/%.2f V", s.Part.Name, name, v), Kind: capture.Power, Way: capture.Alone,
				Feed: name, On: []string{name}, Volts: v, Jitter: 0.3,
				Ask: fmt.Sprintf("Clip %s %d of %d of %q between the leads.", what, piece+1, s.Pieces, s.Part.Name),
				Settle: capture.Settle{Min: 400 * time.Millisecond, Max: 3 * time.Second,
					Window: 400 * time.Millisecond, Rel: 0.002, AbsA: 5e-5},
				For: max(time.Second, readings*s.Bench.Window), Inrush: 100 * time.Millisecond, MaxTotal: time.Minute,
			}
			for _, r := range []float64{v / 4, v / 2, 3 * v / 4, v} {
				x.Ramp = append(x.Ramp, capture.RampPoint{Volts: r, LimitA: limit, ExpectA: most / 2, MaxA: most})
			}
			out = append(out, x)
		}
	}
	return out, nil
}

// ErrNothing is returned where no piece gave a usable sweep.
var ErrNothing = errors.New("no piece could be read: nothing was learned")

// Learned is a part with what was seen of it.
type Learned struct {
	Part plan.Part `json:"part"`
	// of the current at the rated voltage (A), or of the forward voltage (V)
	Spread budget.Sample `json:"spread"`
	Unit   string        `json:"unit"`               // of Spread
	Pieces int           `json:"pieces"`             // that counted
	Left   []string      `json:"left_out,omitempty"` // pieces that didn't count, with why
}
