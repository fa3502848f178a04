package wiring

import (
	"errors"

	"sealworthy/compare/plan"
)

type wire struct{}
type spread struct{}
type branchPlace struct{}

// Build wires up what hangs behind one jack. Errors are *Error and name the
// group, joint or board and its line in the plan.
func Build(p *plan.Plan, jack string, o Options) (*Wired, error) {
	return nil, errors.New("not built yet")
}

func (w *Wired) move(p *Param, deviation float64) {}
func (w *Wired) place(err error) error            { return err }
