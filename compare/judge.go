package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/belief"
	"sealworthy/compare/budget"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/words"
)

// Judge makes findings of single steps. It holds no state but the budgets it
// has asked for, and is safe for use by several goroutines.
type Judge struct {
	Expected *Expected
	Rule     rule.Rule
	Leads    Leads         // between supply and model, besides the meter
	Priors   *fault.Priors // nil: the defaults
	// PlanSource is the plan's file and PlanOptions what it was read with: where a
	// change to the plan would explain a draw, it is offered. Without it other
	// parts aren't thought of.
	PlanSource  []byte
	PlanOptions plan.Options
	Where       *time.Location // whose clock tells the times that are said; nil: UTC
	// PlanOnly leaves out what groups tell of each other's reels, and OneReading
	// the readings at other voltages: what a test without them would say.
	PlanOnly, OneReading bool

	mu        sync.Mutex
	ensembles map[string]*belief.Ensemble
	former    map[string]*Judge // by a group and what it was by an earlier plan
}

// NewJudge prepares a judge; the rule is checked.
func NewJudge(e *Expected, r rule.Rule, l Leads) (*Judge, error) {
	if _, err := rule.New(r.K, r.Guard); err != nil {
		return nil, err
	}
	return &Judge{Expected: e, Rule: r, Leads: l}, nil
}

func (j *Judge) priors() fault.Priors {
	if j.Priors != nil {
		return *j.Priors
	}
	return fault.DefaultPriors()
}

// expectation is what a healthy light draws in a step, all in A.
type expectation struct {
	meanA, u  float64
	band      Band
	smallestA float64
}

// modelRel is what the device model itself is taken to be off, a standard
// uncertainty as a fraction of the draw: warm-up while it is read, the diode law
// between the points of a part (common practice, no source).
const modelRel = 0.005

func fromDraw(d budget.Draw, smallest float64) expectation {
	return expectation{meanA: d.MeanA, u: math.Hypot(d.UA, modelRel*d.MeanA),
		band: Band{d.LowA, d.HighA, budget.Coverage}, smallestA: smallest}
}

// Step gives one finding for each group that a step can tell something of. A
// look or a wiggle tells nothing of a current and gives none.
func (j *Judge) Step(r capture.StepRecord) ([]Finding, error) { return j.stepOf(r, nil) }

// stepOf also takes, for some of its groups, the mean of several measurements in
// place of its own.
func (j *Judge) stepOf(r capture.StepRecord, pool map[string]poolDraw) ([]Finding, error) {
	if r.Step.Kind != capture.Power {
		return nil, nil
	}
	b, err := j.Expected.of(r, j.Leads)
	if err != nil {
		return nil, fmt.Errorf("expected draw of %q: %w", r.Step.Feed, err)
	}
	var out []Finding
	for _, name := range r.Step.Groups {
		g, ok := j.Expected.Plan.Group(name)
		if !ok {
			continue // the plan lost this group after the reading
		}
		out = append(out, j.blank(r, g))
	}
	if len(out) == 0 {
		return nil, nil
	}
	s := step{j: j, r: r, b: b, t: traceOf(r), pool: pool}
	if s.endedBadly(out) {
		return out, nil
	}
	if why := s.t.whyUnusable(); why != "" {
		for i := range out {
			out[i].Unread = true
			out[i].untold(why + ": measure it again")
		}
		return out, nil
	}
	switch board, onBoard := j.Expected.Plan.Board(r.Step.Board); {
	case onBoard:
		s.board(board, out)
		if !j.OneReading {
			s.boardPoints(board, out)
		}
	case r.Step.Way == capture.Joined && len(out) > 1:
		s.joined(out)
	default:
		s.group(&out[0])
	}
	return out, nil
}

// simulated: a rig answered in it, or its time was simulated.
func simulated(r capture.StepRecord) bool {
	for _, d := range r.Instruments {
		if d.Simulated {
			return true
		}
	}
	return r.Simulated
}

// step is one step under judgement.
type step struct {
	j *Judge
	r capture.StepRecord
	b *budget.Budget
	t trace
	// pool is the mean draw of groups that were measured several times.
	pool map[string]poolDraw
	// plain leaves probabilities out: only what is measured is asked for.
	plain bool
}

func (j *Judge) blank(r capture.StepRecord, g plan.Group) Finding {
	f := Finding{
		Group: g.Name, Closure: g.Closure, Board: g.Board, Output: g.Output, Pace: r.Step.Pace, Sealed: g.Sealed,
		Stage: r.Stage,
		Way:   string(r.Step.Way), Verdict: NotMeasured, VoltsSet: r.Step.Volts, StepID: r.Step.ID, At: r.Ended,
		Simulated: simulated(r), record: &r,
	}
	if r.Step.PlanRevision != "" && r.Step.PlanRevision != j.Expected.Plan.Revision {
		f.PlanChanged = true
		f.Notes = append(f.Notes, words.PlanChanged)
	}
	return f
}

// endedBadly fills in findings of a step that gave no whole trace.
func (s step) endedBadly(out []Finding) bool {
	switch s.r.Outcome {
	case capture.Measured:
		return false
	case capture.Tripped:
		for i := range out {
			s.tripped(&out[i])
		}
		return true
	}
	for i := range out {
		reason := s.r.Reason
		if reason == "" {
			reason = string(s.r.Outcome)
		}
		out[i].Verdict = NotMeasured
		out[i].Notes = append(out[i].Notes, string(s.r.Outcome)+": "+reason)
		out[i].Settle = append(out[i].Settle, "measure it")
	}
	return true
}

