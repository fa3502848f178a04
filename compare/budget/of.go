package budget

import (
	"errors"

	"sealworthy/compare/plan"
)

// Of makes the budget of a plan. The same plan, conditions and seed give the
// same budget on every machine.
func Of(p *plan.Plan, at At, seed uint64) (*Budget, error) {
	return nil, errors.New("not written yet")
}

type model struct{}

// Curve gives the draw of one feed (group or board) over voltages at the
// source, with burden and leads as in At.
func (b *Budget) Curve(feed string, volts ...float64) ([]RampPoint, error) {
	return nil, errors.New("not written yet")
}
