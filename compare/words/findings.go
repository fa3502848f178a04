package words

import (
	"fmt"
	"strings"
)

// What would settle a group, or make a reading of use.
const (
	LookAtIt     = "look at it lit, and say all right"
	LookAtThem   = "look at them lit, and say all right"
	LookAtBoth   = "look at both lit, and say all right"
	OnceMore     = "measure it once more"
	SecondVolts  = "read it at a second voltage, too: sealworthy next says which"
	OthersOfReel = "measure the other groups of its reel, too"
	FinerRange   = "use a finer range or a better meter"
	SmallerParts = "measure it in two parts, before they are joined"
	GroupsAlone  = "measure the groups alone, before they are joined"
	Anew         = "measure it anew: sealworthy measure BUILD --resume"
	GoOn         = "go on with the test: sealworthy measure BUILD --resume"
	AtService    = "measure it at its service voltage: sealworthy measure BUILD --resume"
	NextSays     = "sealworthy next BUILD says what to measure"
	TellTouched  = "tell what was touched, sealworthy measure BUILD --rework PLACE, and measure it again"
	AsItIs       = "look what was fitted, and take it as it is: sealworthy measure BUILD --accept GROUP --reason WHY"
	FindLoose    = "move its wires while it is lit, and find what is loose"
)

// Reasons and notes that stand by themselves.
const (
	PassedByLook  = "passed by the look: the current alone can't settle it"
	LitYetUnlike  = "all lit by the look, yet its draw doesn't fit a healthy group well enough"
	NotSureEnough = "Its draw fits, yet with what was seen it isn't sure enough that nothing is wrong."
	AboveIt       = "Its draw fits, yet something above it may be wrong, which other groups hang on, too."
	EdgeOfBand    = "a little outside of what 95 of 100 healthy groups draw; yet it's excluded that one light " +
		"is missing"
	NotByItAlone   = "outside of its band; what else was read or seen of it decides"
	PlanChanged    = "the plan changed after this reading; it is judged by the plan as it is now"
	AsFoundNote    = "as found: there is no plan to judge it by; this reading is kept as its baseline"
	LightsChanged  = "its lights in the plan changed since it was looked at"
	WasNotLit      = "it hadn't been lit when it was called all right"
	NoneFits       = "None of the usual faults fits. Count the lights, and compare the parts with the plan."
	MaySteady      = "The board may be set to a steady pace. Press its button once, then measure again."
	OneOfJoined    = "One of the joined groups isn't as it should be. Look which, then measure that group alone."
	BetweenTheTwo  = "Look at what was done between the two readings: a pinched wire, a joint come loose."
	InItsEnvelope  = "its draw lies inside the envelope; look at it, and say all right"
	OneAtATime     = "unclip one group at a time to see which of them draws too much"
	PartsDiffer    = "Its timing parts differ, or it's another board than planned."
	NoneOfItsPaces = "It runs at none of the paces of its plan: its timing parts differ, or it has a pace that the " +
		"plan doesn't know."
)

// CountLit asks for a count where all right leaves open how many are there.
func CountLit(group string) string {
	return fmt.Sprintf("count its lights while it is lit, and tell how many: sealworthy measure BUILD --seen \"%s: "+
		"all right, N lit\"", group)
}

// ChangedAfter says why a plan that was changed after a reading doesn't make that reading fit: what
// was read, what the plan of then expected, in A, what it said and says now, and what is wrong if it
// was right (empty: that isn't known).
func ChangedAfter(readA, u, lowA, highA float64, was, is, wrong string) string {
	s := fmt.Sprintf("It drew %s where %s were expected; the plan was changed only after that", Milliamps(readA, u),
		MilliampBand(lowA, highA))
	if was != is {
		s += ", from " + was + " to " + is
	}
	s += ". That its draw fits now is no proof. If the plan was right before, something is broken."
	if wrong != "" {
		s += " Then " + inside(wrong)
	}
	return s
}

// TellChanged asks for what a changed plan rests on, told apart from any draw: how many are lit (0: that wasn't
// changed) and what is read on the pieces. said is what to say of the group if it is so.
func TellChanged(group string, lit int, read []string, said string) string {
	if len(read) == 0 {
		return fmt.Sprintf("count its lights while it is lit. %s? Say so: sealworthy measure BUILD --seen \"%s: %s\". "+
			"Another number? Put the plan right", Sentence(Count(lit)), group, said)
	}
	count, is := "", ""
	if lit > 0 {
		count, is = "count its lights while it is lit, and ", fmt.Sprintf("%d lit, ", lit)
	}
	return fmt.Sprintf("%sread there what the plan was changed in, by no draw: the rings of a resistor, the label of a "+
		"reel or a board, a rule along a wire, a voltmeter. %s%s? Say so: sealworthy measure BUILD --seen \"%s: %s\". "+
		"Something else? Put the plan right", count, is, List(read), group, said)
}

// SampleReel asks for so many loose pieces of a reel.
func SampleReel(reel string, pieces int) string {
	return fmt.Sprintf("measure a sample of %s, %d loose pieces: sealworthy part", reel, pieces)
}

