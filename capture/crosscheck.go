package capture

import (
	"fmt"
	"math"

	"sealworthy/instruments"
)

// pair is a meter's reading with the supply's read-back next to it.
type pair struct{ meter, supply instruments.Reading }

// crossCheck compares both instruments. They see the same current, though not
// at the same moment, so single pairs of a blinker may differ: only a
// disagreement of the means beyond both accuracies and the scatter counts.
func (e *engine) crossCheck() {
	var diff, meter, supply mean
	var square, half float64
	for _, p := range e.pairs {
		m, ok1 := p.meter.Float()
		s, ok2 := p.supply.Float()
		if !ok1 || !ok2 {
			continue
		}
		diff.add(s - m)
		square += (s - m) * (s - m)
		meter.add(m)
		supply.add(s)
		half = max(half, p.meter.HalfWidth+p.supply.HalfWidth)
	}
	if diff.n < 3 {
		return
	}
	n := float64(diff.n)
	scatter := math.Sqrt(max(0, square/n-diff.value()*diff.value()) / (n - 1))
	if math.Abs(diff.value()) <= half+3*scatter {
		return
	}
	e.warn(disagreement(meter.value(), supply.value()))
}

// disagreement says what two instruments that differ beyond their accuracies
// point to.
func disagreement(meter, supply float64) string {
	switch {
	case math.Abs(meter) < 0.05*math.Abs(supply):
		return fmt.Sprintf("the meter reads nothing (%s) while the supply gives %s: look at the meter's leads, jack "+
			"and fuse first",
			amps(meter), amps(supply))
	case meter < 0 && math.Abs(meter+supply) < 0.2*math.Abs(supply):
		return fmt.Sprintf("the meter reads %s, the supply %s: the meter's leads are swapped", amps(meter),
			amps(supply))
	}
	return fmt.Sprintf("the meter reads %s, the supply's read-back %s: they disagree beyond both accuracies",
		amps(meter), amps(supply))
}
