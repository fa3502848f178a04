package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// History is all that was recorded of a build, over all its sittings.
type History struct {
	Steps   []capture.StepRecord // in the order of time; what was redone is left out
	Reworks []Rework
	Accepts []Accept
}

// Rework says that something was touched again: what lies behind it must be
// measured anew.
type Rework struct {
	What string // a joint, return, board or group
	At   time.Time
}

// Accept says that the maker takes a group as it is, with a reason.
type Accept struct {
	Group  string
	Reason string
	At     time.Time
}

// Findings judges every closure of a plan, or one and what closes inside it,
// from what was recorded. Outer closures come last. The error names the step
// or group that could not be judged.
func (j *Judge) Findings(h History, closure string) ([]ClosureFinding, error) {
	p := j.Expected.Plan
	names, err := closuresOf(p, "")
	if err != nil {
		return nil, err
	}
	if closure != "" {
		if _, err := closuresOf(p, closure); err != nil {
			return nil, err
		}
		within := inside(p, closure)
		names = slices.DeleteFunc(names, func(n string) bool { return !slices.Contains(within, n) })
	}
	rows, err := j.rows(h)
	if err != nil {
		return nil, err
	}
	var out []ClosureFinding
	for _, n := range names {
		out = append(out, j.closure(n, rows, out))
	}
	return out, nil
}

// rows makes the rows of every group: one a pace, from the latest reading of
// the latest stage that counts. Healthy groups sharpen what is expected of the
// others of their reels, and what several have in common is named once.
func (j *Judge) rows(h History) (map[string][]Finding, error) {
	latest, extra, err := j.latest(h)
	if err != nil {
		return nil, err
	}
	rows := j.rowsOf(latest, extra, h)
	plain := latest
	for range learnRounds {
		l := j.learn(rows)
		if l == nil {
			break
		}
		if latest, ok := j.sharpen(plain, l); ok {
			rows = j.rowsOf(latest, extra, h)
		}
	}
	j.across(rows, latest, h)
	return rows, nil
}

// plainRows are the rows by the plan alone.
func (j *Judge) plainRows(h History) (map[string][]Finding, error) {
	latest, extra, err := j.latest(h)
	if err != nil {
		return nil, err
	}
	return j.rowsOf(latest, extra, h), nil
}

// latest judges every step by itself and keeps, of each group, the latest by
// stage and pace. Steps at other voltages are handed back as they are.
func (j *Judge) latest(h History) (latest map[string]map[string]Finding, extra []capture.StepRecord, err error) {
	latest = map[string]map[string]Finding{}
	for _, r := range h.Steps {
		if j.isExtra(r) {
			extra = append(extra, r)
			continue
		}
		fs, err := j.Step(r)
		if err != nil {
			return nil, nil, err
		}
		for _, f := range fs {
			if latest[f.Group] == nil {
				latest[f.Group] = map[string]Finding{}
			}
			k := f.Stage + "\x00" + f.Pace
			if old, ok := latest[f.Group][k]; ok && f.Verdict == NotMeasured && old.Verdict != NotMeasured {
				continue // an interrupted try doesn't undo an earlier reading
			}
			latest[f.Group][k] = f
		}
	}
	return latest, extra, nil
}

func (j *Judge) rowsOf(latest map[string]map[string]Finding, extra []capture.StepRecord, h History) map[string][]Finding {
	rows := map[string][]Finding{}
	for _, g := range j.Expected.Plan.Groups {
		for _, pace := range pacesOf(j.Expected.Plan, g) {
			rows[g.Name] = append(rows[g.Name], j.row(g, pace, latest[g.Name], extra, h))
		}
	}
	return rows
}

// pacesOf lists the paces of a group; one without a name where no board feeds it.
func pacesOf(p *plan.Plan, g plan.Group) []string {
	b, ok := boardNamed(p, g.Board)
	if !ok {
		return []string{""}
	}
	var out []string
	for _, q := range b.Paces {
		out = append(out, q.Name)
	}
	return out
}

// row picks the finding that counts for a group at a pace, and weighs rework,
// look, loose reading and acceptance against it.
func (j *Judge) row(g plan.Group, pace string, have map[string]Finding, extra []capture.StepRecord, h History) Finding {
	f := Finding{Group: g.Name, Closure: g.Closure, Board: g.Board, Output: g.Output, Pace: pace,
		Verdict: NotMeasured, Settle: []string{"measure it"}}
	for _, stage := range Stages() {
		if x, ok := have[stage+"\x00"+pace]; ok && x.Verdict != NotMeasured {
			f = x
		} else if ok && f.Verdict == NotMeasured {
			f = x
		}
	}
	touched := reworked(j.Expected.Plan, g.Name, h)
	if f.Verdict != NotMeasured && touched.After(f.At) {
		f.Verdict = NotMeasured
		f.Causes = nil
		f.Notes = append(f.Notes, "reworked after this reading")
		f.Settle = []string{"measure it anew"}
	}
	if f.Verdict != NotMeasured {
		j.alsoRead(&f, extra, touched)
	}
	if seen, ok := lookOf(g, h, touched, f.Stage); ok {
		f.Seen, f.Looked = seen, EyeOf(seen, g).AllLit()
		j.weighLook(&f, EyeOf(seen, g))
	}
	if before, ok := stageBefore(have, f.Stage, pace); ok && f.Verdict == InBand && touched.Before(before.At) {
		j.agreeWithBefore(&f, before)
	}
	for _, a := range h.Accepts {
		if a.Group == g.Name && a.At.After(touched) && !a.At.Before(f.At) {
			f.Accepted = a.Reason
		}
	}
	return f
}

