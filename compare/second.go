package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/posterior"
)

// How the second voltage is chosen: among steps of secondStep from secondFrom of
// the service voltage up, for faults that the group can have. A voltage that is
// expected to tell less than leastGain bits more isn't worth its second.
const (
	secondStep    = 0.5  // V
	secondFrom    = 0.25 // of the service voltage: below it most LEDs are dark
	secondBelow   = 0.75 // V, at least, below the service voltage
	leastGain     = 0.05 // bit
	secondTrials  = 200
	secondFaults  = 12    // the likeliest, to weigh a voltage by
	secondFloorA  = 3e-5  // what a meter is taken to be off at the least
	secondMeterU  = 0.002 // and relative, as common to both readings
	secondRepeatU = 5e-4
)

// secondVolts chooses at which other voltage a feed of one steady group is read,
// too: the one that is expected to tell most about what may be wrong, given the
// reading at service voltage. None where all branches are of one kind: their
// draws keep their ratio at every voltage.
func (m maker) secondVolts(f budget.Feed, top float64) (volts float64, ok bool) {
	g, found := m.b.GroupNamed(f.Feed)
	pg, _ := groupNamed(m.p, f.Feed)
	if !found || f.AsFound || hasEnvelope(pg) || len(g.Losses) < 2 {
		return 0, false
	}
	candidates := []float64{top}
	for v := math.Ceil(secondFrom*top/secondStep) * secondStep; v <= top-secondBelow+1e-9; v += secondStep {
		candidates = append(candidates, v)
	}
	if len(candidates) < 2 {
		return 0, false
	}
	bits := m.gains(f, candidates)
	best := -1
	for i, b := range bits {
		if b > leastGain && (best < 0 || b > bits[best]) {
			best = i
		}
	}
	if best < 0 {
		return 0, false
	}
	return candidates[best+1], true
}

// gains is what a reading at each voltage but the first is expected to tell, in
// bits, after one at the first, if something is wrong.
func (m maker) gains(f budget.Feed, volts []float64) []float64 {
	x, err := posterior.New(m.p, []string{f.Feed}, volts, posterior.Bench{SeriesOhm: m.b.At.BurdenOhm + m.b.At.LeadsOhm, SetHalfV: m.b.At.SetVolts},
		posterior.Options{Samples: secondTrials, Seed: m.b.Seed, Linear: true})
	if err != nil {
		return nil
	}
	var next []posterior.Reading
	for _, v := range volts[1:] {
		next = append(next, posterior.Reading{Volts: v, U: secondFloorA, GainU: secondMeterU})
	}
	sum := make([]float64, len(next))
	for _, h := range likeliest(x.Hypotheses, secondFaults) {
		first := posterior.Reading{Volts: volts[0], Amps: h.MeanA[0], U: math.Hypot(secondFloorA, secondRepeatU*h.MeanA[0]), GainU: secondMeterU}
		bits, err := x.Information([]posterior.Reading{first}, posterior.Look{}, next)
		if err != nil {
			return nil
		}
		for i, b := range bits {
			sum[i] += h.Prior * b
		}
	}
	total := 0.0
	for _, h := range likeliest(x.Hypotheses, secondFaults) {
		total += h.Prior
	}
	for i := range sum {
		sum[i] /= total
	}
	return sum
}

func likeliest(hs []posterior.Hypothesis, n int) []posterior.Hypothesis {
	hs = slices.Clone(hs)
	slices.SortStableFunc(hs, func(a, b posterior.Hypothesis) int { return cmp.Compare(b.Prior, a.Prior) })
	return hs[:min(n, len(hs))]
}

// secondPoint is that voltage as a sweep of one point.
func (m maker) secondPoint(f budget.Feed, top float64) ([]capture.SweepPoint, error) {
	v, ok := m.secondVolts(f, top)
	if !ok {
		return nil, nil
	}
	coarse, err := m.coarse(f.Feed, top)
	if err != nil {
		return nil, err
	}
	return []capture.SweepPoint{m.sweepPoint(v, coarse, false, m.ceiling(f), sweepSettle, max(sweepRead, 4*m.o.MeterWindow))}, nil
}

// VoltsStep measures a steady group on a joint at another voltage than the
// service voltage, which is the ramp's end then. The error says why it can't.
func VoltsStep(p *plan.Plan, b *budget.Budget, o StepOptions, group string, volts float64) (capture.Step, error) {
	g, ok := groupNamed(p, group)
	f, found := b.FeedNamed(group)
	if !ok || !found || f.Board {
		return capture.Step{}, fmt.Errorf("group %q can't be measured at another voltage by itself", group)
	}
	m := maker{p: p, b: b, o: o, closure: g.Closure}
	top := m.volts(f.Jack)
	if volts <= 0 || volts > top+1e-9 {
		return capture.Step{}, fmt.Errorf("group %q: %.2f V is not between 0 and its %.2f V", group, volts, top)
	}
	m.o.Sweep, m.o.OneVoltage = false, true
	steps, err := m.feed(f)
	if err != nil {
		return capture.Step{}, err
	}
	s := steps[0]
	s.ID += fmt.Sprintf("/at %s V", Number(volts, 0.01))
	s.Volts = volts
	s.Ramp, err = m.groupRamp(f, volts)
	return s, err
}

// LookStep powers one feed and asks what is seen of it.
func LookStep(p *plan.Plan, b *budget.Budget, o StepOptions, group string) (capture.Step, error) {
	g, ok := groupNamed(p, group)
	f, found := b.FeedNamed(group)
	if !ok || !found {
		return capture.Step{}, fmt.Errorf("no group %q in the plan", group)
	}
	m := maker{p: p, b: b, o: o, closure: g.Closure}
	s, err := m.whole(capture.Look, []budget.Feed{f})
	s.ID = g.Closure + "/" + group + "/look"
	return s, err
}
