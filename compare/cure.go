package compare

import (
	"fmt"

	"sealworthy/compare/budget"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// overloaded is the cause of an output that is overloaded and gives amps, with what
// cures it and the change to the plan that this makes.
func (j *Judge) overloaded(board string, output int, amps float64, text string) Cause {
	return j.cured(Cause{Name: string(fault.Overloaded), Text: text}, board, output, amps)
}

// cured adds the cure to an overloaded output; other causes stay as they are.
func (j *Judge) cured(c Cause, board string, output int, amps float64) Cause {
	if c.Name != string(fault.Overloaded) {
		return c
	}
	cure, err := budget.CureFor(j.Expected.Plan, board, output, amps)
	if err != nil {
		return c
	}
	c.Text += " " + words.Sentence(cure.Text()) + "."
	if _, err := plan.EditWith(j.PlanSource, cure.PathOhms, cure.AllOhms, j.PlanOptions); err == nil {
		c.Edit = fmt.Sprintf("%s = %g", cure.PathOhms, cure.AllOhms)
		c.Text += " Once it's in, change the plan."
	}
	return c
}
