package compare

import (
	"errors"
	"math"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/belief"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/words"
)

// former is what a group was by the plan when a reading of it was taken that didn't fit, so that
// the plan may have been changed to fit the reading.
type former struct {
	judge   *Judge // by the plan of then
	group   plan.Group
	reading Finding // the first that didn't fit
	edits   edits   // what the plan says otherwise now
}

// formerly is what is left of that in a finding which passes only by the plan of now.
type formerly struct {
	cause  *Cause // what is wrong if the plan was right; nil: that isn't known
	settle []string
}

// rival is how probable it is that a plan of before was right and something is broken, and what most likely.
type rival struct {
	p  float64
	of fault.Kind
}

// beside brings what is wrong by the plan of now to what the plans of before leave it.
func (r rival) beside(kinds map[fault.Kind]float64) map[fault.Kind]float64 {
	for k := range kinds {
		kinds[k] *= 1 - r.p
	}
	if r.p > 0 {
		kinds[r.of] += r.p
	}
	return kinds
}

// formers are what a group was by earlier plans that a reading didn't fit, each once. That it was
// touched since takes none away: what the plan says now may still have come from that reading.
func (j *Judge) formers(g plan.Group, f Finding, h History) []former {
	now := plannedFrom(j.Expected.Plan, g)
	seen := []string{plannedOf(j.Expected.Plan, g.Name)}
	var out []former
	own := false
	for _, r := range h.Steps {
		kept := r.Step.Planned[g.Name]
		switch {
		case slices.Contains(r.Step.Groups, g.Name):
			own = true
		case !own: // one that was there beside it isn't it
			r, kept = j.underOtherName(r, g, f)
		}
		if kept == "" {
			continue
		}
		was, err := plannedThen(kept, now)
		if err != nil || slices.Contains(seen, was.kept()) {
			continue // nobody can say how it lay then; or it's no other
		}
		judge := j.asPlanned(g.Name, was)
		if m, ok := judge.misfit(r, g.Name, f); ok {
			seen = append(seen, was.kept())
			x, _ := judge.Expected.Plan.Group(g.Name)
			out = append(out, former{judge, x, m, editsOf(was, now, g)})
		}
	}
	return out
}

// underOtherName is a step in which a group was read that the plan doesn't have any more and that drew what this one
// draws, as far as a reading tells: it may be this one, by another name. kept is what was planned of it then; empty:
// there is none.
func (j *Judge) underOtherName(r capture.StepRecord, g plan.Group, f Finding) (as capture.StepRecord, kept string) {
	if r.Step.Kind != capture.Power || len(r.Step.Groups) != 1 {
		return r, ""
	}
	name := r.Step.Groups[0]
	if _, ok := j.Expected.Plan.Group(name); ok {
		return r, ""
	}
	t := traceOf(r)
	if t.n == 0 || math.Abs(t.meanA-f.MeasuredA) >= j.Rule.K*math.Hypot(math.Hypot(t.u, f.MeasuredU),
		modelRel*f.MeasuredA) {
		return r, ""
	}
	kept = r.Step.Planned[name]
	r.Step.Groups = []string{g.Name}
	if r.Step.Feed == name {
		r.Step.Feed, r.Step.On = g.Name, []string{g.Name}
	}
	return r, kept
}

// misfit: a reading didn't fit the plan, by itself or with all that was read since. What was read below the service
// voltage decides nothing by itself.
func (j *Judge) misfit(r capture.StepRecord, group string, since Finding) (Finding, bool) {
	fs, err := j.Step(r)
	if err != nil {
		return Finding{}, false
	}
	for _, f := range fs {
		if f.Group != group {
			continue
		}
		outside := f.MeasuredA < f.Band.LowA || f.MeasuredA > f.Band.HighA
		if !j.isExtra(r) && (fails(f.Verdict) || f.Verdict == CantTell && !f.Unread && f.Readings > 0 && outside) {
			return f, true
		}
		w, err := j.weighAlone(since, look.Look{})
		return f, err == nil && failed(w)
	}
	return Finding{}, false
}

// weighAlone weighs all that was read of a finding by this plan, without what others tell.
func (j *Judge) weighAlone(f Finding, eye look.Look) (weighed, error) {
	if f.evidence == nil {
		return weighed{}, errNothingRead
	}
	e := *f.evidence
	e.others, e.earlier = nil, nil
	return j.weighBy(&e, eye, false)
}

