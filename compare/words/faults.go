package words

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// wireOffOhms is a joint that is off altogether.
const wireOffOhms = 1e9

// Fault says a fault in plain words, with where to look first. kinds are all that
// look like it, itself among them; nil: it alone.
func Fault(p *plan.Plan, f fault.Fault, kinds []fault.Kind) string {
	if f.At != "" {
		return above(f)
	}
	i := p.GroupAt(f.Group)
	if i < 0 {
		return Sentence(string(f.Kind)) + "."
	}
	g := p.Groups[i]
	what := "the light"
	if f.Light < len(g.Lights) {
		what = Lights(g.Lights[f.Light])
	}
	return Sentence(inGroup(g, f, kinds, what))
}

// inGroup says a fault of one group; what names its light.
func inGroup(g plan.Group, f fault.Fault, kinds []fault.Kind, what string) string {
	alike := func(k fault.Kind) bool { return slices.Contains(kinds, k) }
	name := Quote(g.Name)
	switch f.Kind {
	case fault.DarkSegment:
		return oneOf(what) + " is dark, often by a cracked joint at a cut; else an LED in it is dead or the wrong " +
			"way round. Look which."
	case fault.OpenBranch:
		switch {
		case g.Sealed:
			return "the wire " + name + " is open. Look at both its ends, and whether " + g.TestLoadText() +
				" is clipped on."
		case alike(fault.PieceReversed) && !alike(fault.ReversedLED):
			return oneOf(what) + " is dark: it's the wrong way round, a joint is off, or it's dead."
		case alike(fault.ReversedLED):
			return oneOf(what) + " is dark: an LED is the wrong way round, a joint is off, or it's dead."
		}
		return oneOf(what) + " is dark: a joint is off, or it's dead."
	case fault.ReversedLED:
		return reversedLED(g, f, what)
	case fault.ShortedLED:
		return "one LED of " + what +
			" is bridged, and its neighbours are too bright. Look for solder across its pads."
	case fault.MissingOhms:
		if alike(fault.DecadeOff) {
			return "a resistor at " + what +
				" is missing or ten times too small. Switch nothing on again before it's found."
		}
		return "a resistor at " + what + " is missing. Switch nothing on again before it's found."
	case fault.DecadeOff:
		if f.Factor > 1 {
			return "a resistor at " + what + " is ten times too large, so that light is dim. Read its rings."
		}
		return "a resistor at " + what + " is ten times too small. Read its rings before it's lit again."
	case fault.BadJoint:
		if f.Ohms >= wireOffOhms {
			return nothingReaches(name)
		}
		return "there's a bad joint or a thin place in the wire to " + name +
			". Move it while you read, then solder it anew."
	case fault.OpenWire:
		return nothingReaches(name)
	case fault.BranchJoint:
		some := ""
		if f.Ohms > 0 {
			some = ", some " + about(f.Ohms) + " ohm"
		}
		return oneOf(what) + " is dim by a bad joint of its own" + some +
			". Move its wires while you read, then solder it anew."
	case fault.ExtraBranch:
		return "there are more lights than planned: count " + what + ". Or the plan is one short."
	case fault.Overloaded:
		return fmt.Sprintf("output %d of %s is overloaded, so it stays lit: something without a resistor of its own "+
			"hangs on it.", g.Output, Quote(g.Board))
	case fault.StuckDark:
		return fmt.Sprintf("output %d of %s never lights its group: its wire is off, the LEDs are the wrong way "+
			"round, or the output is dead.",
			g.Output, Quote(g.Board))
	case fault.StuckLit:
		return name + " stays lit where it should blink: look at the board's output."
	case fault.PieceReversed:
		return reversedPiece(g, f, what)
	case fault.GroupReversed:
		return reversedGroup(g)
	case fault.Short:
		if alike(fault.ShortedLED) {
			return "plus and minus touch in " + name + ", or one of its LEDs is bridged. Look for solder or a bare " +
				"wire, and measure ohms with the output off."
		}
		return "plus and minus touch in " + name +
			". Look for a bridge or a bare wire, and measure ohms with the output off."
	}
	return string(f.Kind) + "."
}

