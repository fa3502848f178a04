package compare

import (
	"fmt"
	"math"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// standing is what a group's readings at one pace come to: the finding that
// counts, and what was read at the stage before it since it was last touched.
type standing struct {
	now    Finding
	before *Finding
	// last is where the latest event stands that the finding rests on: a reading, or
	// a test that broke off; rests tells whether there is any.
	last  capture.Order
	rests bool
}

// standing weighs all tries to read a group at one pace, in the order of the
// record and over all stages. What came before the group was last touched tells
// nothing; the latest stage counts; a try that broke off undoes what was read
// before it, for nobody knows what it left; what was read several times is
// pooled, never the best of it.
func (j *Judge) standing(blank Finding, tries []Finding, touched voids) standing {
	var counted []Finding // finished, since the last touch
	var voided, left, broken, unread *Finding
	s := standing{now: blank}
	for i := range tries {
		f := &tries[i]
		switch {
		case touched.covers(f.record.BeganAt):
			voided = f
			continue
		case f.elsewhere:
			left = f
			continue
		case brokeOff(*f.record):
			broken, unread = f, nil
		case f.record.Outcome == capture.Skipped:
			left = f
			continue
		case f.Unread:
			broken, unread = nil, f
		default:
			counted, broken, unread = append(counted, *f), nil, nil
		}
		s.last, s.rests = f.record.EndedAt, true
	}
	switch {
	case broken != nil:
		s.now = brokenOff(counted, *broken, j.Where)
		return s
	case unread != nil:
		s.now = *unread
	case len(counted) > 0:
		stage := counted[len(counted)-1].Stage
		s.now = j.pooled(slices.DeleteFunc(slices.Clone(counted), func(f Finding) bool { return f.Stage != stage }))
		if earlier := slices.DeleteFunc(slices.Clone(counted),
			func(f Finding) bool { return f.Stage == stage }); len(earlier) > 0 {
			stage := earlier[len(earlier)-1].Stage
			before := j.pooled(slices.DeleteFunc(earlier, func(f Finding) bool { return f.Stage != stage }))
			s.before = &before
		}
	case left != nil:
		s.now = *left
	case voided != nil:
		s.now = voidedFinding(*voided)
	}
	if left != nil && s.now.Verdict != NotMeasured && !left.elsewhere &&
		left.record.EndedAt.After(s.now.record.EndedAt) {
		s.now.Notes = append(slices.Clone(s.now.Notes), "left out since, in a later test: "+left.record.Reason)
	}
	return s
}

// brokeOff: the try didn't come to its end. One that was left out with the
// output on before it was is no different.
func brokeOff(r capture.StepRecord) bool {
	switch r.Outcome {
	case capture.Measured, capture.Tripped:
		return false
	case capture.Skipped:
		return !r.On.IsZero()
	}
	return true
}

// brokenOff is the finding of a group whose newest test broke off.
func brokenOff(before []Finding, broken Finding, where *time.Location) Finding {
	f := broken
	f.Verdict, f.Causes = NotMeasured, nil
	f.Settle = []string{words.GoOn}
	note := "the test of " + when(broken, where) + " broke off in it"
	if broken.record.Reason != "" {
		note += ": " + broken.record.Reason
	}
	if len(before) > 0 {
		note = "not measured since; " + note
	}
	f.Notes = []string{note}
	return f
}

func when(f Finding, where *time.Location) string {
	if f.record.Began.IsZero() {
		return "then"
	}
	return words.Minute(f.record.Began, where)
}

// voidedFinding is what is left of a reading from before the group was touched.
func voidedFinding(f Finding) Finding {
	f.Verdict, f.Causes, f.Why = NotMeasured, nil, ""
	f.Notes = append([]string{"reworked after this reading"}, f.Notes...) // the reason first
	f.Settle = []string{words.Anew}
	f.evidence, f.PHealthy = nil, 0
	return f
}

// poolDraw is the mean of several readings of one group.
type poolDraw struct {
	amps, u float64
	n       int // readings
	of      int // measurements
}

// pooled makes one finding of several that were read at one stage with nothing
// told to be touched in between. Where they agree within their own noise their
// mean is judged; where not, something moves: then it can't be told, unless the
// last of them failed by itself.
func (j *Judge) pooled(tries []Finding) Finding {
	last := tries[len(tries)-1]
	if len(tries) == 1 {
		return last
	}
	alike := []Finding{last}
	for _, f := range slices.Backward(tries[:len(tries)-1]) {
		switch {
		case comparable(f, last) && !j.apart(f, last) &&
			!(failedElsewhere(f) && len(last.record.Points) < len(f.record.Points)):
			alike = append(alike, f)
		case fails(f.Verdict) && fails(last.Verdict):
		case !comparable(f, last) && !fails(f.Verdict) && !fails(last.Verdict):
		case !comparable(f, last) && !fails(f.Verdict):
		default:
			return moves(f, last)
		}
	}
	return j.mean(alike)
}

// fails: something is wrong by this reading alone.
func fails(v Verdict) bool {
	switch v {
	case Low, High, StuckLit, StuckDark, OffPace:
		return true
	}
	return false
}

// failedElsewhere: its draw at service voltage didn't fail, another voltage did.
func failedElsewhere(f Finding) bool {
	return fails(f.Verdict) && f.evidence != nil && !fails(f.evidence.single.verdict)
}

// comparable: two readings of one thing in one way, both with a draw of the
// group itself. What outputs in turn draw may be given to them either way; by itself one
// draws what it draws.
func comparable(a, b Finding) bool {
	return a.Way == b.Way && a.FiguresOf == b.FiguresOf && a.VoltsSet == b.VoltsSet &&
		slices.Equal(a.record.Step.Outputs, b.record.Step.Outputs) && a.record.Outcome == capture.Measured &&
		b.record.Outcome == capture.Measured && hasDraw(a) && hasDraw(b)
}

// hasDraw: what was measured is the draw that the expectation is of.
func hasDraw(f Finding) bool {
	return f.Readings > 0 && f.MeasuredU > 0 && (showsLevel(f) || f.asFound)
}

// apart: two readings differ by more than their own noise lets them, beyond what
// the bench and the room make of it. The doubt of the model is in both alike.
func (j *Judge) apart(a, b Finding) bool {
	d := (a.MeasuredA - a.ExpectedA) - (b.MeasuredA - b.ExpectedA)
	u := math.Hypot(a.MeasuredU, b.MeasuredU)
	u = math.Hypot(u, math.Hypot(modelRel*a.MeasuredA, modelRel*b.MeasuredA))
	return math.Abs(d) >= j.Rule.K*u
}

// moves is the finding of two readings that don't go together.
func moves(before, last Finding) Finding {
	f := last
	f.wavers = true
	both := fmt.Sprintf("it read %s (%s), then %s (%s)", figure(before), before.Verdict, figure(last), last.Verdict)
	if fails(last.Verdict) {
		f.Notes = append(slices.Clone(f.Notes), both+": something moves, or was touched")
		return f
	}
	f.Verdict, f.Causes, f.evidence, f.PHealthy, f.moves = CantTell, nil, nil, 0, true
	f.Why = words.Sentence(both) + ", and nothing was told to be touched in between: something moves."
	f.Settle = []string{words.FindLoose,
		words.TellTouched}
	return f
}

func figure(f Finding) string {
	if f.Readings == 0 {
		return "nothing"
	}
	return words.Milliamps(f.MeasuredA, f.MeasuredU)
}

// mean judges the mean of readings that agree, the last one first. The limit of
// error of one meter is common to all of them, so their doubt isn't less than
// that of one.
func (j *Judge) mean(alike []Finding) Finding {
	last := alike[0]
	if len(alike) == 1 || last.asFound {
		return last
	}
	p, simulated := poolDraw{of: len(alike)}, false
	for _, f := range alike {
		p.amps += (f.MeasuredA - f.ExpectedA + last.ExpectedA) / float64(len(alike))
		p.u += f.MeasuredU / float64(len(alike))
		p.n += f.Readings
		simulated = simulated || f.Simulated
	}
	fs, err := j.stepOf(*last.record, map[string]poolDraw{last.Group: p})
	if err != nil {
		return last
	}
	for _, f := range fs {
		if f.Group == last.Group {
			f.Simulated = simulated
			f.Notes = append(f.Notes, fmt.Sprintf("the mean of %d measurements since it was last touched", p.of))
			return f
		}
	}
	return last
}

// triesOf judges the steps of a history one by one, and puts them together by
// group and pace. Steps at other voltages than the service voltage are handed
// back as they are: they add to a reading and replace none. One that can't be judged
// leaves its own groups open.
func (j *Judge) triesOf(steps []capture.StepRecord) (tries map[string]map[string][]Finding,
	extra []capture.StepRecord) {
	tries = map[string]map[string][]Finding{}
	for _, r := range steps {
		if j.isExtra(r) && !brokeOff(r) {
			if r.Outcome == capture.Measured {
				extra = append(extra, r)
			}
			continue
		}
		fs, err := j.Step(r)
		fs = append(fs, j.unjudged(r, err)...)
		if volts := j.serviceOf(r); r.Outcome == capture.Measured && math.Abs(r.Step.Volts-volts) > sameVolts {
			for i := range fs {
				notAtService(&fs[i], volts)
			}
		}
		for _, f := range fs {
			if tries[f.Group] == nil {
				tries[f.Group] = map[string][]Finding{}
			}
			for _, pace := range j.pacesRead(r, f) {
				tries[f.Group][pace] = append(tries[f.Group][pace], f)
			}
		}
	}
	return tries, extra
}

// unjudged leaves open what a step powered that nothing can be computed of; why nil: none. No look passes it,
// and a later step counts, as with a reading that is of no use.
func (j *Judge) unjudged(r capture.StepRecord, why error) (out []Finding) {
	for _, name := range r.Step.Groups {
		if g, ok := j.Expected.Plan.Group(name); ok && why != nil {
			f := j.blank(r, g)
			f.Verdict, f.Unread, f.Why, f.Settle = CantTell, true, words.Sentence(why.Error()), []string{words.Anew}
			out = append(out, f)
		}
	}
	return out
}

// pacesRead lists the paces of a group that a step speaks of. Joined with others
// a board is read at its first pace; a step that broke off then left all of them
// in doubt.
func (j *Judge) pacesRead(r capture.StepRecord, f Finding) []string {
	b, ok := j.Expected.Plan.Board(f.Board)
	switch {
	case !ok || f.Pace != "" || len(b.Paces) == 0:
		return []string{f.Pace}
	case brokeOff(r):
		g, _ := j.Expected.Plan.Group(f.Group)
		return pacesOf(j.Expected.Plan, g)
	}
	return []string{b.Paces[0].Name}
}

// standings puts the tries of every group together, by group and pace.
func (j *Judge) standings(h History) (map[string]map[string]standing, []capture.StepRecord) {
	tries, extra := j.triesOf(h.Steps)
	out := map[string]map[string]standing{}
	for _, g := range j.Expected.Plan.Groups {
		out[g.Name] = j.standingsOf(g, tries[g.Name], h)
	}
	return out, extra
}

// standingsOf puts the tries of one group together, by pace.
func (j *Judge) standingsOf(g plan.Group, tries map[string][]Finding, h History) map[string]standing {
	readings, _ := touched(j.Expected.Plan, g.Name, h)
	out := map[string]standing{}
	for _, pace := range pacesOf(j.Expected.Plan, g) {
		out[pace] = j.standing(notMeasured(g, pace), tries[pace], readings)
	}
	return out
}

// notMeasured is the finding of a group of which nothing was read.
func notMeasured(g plan.Group, pace string) Finding {
	return Finding{Group: g.Name, Closure: g.Closure, Board: g.Board, Output: g.Output, Pace: pace, Sealed: g.Sealed,
		Verdict: NotMeasured, Settle: []string{"measure it"}}
}

// sameVolts is how near to its service voltage a group must be read, V.
const sameVolts = 0.1

// serviceOf is the voltage that the groups of a step are for.
func (j *Judge) serviceOf(r capture.StepRecord) float64 {
	feed := r.Step.Feed
	if len(r.Step.Groups) > 0 {
		feed = r.Step.Groups[0]
		if g, ok := j.Expected.Plan.Group(feed); ok && g.Board != "" {
			feed = g.Board
		}
	}
	return serviceVolts(j.Expected.Plan, feed, r.Stage == Loose)
}

// notAtService: a draw at another voltage passes nothing.
func notAtService(f *Finding, volts float64) {
	f.Verdict, f.Causes, f.Why, f.evidence, f.PHealthy, f.elsewhere = NotMeasured, nil, "", nil, 0, true
	f.Notes = append([]string{onlyAt(f.VoltsSet, volts)}, f.Notes...)
	f.Settle = []string{words.AtService}
}

func onlyAt(was, service float64) string {
	return fmt.Sprintf("measured at %s V, its service voltage is %s V", words.Number(was, 0.1),
		words.Number(service, 0.1))
}

// onlyBelow says of a group of which nothing was read at its service voltage that
// something was read below it.
func (j *Judge) onlyBelow(f *Finding, extra []capture.StepRecord, readings voids) {
	for _, r := range extra {
		if r.Outcome == capture.Measured && slices.Contains(r.Step.Groups, f.Group) && !readings.covers(r.BeganAt) {
			f.Notes = []string{onlyAt(r.Step.Volts, j.serviceOf(r))}
			f.Settle = []string{words.AtService}
		}
	}
}