// SamplePart asks for the one piece of a group.
func SamplePart(part string) string { return "measure " + part + " by itself: sealworthy part" }

// Shrinks is what to do, with by how much a group may vary once it's done, and now, A.
func Shrinks(do string, thenA, nowA float64) string {
	return fmt.Sprintf("%s (it may then vary by %s, not %s)", do, Milliamps(thenA, 0.05*thenA),
		Milliamps(nowA, 0.05*nowA))
}

// CouldHide says why the current alone can't settle a group: what the smallest loss
// takes away, and by how much the group may vary, in A.
func CouldHide(smallest string, lossA, variesA float64) string {
	digits := 0.05
	if Milliamps(lossA, digits*lossA) == Milliamps(variesA, digits*variesA) {
		digits /= 10
	}
	return fmt.Sprintf("%s takes away %s; this group may vary by %s, so it could hide.", Sentence(darkOne(smallest)),
		Milliamps(lossA, digits*lossA), Milliamps(variesA, digits*variesA))
}

// darkOne is "one dark segment of …" for "one segment of …".
func darkOne(smallest string) string {
	if rest, ok := strings.CutPrefix(smallest, "one "); ok {
		return "one dark " + rest
	}
	return smallest + " dark"
}

// NotWhatHealthy says how a draw that can't be told lies to a healthy group's and to that with
// the smallest loss; all in A.
func NotWhatHealthy(measuredA, healthyA, lossA float64, smallest string) string {
	switch {
	case measuredA > healthyA:
		return "It draws more than a healthy one should, yet not enough to be sure that something is wrong."
	case measuredA < healthyA-lossA:
		return "It draws less than even one with " + darkOne(smallest) + "."
	}
	return "It lies between a healthy group and one with " + darkOne(smallest) + "."
}

// SameAsBefore says why a draw that is what it was at a stage before can't be told.
func SameAsBefore(stage string) string {
	return fmt.Sprintf("It draws what it drew when it was %s, so nothing changed since. Whether all was right then, "+
		"its draw can't tell.", stage)
}

// PassedByThen notes what passed by a look at a stage before, and the same draw since.
func PassedByThen(stage string) string {
	return fmt.Sprintf("passed by the look when it was %s: it draws the same since", stage)
}

// ExpectedBy says what a draw is expected by besides the plan: other groups of its reel, what
// it drew at a stage before (empty: nothing was read), and what the plan alone says, A.
func ExpectedBy(reel bool, stage string, lowA, highA float64) string {
	by := "what the other groups of its reel draw"
	switch {
	case stage != "" && reel:
		by += " and what it drew when it was " + stage
	case stage != "":
		by = "what it drew when it was " + stage
	}
	return fmt.Sprintf("expected by %s, too; by the plan alone %s", by, MilliampBand(lowA, highA))
}

// OutsideBand begins the reason where a draw lies outside its band; "" inside.
func OutsideBand(measuredA, lowA, highA float64) string {
	switch {
	case measuredA > highA:
		return "It lies above its band. "
	case measuredA < lowA:
		return "It lies below its band. "
	}
	return ""
}

// SteadyAtOnePace: a trace looks steady at one pace of a board and runs at another.
const SteadyAtOnePace = "It looks steady at this pace and runs as planned at another: measure it again."

// LikelierHealthy: the draw alone said low or high, all together doesn't.
func LikelierHealthy(verdict string) string {
	return "It is " + verdict + " by its draw, yet likelier healthy than not by all that was read and seen."
}

// MeterReadsNothing: the supply gives what the meter doesn't see.
func MeterReadsNothing(gives string) string {
	return "The supply gives " + gives +
		", and the meter reads nothing. Look at the meter's fuse, its jack and its leads first."
}

// OneOutput says that one output of a board does something, and which it may be.
func OneOutput(board, does, numbers string) string {
	return fmt.Sprintf("One output of %s %s. By its draw it could be any of %s: look which.", Quote(board), does,
		numbers)
}

// OutputsDraw says what like outputs draw, and what is wrong with one of them.
func OutputsDraw(numbers, board, levels, one string) string {
	return fmt.Sprintf("Outputs %s of %s draw %s. One of them is %s: look which.", numbers, Quote(board), levels, one)
}

// PressButton: the board runs at another pace of its plan.
func PressButton(at, times string) string {
	return "It runs at its pace " + Quote(at) + ". Press its button " + times + ", then measure again."
}

// LikeAnother says which feeds draw as much at the volts at which one was stopped.
func LikeAnother(feeds []string, volts float64) string {
	return "Else the clip was on " + eitherOf(feeds) + ", or its wire is swapped with it: as much flows there at " +
		Number(volts, 0.1) + " V."
}

func eitherOf(names []string) string {
	last := len(names) - 1
	if last < 1 {
		return quoted(names)
	}
	return quoted(names[:last]) + " or " + Quote(names[last])
}

// MoreThanAnyFault: no usual fault lets so much through.
func MoreThanAnyFault(group string) string {
	return "More flows in " + Quote(group) +
		" than any usual fault explains. Look for a bridge or a bare wire, compare the parts with the plan," +
		" and measure ohms with the output off."
}
