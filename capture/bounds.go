package capture

import (
	"errors"
	"fmt"
	"math"
)

// within refuses a voltage that this bench never goes above, and one that is no
// number: the last word before it is sent to the supply.
func (e *engine) within(volts float64) error {
	switch {
	case math.IsNaN(volts) || math.IsInf(volts, 0) || volts < 0:
		return &brokenError{which: "step", err: fmt.Errorf("wants %g V, which is no voltage", volts)}
	case e.b.MostVolts > 0 && volts > e.b.MostVolts*(1+1e-9):
		return &brokenError{which: "step",
			err: fmt.Errorf("wants %.2f V: this bench never goes above %.2f V, so it isn't powered", volts,
				e.b.MostVolts)}
	}
	return nil
}

// bearable refuses a step that goes anywhere above what this bench never goes
// above, before any of it is powered.
func (e *engine) bearable(s Step) error {
	volts := []float64{s.Volts}
	for _, p := range s.Ramp {
		volts = append(volts, p.Volts)
	}
	for _, p := range s.Sweep {
		volts = append(volts, p.Volts)
	}
	var errs []error
	for _, v := range volts {
		if err := e.within(v); err != nil {
			errs = append(errs, err)
			break
		}
	}
	if n := len(s.Ramp); n > 0 && e.b.MostAmps > 0 && s.Ramp[n-1].ExpectA > e.b.MostAmps {
		errs = append(errs, &brokenError{which: "step", err: fmt.Errorf("draws about %s: this bench never goes "+
			"above %s, so it isn't powered",
			amps(s.Ramp[n-1].ExpectA), amps(e.b.MostAmps))})
	}
	return errors.Join(errs...)
}

// atMost is a voltage of the bench's own choice, no higher than it ever goes.
func (e *engine) atMost(volts float64) float64 {
	if e.b.MostVolts > 0 {
		return min(volts, e.b.MostVolts)
	}
	return volts
}

// What the supply's own protection lies above the voltage that it guards, so that
// it never trips on the supply's own error (common practice, no source).
const (
	guardRel, guardV         = 0.10, 0.5 // above a step's voltage
	guardMostRel, guardMostV = 0.02, 0.1 // above what the bench never goes above
)

// guardVolts is where the supply's own protection is set for a step: a little
// above its voltage, and closer to what this bench never goes above.
func (e *engine) guardVolts(volts float64) float64 {
	v := volts*(1+guardRel) + guardV
	if e.b.MostVolts > 0 {
		v = min(v, e.b.MostVolts*(1+guardMostRel)+guardMostV)
	}
	return v
}
