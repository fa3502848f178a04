package budget

import (
	"errors"
	"fmt"
	"math"

	"sealworthy/compare/plan"
)

// Cure is a resistor in series with an output that is overloaded.
type Cure struct {
	Ohms     float64 `json:"ohms"`      // of the row E12 (IEC 60063)
	Amps     float64 `json:"amps"`      // what the output then gives, about
	Watts    float64 `json:"watts"`     // heat in it
	RatingW  float64 `json:"rating_w"`  // what it should be rated for; 0: none can be bought
	AllOhms  float64 `json:"all_ohms"`  // with what the output has itself: the plan's figure afterwards
	Output   int     `json:"output"`    // from 1
	PathOhms string  `json:"path_ohms"` // of that figure in the plan, as plan.Edit takes it
}

// ErrNoCure: no resistor in series cures an output.
var ErrNoCure = errors.New("no resistor in series helps")

// CureFor computes the resistor that brings an output, which was measured to give
// amps while it stays lit, to four fifths of what it can give at the highest voltage
// of its jack. What hangs on it is taken for LEDs of the forward voltage Vf that the
// plan gives its lights, behind whatever resistance lets that current flow:
//
//	R = (Vhigh - Vf) / Iwanted - (V - Vf) / I
//
// The error is ErrNoCure where it gives less than that already, or where nothing
// would be left to see.
func CureFor(p *plan.Plan, board string, output int, amps float64) (Cure, error) {
	i := p.BoardAt(board)
	if i < 0 || output < 1 || output > len(p.Boards[i].Outputs) {
		return Cure{}, fmt.Errorf("the plan has no output %d of board %q", output, board)
	}
	b := p.Boards[i]
	o := b.Outputs[output-1]
	wanted := outputMargin * o.MaxAmps
	if !(wanted > 0) || !(amps > wanted) {
		return Cure{}, ErrNoCure
	}
	volts, high := o.OpenVolts.Nominal, o.OpenVolts.Nominal+o.OpenVolts.HalfWidth
	if o.FollowsSupply {
		j := jackOf(p, b)
		volts, high = ServiceVolts(p, b.Joint, j.Volts), ServiceVolts(p, b.Joint, j.HighVolts)
	}
	vf := forwardVolts(p, b.Name, output, wanted)
	r := (high-vf)/wanted - (volts-vf)/amps
	c := Cure{Output: output, PathOhms: fmt.Sprintf("board.%q.outputs[%d].ohms", b.Name, output-1)}
	var ok bool
	if c.Ohms, ok = PreferredOhms(E12, r); !ok {
		return Cure{}, ErrNoCure
	}
	c.Amps = (high - vf) / ((volts-vf)/amps + c.Ohms)
	c.Watts = mostHeat(high, volts/amps, c.Ohms)
	c.RatingW, c.AllOhms = ratedFor(c.Watts), o.Ohms.Nominal+c.Ohms
	if c.Amps < leastLit*wanted {
		return Cure{}, ErrNoCure
	}
	return c, nil
}

// mostHeat is what a resistor behind an output turns into heat, W, where the output's
// load takes no voltage of its own: an overload may be a lead beside the LEDs.
//
//	P = (Vhigh / (V / I + R))² R
func mostHeat(highVolts, loadOhms, ohms float64) float64 {
	i := highVolts / (loadOhms + ohms)
	return i * i * ohms
}

// Text says the cure: how large, how hot, and what then flows.
func (c Cure) Text() string {
	s := fmt.Sprintf("%s in series brings it to about %s and turns %s into heat", ohms(c.Ohms), amps(c.Amps),
		watts(c.Watts))
	if c.RatingW > 0 {
		s += fmt.Sprintf(": take one of %s W", sig(c.RatingW, 4))
	}
	return s
}

// leastLit of what an output can give must be left to see.
const leastLit = 0.05

// jackOf is the jack that a board hangs on.
func jackOf(p *plan.Plan, b plan.Board) plan.Jack {
	if j, ok := p.Jack(p.JackOf(b.Joint)); ok {
		return j
	}
	return p.Jacks[0]
}

// forwardVolts is the least forward voltage of a branch on an output, at a twentieth
// of amps for each, for nobody knows how many share them; 0 where no LED is known.
func forwardVolts(p *plan.Plan, board string, output int, amps float64) float64 {
	least := math.Inf(1)
	for _, g := range p.Groups {
		if g.Board != board || g.Output != output {
			continue
		}
		for _, l := range g.Lights {
			v := 0.0
			for _, d := range l.Series {
				if f, err := fitted(d); err == nil {
					v += f.VoltsAt(amps / 20)
				}
			}
			least = math.Min(least, v)
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}
