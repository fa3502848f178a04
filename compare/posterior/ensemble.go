package posterior

import (
	"errors"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// BranchJoint is a bad joint in one branch: ohms between an LED and its resistor.
const BranchJoint fault.Kind = "bad joint in a branch"

// Hypothesis is one thing that can be wrong: faults that make the same of the
// draw at every voltage.
type Hypothesis struct {
	Faults []fault.Fault // one for each place and kind
	Kinds  []fault.Kind  // the likeliest first
	Group  string
	Prior  float64 // probability before anything is measured
	Places int     // branches or LEDs that it could be
	Lights []int   // lights that it could be in
	Dark   int     // lights that it darkens, as the eye counts
	Dim    int     // lights that it dims or makes far too bright
	// Apply puts it into a circuit; Wired.Reset takes it back. Where it has a grid,
	// at is one of its values: ohms, or how bad it is.
	Apply func(w *wiring.Wired, at float64) error
	// Grid are the values of what is unknown about it, with their weights; a
	// single one without a meaning where nothing is.
	Grid []Node
	// MeanA and U are the draw that it makes, by Ensemble.Volts, over its grid.
	MeanA, U []float64
}

// Node is one value of something unknown with its probability.
type Node struct{ At, Weight float64 }

// Ensemble is what each possible fault of a group makes of its draw.
type Ensemble struct {
	Groups     []string
	Volts      []float64 // by which everything is indexed
	HealthyA   []float64 // mean
	HealthyU   []float64 // standard uncertainty: of the plan and the bench, without the meter
	Hypotheses []Hypothesis
}

var errSoon = errors.New("not computed yet")

// New computes what the possible faults of groups make of their draw at each of
// the voltages. Groups are judged together: one, or those on one output, or all
// that are on; the draw is their sum. On a board it is what lighting the outputs adds.
func New(p *plan.Plan, groups []string, volts []float64, b Bench, o Options) (*Ensemble, error) {
	return nil, errSoon
}

// Posterior gives the probabilities after readings and a look. Their order
// doesn't matter. Without readings it gives the priors and what the look makes of them.
func (e *Ensemble) Posterior(rs []Reading, l Look) (Result, error) { return Result{}, errSoon }

// Decide applies the decision rule to readings jointly; k and guard are those of
// a single one: 3.29 and 1.64.
func (e *Ensemble) Decide(rs []Reading, k, guard float64) (Decision, error) {
	return Decision{}, errSoon
}

// Information is, for each further reading that could be made (its Amps aren't
// used), how many bits about what is wrong it is expected to give.
func (e *Ensemble) Information(rs []Reading, l Look, next []Reading) ([]float64, error) {
	return nil, errSoon
}
