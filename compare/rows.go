package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sealworthy/capture"
	"sealworthy/compare/belief"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/words"
)

// rows makes the rows of every group: one a pace, from what was read of it since
// it was last touched. Groups that share reels, parts or the bench are weighed
// together, and what several have in common is named once.
func (j *Judge) rows(h History) map[string][]Finding {
	plain, extra := j.standings(h)
	rows := j.rowsOf(plain, extra, h, nil)
	common, others, err := j.together(rows, plain)
	if len(others) > 0 {
		rows = j.rowsOf(j.sharpened(plain, others), extra, h, nil)
	}
	return finished(rows, plain, common, err)
}

// finished are rows with what several groups have in common, what couldn't be weighed, and
// what changed.
func finished(rows map[string][]Finding, plain map[string]map[string]standing, common belief.Above, err error,
) map[string][]Finding {
	across(rows, common)
	if err != nil {
		unweighable(rows, err)
	}
	for name, fs := range rows {
		for i := range fs {
			sayWhatChanged(&rows[name][i], plain[name][fs[i].Pace].now)
		}
	}
	return rows
}

// unweighable: what groups tell of each other couldn't all be weighed. What passed without
// that isn't known to be all right, and every finding says why.
func unweighable(rows map[string][]Finding, err error) {
	for _, fs := range rows {
		for i := range fs {
			fs[i].Notes = append(fs[i].Notes, err.Error())
			fs[i].leftOpen(err)
		}
	}
}

// leftOpen leaves open what passed, though what belongs to its weighing couldn't be computed: no
// look passes it then. A group that nothing can be computed of passed by other means.
func (f *Finding) leftOpen(err error) {
	if f.Verdict != InBand || f.drawn() == nil || f.asFound {
		return
	}
	f.Verdict, f.Excluded, f.evidence, f.PHealthy, f.unweighed = CantTell, nil, nil, 0, true
	f.Why, f.Settle = words.Sentence(err.Error()), []string{words.Anew}
}

// sayWhatChanged: what was called wrong when it was measured isn't in band later
// without a word of why.
func sayWhatChanged(f *Finding, then Finding) {
	if f.Verdict != InBand || !fails(then.Verdict) {
		return
	}
	f.Notes = append(f.Notes,
		fmt.Sprintf("%s by the plan alone when it was measured; what was read since changed that", then.Verdict))
}

// rowsOf makes the rows of all groups, or of some alone; nil: all.
func (j *Judge) rowsOf(latest map[string]map[string]standing, extra []capture.StepRecord, h History,
	only []string,
) map[string][]Finding {
	rows := map[string][]Finding{}
	for _, g := range j.Expected.Plan.Groups {
		if only != nil && !slices.Contains(only, g.Name) {
			continue
		}
		for _, pace := range pacesOf(j.Expected.Plan, g) {
			rows[g.Name] = append(rows[g.Name], j.row(g, latest[g.Name][pace], extra, h))
		}
		if b, ok := j.Expected.Plan.Board(g.Board); ok {
			agreeBetweenPaces(b, rows[g.Name])
		}
	}
	j.agreeInSum(rows, latest)
	return rows
}

// pacesOf lists the paces of a group; one without a name where no board feeds it.
func pacesOf(p *plan.Plan, g plan.Group) []string {
	b, ok := p.Board(g.Board)
	if !ok {
		return []string{""}
	}
	var out []string
	for _, q := range b.Paces {
		out = append(out, q.Name)
	}
	return out
}

