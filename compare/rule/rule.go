// Package rule is the decision rule: whether a measured draw passes, fails or
// can't be told, with a guard on either side.
package rule

import (
	"fmt"
	"math"
)

// Rule is the decision rule with guard bands, after JCGM 106:2012: a measured
// draw is compared with an expected one under their combined standard
// uncertainty u. K guards the alarm, Guard the pass.
type Rule struct {
	// K: fail when the difference is K u or more. 3.29 leaves one false alarm
	// in 1000 for a normal distribution.
	K float64 `json:"k"`
	// Guard: pass only when the difference is at most the smallest fault of
	// interest less Guard u. 1.64 leaves one fault of that size in 20 passed.
	Guard float64 `json:"guard"`
}

// New makes a rule. Both guards must be positive: a rule without them
// would call everything good.
func New(k, guard float64) (Rule, error) {
	if !(k > 0) || !(guard > 0) || math.IsInf(k, 0) || math.IsInf(guard, 0) {
		return Rule{}, fmt.Errorf("a decision rule needs two positive guards, got k=%g and guard=%g", k, guard)
	}
	return Rule{K: k, Guard: guard}, nil
}

// Default has k = 3.29 and a guard of 1.64.
func Default() Rule { return Rule{K: 3.29, Guard: 1.64} }

// Outcome is what the rule says. The zero Outcome is no valid answer.
type Outcome string

// What the rule can say.
const (
	Pass      Outcome = "pass"
	FailLow   Outcome = "fail low"
	FailHigh  Outcome = "fail high"
	Undecided Outcome = "undecided"
)

// Decide compares measured with expected. u is the standard uncertainty of
// the difference, smallest the smallest fault of interest; all in A. A
// smallest of zero or less (no fault can be named), or a number that isn't
// one, is never a pass.
func (r Rule) Decide(measuredA, expectedA, u, smallestA float64) Outcome {
	d := measuredA - expectedA
	if math.IsNaN(d) || math.IsInf(d, 0) || !(u > 0) || math.IsInf(u, 0) || r.K <= 0 || r.Guard <= 0 {
		return Undecided
	}
	switch {
	case d <= -r.K*u:
		return FailLow
	case d >= r.K*u:
		return FailHigh
	case smallestA > 0 && math.Abs(d) <= smallestA-r.Guard*u:
		return Pass
	}
	return Undecided
}

// CanPass reports whether a pass is possible at all: the smallest fault must
// exceed the guard.
func (r Rule) CanPass(u, smallestA float64) bool { return smallestA > r.Guard*u }
