package wording

import (
	"slices"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/words"
)

// NotMeasured is what to do after a step that gave no readings; why stands beneath.
const NotMeasured = "Not measured: see why, mend that, then redo it."

// Todo says in one sentence what to do after what a step said, where that isn't good; "": nothing has to be done. It's
// short enough to be read from two metres.
func Todo(said []capture.Said) string {
	var is compare.Verdict
	open, moves := false, false
	for _, x := range said {
		open = open || x.Undecided
		moves = moves || x.Undecided && slices.Contains(x.Causes, words.TellTouched)
		switch v := compare.Verdict(x.Verdict); {
		case x.Good || x.Undecided || v == is:
		case is == "":
			is = v
		default:
			return "Mend what is named, then redo it."
		}
	}
	switch is {
	case "":
		if moves { // no look settles why it reads otherwise than before
			return "It moved: go on, and say what was touched. Or redo it."
		}
		if open {
			return "Go on: a look may settle it. Or redo it."
		}
		return ""
	case compare.Low:
		if slices.ContainsFunc(said, func(x capture.Said) bool {
			return !x.Good && len(x.Causes) > 0 && words.SaysNothingFlows(x.Causes[0])
		}) {
			return "Nothing flows: see to clip and wires, then redo."
		}
		return "A dark light or a bad joint? Mend it, then redo."
	case compare.High:
		return "Look for a short or a wrong resistor, mend it, then redo."
	case compare.StuckLit:
		return "Find what stays lit, mend it, then redo."
	case compare.StuckDark:
		return "Find what stays dark, mend it, then redo."
	case compare.NotMeasured:
		return "See why, mend that, then redo it."
	case compare.OffPace:
		return "Set its pace as the plan says, then redo."
	}
	return "Mend what is named, then redo it."
}
