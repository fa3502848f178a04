package compare

import (
	"math"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/belief"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// former is what a group was by the plan when a reading of it was taken that didn't fit, so that
// the plan may have been changed to fit the reading.
type former struct {
	judge   *Judge // by the plan of then
	group   plan.Group
	reading Finding // the first that didn't fit
}

// formerly is what is left of that in a finding which passes only by the plan of now.
type formerly struct {
	cause  *Cause // what is wrong if the plan was right; nil: that isn't known
	settle []string
}

// formers are what a group was by earlier plans that a reading didn't fit, each once. That it was
// touched since takes none away: what the plan says now may still have come from that reading.
func (j *Judge) formers(g plan.Group, h History) []former {
	is := plannedOf(g)
	var out []former
	var seen []string
	for _, r := range h.Steps {
		was := r.Step.Planned[g.Name]
		if was == "" || was == is || slices.Contains(seen, was) || j.isExtra(r) {
			continue
		}
		judge, err := j.asPlanned(g.Name, was)
		if err != nil {
			continue // nobody can say how it lay then
		}
		if f, ok := judge.misfit(r, g.Name); ok {
			seen = append(seen, was)
			x, _ := judge.Expected.Plan.Group(g.Name)
			out = append(out, former{judge, x, f})
		}
	}
	return out
}

// misfit: a reading didn't fit the plan, by itself.
func (j *Judge) misfit(r capture.StepRecord, group string) (Finding, bool) {
	fs, err := j.Step(r)
	if err != nil {
		return Finding{}, false
	}
	for _, f := range fs {
		outside := f.MeasuredA < f.Band.LowA || f.MeasuredA > f.Band.HighA
		if f.Group == group && (fails(f.Verdict) || f.Verdict == CantTell && !f.Unread && f.Readings > 0 && outside) {
			return f, true
		}
	}
	return Finding{}, false
}

// asPlanned is the judge by the plan with a group as the record keeps it; made once.
func (j *Judge) asPlanned(group, kept string) (*Judge, error) {
	key := group + "\x00" + kept
	j.mu.Lock()
	defer j.mu.Unlock()
	if x, ok := j.former[key]; ok {
		return x, nil
	}
	lights, err := plannedLights(kept)
	if err != nil {
		return nil, err
	}
	p := *j.Expected.Plan
	p.Groups = slices.Clone(p.Groups)
	if i := p.GroupAt(group); i >= 0 {
		p.Groups[i].Lights = lights
	}
	x := &Judge{Expected: NewExpected(&p), Rule: j.Rule, Leads: j.Leads, Priors: j.Priors, OneReading: j.OneReading}
	if j.former == nil {
		j.former = map[string]*Judge{}
	}
	j.former[key] = x
	return x, nil
}

// agreeWithFormer leaves open what passes, or would, only by a plan that was changed after a
// reading which didn't fit it: that the plan was right and something is broken stays as probable
// beside the plan of now as the readings and the eye make it. Of those that are lit, counted since,
// the eye says more than any current can.
//
//	P(healthy) = P(healthy | plan of now) s L / (s L + sum of L_i)
//
// s is the prior odds of the plan being wrong in that way, L the density of all that was read and
// seen by the plan of now, L_i that by each plan of before.
func (j *Judge) agreeWithFormer(f *Finding, g plan.Group, eye look.Look, h History) {
	if f.Verdict != InBand && f.Verdict != CantTell || f.asFound {
		return
	}
	all := j.formers(g, h)
	if len(all) == 0 {
		return
	}
	share, cause := j.nowAgainst(*f, all, eye)
	f.PHealthy *= share
	if f.Verdict == InBand && (f.PHealthy >= belief.SurePass || f.evidence == nil && share == 1) {
		return
	}
	settle := whatSettlesChange(g, all, eye)
	if f.Verdict == CantTell { // for reasons of its own, as well
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

// whatSettlesChange is what parts the plan of now from those of before: a count, where they differ
// in number and nobody counted.
func whatSettlesChange(g plan.Group, all []former, eye look.Look) []string {
	n := look.HowMany(g)
	if eye.Lit == 0 && slices.ContainsFunc(all, func(x former) bool { return look.HowMany(x.group) != n }) {
		return []string{words.CountChanged(g.Name, n)}
	}
	return []string{words.SecondVolts, words.AsItIs}
}

// lightsIn says what a group is made of.
func lightsIn(g plan.Group) string {
	var out []string
	for _, l := range g.Lights {
		out = append(out, words.Lights(l))
	}
	return words.List(out)
}

// nowAgainst is how probable the plan of now is against those of before, 0 to 1, and what is
// likeliest wrong by those. What can't be computed is decided by a count alone.
func (j *Judge) nowAgainst(f Finding, all []former, eye look.Look) (share float64, cause *Cause) {
	counted := 0.0
	if eye.Saw == look.AllLit && eye.Lit > 0 {
		counted = 1
	}
	if f.evidence == nil {
		return counted, nil
	}
	lit := eye
	lit.Lit = 0 // of how many lights is weighed beside it
	now, err := j.logDensity(f.evidence, lit)
	if err != nil {
		return counted, nil
	}
	before, most := 0.0, math.Inf(-1)
	for _, x := range all {
		was, err := x.judge.logDensity(f.evidence, lit)
		if err != nil {
			return counted, nil
		}
		was += j.priors().Eye.LogOfOtherCount(eye, x.group)
		rel := was - now - math.Log(x.judge.oddsOf(x.group, j.Expected.Plan))
		before += math.Exp(rel)
		if rel > most {
			most = rel
			cause = x.judge.likeliest(f, lit)
		}
	}
	share = 1 / (1 + before)
	if cause != nil {
		cause.P = round2(cause.P * (1 - share))
	}
	return share, cause
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
	e := *f.evidence
	e.others, e.earlier = nil, nil
	w, err := j.weighBy(&e, eye, false)
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
	now, _ := is.Group(g.Name)
	p := 0.0
	for _, s := range fault.Suspects(j.Expected.Plan, nil, g.Name, j.PlanOptions, j.priors().Plan) {
		if x, ok := s.Plan.Group(g.Name); ok && plannedOf(x) == plannedOf(now) {
			p += s.Prior
		}
	}
	return math.Max(p, unlistedOdds)
}
