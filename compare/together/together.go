package together

import (
	"slices"

	"sealworthy/compare/budget"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// Seen is one measured draw of a group, lit, with what was expected of it. For
// a group on a board: what lighting it adds.
type Seen struct {
	Group     string  `json:"group"`
	Volts     float64 `json:"volts"`      // at the supply
	SeriesOhm float64 `json:"series_ohm"` // burden and leads in the expectation
	// Loose: clipped at its own wire, without joints, returns and jack.
	Loose bool `json:"loose,omitempty"`
	// On are the feeds that were on together with it; nil: it was alone.
	On []string `json:"on,omitempty"`

	MeasuredA float64 `json:"measured_a"`
	MeasuredU float64 `json:"measured_u"` // standard uncertainty
	ExpectedA float64 `json:"expected_a"`
	ExpectedU float64 `json:"expected_u"` // standard uncertainty, all of it
	// What ExpectedU is made of: BenchU is common to all readings, Reels to those
	// with pieces of the same reel. What is left is the group's own.
	BenchU float64           `json:"bench_u,omitempty"`
	Reels  []budget.ReelPart `json:"reels,omitempty"`
}

// FromBudget fills the expectation of a reading from its group's budget.
func FromBudget(s Seen, g budget.Group) Seen {
	s.Group = g.Group
	s.ExpectedA, s.ExpectedU, s.BenchU, s.Reels = g.Lit.MeanA, g.Lit.UA, g.Lit.UBenchA, g.Reels
	return s
}

// PlaceKind says what sort of place it is.
type PlaceKind string

// The sorts of place that a resistance can sit in.
const (
	AtJoint  PlaceKind = "joint"
	AtReturn PlaceKind = "return"
	AtBoard  PlaceKind = "board wire"
	AtJack   PlaceKind = "jack"
	AtLeads  PlaceKind = "leads"
)

// Place is where a resistance may sit.
type Place struct {
	Kind PlaceKind `json:"kind"`
	Name string    `json:"name"`
}

// Cause is one common cause, or a class of places that no reading here tells apart.
type Cause struct {
	Kind   fault.Kind `json:"kind"`
	Places []Place    `json:"places,omitempty"` // from the jack down
	Part   string     `json:"part,omitempty"`   // PartFigures: the reel or part
	// How large: Ohms of a place (+Inf never: Open says it), Volts that the
	// supply is off, Factor by which meter or part are off.
	Ohms   float64 `json:"ohms,omitempty"`
	Open   bool    `json:"open,omitempty"`
	Volts  float64 `json:"volts,omitempty"`
	Factor float64 `json:"factor,omitempty"`

	Shows       []string `json:"shows,omitempty"`        // groups that show it
	Against     []string `json:"against,omitempty"`      // groups that hang on it and should show it, but don't
	CantShow    []string `json:"cant_show,omitempty"`    // hang on it, but their own doubt hides it
	NotMeasured []string `json:"not_measured,omitempty"` // hang on it, without a reading that would tell
	Besides     []string `json:"besides,omitempty"`      // off for a reason of their own

	P    float64 `json:"p"`
	Text string  `json:"text"`
	Look string  `json:"look"` // where to look, or what to measure, first
}

// Result is what several groups say together. P of all causes, None, One and
// Several add up to 1.
type Result struct {
	Causes  []Cause `json:"causes,omitempty"` // likeliest first
	None    float64 `json:"none"`             // nothing is wrong
	One     float64 `json:"one"`              // one group has a fault of its own
	Several float64 `json:"several"`          // several groups have, unrelated
	// Alarm: a common cause is likelier than all else together, at least two
	// groups show it, and for each that speaks against it four do.
	Alarm bool `json:"alarm"`
	// Own are the groups that the likeliest explanation gives a fault of their own.
	Own []string `json:"own,omitempty"`
}

// Explains gives the common cause that a group's reading goes back to, where
// there is an alarm: then the group needs no cause of its own.
func (r Result) Explains(group string) (Cause, bool) {
	if !r.Alarm || !slices.Contains(r.Causes[0].Shows, group) {
		return Cause{}, false
	}
	return r.Causes[0], true
}

// Find ranks what the groups have in common. Readings of unknown groups, of
// groups as found and of envelopes are left out; fewer than two groups left
// give a Result without causes. Where a reading is more than three times what is
// due, that group has a fault of its own and says nothing of the others. The
// error says which circuit can't be solved.
func Find(p *plan.Plan, seen []Seen, pr fault.CommonPriors) (Result, error) {
	m, err := newModel(p, seen)
	if err != nil {
		return Result{}, err
	}
	return m.rank(pr)
}
