package blink

import "math"

// Stuck tells which of the blinkers that don't run are lit and which are dark,
// from the base: a blinker that is stuck lit adds its step to the base as
// built. BaseA is that base with its standard uncertainty. Running blinkers
// are "agrees"; where several sets of stuck blinkers explain the base within
// three uncertainties, those that differ are "can't tell", and so are all when
// no set does. The answer is in the order of b, which must be the blinkers
// given to Joint; nil otherwise.
func (p *Parted) Stuck(b []Blinker, baseA, baseU float64) []Agreement {
	if !p.Usable || len(b) != len(p.Blinkers) || !finite(baseA, baseU) || len(b) > maxBlinkers {
		return nil
	}
	out := make([]Agreement, len(b))
	var idle []int
	for i, x := range p.Blinkers {
		switch x.State {
		case Running:
			out[i] = Agrees
		case NotRunning:
			idle = append(idle, i)
			out[i] = CantTell
		default:
			out[i] = CantTell
		}
	}
	u := math.Hypot(p.BaseU, baseU)
	var always, ever uint // sets in which a blinker is lit
	always = ^uint(0)
	fits := false
	for set := uint(0); set < 1<<len(idle); set++ {
		sum := baseA
		for j, i := range idle {
			if set&(1<<j) != 0 {
				sum += b[i].Amps
			}
		}
		if math.Abs(p.BaseA-sum) <= 3*u {
			always &= set
			ever |= set
			fits = true
		}
	}
	if !fits {
		return out
	}
	for j, i := range idle {
		switch bit := uint(1) << j; {
		case always&bit != 0:
			out[i] = SteadyLit
		case ever&bit == 0:
			out[i] = SteadyDark
		}
	}
	return out
}