func nothingReaches(name string) string {
	return "nothing reaches " + name + ": its wire is off, or a joint in it is open."
}

// reversedLED says what one LED turned round does.
func reversedLED(g plan.Group, f fault.Fault, what string) string {
	var series []plan.LED
	if f.Light < len(g.Lights) {
		series = g.Lights[f.Light].Series
	}
	begin := "one LED of " + what + " is the wrong way round"
	switch {
	case f.LED >= len(series) || !series[f.LED].Conducts:
		return begin + ", so its branch is dark. Compare its mark with its neighbours', and try it by itself before " +
			"you trust it again."
	case len(series) > 1:
		return begin + ". It conducts through its protection diode: it is dark, its neighbours in the chain are too " +
			"bright, and the draw is high."
	}
	return begin + ". It conducts through its protection diode: it is dark, and the draw is high."
}

func reversedPiece(g plan.Group, f fault.Fault, what string) string {
	if f.Light < len(g.Lights) && fault.WhenReversed(g.Lights[f.Light]) == fault.AllConduct {
		return oneOf(what) + " is the wrong way round. It conducts through its protection diodes: it is dark, and " +
			"the draw is high." +
			" Switch off, then swap its plus and minus."
	}
	return oneOf(what) + " is dark and draws nothing: it's the wrong way round, or its wire is off."
}

func reversedGroup(g plan.Group) string {
	name := Quote(g.Name)
	where := "at " + name + "'s own wire"
	if g.Board != "" {
		where = fmt.Sprintf("at output %d of %s", g.Output, Quote(g.Board))
	}
	switch fault.GroupWhenReversed(g) {
	case fault.AllConduct:
		return "all of " + name + " is dark and draws too much: plus and minus are swapped " + where +
			". Only its resistors hold the current back: switch off before you look."
	case fault.SomeConduct:
		return "all of " + name + " is dark, yet draws: plus and minus are swapped " + where +
			". A part of it conducts through its protection diodes: switch off before you look."
	}
	return "all of " + name + " is dark and draws nothing: plus and minus are swapped " + where +
		", or that wire is off."
}

// above says a fault above the groups.
func above(f fault.Fault) string {
	at := Quote(f.At)
	switch f.Kind {
	case fault.OpenJoint:
		return "Nothing gets past joint " + at +
			". Look for a wire that is off, and measure volts before and after it."
	case fault.BadReturn:
		return "There's a bad joint or a thin place in return " + at +
			". Measure from it to the jack's minus while a group is lit."
	case fault.OpenReturn:
		return "Return " + at +
			" is open. Look for a wire that is off, and measure ohms from it to the jack's minus with the output off."
	}
	return "There's a bad joint or a thin place before joint " + at +
		". Measure volts before and after it while a group is lit."
}

// Suspect says where the plan may be wrong, and what to look at. The change itself
// stands beside it.
func Suspect(s fault.Suspect) string {
	switch s.Kind {
	case fault.CountOff:
		are := "are"
		if s.Is == "1" {
			are = "is"
		}
		return fmt.Sprintf("The plan says %s; it draws like %s. Count them: if there %s %s, correct the plan.", s.Was,
			s.Is, are, s.Is)
	case fault.OtherPart:
		return fmt.Sprintf(
			"The plan says %s; it draws like %s. Look what was fitted, and correct the plan if it's that.",
			s.Was, s.Is)
	case fault.OtherOhms:
		return fmt.Sprintf("The plan says %s; it draws like %s. Read the rings, and correct the plan if it's that.",
			s.Was, s.Is)
	}
	return s.Edit()
}

