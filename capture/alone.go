package capture

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/instruments"
)

// How far one reading of a steady feed lies from all others before it is taken
// for a bad reply: by so many of the meter's limits of error, and by such a share
// of the draw (our own choice, no source).
const (
	aloneHalfWidths = 10
	aloneShare      = 0.05
	aloneOf         = 8 // readings at least
)

// stoodAlone measures a steady feed again where one reading of its trace, and one
// only, lies far from all others: a bad reply tells nothing of the feed, and a
// mean with it in tells something wrong. A contact that opens for a moment looks
// the same, so what happens twice stays as it is, and is said. The whole model on
// for hours is left alone: there one short drop is what is looked for.
func (e *engine) stoodAlone(s Step) error {
	if s.Kind != Power || s.Board != "" || s.Pace != "" || byHand(e.b.Meter) || s.Way == Added {
		return nil
	}
	odd, rest := oddOneOut(e.rec.Trace(e.mainName(), instruments.Current))
	if odd == nil {
		return nil
	}
	text := fmt.Sprintf("one reading stood alone: %q, where the others read about %s", odd.Raw, amps(rest))
	if e.alone[s.ID] {
		e.warn(text + "; it happened twice, so a contact may open for a moment: move the wires")
		return nil
	}
	e.alone[s.ID] = true
	return &againError{text}
}

// oddOneOut is the one reading that lies far from the median of all; nil where
// there is none, or more than one.
func oddOneOut(trace []instruments.Reading) (odd *instruments.Reading, median float64) {
	var all []float64
	for _, r := range trace {
		if v, ok := r.Float(); ok {
			all = append(all, v)
		}
	}
	if len(all) < aloneOf {
		return nil, 0
	}
	slices.Sort(all)
	median = all[len(all)/2]
	for i, r := range trace {
		v, ok := r.Float()
		if !ok || math.Abs(v-median) <= max(aloneHalfWidths*r.HalfWidth, aloneShare*math.Abs(median)) {
			continue
		}
		if odd != nil {
			return nil, median
		}
		odd = &trace[i]
	}
	return odd, median
}
