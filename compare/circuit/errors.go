package circuit

import "fmt"

// Problem is why a circuit has no operating point.
type Problem uint8

// The problems. The zero Problem is not used.
const (
	_          Problem = iota
	BadInput           // a parameter that isn't a usable number
	ShortLoop          // 0 ohm round the loop and a source without limit
	NoReturn           // a load that insists on its current has no way back
	Collapsed          // loads that insist on their current want more than the source's limit
	NoSolution         // the iteration didn't meet its tolerance
)

// RefKind is what a Ref points to.
type RefKind uint8

// What an Error can point to. The zero RefKind is "the whole circuit".
const (
	RefNone RefKind = iota
	RefNode
	RefReturn
	RefBranch
	RefDraw
	RefShunt
	RefSource
)

// Ref points to one element or load; Index is its Node, Ground, BranchID, DrawID or ShuntID.
type Ref struct {
	Kind  RefKind
	Index int // in the slices of a Point
}

func (r Ref) String() string {
	names := [...]string{"circuit", "feed element", "return", "branch", "constant draw", "resistor", "source"}
	if r.Kind == RefNone || r.Kind == RefSource || int(r.Kind) >= len(names) {
		return names[r.Kind%RefKind(len(names))]
	}
	return fmt.Sprintf("%s %d", names[r.Kind], r.Index)
}

// Error is what Build and Solve return when a circuit can't be solved.
type Error struct {
	Problem Problem
	At      Ref    // what it is about
	Text    string // in plain words, without the place
}

func (e *Error) Error() string {
	if e.At.Kind == RefNone {
		return e.Text
	}
	return e.At.String() + ": " + e.Text
}