// tripped judges a step that was stopped because too much flowed.
func (s step) tripped(f *Finding) {
	f.Verdict = High
	f.VoltsSet = s.r.TripVolts
	last := readingsTrace(slices.Values(lastReadings(s.r)))
	f.MeasuredA, f.MeasuredU, f.Readings = last.meanA, last.u, last.n
	most := s.allowedA()
	if c, err := s.b.Curve(s.r.Step.Feed, max(s.r.TripVolts, 0.1)); err == nil && len(c) == 1 {
		f.ExpectedA, f.ExpectedU = c[0].NominalA, c[0].UA
		// Less than a tenth of a milliampere is nothing at the bench.
		f.Band = Band{c[0].LowA, max(c[0].HighA, 1e-4), budget.Coverage}
		if most > 0 && most < limitSlack*c[0].HighA+limitSlackA {
			// A healthy feed would have tripped as well, so this tells nothing.
			f.Verdict, f.Unread = CantTell, true
			f.Notes = append(f.Notes, fmt.Sprintf("stopped at %s V, where the test may give it %s at most",
				words.Number(s.r.TripVolts, 0.1), words.Milliamps(most, 0)))
			f.Settle = append(f.Settle, fmt.Sprintf("as planned it draws up to %s here, the test may give it %s: %s "+
				"sets that limit; use a larger jack or a thicker wire, or measure it in smaller parts",
				words.Milliamps(c[0].HighA, f.ExpectedU), words.Milliamps(most, 0), s.boundBy()))
			return
		}
	}
	why := "stopped: " + s.r.Reason
	if !strings.HasPrefix(s.r.Reason, "at ") {
		why = fmt.Sprintf("stopped at %s V: %s", words.Number(s.r.TripVolts, 0.1), s.r.Reason)
	}
	f.Notes = append(f.Notes, why)
	f.Causes = s.tripCauses(*f)
	if len(s.r.Step.Groups) > 1 {
		f.Settle = append(f.Settle, words.OneAtATime)
	}
}

// boundBy says what sets the limit of a step.
func (s step) boundBy() string {
	if s.r.Step.Bound == "" { // measured before it was kept
		return "the meter jack's fuse, the thinnest wire to it or the supply"
	}
	return s.r.Step.Bound
}

// limitSlack times its most a healthy feed must be allowed, and limitSlackA more,
// for a supply may hold the current back below the limit that was set: a trip
// under less is no finding. Less than what an unbound limit leaves (common
// practice, no source).
const (
	limitSlack  = 1.05
	limitSlackA = 0.003
)

// allowedA is what the ramp allowed at the voltage of a trip.
func (s step) allowedA() float64 {
	most := 0.0
	for _, p := range s.r.Step.Ramp {
		if p.Volts <= s.r.TripVolts+1e-9 {
			most = p.MaxA
		}
	}
	return most
}

// group judges a feed that holds one group on a joint.
func (s step) group(f *Finding) {
	g, _ := s.b.GroupNamed(f.Group)
	pg, _ := s.j.Expected.Plan.Group(f.Group)
	measured, u := s.t.meanA, s.t.u
	if s.r.Step.Way == capture.Added {
		base := baseTrace(s.r)
		base.byHand = s.t.byHand
		if base.whyUnusable() != "" {
			f.untold("what was on before was not read long enough: measure it again, or alone")
			return
		}
		// The limit of error of one meter in one range at two near values is
		// mostly common; both are counted in full, which can only widen.
		measured, u = measured-base.meanA, math.Hypot(u, base.u)
	}
	f.MeasuredA, f.MeasuredU, f.Readings = measured, u, s.t.n
	switch {
	case pg.AsFound:
		f.Verdict, f.asFound = CantTell, true
		f.Notes = append(f.Notes, words.AsFoundNote)
		f.Settle = append(f.Settle, words.LookAtIt)
		return
	case hasEnvelope(pg):
		s.envelope(f, pg, g.Lit)
		return
	}
	s.decide(f, fromDraw(g.Lit, g.SmallestA))
}

// decide sets the verdict of f from its measured and expected draw.
func (s step) decide(f *Finding, e expectation) {
	if p, ok := s.pool[f.Group]; ok && !s.plain {
		f.MeasuredA, f.MeasuredU, f.Readings, f.pool = p.amps, p.u, p.n, &p
	}
	f.ExpectedA, f.ExpectedU, f.Band, f.SmallestA = e.meanA, e.u, e.band, e.smallestA
	u := math.Hypot(e.u, f.MeasuredU)
	f.Verdict = verdictOf(s.j.Rule.Decide(f.MeasuredA, e.meanA, u, e.smallestA))
	was := f.Settle
	f.Why, f.Settle = s.whatSettles(*f, u)
	f.Settle = append(slices.Clone(was), f.Settle...)
	s.weigh(f, was)
	if f.Verdict != CantTell {
		f.Why, f.Settle = "", was
	}
}

// envelope judges a load without a pace on its lowest and highest draw, as the
// meter reads them: with its converter, and with the lights beside it.
func (s step) envelope(f *Finding, g plan.Group, lit budget.Draw) {
	for _, l := range g.Lights {
		if l.Envelope != nil {
			f.Notes = append(f.Notes, fmt.Sprintf("judged on its envelope in state %q", l.Envelope.State))
		}
	}
	low, high := lit.WorstLowA, lit.WorstHighA
	f.ExpectedA, f.Band = lit.MeanA, Band{low, high, 1}
	slack := s.j.Rule.K * s.t.halfWidth / math.Sqrt(3)
	switch {
	case s.t.mostA > high+slack:
		f.Verdict = High
	case s.t.leastA < low-slack:
		f.Verdict = Low
	default:
		// An envelope can't show the loss of one light.
		f.Verdict = CantTell
		f.Settle = append(f.Settle, words.InItsEnvelope)
		return
	}
	f.Causes = s.causes(*f)
}
