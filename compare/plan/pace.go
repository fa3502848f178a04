package plan

import "slices"

// Steady reports a pace that doesn't blink.
func (p Pace) Steady() bool { return p.PeriodS == 0 }

// LitShare is the part of a period in which an output is lit; 1 for a steady pace.
func (p Pace) LitShare() float64 {
	if p.Steady() {
		return 1
	}
	if len(p.Flashes) == 0 {
		return p.Duty
	}
	lit, all := 0.0, 0.0
	for i, d := range p.Flashes {
		if all += d; i%2 == 0 {
			lit += d
		}
	}
	if all <= 0 {
		return 0
	}
	return lit / all
}

// Spans is when an output is lit within a period, each from and to, in fractions
// of it and later by shift: a span may end past 1. Not for a steady pace.
func (p Pace) Spans(shift float64) [][2]float64 {
	if len(p.Flashes) == 0 {
		return [][2]float64{{shift, shift + p.Duty}}
	}
	var out [][2]float64
	at := shift
	for i, d := range p.Flashes {
		if i%2 == 0 {
			out = append(out, [2]float64{at, at + d/p.PeriodS})
		}
		at += d / p.PeriodS
	}
	return out
}

// Spans is when the output of a number is lit within a period at a pace, as
// Pace.Spans says it: outputs that take turns are each a share of it later.
func (b Board) Spans(p Pace, output int) [][2]float64 {
	shift := 0.0
	if b.Run == Alternate && len(b.Outputs) > 1 {
		k := slices.IndexFunc(b.Outputs, func(o Output) bool { return o.Number == output })
		shift = float64(max(0, k)) / float64(len(b.Outputs))
	}
	return p.Spans(shift)
}
