package compare

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/belief"
	"sealworthy/compare/look"
	"sealworthy/compare/rule"
	"sealworthy/compare/words"
)

// earlier is what was read and seen of a group at the stage before, of the same pieces.
type earlier struct {
	belief.Measured
	stage string
}

// stageBefore is the stage of what was read before; empty: nothing was.
func (e *evidence) stageBefore() string {
	if e.earlier == nil {
		return ""
	}
	return e.earlier.stage
}

// asBuilt lets what was read and seen of the same pieces at the stage before decide, too:
// how much they draw is known from there, and so is that nothing came since. Whatever was
// wrong with them then may still be.
func (j *Judge) asBuilt(f, before *Finding, h History) {
	if before == nil || f.evidence == nil || j.PlanOnly || !j.sameDraw(*f, *before) {
		return
	}
	x, err := j.ensemble(before.evidence, false)
	if err != nil {
		f.unheeded(before.Stage, err)
		return
	}
	// Its sweep tells of the same pieces once more.
	m := belief.Measured{Ensemble: x, Readings: before.evidence.readings[:1]}
	m.Look = j.seenThen(f.evidence.groups, h, *before)
	was, e := *f, *f.evidence
	e.earlier = &earlier{m, before.Stage}
	f.evidence, f.Notes = &e, slices.Clone(f.Notes)
	if err := j.conclude(f); err != nil {
		*f = was
		f.unheeded(before.Stage, err)
	}
}

// unheeded notes that what was read at the stage before couldn't be weighed with a finding, which
// stands without it.
func (f *Finding) unheeded(stage string, err error) {
	f.Notes = append(slices.Clone(f.Notes), fmt.Sprintf("what was read %s isn't weighed with it: %v", stage, err))
}

// sinceBefore is what a healthy group should read now by what it read at the stage before, and
// the standard uncertainty of their difference: what the pieces are off by is in both, rooms,
// supplies, meters and leads are not, or only where they are the same. Not ok where it can't
// be computed.
func (j *Judge) sinceBefore(f, before Finding) (amps, u float64, ok bool) {
	if f.evidence == nil || before.evidence == nil || !slices.Equal(f.evidence.groups, before.evidence.groups) {
		return 0, 0, false
	}
	if f.record.BeganAt.Sitting() == before.record.BeganAt.Sitting() {
		return 0, 0, false // one room, supply and meter: they differ by what they scatter
	}
	x, err := j.ensemble(f.evidence, false)
	if err != nil {
		return 0, 0, false
	}
	y, err := j.ensemble(before.evidence, false)
	if err != nil {
		return 0, 0, false
	}
	now, then := f.evidence.readings[0], before.evidence.readings[0]
	// A board's own draw, where it is in the figures, is the same in both, but for a converter
	// that it is clipped without when it's loose.
	if f.FiguresOf != "" && (f.Stage == Loose) == (before.Stage == Loose) {
		now.U, then.U = f.MeasuredU, before.MeasuredU
	}
	if x, err = x.After(belief.Measured{Ensemble: y, Readings: []belief.Reading{then}}); err != nil {
		return 0, 0, false
	}
	amps, u, ok, err = x.Against(now)
	return amps + f.MeasuredA - now.Amps, u, ok && err == nil && u > 0
}

// sameDraw: both are draws of the same groups, lit alone, each a reading that stands.
func (j *Judge) sameDraw(f, before Finding) bool {
	stands := func(f Finding) bool {
		return hasVerdictOfDraw(f) && !f.Unread && !f.moves && !f.wavers &&
			f.evidence != nil && f.Way == string(capture.Alone)
	}
	return stands(f) && stands(before) && j.comparableStages(f, before) && !failedElsewhere(before) &&
		slices.Equal(f.evidence.groups, before.evidence.groups) && knownLeads(f, before)
}

// knownLeads: what lay between supply and pieces is known of both readings, or was the same.
func knownLeads(f, before Finding) bool {
	a, b := f.record, before.record
	return a.BeganAt.Sitting() == b.BeganAt.Sitting() || a.Step.Leads != nil && b.Step.Leads != nil
}

// seenThen is what was seen of groups up to the stage of a reading since they were last touched:
// of one what it was, of several that are read as one only that all were lit. That they were
// lit counts only where it was seen after that reading: it's of what was read.
func (j *Judge) seenThen(groups []string, h History, before Finding) look.Look {
	stage := before.Stage
	h.Steps = slices.DeleteFunc(slices.Clone(h.Steps), func(r capture.StepRecord) bool {
		return slices.Index(Stages(), r.Stage) > slices.Index(Stages(), stage)
	})
	var seen look.Look
	for _, name := range groups {
		g, ok := j.Expected.Plan.Group(name)
		if !ok {
			return look.Look{}
		}
		_, since := touched(j.Expected.Plan, name, h)
		last, ok := lookOf(g, h, since, stage)
		if !ok {
			return look.Look{}
		}
		switch seen = look.Parse(last.seen, g); {
		case seen.Saw != look.AllLit && len(groups) > 1,
			seen.Saw == look.AllLit && before.record.EndedAt.After(last.at):
			return look.Look{}
		}
	}
	return seen
}

// whyUntold says why a draw can't be told, and what would settle it: as the plan has it, for
// what was read before takes nothing from how far a draw may be off that was so then, too.
func (j *Judge) whyUntold(f Finding) (why string, settle []string) {
	e := f.evidence
	by := f
	if e.earlier != nil {
		by.ExpectedA, by.ExpectedU, by.Band = e.plan.meanA, e.plan.u, e.plan.band
	}
	why, settle = e.settles(by)
	u := math.Hypot(f.ExpectedU, f.MeasuredU)
	if e.earlier != nil && math.Abs(f.MeasuredA-f.ExpectedA) < coverageK*u &&
		j.Rule.Decide(f.MeasuredA, f.ExpectedA, u, f.SmallestA) == rule.Pass {
		why = words.SameAsBefore(e.earlier.stage)
	}
	return why, settle
}