var errNothingRead = errors.New("nothing was read that could be weighed")

func failed(w weighed) bool {
	return w.decision.Verdict == rule.FailLow || w.decision.Verdict == rule.FailHigh
}

// asPlanned is the judge by the plan with a group as it was planned; made once.
func (j *Judge) asPlanned(group string, was planned) *Judge {
	key := group + "\x00" + was.kept()
	j.mu.Lock()
	defer j.mu.Unlock()
	if x, ok := j.former[key]; ok {
		return x
	}
	x := &Judge{Expected: NewExpected(was.into(j.Expected.Plan, group)), Rule: j.Rule, Leads: j.Leads, Priors: j.Priors,
		OneReading: j.OneReading}
	if j.former == nil {
		j.former = map[string]*Judge{}
	}
	j.former[key] = x
	return x
}

// agreeWithFormer leaves open what passes, or would, only by a plan that was changed after a
// reading which didn't fit it: that the plan was right and something is broken stays as probable
// beside the plan of now as the readings and the eye make it. What is told apart from any draw, a
// count of what is lit, what is read on the pieces, says more than any current can.
//
//	P(healthy) = (P(healthy | now) s L + sum of P(healthy | i) L_i) / (s L + sum of L_i)
//
// s is the prior odds of the plan being wrong in that way, L the density of all that was read and
// seen by the plan of now, L_i that by each plan of before.
func (j *Judge) agreeWithFormer(f *Finding, g plan.Group, eye look.Look, h History) {
	if f.Verdict != InBand && f.Verdict != CantTell {
		return
	}
	all := j.formers(g, *f, h)
	if len(all) == 0 {
		return
	}
	var cause *Cause
	passes := false
	f.PHealthy, passes, cause = j.nowAgainst(f, all, eye)
	if f.Verdict == InBand && passes {
		return
	}
	settle := whatSettlesChange(g, all, eye)
	if f.Verdict == CantTell && !g.AsFound { // for reasons of its own, as well
		for _, s := range slices.Backward(settle) {
			if !slices.Contains(f.Settle, s) {
				f.Settle = append([]string{s}, f.Settle...)
			}
		}
		return
	}
	text := ""
	if cause != nil {
		text = cause.Text
	}
	r := all[0].reading
	f.Verdict, f.Excluded, f.formerly = CantTell, nil, &formerly{cause: cause, settle: settle}
	f.Why = words.ChangedAfter(r.MeasuredA, r.MeasuredU, r.Band.LowA, r.Band.HighA, lightsIn(all[0].group),
		lightsIn(g), text)
	f.Settle = settle
}

// whatSettlesChange is what parts the plan of now from those of before: to tell what it says otherwise now, where that
// can be told and wasn't.
func whatSettlesChange(g plan.Group, all []former, eye look.Look) []string {
	lit, other := 0, g.AsFound
	var read []string
	for _, x := range all {
		if x.edits.lit {
			lit = look.HowMany(g)
		}
		other = other || x.edits.other
		for _, r := range x.edits.read {
			if !slices.Contains(read, r) {
				read = append(read, r)
			}
		}
	}
	told := !slices.ContainsFunc(all, func(x former) bool { return !x.edits.told(eye) })
	if other || told || g.Sealed {
		return []string{words.SecondVolts, words.AsItIs}
	}
	return []string{words.TellChanged(g.Name, lit, read, look.RightTold(lit, read))}
}

// lightsIn says what a group is made of.
func lightsIn(g plan.Group) string {
	var out []string
	for _, l := range g.Lights {
		out = append(out, words.Lights(l))
	}
	return words.List(out)
}