// row weighs other voltages, look, the stage before and acceptance against what
// was read of a group at a pace.
func (j *Judge) row(g plan.Group, s standing, extra []capture.StepRecord, h History) Finding {
	f := s.now
	readings, looks := touched(j.Expected.Plan, g.Name, h)
	f.rests = s.last
	switch {
	case f.Verdict != NotMeasured:
		j.alsoRead(&f, extra, readings)
	case f.StepID == "":
		j.onlyBelow(&f, extra, readings)
	}
	j.asBuilt(&f, s.before, h)
	j.modelFirst(&f, g, h)
	last, ok := lookOf(g, h, looks, f.Stage)
	var eye look.Look
	if ok {
		eye = look.Parse(last.seen, g)
		f.Seen, f.Looked = last.seen, eye.Saw == look.AllLit
		f.NoColours = f.Looked && !eye.SaysOf(look.Colour)
		f.Simulated = f.Simulated || last.simulated
		f.rests = max(f.rests, last.at)
		f.seeing(j.seenBeside(f, eye, h))
		j.weighLook(&f, eye)
	} else if last.outOfDate != "" {
		f.Notes = append(f.Notes, last.outOfDate+": look again")
	}
	if s.before != nil {
		before := *s.before
		j.alsoRead(&before, extra, readings)
		j.agreeWithBefore(&f, before)
	}
	j.agreeWithFormer(&f, g, eye, h)
	f.agreeWithOdds()
	if f.Verdict != InBand {
		f.Excluded = nil // nothing passed
	}
	for _, a := range h.Accepts {
		if a.Group == g.Name && !readings.covers(a.Order) && !(s.rests && s.last.After(a.Order)) &&
			(!ok || f.Looked || a.Order.After(last.at)) {
			f.Accepted = a.Reason
		}
	}
	return f
}

// seenBeside lists the groups that a look is of where several are read as one: itself, and
// where it's all right those that were seen lit, too.
func (j *Judge) seenBeside(f Finding, eye look.Look, h History) []string {
	out := []string{f.Group}
	if f.evidence == nil || eye.Saw != look.AllLit {
		return out
	}
	for _, name := range f.evidence.groups {
		g, ok := j.Expected.Plan.Group(name)
		if !ok || name == f.Group {
			continue
		}
		_, since := touched(j.Expected.Plan, name, h)
		if last, ok := lookOf(g, h, since, f.Stage); ok && look.Parse(last.seen, g).Saw == look.AllLit {
			out = append(out, name)
		}
	}
	return out
}

// seeing keeps which groups a look is of with the evidence.
func (f *Finding) seeing(groups []string) {
	if f.evidence != nil && len(f.evidence.groups) > 1 {
		e := *f.evidence
		e.seen, f.evidence = groups, &e
	}
}

// likelyHealthy: a group that is likelier healthy than this is neither low nor high.
const likelyHealthy = 0.5

// agreeWithOdds leaves open what the probability speaks against, with all that was seen.
func (f *Finding) agreeWithOdds() {
	switch {
	case f.evidence == nil:
		return
	case f.Verdict == InBand && f.PHealthy < belief.SurePass:
		f.Why = words.NotSureEnough
	case (f.Verdict == Low || f.Verdict == High) && f.PHealthy > likelyHealthy:
		f.Why = words.LikelierHealthy(string(f.Verdict))
	default:
		return
	}
	f.Verdict, f.Settle = CantTell, []string{words.NextSays}
}

// seen is what the latest look said of a group.
type seen struct {
	seen      string
	at        capture.Order
	simulated bool
	outOfDate string // it was all right, and why it counts no more
}

// lookOf finds the latest look that was made of a group since it was last
// touched. That all was right before a stage, as on the table, or of other
// lights than the plan has now, says nothing of it since; what was wrong stays
// so until somebody looks again.
func lookOf(g plan.Group, h History, since voids, stage string) (found seen, ok bool) {
	var last capture.StepRecord
	for _, r := range h.Steps {
		if r.Step.Kind != capture.Look || r.Seen == "" || !slices.Contains(r.Step.Groups, g.Name) {
			continue
		}
		of, at := look.Of(r.Seen, g.Name, r.Step.Groups), seenAt(r)
		if of == "" || since.covers(at) || ok && !at.After(found.at) {
			continue
		}
		found, last, ok = seen{seen: of, at: at, simulated: simulated(r)}, r, true
	}
	switch {
	case !ok || look.Parse(found.seen, g).Saw != look.AllLit:
		return found, ok
	case slices.Index(Stages(), last.Stage) < slices.Index(Stages(), stage):
		return seen{}, false
	case otherLights(last.Step, g):
		return seen{outOfDate: words.LightsChanged}, false
	case !litBefore(last, g.Name, h, since):
		return seen{outOfDate: words.WasNotLit}, false
	}
	return found, true
}

