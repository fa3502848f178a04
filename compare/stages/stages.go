package stages

import (
	"time"

	"sealworthy/compare/blink"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
	"sealworthy/instruments"
)

// Reading is the whole model at its jack, at one stage and one set of paces.
type Reading struct {
	Stage string    `json:"stage"`
	Jack  string    `json:"jack"`           // that it was measured at, by its name in the plan
	Pace  string    `json:"pace,omitempty"` // as the step's ID says it: "beacon: blink; lamp driver: slow"
	At    time.Time `json:"at"`

	// Where it was read. Its volts are at the source: read back where they can be, else as set.
	scene.Scene
	// VoltsRead: they were read back, so that what was set doesn't matter.
	VoltsRead bool    `json:"volts_read"`
	OnS       float64 `json:"on_s"` // on for so long at the middle of the trace
	// WarmS is OnS with what it had been on before in the same sitting, breaks of
	// less than two minutes between; how warm it still is lies between the two.
	WarmS float64 `json:"warm_s"`

	MeterName string                  `json:"meter_name"` // meter, or supply where it read the draw
	MeterIs   instruments.Description `json:"meter_is"`   // as it described itself; zero: none did
	SupplyIs  instruments.Description `json:"supply_is"`  // the same of the supply
	// Range of the meter, and its limit of error as half-width at this draw.
	Range      string  `json:"range"`
	HalfWidthA float64 `json:"half_width_a"`

	Trace   []blink.Sample `json:"trace,omitempty"` // times from its first reading
	WindowS float64        `json:"window_s"`
	// Sum is set in place of a trace where the groups were measured one by one
	// and taken together: SumOf.
	Sum       *blink.Parted `json:"sum,omitempty"`
	Simulated bool          `json:"simulated,omitempty"` // a simulated bench read it
}

// Verdict says whether a model changed between two stages. The zero Verdict is
// no answer.
type Verdict string

// The verdicts on a change.
const (
	Unchanged Verdict = "unchanged"
	Changed   Verdict = "changed"
	CantTell  Verdict = "can't tell"
)

// Change is a whole model set against the stage before.
type Change struct {
	Stage    string    `json:"stage"`
	Before   string    `json:"before"` // the stage it is compared with
	Jack     string    `json:"jack"`   // that both were measured at
	Pace     string    `json:"pace,omitempty"`
	At       time.Time `json:"at"`
	BeforeAt time.Time `json:"before_at"` // when that was
	Verdict  Verdict   `json:"verdict"`
	// Text says it in one plain sentence.
	Text string `json:"text"`
	// Parts are what is always lit, then each output that blinks; the whole over
	// full cycles where they can't be told apart.
	Parts []Part `json:"parts,omitempty"`
	// Fits are what would change the draw by as much, the likeliest first.
	Fits []Fit `json:"fits,omitempty"`
	// Hidden are groups of which the loss of one branch can't be excluded.
	Hidden    []string `json:"hidden,omitempty"`
	Why       string   `json:"why,omitempty"`       // why it can't be told
	Settle    []string `json:"settle,omitempty"`    // what would settle it
	Notes     []string `json:"notes,omitempty"`     // in plain words, for a person
	Simulated bool     `json:"simulated,omitempty"` // one of both is of a simulated bench
}

// Part is one part of the draw of a whole model at two stages. All in A.
type Part struct {
	What      string   `json:"what"`             // "all that is always lit", or the output
	Groups    []string `json:"groups,omitempty"` // that hang on it
	BeforeA   float64  `json:"before_a"`
	BeforeU   float64  `json:"before_u"`
	NowA      float64  `json:"now_a"`
	NowU      float64  `json:"now_u"`
	ExpectedA float64  `json:"expected_a"`       // now, if nothing changed but the conditions
	DeltaA    float64  `json:"delta_a"`          // now less expected
	U         float64  `json:"u"`                // standard uncertainty of DeltaA
	SmallestA float64  `json:"smallest_a"`       // least current of one branch among its groups; 0: not known
	SeenFromA float64  `json:"seen_from_a"`      // a change that is found 19 times of 20
	Doubts    []Doubt  `json:"doubts,omitempty"` // what U comes from, the largest first
	Verdict   Verdict  `json:"verdict"`
}

// Doubt is one part of an uncertainty.
type Doubt struct {
	What string  `json:"what"` // "room temperature"
	U    float64 `json:"u"`    // A, standard
}

// Fit is something that would change the draw by about as much as it changed.
type Fit struct {
	Group  string     `json:"group"`
	Kind   fault.Kind `json:"kind"`
	What   string     `json:"what"` // "one segment of window strip dark"
	DeltaA float64    `json:"delta_a"`
	Branch bool       `json:"branch,omitempty"` // it is the loss of one branch
	Sigmas float64    `json:"sigmas"`           // how far the change is from it, in standard uncertainties
}

// Comparer compares stages of one plan. One goroutine uses it at a time.
type Comparer struct {
	plan *plan.Plan
	rule rule.Rule
	pr   fault.ReturnPriors
}

// New prepares a comparer; what can have come since the stage before is as probable as in a
// model that came back (nil: fault.DefaultPriors). Both guards of the rule must be positive: a rule without them would
// call everything unchanged.
func New(p *plan.Plan, r rule.Rule, pr *fault.ReturnPriors) (*Comparer, error) {
	if _, err := rule.New(r.K, r.Guard); err != nil {
		return nil, err
	}
	c := &Comparer{plan: p, rule: r, pr: fault.DefaultPriors().Return}
	if pr != nil {
		c.pr = *pr
	}
	return c, nil
}
