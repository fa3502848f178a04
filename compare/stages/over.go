package stages

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
)

// series is what may be compared over the stages.
type series struct{ jack, pace string }

// oneSitting is within which the warmer of two readings counts, not the later.
const oneSitting = 2 * time.Hour

// Over compares, over all that was recorded of a build, the whole model at each
// stage with the stage before at which it was measured, for each set of paces.
// The latest reading of a stage counts. Where the whole wasn't measured before,
// its groups are taken together, each measured alone (SumOf). Changes are in the
// order of stages; warnings say which readings couldn't be compared, and why.
func (c *Comparer) Over(steps []capture.StepRecord, l compare.Leads) ([]Change, []string) {
	latest := map[series]map[string]Reading{}
	var all []series
	var warnings []string
	var w warmth
	for _, r := range steps {
		if r.Step.Kind != capture.Whole {
			continue
		}
		before := w.before(r)
		if r.Outcome != capture.Measured {
			continue
		}
		x, err := ReadingOf(r, l)
		if err != nil {
			warnings = append(warnings, fmt.Sprintf("the whole model at stage %q: %v", r.Stage, err))
			continue
		}
		if !strings.HasPrefix(r.Step.ID, forRecord+"/") {
			// A trace of the warming up of a return: at service voltage it is as good.
			if r.Step.Press > 0 || r.Step.Volts != c.jackVolts(x.Jack) {
				continue
			}
			if x.Pace, err = c.firstPaces(x); err != nil {
				continue
			}
		}
		x.WarmS += before
		k := series{x.Jack, x.Pace}
		if latest[k] == nil {
			latest[k] = map[string]Reading{}
			all = append(all, k)
		}
		if old, ok := latest[k][x.Stage]; ok && x.At.Sub(old.At) < oneSitting && old.OnS > x.OnS {
			continue // warmer, in the same sitting
		}
		latest[k][x.Stage] = x
	}
	var out []Change
	for _, k := range all {
		var before *Reading
		for _, stage := range compare.Stages() {
			x, ok := latest[k][stage]
			if !ok {
				continue
			}
			if before == nil {
				if s, err := c.SumOf(steps, l, x); err == nil {
					before = &s
				}
			}
			if before != nil {
				ch, err := c.Compare(*before, x)
				if err != nil {
					warnings = append(warnings, fmt.Sprintf("the whole model at stage %q against %q: %v", x.Stage,
						before.Stage, err))
				} else {
					out = append(out, ch)
				}
			}
			before = &x
		}
	}
	slices.SortStableFunc(out, func(a, b Change) int {
		return slices.Index(compare.Stages(), a.Stage) - slices.Index(compare.Stages(), b.Stage)
	})
	return out, warnings
}

// shortBreak between two steps lets a model cool down a little only.
const shortBreak = 2 * time.Minute

// warmth adds up for how long a model has been on.
type warmth struct {
	until time.Time
	onS   float64
}

// before says for how long the model of a step had been on before it, in one
// sitting.
func (w *warmth) before(r capture.StepRecord) float64 {
	if r.On.IsZero() || r.Ended.Before(r.On) {
		return 0
	}
	if gap := r.On.Sub(w.until); gap < 0 || gap > shortBreak {
		w.onS = 0
	}
	before := w.onS
	w.onS += r.Ended.Sub(r.On).Seconds()
	w.until = r.Ended
	return before
}

func (c *Comparer) jackVolts(jack string) float64 {
	j, _ := c.plan.Jack(jack)
	return j.Volts
}

// firstPaces names the paces of power-on as the record of a whole model does.
func (c *Comparer) firstPaces(x Reading) (string, error) {
	m, err := c.newModel(x)
	if err != nil {
		return "", err
	}
	w, err := m.at(x.Scene)
	if err != nil {
		return "", err
	}
	var words []string
	for i, b := range c.plan.Boards {
		if w.Boards[i].Here && m.isOn(b.Name) && len(b.Paces) > 0 {
			words = append(words, b.Name+": "+b.Paces[0].Name)
		}
	}
	return strings.Join(words, "; "), nil
}