// litBefore: a group was lit when it was looked at, in that step, or in one
// before it since it was last touched. What is told without a test has no step
// that lit anything.
func litBefore(last capture.StepRecord, group string, h History, since voids) bool {
	if last.Step.Volts > 0 {
		return true
	}
	return slices.ContainsFunc(h.Steps, func(r capture.StepRecord) bool {
		return r.Outcome == capture.Measured && !(r.Step.Kind == capture.Look && r.Step.Volts == 0) &&
			slices.Contains(r.Step.Groups, group) &&
			!since.covers(r.BeganAt) && seenAt(last).After(r.EndedAt)
	})
}

func seenAt(r capture.StepRecord) capture.Order {
	if r.SeenAt != 0 {
		return r.SeenAt
	}
	return r.EndedAt
}

// otherLights: the group had lights of another number or kind when it was looked at.
func otherLights(s capture.Step, g plan.Group) bool {
	was, ok := s.Lights[g.Name]
	return ok && was != look.Digest(g)
}

// weighLook lets the eye pass what the current can't decide, and fail what it
// can't see. It never overrides a current that failed, nor a draw that fits a
// fault better than a healthy group.
func (j *Judge) weighLook(f *Finding, eye look.Look) {
	var w weighed
	known := false
	if f.evidence != nil {
		var err error
		if w, err = j.weigh(f.evidence, eye); err == nil {
			known, f.PHealthy = true, w.decision.Healthy*(1-f.evidence.elseway)
		}
	}
	switch {
	case f.Looked && f.Verdict == CantTell && lookMayPass(*f, known, w):
		f.Verdict, f.Causes = InBand, nil
		f.Excluded = excludedBy(w)
		f.Notes = append(f.Notes, words.PassedByLook)
		f.Why, f.Settle = "", nil
	case f.Looked && f.Verdict == CantTell && known:
		f.Causes = j.orAnother(j.causesOf(w, *f), *f)
		if w.decision.OnlyAbove {
			f.Why, f.Settle = words.AboveIt, []string{words.NextSays}
		} else {
			f.Notes = append(f.Notes, words.LitYetUnlike)
		}
		if j.countSettles(*f, eye) {
			f.Settle = append([]string{words.CountLit(f.Group)}, f.Settle...)
		}
		f.Settle = slices.DeleteFunc(f.Settle, func(s string) bool { return strings.HasPrefix(s, "look ") })
	case !f.Looked && (f.Verdict == InBand || f.Verdict == CantTell):
		f.Notes = append(f.Notes, "seen: "+f.Seen)
		f.Settle = slices.DeleteFunc(f.Settle, func(s string) bool { // what is dark is to be mended, whatever it draws
			return eye.Saw == look.SomeDark || strings.HasPrefix(s, "look ")
		})
		if known && (eye.Saw != look.Otherwise || eye.What == look.Dim) {
			f.Causes = j.orAnother(j.causesOf(w, *f), *f)
		}
	case known && (f.Verdict == Low || f.Verdict == High):
		f.Causes = j.orAnother(j.causesOf(w, *f), *f)
	}
}

