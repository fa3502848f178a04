package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/fault"
	"sealworthy/compare/posterior"
	"sealworthy/compare/reel"
	"sealworthy/compare/wiring"
	"sealworthy/instruments"
)

// evidence is all that was read of one group, or of groups whose draws can't be
// told apart: it goes into the probabilities together.
type evidence struct {
	groups   []string
	readings []posterior.Reading // the one at service voltage first
	bench    posterior.Bench
	loose    bool
	single   verdictOnly // by the reading at service voltage alone
	// learned is what other groups tell of its reels; then its ensembles are its own.
	learned *reel.Learned
	own     map[bool]*posterior.Ensemble
}

// verdictOnly is what of a finding other readings may change.
type verdictOnly struct {
	verdict Verdict
	why     string
	settle  []string
	notes   int
}

// isExtra: a step at another voltage than the service voltage adds to what is
// known of a group and replaces nothing.
func (j *Judge) isExtra(r capture.StepRecord) bool {
	if r.Step.Kind != capture.Power || len(r.Step.Groups) == 0 {
		return false
	}
	return r.Step.Volts < serviceVolts(j.Expected, r.Step.Feed)-0.1
}

// serviceVolts is the voltage at the source of a feed's jack.
func serviceVolts(e *Expected, feed string) float64 {
	m := maker{p: e.Plan}
	b, err := e.At(Conditions{})
	if err != nil {
		return e.Plan.Jacks[0].Volts
	}
	f, ok := b.FeedNamed(feed)
	if !ok {
		return e.Plan.Jacks[0].Volts
	}
	return m.volts(f.Jack)
}

// alsoRead adds what was read of a group at other voltages in steps of their own.
func (j *Judge) alsoRead(f *Finding, extra []capture.StepRecord, since time.Time) {
	if f.evidence == nil || f.Board != "" || len(extra) == 0 {
		return
	}
	e := *f.evidence
	e.readings, e.own = slices.Clone(e.readings), nil
	for _, r := range extra {
		if r.Outcome != capture.Measured || r.Stage != f.Stage || !r.Ended.After(since) || len(r.Step.Groups) != 1 || r.Step.Groups[0] != f.Group || r.Step.Way != capture.Alone {
			continue
		}
		t := traceOf(r)
		if t.whyUnusable() != "" {
			continue
		}
		s := step{j: j, r: r, t: t}
		x := s.evidence(Finding{Group: f.Group, MeasuredA: t.meanA, MeasuredU: t.u}, false)
		one := x.readings[0]
		// With other ohms before it, the same current flows at a voltage that is
		// higher by what they drop more.
		one.Volts += (e.bench.SeriesOhm - x.bench.SeriesOhm) * one.Amps
		e.readings = append(e.readings, one)
	}
	j.rejudge(f, &e)
}

// withMore adds readings at other voltages to a finding.
func (j *Judge) withMore(f *Finding, more []posterior.Reading) {
	e := *f.evidence
	e.readings, e.own = append(slices.Clone(e.readings), more...), nil
	j.rejudge(f, &e)
}

// rejudge lets more readings decide together, from what the first one alone said.
func (j *Judge) rejudge(f *Finding, e *evidence) {
	if len(e.readings) == len(f.evidence.readings) {
		return
	}
	w, err := j.weigh(e, Eye{})
	if err != nil {
		return
	}
	f.evidence, f.Also = e, nil
	f.Verdict, f.Why, f.Settle, f.Notes = e.single.verdict, e.single.why, e.single.settle, f.Notes[:e.single.notes]
	f.PHealthy = w.result.None
	j.jointly(f, w)
	f.Causes = nil
	if f.Verdict != InBand {
		f.Causes = j.causesOf(w, *f)
	}
}

