package coverage

import (
	"sealworthy/compare/belief"
	"sealworthy/compare/fault"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

// Test is what one step of a test reads of the groups that draw through it together.
type Test struct {
	Groups   []string         // by their names
	Readings []belief.Reading // the one at service voltage first; their Amps aren't used
	Scene    scene.Scene
	// Board: one feeds the groups. Traced: it's read over time, so that an output that
	// stays lit or dark shows by that.
	Board, Traced bool
	Looked        bool // the lights are looked at
}

// Hidden is what a closure hides by itself.
type Hidden struct {
	Closure string
	Groups  []string // by their names
	Places  []Place
}

// Place is a joint or a return, with the groups that are fed through it.
type Place struct {
	Name   string
	Return bool     // it is a return, no joint
	Feeds  []string // the groups
}

// Options of a grading.
type Options struct {
	Priors *fault.Priors // nil: fault.DefaultPriors
	Rule   rule.Rule
	Effort Effort
}

// Effort of a remedy, in units of setting another voltage.
type Effort struct {
	Volts, Switch float64 // of another voltage (1), and of switching anything else
}

// Rates says whose rates of faults and of the eye a figure rests on. The zero Rates
// is no valid answer.
type Rates string

// Whose rates they are.
const (
	CommonPractice Rates = "common practice"
	OwnPriors      Rates = "the maker's priors file"
)

// RatesOf tells the defaults (nil) from a maker's own.
func RatesOf(p *fault.Priors) Rates {
	if p == nil {
		return CommonPractice
	}
	return OwnPriors
}

// Share is a part of the possible faults: how many, to be expected, and how probable
// all of them together are before anything is measured.
type Share struct {
	Faults float64 `json:"faults"` // how many, to be expected
	Weight float64 `json:"weight"` // how probable all of them together are
}

func (s *Share) add(faults, weight, p float64) {
	s.Faults += faults * p
	s.Weight += weight * p
}

// Seen is what becomes of faults: ByCurrent are stopped by the readings, whatever a
// look says; ByLook are found by a look alone; Missed pass both.
type Seen struct {
	All       Share `json:"all"` // the sum of the others
	ByCurrent Share `json:"by_current"`
	ByLook    Share `json:"by_look"`
	Missed    Share `json:"missed"`
}

// add counts faults of a slip.
func (s *Seen) add(faults, weight float64, x belief.Slip) {
	s.All.add(faults, weight, 1)
	s.ByCurrent.add(faults, weight, 1-x.Blind)
	s.ByLook.add(faults, weight, x.Blind-x.Whole)
	s.Missed.add(faults, weight, x.Whole)
}

// Closure is the grade of what a closure hides.
type Closure struct {
	Closure string `json:"closure"`
	Seen
	// Slip is the chance that a fault is in there once all of it has passed the test.
	Slip float64 `json:"slip"`
	// Unlooked is that chance if all right is said of it without looking.
	Unlooked float64 `json:"unlooked"`
	Rates    Rates   `json:"rates"`
	Kinds    []Kind  `json:"kinds"` // the most probable to be missed first
	// Held are groups of which many are held though nothing is wrong: what current
	// stops there it doesn't tell from healthy.
	Held []Held `json:"held,omitempty"`
	// Ungraded are groups that no rule of draws judges: as found, or on an envelope.
	Ungraded []string `json:"ungraded,omitempty"`
	// Next is what would close the gap, the most for its effort first.
	Next []Remedy `json:"next,omitempty"`
}

// Kind is the grade of one kind of fault.
type Kind struct {
	Kind fault.Kind `json:"kind"`
	Seen
}

// Held is a group with the share of healthy ones that the test passes.
type Held struct {
	Group  string  `json:"group"`
	Passes float64 `json:"passes"` // 0 to 1
}

// RemedyKind is what can be done about a gap.
type RemedyKind string

// The kinds of remedy. The zero RemedyKind is no valid answer.
const (
	SecondVoltage RemedyKind = "second voltage"
	SampleReel    RemedyKind = "sample of the reel"
	SmallerParts  RemedyKind = "smaller parts"
)

// Remedy is one more thing to do, and what it would leave.
type Remedy struct {
	Kind  RemedyKind `json:"kind"`
	Group string     `json:"group"`
	Volts float64    `json:"volts,omitempty"` // SecondVoltage
	// Reel and Pieces: SampleReel.
	Reel   string `json:"reel,omitempty"`
	Pieces int    `json:"pieces,omitempty"`
	Parts  int    `json:"parts,omitempty"` // SmallerParts
	// Slip is that of the closure with it; Effort 1 is setting another voltage.
	Slip   float64 `json:"slip"`
	Effort float64 `json:"effort"`
}
