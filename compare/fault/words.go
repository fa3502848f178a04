package fault

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/compare/plan"
)

// Text says a class of faults in plain words, with where to look first.
func (r Ranked) Text(p *plan.Plan) string {
	f := r.Fault
	if upstream(f.Kind) {
		return upstreamWords(f)
	}
	i := slices.IndexFunc(p.Groups, func(g plan.Group) bool { return g.Name == f.Group })
	if i < 0 {
		return string(f.Kind)
	}
	g := p.Groups[i]
	what := "the light"
	if f.Light < len(g.Lights) {
		what = nameOf(g.Lights[f.Light])
	}
	has := func(k Kind) bool { return slices.Contains(r.Kinds, k) }
	switch f.Kind {
	case DarkSegment:
		return "one segment of " + what + " is dark: look which; a cracked joint at a cut line, an LED turned round or dead"
	case OpenBranch:
		if g.Sealed {
			return "the wire " + quote(g.Name) + " is open: look at both its ends, and whether " + g.TestLoadText() + " is clipped on"
		}
		if has(PieceReversed) && !has(ReversedLED) {
			return one(what) + " is dark: joined the wrong way round, a joint off, or dead"
		}
		if has(ReversedLED) {
			return one(what) + " is dark: turned round, a joint off, or dead"
		}
		return one(what) + " is dark: a joint off, or dead"
	case ReversedLED:
		return reversedWords(g, f, what)
	case ShortedLED:
		return "one LED of " + what + " is bridged: look for solder across its pads; its neighbours are too bright"
	case MissingOhms:
		if has(DecadeOff) {
			return "a resistor is missing, or ten times too small, at " + what + ": switch nothing on again before it is found"
		}
		return "a resistor is missing at " + what + ": switch nothing on again before it is found"
	case DecadeOff:
		if f.Factor > 1 {
			return "a resistor at " + what + " is ten times too large: read its colours; that one is dim"
		}
		return "a resistor at " + what + " is ten times too small: read its colours before it is lit again"
	case BadJoint:
		return "a bad joint or a thin place in the wire to " + quote(g.Name) + ": move it while you read, solder it anew"
	case ExtraBranch:
		return "more lights than planned: count " + what + "; or the plan is one short"
	case Overloaded:
		return fmt.Sprintf("output %d of %s is overloaded, so it stays lit: something without a resistor of its own hangs on it; 470 ohm in series usually cures it", g.Output, quote(g.Board))
	case StuckDark:
		return fmt.Sprintf("output %d of %s never lights its group: wire off, LEDs turned round, or a dead output", g.Output, quote(g.Board))
	case PieceReversed:
		return pieceWords(g, f, what)
	case GroupReversed:
		return groupWords(g)
	case Short:
		return "plus and minus touch in " + quote(g.Name) + ": look for a bridge or a bare wire; measure ohms with the output off"
	}
	return string(f.Kind)
}

// one says that it is a single one of what may be several.
func one(what string) string {
	if strings.HasPrefix(what, "the ") {
		return "one of " + what
	}
	return "the " + what
}

func quote(s string) string { return `"` + s + `"` }

// nameOf says what a light is, with its count.
func nameOf(l plan.Light) string {
	switch l.Kind {
	case plan.Strip:
		if l.Branches() == 1 {
			return l.Part
		}
		return fmt.Sprintf("the %d of %s", l.Branches(), l.Part)
	case plan.SMD:
		if l.Count == 1 {
			return l.Part
		}
		return fmt.Sprintf("the %d pieces of %s", l.Count, l.Part)
	case plan.LEDs:
		s := l.Part
		if s == "" {
			var names []string
			for _, x := range l.Series {
				names = append(names, x.Part)
			}
			s = strings.Join(names, " + ")
		}
		if l.Ohms.Nominal > 0 {
			s += fmt.Sprintf(" with %g ohm", l.Ohms.Nominal)
		}
		if l.Count > 1 {
			return fmt.Sprintf("the %d branches of %s", l.Count, s)
		}
		return s
	}
	return l.Part
}
