package compare

import (
	"fmt"
	"hash/fnv"
	"strings"
	"sync"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
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

// Conditions are what an expectation depends on besides the plan.
type Conditions struct {
	Stage        string  // loose: each feed is clipped at its own wire
	Volts        float64 // 0: the jack's own
	SetVolts     float64 // half-width of what the supply may be off; 0: 10 mV
	BurdenOhm    float64 // of the meter
	LeadsOhm     float64
	LeadsHalfOhm float64          // half-width
	AmbientC     *float64         // nil: 25 ±5 degC
	Meter        *budget.Accuracy // its accuracy; nil: not known
	On           []string         // the feeds that are on together; nil: the whole model
}

// roomHalfC is what a thermometer on the bench may be off the model's own
// temperature (common practice, no source).
const roomHalfC = 2

func (c Conditions) at() budget.At {
	at := budget.At{
		Volts: c.Volts, SetVolts: c.SetVolts, BurdenOhm: c.BurdenOhm, LeadsOhm: c.LeadsOhm,
		LeadsHalfOhm: c.LeadsHalfOhm, Loose: c.Stage == Loose, Meter: c.Meter,
		Terminals: c.On,
	}
	if c.AmbientC != nil {
		at.Room = &budget.Room{C: *c.AmbientC, HalfC: roomHalfC}
	}
	return at
}

func (c Conditions) key() string {
	t, m := "?", "?"
	if c.AmbientC != nil {
		t = fmt.Sprint(*c.AmbientC)
	}
	if c.Meter != nil {
		m = fmt.Sprint(*c.Meter)
	}
	return fmt.Sprint(c.Stage == Loose, c.Volts, c.SetVolts, c.BurdenOhm, c.LeadsOhm, c.LeadsHalfOhm, t, m,
		strings.Join(c.On, "\x00"))
}

// Expected makes budgets of one plan and keeps them by their conditions. It is
// safe for use by several goroutines.
type Expected struct {
	Plan *plan.Plan
	seed uint64

	mu   sync.Mutex
	kept map[string]*budget.Budget
}

// NewExpected prepares expectations of a plan. Their seed comes from the
// plan's revision, so that the same plan gives the same answer.
func NewExpected(p *plan.Plan) *Expected {
	h := fnv.New64a()
	h.Write([]byte(p.Revision))
	return &Expected{Plan: p, seed: h.Sum64(), kept: map[string]*budget.Budget{}}
}

// At gives the budget under conditions.
func (e *Expected) At(c Conditions) (*budget.Budget, error) {
	e.mu.Lock()
	defer e.mu.Unlock()
	k := c.key()
	if b, ok := e.kept[k]; ok {
		return b, nil
	}
	b, err := budget.Of(e.Plan, c.at(), e.seed)
	if err != nil {
		return nil, err
	}
	e.kept[k] = b
	return b, nil
}

// peakTrials leave the upper end of a band uncertain by a twentieth of its width.
const peakTrials = 200

// PeakA is the most that a healthy feed draws alone under conditions, A: what the
// range of a meter has to hold.
func (e *Expected) PeakA(c Conditions) (float64, error) {
	at := c.at()
	at.FeedsOnly, at.Trials = true, peakTrials
	b, err := budget.Of(e.Plan, at, e.seed)
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

// ConditionsOf gives the conditions under which a step was measured, as far as
// its record knows them; l are the leads where it doesn't.
func ConditionsOf(r capture.StepRecord, l Leads) Conditions {
	if r.Step.Leads != nil {
		l = *r.Step.Leads
	}
	c := Conditions{
		Stage: r.Stage, Volts: r.Step.Volts, LeadsOhm: l.Ohm, LeadsHalfOhm: l.HalfOhm, AmbientC: r.AmbientC,
	}
	if r.Step.Way == capture.Joined {
		c.On = r.Step.On
	}
	if d, ok := r.Instruments[SupplyName]; ok {
		c.SetVolts = d.SetAccuracy.HalfWidth(r.Step.Volts)
	}
	d, ok := r.Instruments[ammeter(r)]
	if !ok {
		return c
	}
	if g, ok := rangeOf(d, r); ok {
		c.BurdenOhm = g.BurdenOhm
		c.Meter = &budget.Accuracy{OfReading: g.Accuracy.OfReading, FloorA: g.Accuracy.Floor,
			ResolutionA: g.Resolution, RangeA: g.Max}
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
	for x := range r.Each(ammeter(r), instruments.Current) {
		name = x.Range
	}
	for _, g := range d.Ranges {
		if g.Quantity == instruments.Current && (g.Name == name || len(d.Ranges) == 1) {
			return g, true
		}
	}
	return instruments.Range{}, false
}