// SeenRight is what a look says when all is right.
const SeenRight = "all right"

// reworked is the last time that anything was touched behind which g lies.
func reworked(p *plan.Plan, group string, h History) time.Time {
	var last time.Time
	for _, r := range h.Reworks {
		if behind(p, group, r.What) && r.At.After(last) {
			last = r.At
		}
	}
	return last
}

// lookOf finds the latest look that was made of a group after a time. That all
// was right before a stage, as on the table, says nothing of it since; what was
// wrong stays so until somebody looks again.
func lookOf(g plan.Group, h History, since time.Time, stage string) (seen string, ok bool) {
	at, last := time.Time{}, ""
	for _, r := range h.Steps {
		if r.Step.Kind == capture.Look && r.Seen != "" && slices.Contains(r.Step.Groups, g.Name) && !r.Ended.Before(at) {
			seen, at, last = SeenOf(r.Seen, g.Name, r.Step.Groups), r.Ended, r.Stage
		}
	}
	if at.IsZero() || !at.After(since) || seen == SeenRight && slices.Index(Stages(), last) < slices.Index(Stages(), stage) {
		return "", false
	}
	return seen, true
}

// lookPasses is the probability of "nothing wrong" from which a look passes what
// the current alone can't decide.
const lookPasses = 0.9

// weighLook lets the eye pass what the current can't decide, and fail what it
// can't see. It never overrides a current that failed, nor a draw that fits a
// fault better than a healthy group.
func (j *Judge) weighLook(f *Finding, eye Eye) {
	var w weighed
	known := false
	if f.evidence != nil {
		var err error
		if w, err = j.weigh(f.evidence, eye); err == nil {
			known, f.PHealthy = true, w.result.None
		}
	}
	switch {
	case f.Looked && f.Verdict == CantTell && f.Readings > 0 && !f.Unread && !f.unweighed && (f.evidence == nil && (f.Board == "" || f.meanFits) || known && f.PHealthy >= lookPasses):
		f.Verdict, f.Causes = InBand, nil
		f.Notes = append(f.Notes, "passed by the look: the current alone can't tell")
		f.Why, f.Settle = "", nil
	case f.Looked && f.Verdict == CantTell && known:
		f.Causes = j.causesOf(w, *f)
		f.Notes = append(f.Notes, "all lit by the look, yet its draw doesn't fit a healthy group well enough")
		f.Settle = slices.DeleteFunc(f.Settle, func(s string) bool { return strings.HasPrefix(s, "look ") })
	case !f.Looked && (f.Verdict == InBand || f.Verdict == CantTell):
		f.Notes = append(f.Notes, "seen: "+f.Seen)
		if known && !eye.Other {
			f.Causes = j.causesOf(w, *f)
		}
	case known && (f.Verdict == Low || f.Verdict == High):
		f.Causes = j.causesOf(w, *f)
	}
}

// stageBefore finds the reading of the latest stage before one.
func stageBefore(have map[string]Finding, stage, pace string) (Finding, bool) {
	at := slices.Index(Stages(), stage)
	for i := at - 1; i >= 0; i-- {
		if x, ok := have[Stages()[i]+"\x00"+pace]; ok && x.Verdict != NotMeasured {
			return x, true
		}
	}
	return Finding{}, false
}

// agreeWithBefore compares a reading with that of the stage before: a wire
// pinched in between shows although both are in band.
func (j *Judge) agreeWithBefore(f *Finding, before Finding) {
	if f.Readings == 0 || before.Readings == 0 || f.VoltsSet != before.VoltsSet {
		return
	}
	expected := f.ExpectedA - before.ExpectedA
	if f.plainA > 0 && before.plainA > 0 {
		expected = f.plainA - before.plainA // what others of its reel taught is no change
	}
	got := f.MeasuredA - before.MeasuredA
	u := math.Hypot(f.MeasuredU, before.MeasuredU)
	if math.Abs(got-expected) < j.Rule.K*u {
		return
	}
	f.Verdict = Low
	if got > expected {
		f.Verdict = High
	}
	f.Notes = append(f.Notes, fmt.Sprintf("changed since it was %s: %s then, %s now, where %s was to be expected", before.Stage,
		Milliamps(before.MeasuredA, before.MeasuredU), Milliamps(f.MeasuredA, f.MeasuredU), Milliamps(before.MeasuredA+expected, u)))
	f.Causes = []Cause{{Name: "changed since " + before.Stage, Text: "look at what was done between the two readings: a pinched wire, a joint that came loose"}}
}

// closure weighs the rows of a closure and the verdicts of what closes inside it.
func (j *Judge) closure(name string, rows map[string][]Finding, before []ClosureFinding) ClosureFinding {
	p := j.Expected.Plan
	c := ClosureFinding{Build: p.Build, Closure: name}
	for _, x := range p.Closures {
		if x.Name == name {
			c.Inside = x.Inside
		}
	}
	var w weigher
	for _, g := range p.Groups {
		if g.Closure == name {
			for _, f := range rows[g.Name] {
				c.Groups = append(c.Groups, f)
				w.add(f)
			}
		}
	}
	for _, b := range before {
		if b.Inside == name {
			w.addInner(b)
		}
	}
	c.Verdict, c.Reasons = w.result(len(c.Groups))
	return c
}
