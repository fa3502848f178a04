package compare

import (
	"hash/fnv"
	"sync"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/instruments"
)

// Stages of a build, in their order.
const (
	Loose     = "loose"
	Fitted    = "fitted"
	Closed    = "closed"
	Delivered = "delivered"
	Returned  = "returned"
)

// Stages lists the stages in their order.
func Stages() []string { return []string{Loose, Fitted, Closed, Delivered, Returned} }

// Expected makes budgets of one plan and keeps them by their scene. It is
// safe for use by several goroutines.
type Expected struct {
	Plan *plan.Plan
	seed uint64

	mu      sync.Mutex
	kept    map[string]*budget.Budget
	checked bool           // binding is known
	binding []budget.Check // the checks of the plan that bind
}

// NewExpected prepares expectations of a plan. Their seed comes from the
// plan's revision, so that the same plan gives the same answer.
func NewExpected(p *plan.Plan) *Expected {
	h := fnv.New64a()
	h.Write([]byte(p.Revision))
	return &Expected{Plan: p, seed: h.Sum64(), kept: map[string]*budget.Budget{}}
}

// At gives the budget at a scene.
func (e *Expected) At(x scene.Scene) (*budget.Budget, error) {
	return e.kindOf(budget.At{Scene: x})
}

// Feeds gives the same without the whole model: what feeds alone draw.
func (e *Expected) Feeds(x scene.Scene) (*budget.Budget, error) {
	return e.kindOf(budget.At{Scene: x, FeedsOnly: true})
}

func (e *Expected) kindOf(at budget.At) (*budget.Budget, error) {
	e.mu.Lock()
	defer e.mu.Unlock()
	k := at.Key()
	whole, ok := e.kept[k]
	if ok {
		return whole, nil
	}
	if at.FeedsOnly {
		k += "feeds"
		if b, ok := e.kept[k]; ok {
			return b, nil
		}
	}
	b, err := budget.Of(e.Plan, at, e.seed)
	if err != nil {
		return nil, err
	}
	e.kept[k] = b
	return b, nil
}

// Binding lists the checks of the plan that bind, in service.
func (e *Expected) Binding() ([]budget.Check, error) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if !e.checked {
		cs, err := budget.Binding(e.Plan, budget.At{})
		if err != nil {
			return nil, err
		}
		e.checked, e.binding = true, cs
	}
	return e.binding, nil
}

// peakTrials leave the upper end of a band uncertain by a twentieth of its width.
const peakTrials = 200

// PeakA is the most that a healthy feed draws alone at a scene, A: what the
// range of a meter has to hold.
func (e *Expected) PeakA(x scene.Scene) (float64, error) {
	b, err := budget.Of(e.Plan, budget.At{Scene: x, FeedsOnly: true, Trials: peakTrials}, e.seed)
	if err != nil {
		return 0, err
	}
	peak := 0.0
	for _, f := range b.Feeds {
		for _, l := range f.Levels {
			peak = max(peak, l.Draw.HighA)
		}
	}
	return peak, nil
}

// Leads is what lies between supply and model besides the meter.
type Leads = capture.Leads

// of gives what is expected of a step, by the scene of its record.
func (e *Expected) of(r capture.StepRecord, l Leads) (*budget.Budget, error) {
	if r.Step.Way == capture.Joined {
		return e.At(SceneOf(r, l))
	}
	return e.Feeds(SceneOf(r, l))
}

// SceneOf gives the scene in which a step was measured, as far as its record knows it;
// l are the leads where it doesn't.
func SceneOf(r capture.StepRecord, l Leads) scene.Scene {
	if r.Step.Leads != nil {
		l = *r.Step.Leads
	}
	c := scene.Scene{
		Loose: r.Stage == Loose, Volts: scene.Given(r.Step.Volts), LeadsOhm: l.Ohm, LeadsHalfOhm: l.HalfOhm,
		Room: scene.Measured(r.AmbientC),
	}
	if r.Step.Way == capture.Joined {
		c.On = r.Step.On
	}
	if d, ok := r.Instruments[SupplyName]; ok {
		c.SetVolts = scene.Given(d.SetAccuracy.HalfWidth(r.Step.Volts))
	}
	d, ok := r.Instruments[Ammeter(r)]
	if !ok {
		return c
	}
	if g, ok := rangeOf(d, r); ok {
		c.BurdenOhm = g.BurdenOhm
		c.Accuracy = accuracyOf(g)
	}
	return c
}

// The names under which readings of the two instruments are recorded.
const (
	MeterName  = "meter"
	SupplyName = "supply"
)

// rangeOf finds the current range in which a trace was read.
func rangeOf(d instruments.Description, r capture.StepRecord) (instruments.Range, bool) {
	name := ""
	for x := range r.Each(Ammeter(r), instruments.Current) {
		name = x.Range
	}
	for _, g := range d.Ranges {
		if g.Quantity == instruments.Current && (g.Name == name || len(d.Ranges) == 1) {
			return g, true
		}
	}
	return instruments.Range{}, false
}