// evidence gathers the readings of a step: at its own voltage as measured in f,
// and at the voltages of its sweep.
func (s step) evidence(f Finding, points bool) *evidence {
	c := ConditionsOf(s.r, s.j.Leads)
	e := &evidence{groups: s.inSum(f), loose: c.Stage == Loose, learned: s.learned}
	e.bench = posterior.Bench{
		SeriesOhm: c.BurdenOhm + c.LeadsOhm, SeriesHalfOhm: c.LeadsHalfOhm, SetHalfV: c.SetVolts,
		AmbientC: c.AmbientC, LimitA: s.r.Step.LimitA(),
	}
	if c.AmbientC != nil {
		e.bench.AmbientHalfC = roomHalfC
	}
	gain := 0.0
	if c.Meter != nil {
		gain = c.Meter.OfReading / math.Sqrt(3)
	}
	add := func(volts, amps, u float64) {
		g := gain
		if own := u*u - g*g*amps*amps; own > 0 {
			u = math.Sqrt(own)
		} else {
			g = 0 // the stated accuracy leaves no room for it: all of u is the reading's own
		}
		e.readings = append(e.readings, posterior.Reading{Volts: volts, Amps: amps, U: u, GainU: g})
	}
	add(s.r.Step.Volts, f.MeasuredA, f.MeasuredU)
	if !points || s.r.Step.Way == capture.Added {
		return e
	}
	for _, i := range s.pointsUsed() {
		t := readingsTrace(s.r.AtPoint(i, ammeter(s.r), instruments.Current))
		if t.n > 0 && t.overloads == 0 && t.unusable == 0 && t.ranges == 1 {
			add(s.r.Points[i].Volts, t.meanA, t.u)
		}
	}
	return e
}

// usedPoints is how many voltages of a sweep are weighed besides the service
// voltage: more tell hardly more, for tolerance is the limit, not noise.
const usedPoints = 3

// pointsUsed picks from the voltages of a sweep, by index: evenly spread between
// its lowest that tells anything and the service voltage.
func (s step) pointsUsed() []int {
	var all []int
	for i, p := range s.r.Points {
		if p.Volts < s.r.Step.Volts-0.1 {
			all = append(all, i)
		}
	}
	if len(all) <= usedPoints {
		return all
	}
	// A full sweep begins below the first knee, where nothing flows.
	var out []int
	for _, part := range []float64{0.75, 0.6, 0.5} {
		best := all[0]
		for _, i := range all {
			if math.Abs(s.r.Points[i].Volts-part*s.r.Step.Volts) < math.Abs(s.r.Points[best].Volts-part*s.r.Step.Volts) {
				best = i
			}
		}
		if !slices.Contains(out, best) {
			out = append(out, best)
		}
	}
	return out
}

// weighed is what an evidence says.
type weighed struct {
	result   posterior.Result
	decision posterior.Decision
	ensemble *posterior.Ensemble
	suspects bool
}

// weigh computes the probabilities after all that was read and seen.
func (j *Judge) weigh(e *evidence, eye Eye) (weighed, error) {
	w, err := j.weighBy(e, eye, false)
	if err != nil || w.decision.Verdict == posterior.Pass || len(e.groups) != 1 {
		return w, err
	}
	// Where it doesn't pass, the plan is a suspect, too.
	return j.weighBy(e, eye, true)
}

func (j *Judge) weighBy(e *evidence, eye Eye, suspects bool) (weighed, error) {
	x, err := j.ensemble(e, suspects)
	if err != nil {
		return weighed{}, err
	}
	w := weighed{ensemble: x, suspects: suspects}
	if w.result, err = x.Posterior(e.readings, eye.look()); err != nil {
		return weighed{}, err
	}
	w.decision, err = x.Decide(e.readings, eye.look(), j.Rule.K, j.Rule.Guard)
	return w, err
}

// look is what was seen as evidence; that something else is wrong counts no lights.
func (e Eye) look() posterior.Look {
	switch {
	case !e.Said || e.Other:
		return posterior.Look{}
	case e.Dark == 0:
		return posterior.Look{Saw: posterior.AllLit, Of: e.Of}
	}
	return posterior.Look{Saw: posterior.SomeDark, Dark: e.Dark, Of: e.Of}
}

// ensemble is kept by what it depends on: the same group is judged again after
// each step, and after a look.
func (j *Judge) ensemble(e *evidence, suspects bool) (*posterior.Ensemble, error) {
	var volts []float64
	for _, r := range e.readings {
		volts = append(volts, r.Volts)
	}
	t := "?"
	if e.bench.AmbientC != nil {
		t = fmt.Sprint(*e.bench.AmbientC)
	}
	b := e.bench
	b.AmbientC = nil
	key := fmt.Sprint(strings.Join(e.groups, "\x00"), volts, b, t, e.loose, suspects)
	j.mu.Lock()
	defer j.mu.Unlock()
	if x, ok := j.ensembles[key]; ok && e.learned == nil {
		return x, nil
	}
	if x, ok := e.own[suspects]; ok && slices.Equal(x.Volts, volts) {
		return x, nil
	}
	p := j.Expected.Plan
	if e.loose {
		p = wiring.Loose(p)
	}
	o := posterior.Options{Seed: j.Expected.seed, Priors: j.Priors, Learned: e.learned}
	if suspects {
		o.Suspects = fault.Suspects(p, j.source(e), e.groups[0], j.PlanOptions)
	}
	x, err := posterior.New(p, e.groups, volts, e.bench, o)
	if err != nil {
		return nil, err
	}
	if e.learned != nil {
		if e.own == nil {
			e.own = map[bool]*posterior.Ensemble{}
		}
		e.own[suspects] = x
		return x, nil
	}
	if j.ensembles == nil {
		j.ensembles = map[string]*posterior.Ensemble{}
	}
	j.ensembles[key] = x
	return x, nil
}

