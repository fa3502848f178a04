package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sealworthy/compare/belief"
	"sealworthy/compare/budget"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/rule"
	"sealworthy/compare/wiring"
	"sealworthy/compare/words"
)

// weighed is what an evidence says.
type weighed struct {
	result   belief.Result
	decision belief.Decision
	ensemble *belief.Ensemble
	suspects bool
	counted  bool // what is lit was counted
}

// weigh computes the probabilities after all that was read and seen.
func (j *Judge) weigh(e *evidence, eye look.Look) (weighed, error) {
	w, err := j.weighBy(e, eye, false)
	if err != nil || w.decision.Verdict == rule.Pass || len(e.groups) != 1 {
		return w, err
	}
	// Where it doesn't pass, the plan is a suspect, too.
	return j.weighBy(e, eye, true)
}

func (j *Judge) weighBy(e *evidence, eye look.Look, suspects bool) (weighed, error) {
	x, err := j.ensemble(e, suspects)
	if err != nil {
		return weighed{}, err
	}
	x = x.Given(e.others)
	if e.earlier != nil {
		if x, err = x.After(e.earlier.Measured); err != nil {
			return weighed{}, err
		}
	}
	if len(e.groups) > 1 {
		x = x.Of(e.of).Seeing(e.seen)
	}
	w := weighed{ensemble: x, suspects: suspects, counted: eye.Lit > 0}
	if w.result, err = x.Posterior(e.readings, eye); err != nil {
		return weighed{}, err
	}
	w.decision, err = x.Decide(e.readings, eye, j.Rule)
	return w, err
}

// ensemble is kept by what it depends on: the same group is judged again after
// each step, and after a look.
func (j *Judge) ensemble(e *evidence, suspects bool) (*belief.Ensemble, error) {
	var volts []float64
	for _, r := range e.readings {
		volts = append(volts, r.Volts)
	}
	key := fmt.Sprint(strings.Join(e.groups, "\x00"), volts, e.scene.Key(), suspects)
	j.mu.Lock()
	defer j.mu.Unlock()
	if x, ok := j.ensembles[key]; ok {
		return x, nil
	}
	p := j.Expected.Plan
	if e.scene.Loose {
		p = wiring.Loose(p)
	}
	o := belief.Options{Priors: j.Priors}
	if suspects {
		o.Suspects = fault.Suspects(p, j.source(e), e.groups[0], j.PlanOptions, j.priors().Plan)
	}
	x, err := belief.New(p, e.groups, volts, e.scene, o)
	if err != nil {
		return nil, err
	}
	if j.ensembles == nil {
		j.ensembles = map[string]*belief.Ensemble{}
	}
	j.ensembles[key] = x
	return x, nil
}

// source is the plan's file, where it stands for what was measured: parts that
// are clipped loose are another circuit.
func (j *Judge) source(e *evidence) []byte {
	if e.scene.Loose {
		return nil
	}
	return j.PlanSource
}

// weigh puts probabilities to a finding of which the draw is known, and lets all that
// was read decide. also is what would settle it besides. What draws nothing keeps the verdict
// that its figure alone has, and so does what can't be computed, unless it passed: then it is
// left open.
func (s step) weigh(f *Finding, also []string) {
	if s.plain {
		return
	}
	if f.drawsNothing() {
		f.Causes, f.unweighed = s.nothing(*f), true
		if f.Board == "" && s.r.Step.Volts > 0 {
			f.nothing = s.evidence(*f, false)
		}
		return
	}
	f.evidence, f.plainA = s.evidence(*f, f.Board == "" && !s.j.OneReading), f.ExpectedA
	f.evidence.plan = expectation{f.ExpectedA, f.ExpectedU, f.Band, f.SmallestA}
	later := s // a finding is kept as long as the record: it holds on to no trace
	later.t.atS, later.t.amps = nil, nil
	f.evidence.settles = func(f Finding) (string, []string) {
		why, settle := later.whatSettles(f, math.Hypot(f.ExpectedU, f.MeasuredU))
		return why, slices.Concat(also, settle)
	}
	f.evidence.single = verdictOnly{f.Verdict, f.Why, slices.Clone(f.Settle), len(f.Notes)}
	if err := s.j.conclude(f); err != nil {
		f.leftOpen(fmt.Errorf("how probable it is that nothing is wrong with %q can't be computed: %w", f.Group, err))
		f.evidence, f.unweighed = nil, true
		if f.Verdict != InBand && f.Verdict != CantTell {
			f.Causes = []Cause{{Name: "unknown", Text: err.Error()}}
		}
	}
}

