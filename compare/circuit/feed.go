package circuit

import (
	"errors"
	"fmt"
	"math"
)

// Converter keeps OutV at its output while its input is at least MinInV.
//
// Switching: input power = output power / Efficiency. Linear: input current =
// output current. Either draws IdleA besides. Below MinInV it is out of
// regulation and is taken to keep the ratio OutV/MinInV between output and input
// and of the currents, IdleA falling in proportion to the input: a model
// assumption, continuous at MinInV; Point.OutOfRegulation tells.
type Converter struct {
	OutV       float64
	Efficiency float64 // above 0, at most 1; unused when Linear
	IdleA      float64
	MinInV     float64 // 0: a tenth of OutV
	Linear     bool    // a linear regulator, no switching one
}

func (c Converter) valid() error {
	switch {
	case !(c.OutV > 0) || math.IsInf(c.OutV, 0):
		return fmt.Errorf("a converter's output must be above 0 V, got %g", c.OutV)
	case !c.Linear && !(c.Efficiency > 0 && c.Efficiency <= 1):
		return fmt.Errorf("a converter's efficiency must be above 0 and at most 1, got %g", c.Efficiency)
	case !(c.IdleA >= 0) || math.IsInf(c.IdleA, 0):
		return fmt.Errorf("a converter's idle current must be 0 A or more, got %g", c.IdleA)
	case !(c.MinInV >= 0) || math.IsInf(c.MinInV, 0):
		return fmt.Errorf("a converter's least input must be 0 V or more, got %g", c.MinInV)
	}
	return nil
}

func (c *Converter) minIn() float64 {
	if c.MinInV > 0 {
		return c.MinInV
	}
	return 0.1 * c.OutV
}

// Output is one output of a board. Lit, its pin is OpenV above the board's minus
// contact, or the board's own supply where FollowsSupply, behind Ohms; dark, it
// is 0 V behind Ohms and draws nothing (where FollowsSupply: disconnected).
type Output struct {
	OpenV         float64
	Ohms          float64 // ohm, behind OpenV
	FollowsSupply bool    // its open voltage is the board's own supply voltage
	// Reflect is how much of the output current the board draws from its own
	// feed: 1 for a switch or a linear output. Unused where FollowsSupply.
	Reflect float64
	MaxA    float64 // above this it is overloaded; 0: not stated
	Lit     bool
	// AtMostSupply holds the pin's open voltage at the board's own supply when
	// that is lower than OpenV; the output current is then drawn in full.
	AtMostSupply bool
}

func (o Output) valid() error {
	for _, x := range []float64{o.OpenV, o.Ohms, o.MaxA} {
		if !(x >= 0) || math.IsInf(x, 0) {
			return fmt.Errorf("an output's voltage, resistance and limit must be 0 or more, got %g", x)
		}
	}
	if math.IsNaN(o.Reflect) || math.IsInf(o.Reflect, 0) {
		return errors.New("an output's reflected share is not a number")
	}
	return nil
}
