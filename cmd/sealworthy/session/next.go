package session

import (
	"context"
	"slices"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/budget"
)

// Diagnosis is a search for what is wrong with the groups that are in doubt.
type Diagnosis struct {
	How     Sitting // each measurement
	Closure string  // only this one and what closes inside it; "": all
	Group   string  // only this one; "": all
}

// Doubts gives the groups in doubt by what is recorded, with what could be
// measured next. clipped is the group that the clip is on; "": none.
func (d Diagnosis) Doubts(f record.Folded, j *compare.Judge, clipped string) ([]compare.Doubt, error) {
	ds, err := j.Next(compare.HistoryOf(f), d.Closure, clipped)
	if err != nil || d.Group == "" {
		return ds, err
	}
	return slices.DeleteFunc(ds, func(x compare.Doubt) bool { return x.Group != d.Group }), nil
}

// mostNext bounds a diagnosis: more readings of one model tell nothing new.
const mostNext = 40

// Diagnose does the best measurement of all groups, again and again, until nothing
// more can be learned; then it asks what was touched.
func (s *Session) Diagnose(ctx context.Context, d Diagnosis) (file string, err error) {
	clipped := ""
	tried := map[string]bool{}
	for range mostNext {
		f, err := s.Record.folded()
		if err != nil {
			return file, err
		}
		ds, err := d.Doubts(f, s.Judge, clipped)
		if err != nil {
			return file, err
		}
		best, ok := bestOf(ds, tried, s.Desk.Nobody())
		if !ok {
			break
		}
		tried[best.What] = true
		s.Desk.Tell(Event{What: Chosen, Next: &Next{best.Group, best.What, best.Bits}})
		t := d.How
		t.More, t.one = true, func(bud *budget.Budget, o compare.StepOptions) ([]capture.Step, error) {
			return s.oneStep(bud, o, best)
		}
		if file, err = s.Run(ctx, t); err != nil {
			return file, err
		}
		clipped = best.Group
	}
	if len(tried) == 0 || s.Desk.Nobody() || d.How.Stage != compare.Fitted {
		return file, nil
	}
	return s.Run(ctx, Sitting{Stage: d.How.Stage, Last: true})
}

func (s *Session) oneStep(bud *budget.Budget, o compare.StepOptions, x compare.Measurement) ([]capture.Step, error) {
	if x.Look {
		step, err := compare.LookStep(s.Record.Plan, bud, o, x.Group)
		return []capture.Step{step}, err
	}
	step, err := compare.VoltsStep(s.Record.Plan, bud, o, x.Group, x.Volts)
	return []capture.Step{step}, err
}

// bestOf is the measurement that tells most for its effort and was not made
// yet; nobody looks where nobody is.
func bestOf(ds []compare.Doubt, tried map[string]bool, nobody bool) (compare.Measurement, bool) {
	best, ok := compare.Measurement{}, false
	for _, d := range ds {
		for _, x := range d.Next {
			if x.Bits <= 0 || tried[x.What] || x.Look && nobody {
				continue
			}
			if !ok || x.PerEffort() > best.PerEffort() {
				best, ok = x, true
			}
		}
	}
	return best, ok
}