// source is the plan's file, where it stands for what was measured: parts that
// are clipped loose are another circuit.
func (j *Judge) source(e *evidence) []byte {
	if e.loose {
		return nil
	}
	return j.PlanSource
}

// causesOf names what a posterior holds likely.
func (j *Judge) causesOf(w weighed, f Finding) []Cause {
	var out []Cause
	for _, c := range w.result.Classes {
		if len(out) == shownCauses || c.P < leastP || (f.Verdict == CantTell && c.P < 0.5) {
			break
		}
		out = append(out, j.cause(w, c))
	}
	if len(out) == 0 && f.Verdict != CantTell {
		out = []Cause{{Name: "unknown", Text: "none of the usual faults fits: count the lights and compare the parts with the plan", P: round2(w.result.Unknown)}}
	}
	return out
}

func (j *Judge) cause(w weighed, c posterior.Class) Cause {
	r := fault.Ranked{Fault: c.Fault, Kinds: c.Kinds, Groups: len(c.Groups), Places: c.Places, P: c.P}
	if len(c.PredictedA) > 0 {
		r.DeltaA = c.PredictedA[0] - w.ensemble.HealthyA[0]
	}
	// Of look-alikes the plainest is named: what is dark, not why.
	for _, k := range []fault.Kind{fault.DarkSegment, fault.OpenBranch} {
		if slices.Contains(c.Kinds, k) && slices.Contains([]fault.Kind{fault.ReversedLED, posterior.BranchJoint, fault.DecadeOff, fault.CountOff, fault.OtherPart, fault.OtherOhms}, r.Fault.Kind) {
			r.Fault.Kind = k
		}
	}
	text := r.Text(j.Expected.Plan)
	if c.Count > 1 {
		text = fmt.Sprintf("%d at once: %s", c.Count, text)
	}
	edit := ""
	switch x := c.Suspect; {
	case x == nil || !w.suspected(c):
	case r.Fault.Kind == x.Kind:
		text, edit = x.Text(), x.Edit()
	default:
		text, edit = planFirst(*x, text), x.Edit()
	}
	if c.Second != nil {
		second := fault.Ranked{Fault: *c.Second, Kinds: []fault.Kind{c.Second.Kind}}
		text = "two at once: " + text + "; and " + second.Text(j.Expected.Plan)
	}
	switch {
	case len(c.Groups) > 1:
		text = fmt.Sprintf("in one of %d groups, for instance in %q: %s", len(c.Groups), c.Fault.Group, text)
	case len(w.ensemble.Groups) > 1 && !strings.Contains(text, c.Fault.Group):
		text = fmt.Sprintf("in %q: %s", c.Fault.Group, text)
	}
	return Cause{Name: string(r.Fault.Kind), Kinds: kindNames(c.Kinds), Text: text, Place: fault.Place(j.Expected.Plan, r.Fault), P: round2(c.P), Edit: edit}
}

// suspectShare of a class must be the plan's, for the plan to be named with it: a
// light that was counted dark leaves next to nothing.
const suspectShare = 0.05

func (w weighed) suspected(c posterior.Class) bool {
	if c.Fault.Kind == c.Suspect.Kind {
		return true
	}
	p := 0.0
	for _, m := range c.Members {
		if m < len(w.result.Weighed) && w.ensemble.Hypotheses[m].Suspect != nil {
			p += w.result.Weighed[m]
		}
	}
	return p >= suspectShare*c.P
}

// planFirst puts the plan before the light: to count costs nothing. The change to
// the plan stands in a line of its own.
func planFirst(x fault.Suspect, faultText string) string {
	first := "look at the part first"
	switch x.Kind {
	case fault.CountOff:
		first = "count first"
	case fault.OtherOhms:
		first = "read the resistors first"
	}
	return first + "; if the plan is right, " + faultText
}
