package words

import (
	"fmt"
	"strings"

	"sealworthy/compare/plan"
)

// NothingFlows says why a group may draw nothing: by the bench, and by the model.
// read tells that something else was read since with the same meter and leads; then
// the model comes first, and the sentences follow each other that way round.
func NothingFlows(g plan.Group, read bool) (bench, model string) {
	if g.Sealed {
		model = "the wire is open, or " + g.TestLoadText() + " isn't clipped across its end"
	} else {
		model = "its wire or a joint on the way is open, or " + wrongWayRound(g)
	}
	if g.Return != "" {
		model += fmt.Sprintf(", or its return %s is open", Quote(g.Return))
	}
	return benchOr("it", read), modelOr(flows, model, read)
}

// BoardDrawsNothing is NothingFlows for a board that draws next to nothing itself.
func BoardDrawsNothing(board string, read bool) (bench, model string) {
	name := "the board " + Quote(board)
	return benchOr(name+" itself", read), modelOr(Sentence(name)+drawsNext,
		"its plus or minus is off, or they're swapped", read)
}

func benchOr(what string, read bool) string {
	if read {
		return "Else the clip didn't touch: clip it again, and measure it once more."
	}
	return Sentence(what) + draws + " the clip, the leads and the meter's fuse first."
}

func modelOr(begin, model string, read bool) string {
	if read {
		return begin + ", and the meter has read others since: " + model + "."
	}
	return "Else " + model + "."
}

func wrongWayRound(g plan.Group) string {
	for _, l := range g.Lights {
		if l.Kind == plan.Strip {
			return "the strip is joined the wrong way round"
		}
	}
	return "the LEDs are in the wrong way round"
}

// How the first cause begins of what draws nothing.
const (
	draws     = " draws nothing: look at"
	flows     = "Nothing flows"
	drawsNext = " draws next to nothing"
)

// SaysNothingFlows: a cause is the first of those of NothingFlows or BoardDrawsNothing.
func SaysNothingFlows(cause string) bool {
	return strings.Contains(cause, draws) || strings.HasPrefix(cause, flows) || strings.Contains(cause, drawsNext)
}