// countSettles: that as many are lit as the plan has, if somebody counted them, would pass
// what a look didn't that found all right. All right says nothing of one too many, or of one that
// was never there.
func (j *Judge) countSettles(f Finding, eye look.Look) bool {
	if eye.Lit > 0 {
		return false
	}
	eye.Lit = 1 // as many as the plan has, whatever that is
	w, err := j.weigh(f.evidence, eye)
	return err == nil && lookMayPass(f, true, w)
}

// lookMayPass: a look can make up for what the current can't tell, but not for a
// reading that wasn't had, for one that moves, nor for a draw that fits a fault
// better. Where no probabilities are known a board's mean must fit.
func lookMayPass(f Finding, known bool, w weighed) bool {
	switch {
	case f.Readings == 0 || f.Unread || f.unweighed || f.moves:
		return false
	case f.evidence != nil:
		return known && w.decision.Verdict == rule.Pass
	}
	return f.Board == "" || f.meanFits
}

// agreeWithBefore compares a reading that passed, or was weighed with that of the stage
// before and left open, with that: a wire pinched in between shows although both are in band, and what failed then
// doesn't mend itself.
func (j *Judge) agreeWithBefore(f *Finding, before Finding) {
	switch {
	case f.Verdict != InBand && !(f.Verdict == CantTell && f.evidence != nil && f.evidence.earlier != nil):
		return
	case !j.comparableStages(*f, before) || paceFailed(before.Verdict) || failedElsewhere(before):
		leftFailed(f, before)
		return
	}
	should, u, ok := j.sinceBefore(*f, before)
	if !ok && f.VoltsSet != before.VoltsSet {
		leftFailed(f, before) // a converter lies between the two: what one should be by the other isn't a difference
		return
	}
	if !ok {
		should = before.MeasuredA + f.ExpectedA - before.ExpectedA
		if f.plainA > 0 && before.plainA > 0 {
			should = before.MeasuredA + f.plainA - before.plainA // what others of its reel taught is no change
		}
		u = math.Hypot(f.MeasuredU, before.MeasuredU)
	}
	if math.Abs(f.MeasuredA-should) < j.Rule.K*u {
		return
	}
	// What is healthy by the plan has changed all the same: its odds are of the plan.
	f.Verdict, f.PHealthy = Low, 0
	if f.MeasuredA > should {
		f.Verdict = High
	}
	f.Notes = append(f.Notes,
		fmt.Sprintf("changed since it was %s: %s then, %s now, where %s was to be expected", before.Stage,
			words.Milliamps(before.MeasuredA, before.MeasuredU), words.Milliamps(f.MeasuredA, f.MeasuredU),
			words.Milliamps(should, u)))
	f.Causes = []Cause{{Name: "changed since " + before.Stage, Text: words.BetweenTheTwo}}
}

// leftFailed leaves open what failed at the stage before, where its figures now can't be held
// against those of then.
func leftFailed(f *Finding, before Finding) {
	if !fails(before.Verdict) {
		return
	}
	f.Verdict, f.Causes, f.moves = CantTell, nil, true
	f.Why = fmt.Sprintf("%s when it was %s, and nothing was told to be touched since", before.Verdict, before.Stage)
	f.Settle = []string{words.TellTouched}
}

// comparableStages: both are draws that were read to their end at one voltage, or one of them
// loose at what a converter gives and the other through it.
func (j *Judge) comparableStages(a, b Finding) bool {
	return a.Readings > 0 && b.Readings > 0 && a.FiguresOf == b.FiguresOf && a.record != nil && b.record != nil &&
		b.record.Outcome == capture.Measured && (a.VoltsSet == b.VoltsSet || j.atService(a) && j.atService(b))
}

// atService: a draw was read at the voltage of its feed at that stage.
func (j *Judge) atService(f Finding) bool {
	return math.Abs(f.VoltsSet-j.serviceOf(*f.record)) <= sameVolts
}

// paceFailed: what a board did in time was wrong, whatever it drew.
func paceFailed(v Verdict) bool { return v == StuckLit || v == StuckDark || v == OffPace }