// PlanFirst puts the plan before the light, for to count costs nothing: what to
// look at, what it is if the plan is right, and what if it isn't. f is the fault
// that looks the same, n how many of them at once (0: say it at length, as faultText does).
func PlanFirst(s fault.Suspect, f fault.Fault, n int, faultText string) string {
	first, was, is := CountOrLook(s), Sentence(s.Was)+"?", Sentence(s.Is)+"?"
	if s.Kind == fault.OtherPart && (f.Light != s.Light || n < 1) {
		// It's about other lights than the part that may differ: those come first.
		return faultText + " All lit alike? Then a part isn't what the plan says: " + s.Is + " instead of " + s.Was + "."
	}
	switch s.Kind {
	case fault.CountOff:
		was, is = Sentence(Count(s.Planned))+"?", Sentence(Count(s.Counted))+"?"
		if f.Kind == fault.ExtraBranch {
			return fmt.Sprintf("%s %s There are more than planned: correct the plan, or take off what's too many. %s %s",
				first, is, was, tooMuch(s))
		}
		if dark, ok := plainlyDark(f.Kind, n); ok {
			faultText = dark
		}
	}
	return first + " " + was + " Then " + inside(faultText) + " " + is + " Correct the plan."
}

// CountOrLook is what to do first where the plan may be wrong.
func CountOrLook(s fault.Suspect) string {
	switch s.Kind {
	case fault.CountOff:
		return "Count " + counted(s) + "."
	case fault.OtherOhms:
		return "Read the resistors."
	}
	return "Look at the part."
}

// CountFirst is the same as something to do at a group, and what to say then.
func CountFirst(s fault.Suspect, group string) string {
	do := strings.TrimSuffix(inside(CountOrLook(s)), ".") + " of " + Quote(group)
	said := ""
	switch s.Kind {
	case fault.CountOff:
		said = "N lit"
	case fault.OtherOhms:
		said = s.Was + " read"
	default:
		return do
	}
	return fmt.Sprintf("%s. All right, and as planned? Say so: sealworthy measure BUILD --seen \"%s: all right, %s\"", do,
		group, said)
}

// Asks: a cause that begins with something to do, and says what it is by what is found then.
func Asks(cause string) bool { return strings.Contains(cause, "? ") }

// tooMuch is what draws too much where the count is as planned.
func tooMuch(s fault.Suspect) string {
	if s.What == "segments" || s.What == "pieces" {
		return "Then one of them draws too much: look which is brighter, and for solder across it."
	}
	return "Then one of them draws too much: look which is brighter, read its resistor, and look for a bridged LED."
}

// plainlyDark says so many dark lights, where they were named before.
func plainlyDark(k fault.Kind, n int) (string, bool) {
	if n < 1 {
		return "", false
	}
	are := Count(n) + " are dark"
	if n == 1 {
		are = "one is dark"
	}
	switch k {
	case fault.DarkSegment:
		return are + ", often by a cracked joint at a cut.", true
	case fault.OpenBranch:
		return are + ": an LED the wrong way round, a joint off, or dead.", true
	}
	return "", false
}

// counted says what is to be counted: "the segments".
func counted(s fault.Suspect) string {
	if s.What == "" {
		return "the lights"
	}
	return "the " + s.What
}

// Among names the other lights of the group that it could be in.
func Among(text string, others []plan.Light) string {
	var names []string
	for _, l := range others {
		names = append(names, Lights(l))
	}
	if len(names) == 0 {
		return text
	}
	return text + " Or it's among " + Either(names) + "."
}

// Second says two faults at once.
func Second(first, second string) string {
	return "Two at once: " + inside(first) + " And: " + inside(second)
}

// Times says one fault several times over.
func Times(n int, text string) string { return Sentence(Count(n)) + " times at once: " + inside(text) }

// In says in which group it is, where the figures are of several.
func In(group, text string) string { return "In " + Quote(group) + ": " + inside(text) }

// InOneOf says that it may be in any of so many groups.
func InOneOf(n int, group, text string) string {
	return fmt.Sprintf("In one of %s groups, look which. It may be in %s: %s", Count(n), Quote(group), inside(text))
}

// LookWhich asks for a look at groups of which one isn't as it should be.
func LookWhich(groups []string) string {
	return "look at " + quoted(groups) + " lit: which of them isn't as it should be?"
}

// about says ohms as nearly as they are known: one digit.
func about(ohms float64) string {
	unit := 1.0
	for ohms/unit >= 10 {
		unit *= 10
	}
	for ohms/unit < 1 && unit > 1e-3 {
		unit /= 10
	}
	return fmt.Sprintf("%g", float64(int(ohms/unit+0.5))*unit)
}