// nowAgainst is how probable it is that nothing is wrong by the plan of now against those of before,
// whether that passes, and what is likeliest wrong by those. What can't be computed is decided by what
// was told apart from the draw.
func (j *Judge) nowAgainst(f *Finding, all []former, eye look.Look) (healthy float64, passes bool, cause *Cause) {
	told := !slices.ContainsFunc(all, func(x former) bool { return !x.edits.told(eye) })
	if f.evidence == nil {
		return f.PHealthy, told && !f.asFound, nil
	}
	lit := eye
	lit.Lit = 0 // of how many lights is weighed beside it
	now, err := j.logDensity(f.evidence, lit)
	if err != nil {
		return f.PHealthy, told, nil
	}
	before, well, most := 0.0, 0.0, math.Inf(-1)
	for _, x := range all {
		was, err := x.judge.logDensity(f.evidence, lit)
		if err != nil {
			return f.PHealthy, told, nil
		}
		if x.edits.told(eye) {
			was += j.priors().Eye.LogOfOtherTold(eye, look.HowMany(x.group), x.edits.figures())
		}
		p, inTime := x.healthyStill(*f, lit)
		was += inTime
		rel := was - now - math.Log(x.judge.oddsOf(x.group, j.Expected.Plan))
		before += math.Exp(rel)
		well += math.Exp(rel) * max(0, p)
		if rel > most {
			most = rel
			cause = x.judge.likeliest(*f, lit)
		}
	}
	share := 1 / (1 + before)
	if math.IsInf(before, 1) {
		return 0, false, cause
	}
	if cause != nil {
		cause.P = round2(cause.P * (1 - share))
	}
	f.rival = rival{p: (before - well) * share, of: fault.Unknown}
	if cause != nil {
		f.rival.of = fault.Kind(cause.Name)
	}
	healthy = (f.PHealthy + well) * share
	return healthy, healthy >= belief.SurePass, cause
}

// healthyStill is how probable it is that nothing is wrong by the plan of before, with all that was read since: what
// was broken then may be mended. inTime is the logarithm of what makes an output do in time what that plan doesn't say
// while it draws what it says: 0 where it does as it should.
func (x former) healthyStill(f Finding, eye look.Look) (p, inTime float64) {
	if f.record != nil {
		fs, err := x.judge.Step(*f.record)
		if err != nil {
			return 0, 0
		}
		for _, now := range fs {
			if now.Group == f.Group && now.Pace == f.Pace && paceFailed(now.Verdict) {
				return 0, math.Log(ofOutput(x.judge.priors(), now.Verdict))
			}
		}
	}
	w, err := x.judge.weighAlone(f, eye)
	if err != nil || failed(w) {
		return 0, 0
	}
	return w.decision.Healthy, 0
}

// unknownInTime is how much of what is in no list lets an output run evenly at another pace, with the draw of its
// lights (our own choice, no source).
const unknownInTime = 0.1

// ofOutput is the weight of what makes an output fail in that way, before anything is measured.
func ofOutput(p fault.Priors, v Verdict) float64 {
	switch v {
	case StuckLit:
		return p.Fault.Overloaded
	case StuckDark:
		return p.Fault.StuckDark
	}
	return unknownInTime * p.Unknown // no fault of the list lets it run at another pace
}

// logDensity is the logarithm of the density of what was read and seen, by the plan alone.
func (j *Judge) logDensity(e *evidence, eye look.Look) (float64, error) {
	x, err := j.ensemble(e, false)
	if err != nil {
		return 0, err
	}
	if len(e.groups) > 1 {
		x = x.Of(e.of).Seeing(e.seen)
	}
	return x.LogEvidence(e.readings, eye)
}

// likeliest is what is likeliest wrong by the plan, where anything is.
func (j *Judge) likeliest(f Finding, eye look.Look) *Cause {
	w, err := j.weighAlone(f, eye)
	if err != nil || len(w.result.Classes) == 0 {
		return nil
	}
	c := j.cause(w, w.result.Classes[0])
	return &c
}

// unlistedOdds are those of a plan that is wrong in a way that isn't in the list: as those of the
// rarest that is (our own choice, no source).
const unlistedOdds = 4e-4

// oddsOf are the odds that the plan is wrong about a group in that way in which another one says
// otherwise, before anything is measured.
func (j *Judge) oddsOf(g plan.Group, is *plan.Plan) float64 {
	now, p := plannedOf(is, g.Name), 0.0
	for _, s := range fault.Suspects(j.Expected.Plan, nil, g.Name, j.PlanOptions, j.priors().Plan) {
		if plannedOf(s.Plan, g.Name) == now {
			p += s.Prior
		}
	}
	return math.Max(p, unlistedOdds)
}
