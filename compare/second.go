package compare

import (
	"fmt"
	"math"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/belief"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// How the second voltage is chosen: among steps of secondStep from secondFrom of
// the service voltage up, for faults that the group can have. A voltage that is
// expected to tell less than leastGain bits more isn't worth its second.
const (
	secondStep   = 0.5   // V
	secondFrom   = 0.25  // of the service voltage: below it most LEDs are dark
	secondBelow  = 0.75  // V, at least, below the service voltage
	leastGain    = 0.05  // bit
	secondFloorA = 3e-5  // what a meter is taken to be off at the least
	secondMeterU = 0.002 // and relative, as common to both readings
	// secondFar: where the smallest fault of interest lies so many standard deviations
	// off, the first reading tells it alone (belief.Decide's two guards).
	secondFar = 3.29 + 1.64
)

// secondVolts chooses at which other voltage a feed is read, too: the one that is
// expected to tell most about what may be wrong with one of its groups, given the
// reading at service voltage. Branches of one kind keep their draws' ratio at every
// voltage, yet how fast the draw falls counts them, where their resistors are known
// better than their LEDs. least is where a board still works.
func (m maker) secondVolts(f budget.Feed, top, least float64) (volts float64, ok bool) {
	candidates := []float64{top}
	for v := math.Ceil(max(secondFrom*top, least)/secondStep) * secondStep; v <= top-secondBelow+
		1e-9; v += secondStep {
		candidates = append(candidates, v)
	}
	if f.AsFound || len(candidates) < 2 {
		return 0, false
	}
	var sum []float64
	for _, groups := range m.unclear(f) {
		for i, b := range m.gains(groups, candidates) {
			if i == len(sum) {
				sum = append(sum, 0)
			}
			sum[i] = max(sum[i], b)
		}
	}
	best := -1
	for i, b := range sum {
		if b > leastGain && (best < 0 || b > sum[best]) {
			best = i
		}
	}
	if best < 0 {
		return 0, false
	}
	return candidates[best+1], true
}

// unclear lists the groups of a feed that have more than one kind of branch, or the
// loss of one of which isn't told by one reading, with what is read together with
// them: all that hangs on one output.
func (m maker) unclear(f budget.Feed) [][]string {
	byOutput := map[int][]string{}
	kinds, near := map[int]int{}, map[int]bool{}
	var outputs []int
	for _, name := range f.Groups {
		g, ok := m.b.GroupNamed(name)
		pg, _ := m.p.Group(name)
		if !ok || g.AsFound || hasEnvelope(pg) {
			return nil
		}
		if kinds[g.Output] == 0 {
			outputs = append(outputs, g.Output)
		}
		byOutput[g.Output] = append(byOutput[g.Output], name)
		kinds[g.Output] += len(g.Losses)
		near[g.Output] = near[g.Output] || g.SmallestA < secondFar*g.Lit.UA
	}
	var out [][]string
	for _, n := range outputs {
		if kinds[n] > 1 || near[n] {
			out = append(out, byOutput[n])
		}
	}
	return out
}

// gains is what a reading at each voltage but the first is expected to tell, in
// bits, after one at the first, if something is wrong.
func (m maker) gains(groups []string, volts []float64) []float64 {
	x, err := belief.New(m.p, groups, volts, m.b.At.Scene, belief.Options{})
	if err != nil {
		return nil
	}
	at := func(v float64) belief.Reading {
		return belief.Reading{Volts: v, U: secondFloorA, GainU: secondMeterU}
	}
	var next []belief.Reading
	for _, v := range volts[1:] {
		next = append(next, at(v))
	}
	bits, err := x.Ahead([]belief.Reading{at(volts[0])}, next)
	if err != nil {
		return nil
	}
	return bits
}

// secondPoint is that voltage as a sweep of one point.
func (m maker) secondPoint(f budget.Feed, top float64) ([]capture.SweepPoint, error) {
	v, ok := m.secondVolts(f, top, 0)
	if !ok {
		return nil, nil
	}
	coarse, err := m.coarse(f.Feed, top)
	if err != nil {
		return nil, err
	}
	return []capture.SweepPoint{m.sweepPoint(v, coarse, false, m.ceiling(f), sweepSettle,
		max(sweepRead, 4*m.o.MeterWindow))}, nil
}

// secondOfBoard is that of a board: read for as long as its pace needs.
func (m maker) secondOfBoard(b plan.Board, f budget.Feed, pace plan.Pace, top float64,
	work capture.RampPoint) []capture.SweepPoint {
	least := b.LowVolts * boardMargin
	if least <= 0 {
		least = 0.6 * top
	}
	v, ok := m.secondVolts(f, top, least)
	if !ok {
		return nil
	}
	read := max(boardReads/2, time.Duration(slowPeriods*pace.PeriodS*float64(time.Second)))
	if pace.Steady() {
		read = steadyReads
	}
	return []capture.SweepPoint{{Volts: v, LimitA: work.LimitA, MaxA: work.MaxA, Settle: boardRest, For: read}}
}

// VoltsStep measures a steady group on a joint at another voltage than the
// service voltage, which is the ramp's end then. The error says why it can't.
func VoltsStep(p *plan.Plan, b *budget.Budget, o StepOptions, group string, volts float64) (capture.Step, error) {
	g, ok := p.Group(group)
	f, found := b.FeedNamed(group)
	if !ok || !found || f.Board {
		return capture.Step{}, fmt.Errorf("group %q can't be measured at another voltage by itself", group)
	}
	m := maker{p: p, b: b, o: o, closure: g.Closure}
	top := m.feedVolts(f)
	if volts <= 0 || volts > top+1e-9 {
		return capture.Step{}, fmt.Errorf("group %q: %.2f V is not between 0 and its %.2f V", group, volts, top)
	}
	m.o.Sweep, m.o.OneVoltage = false, true
	steps, err := m.feed(f)
	if err != nil {
		return capture.Step{}, err
	}
	s := steps[0]
	s.ID += fmt.Sprintf("/at %s V", words.Number(volts, 0.01))
	s.Volts = volts
	if s.Ramp, err = m.groupRamp(f, volts); err != nil {
		return s, err
	}
	return s, hazards(b, o.Allowed, &s)
}

// LookStep powers one feed and asks what is seen of it.
func LookStep(p *plan.Plan, b *budget.Budget, o StepOptions, group string) (capture.Step, error) {
	g, ok := p.Group(group)
	f, found := b.FeedNamed(group)
	if !ok || !found {
		return capture.Step{}, fmt.Errorf("no group %q in the plan", group)
	}
	m := maker{p: p, b: b, o: o, closure: g.Closure}
	s, err := m.whole(capture.Look, []budget.Feed{f})
	if err != nil {
		return s, err
	}
	s.ID = g.Closure + "/" + group + "/look"
	return s, hazards(b, o.Allowed, &s)
}
