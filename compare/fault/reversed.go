package fault

import (
	"fmt"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// Turned round, an LED blocks, unless a protection diode lies across it (white
// and blue packages often have one): that conducts at about 0.7 V, so that the
// LED is dark and its branch draws more than planned. Whole pieces and groups
// that are joined the wrong way round do the same with every LED at once. What
// electronics do then (an envelope load) isn't known, so they have no such fault.

// Reversed is what a light does with all or some of its LEDs turned round.
type Reversed int

// What becomes of its branches.
const (
	AllBlock Reversed = iota
	AllConduct
	SomeConduct
)

// WhenReversed tells what a light does with every LED turned round: a branch
// conducts if each of its LEDs does.
func WhenReversed(l plan.Light) Reversed {
	for _, x := range l.Series {
		if !x.Conducts {
			return AllBlock
		}
	}
	return AllConduct
}

// GroupWhenReversed is WhenReversed over a group's lights.
func GroupWhenReversed(g plan.Group) Reversed {
	var conduct, block bool
	for _, l := range g.Lights {
		if len(l.Series) == 0 {
			continue // a resistor knows no direction
		}
		if WhenReversed(l) == AllConduct {
			conduct = true
		} else {
			block = true
		}
	}
	switch {
	case conduct && block:
		return SomeConduct
	case conduct:
		return AllConduct
	}
	return AllBlock
}

// canReverse: the group's plus and minus can be swapped with an effect of its
// own. With a single LED that is the LED turned round.
func canReverse(g plan.Group) bool {
	leds := 0
	for _, l := range g.Lights {
		if l.Kind == plan.Envelope {
			return false
		}
		leds += l.Branches() * len(l.Series)
	}
	return leds > 1
}

// reversedPieces lists the strips and chains of a light that can be joined the
// wrong way round by themselves.
func reversedPieces(g plan.Group, light int) []Fault {
	l := g.Lights[light]
	step := 1
	if l.Kind == plan.Strip {
		step = l.Segments
	}
	pieces := 0
	for _, x := range g.Lights {
		pieces += max(1, x.Count)
	}
	if pieces < 2 || step*len(l.Series) < 2 {
		return nil // the whole group, or a single LED
	}
	var out []Fault
	for k := range l.Count {
		out = append(out, Fault{Kind: PieceReversed, Group: g.Name, Light: light, Branch: k * step})
	}
	return out
}

// pieceOf is the piece of a light that a fault's branch lies in, from 0.
func pieceOf(g plan.Group, f Fault) int {
	if f.Light < len(g.Lights) {
		if l := g.Lights[f.Light]; l.Kind == plan.Strip && l.Segments > 0 {
			return f.Branch / l.Segments
		}
	}
	return f.Branch
}

// reverse turns every LED of the branches that are meant.
func reverse(w *wiring.Wired, gi int, meant func(wiring.Branch) bool, f Fault) error {
	n := 0
	for bi, b := range w.Groups[gi].Branches {
		if !meant(b) {
			continue
		}
		for k := range w.Plan.Groups[gi].Lights[b.Light].Series {
			w.SetLED(gi, bi, k, circuit.Reversed)
			n++
		}
	}
	if n == 0 {
		return fmt.Errorf("%s: group %q has no LED there to turn round", f.Kind, f.Group)
	}
	return nil
}