// conclude takes verdict, probability and causes of a finding from all that was read
// of it, and from what others tell.
func (j *Judge) conclude(f *Finding) error {
	e := f.evidence
	w, err := j.weigh(e, look.Look{})
	if err != nil {
		return err
	}
	f.PHealthy, f.Notes = w.decision.Healthy*(1-e.elseway), f.Notes[:e.single.notes]
	f.Also, f.Causes, f.Learned = nil, nil, ""
	j.expectBy(f, w)
	f.Verdict, f.Why, f.Settle = verdictOf(w.decision.Verdict), "", nil
	if f.Verdict == CantTell {
		f.Why, f.Settle = e.single.why, slices.Clone(e.single.settle)
		if e.settles != nil {
			f.Why, f.Settle = j.whyUntold(*f)
		}
		if w.decision.OnlyAbove {
			f.Why, f.Settle = words.AboveIt, []string{words.NextSays}
		}
	}
	f.Excluded = excludedBy(w)
	if w.decision.ByLook && e.earlier != nil {
		f.Notes = append(f.Notes, words.PassedByThen(e.earlier.stage))
	}
	j.sayAlso(f, w)
	if f.Verdict != InBand {
		f.Causes = j.orAnother(j.causesOf(w, *f), *f)
		if x := w.result; x.Common >= leastP {
			f.Causes = append(f.Causes, Cause{Name: string(fault.PartFigures), Text: words.LackInEach(x.CommonReel),
				P: round2(x.Common)})
		}
	}
	return nil
}

// excludedBy is how small a fault a pass still excludes.
func excludedBy(w weighed) *Excluded {
	if w.decision.Verdict != rule.Pass {
		return nil
	}
	x := w.decision.Excluded // of none, where nothing is: that is said, too
	return &Excluded{LossA: x.LossA, JointOhm: x.JointOhm}
}

func verdictOf(o rule.Outcome) Verdict {
	switch o {
	case rule.Pass:
		return InBand
	case rule.FailLow:
		return Low
	case rule.FailHigh:
		return High
	}
	return CantTell
}

// expectBy expects what the plan says, moved by what others tell.
func (j *Judge) expectBy(f *Finding, w weighed) {
	e := f.evidence
	f.ExpectedA, f.ExpectedU, f.Band = e.plan.meanA, e.plan.u, e.plan.band
	if e.others == nil && e.earlier == nil {
		return
	}
	plain, err := j.ensemble(e, w.suspects)
	if err != nil {
		return
	}
	f.ExpectedA += w.ensemble.HealthyA[0] - plain.HealthyA[0]
	rest := max(0, f.ExpectedU*f.ExpectedU-plain.HealthyU[0]*plain.HealthyU[0]) // of what else is in its figures
	u := math.Sqrt(rest + w.ensemble.HealthyU[0]*w.ensemble.HealthyU[0])
	if u > 0.98*f.ExpectedU {
		// The others tell next to nothing, or make it less sure: the band goes with what is expected.
		wider := math.Max(1, u/f.ExpectedU)
		f.Band.LowA = max(0, f.ExpectedA-wider*(e.plan.meanA-e.plan.band.LowA))
		f.Band.HighA = f.ExpectedA + wider*(e.plan.band.HighA-e.plan.meanA)
		f.ExpectedU = u
		return
	}
	f.ExpectedU = u
	f.Learned = words.ExpectedBy(e.others != nil, e.stageBefore(), f.Band.LowA, f.Band.HighA)
	f.Band = Band{max(0, f.ExpectedA-coverageK*u), f.ExpectedA + coverageK*u, budget.Coverage}
}

// coverageK standard uncertainties to each side hold budget.Coverage of a normal
// distribution.
const coverageK = 1.96

// sayAlso lists what was read at other voltages, and says so where it decided.
func (j *Judge) sayAlso(f *Finding, w weighed) {
	x := w.ensemble
	worst, off := -1, 0.0
	for i, r := range f.evidence.readings {
		if i == 0 || i >= len(x.HealthyA) {
			continue
		}
		u := math.Hypot(math.Hypot(r.U, r.CommonU), r.GainU*r.Amps)
		f.Also = append(f.Also, Also{Volts: r.Volts, MeasuredA: r.Amps, MeasuredU: u, ExpectedA: x.HealthyA[i],
			ExpectedU: x.HealthyU[i]})
		if z := math.Abs(r.Amps-x.HealthyA[i]) / math.Hypot(u, x.HealthyU[i]); z > off {
			worst, off = i, z
		}
	}
	first, err := x.Decide(f.evidence.readings[:1], look.Look{}, j.Rule)
	if err != nil {
		return
	}
	f.evidence.single.verdict = verdictOf(first.Verdict)
	if f.evidence.single.verdict == InBand && f.Verdict == InBand &&
		(f.MeasuredA < f.Band.LowA || f.MeasuredA > f.Band.HighA) {
		f.Notes = append(f.Notes, words.EdgeOfBand)
	}
	if worst < 0 || f.Verdict == CantTell || f.Verdict == f.evidence.single.verdict {
		return
	}
	at := f.evidence.readings[worst]
	text := fmt.Sprintf("at %s V it draws %s, expected %s", words.Number(at.Volts, 0.1),
		words.Milliamps(at.Amps, at.U), words.Milliamps(x.HealthyA[worst], x.HealthyU[worst]))
	switch f.Verdict {
	case InBand:
		f.Notes = append(f.Notes, "passed by its draw at two voltages together: "+text)
	default:
		f.Notes = append(f.Notes, "not as planned at two voltages together: "+text)
	}
}
