package record

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// noEnd is the reason of a step that began and has no end.
const noEnd = "no end is recorded: the program ended in it, or that line is damaged"

// noteStep begins the step ID of readings that belong to a note.
const noteStep = "note/"

// Folder makes the step records of records that come one by one. Readings and marks belong to
// the step that was begun last and not ended; a reading whose step's begin is
// missing (a damaged line) is a warning and no reading of any other step. The
// zero Folder is ready.
type Folder struct {
	f       Folded
	sitting SittingState // that is read; Number 0: none is known
	open    *capture.StepRecord
	looks   []look
	// unlooked: a look of the open step was taken back.
	unlooked bool
	last     time.Time     // of the open step: the latest record
	lastAt   capture.Order // where it stands
	seen     map[capture.Order][]look
	noted    []instruments.Reading

	strays   int // readings without a step, since the last mark
	strayFor string
	lost     string // the step whose begin is missing, once that was said
}

// look is one answer at a look.
type look struct {
	seen string
	at   capture.Order
}

// begin starts the file of a sitting.
func (f *Folder) begin(s SittingState) { f.sitting = s }

// end ends it: a step doesn't go on in another file.
func (f *Folder) end(until time.Time) {
	f.flushStrays()
	f.interrupt(noEnd)
	f.sitting.Until = until
	f.f.Sittings = append(f.f.Sittings, f.sitting)
	f.sitting, f.noted, f.lost = SittingState{}, nil, ""
}

// Add takes the next record.
func (f *Folder) Add(r Record) {
	f.sitting.Lines++
	f.sitting.Simulated = f.sitting.Simulated || r.Simulated
	if r.Build != "" { // before the chain
		f.named(r.Build)
		if f.sitting.Name == "" {
			f.sitting.Name = r.Build
		}
	}
	switch {
	case r.Reading != nil:
		f.reading(r)
	case r.Mark != nil:
		f.flushStrays()
		f.mark(r)
	case r.Sitting != nil:
		f.line(*r.Sitting)
	case r.File != nil:
		a := *r.File
		a.Order = r.Order
		f.f.Files = append(f.f.Files, a)
	case r.Found != nil:
		f.f.Damage = append(f.f.Damage,
			Damage{Name: r.Found.Name, File: r.Found.Name, Kind: Missing, What: r.Found.What,
				Order: r.Order, Sitting: r.Order.Sitting()})
	}
}

func (f *Folder) named(build string) {
	if build != "" && !slices.Contains(f.f.Builds, build) {
		f.f.Builds = append(f.f.Builds, build)
	}
}

// line takes the first or last line of a sitting.
func (f *Folder) line(s SittingLine) {
	if s.End {
		f.sitting.Whole, f.sitting.BrokeOff = true, s.BrokeOff
		return
	}
	f.named(s.Name)
	x := &f.sitting
	x.At, x.Stage, x.What, x.Name, x.PlanRevision, x.Program, x.Bench, x.GoesOn, x.From =
		s.At, s.Stage, s.What, s.Name, s.PlanRevision, s.Program, s.Bench, s.GoesOn, s.From
	if n := len(f.f.Sittings); s.Behind >= time.Second && n > 0 && f.f.Sittings[n-1].Simulated == x.Simulated {
		f.sitting.Clock = append(f.sitting.Clock, behindWords(s.Behind))
	}
}

func behindWords(by time.Duration) string {
	return fmt.Sprintf("the machine's clock stood %s before the end of the sitting before it: order is by the "+
		"sittings' numbers, not by time",
		by.Round(time.Second))
}

// mark takes a mark.
func (f *Folder) mark(r Record) {
	m := *r.Mark
	byName := ByName{Name: m.Check, Closure: m.Closure, Stage: m.Stage, Reason: m.Reason, Value: m.Value, At: m.At,
		Order: r.Order}
	switch m.Kind {
	case capture.MarkBegin:
		f.interrupt(noEnd)
		f.open = &capture.StepRecord{Step: *m.Step, Stage: m.Stage, Began: m.At, AmbientC: m.AmbientC,
			Simulated: m.Simulated || r.Simulated, Instruments: m.Instruments, BeganAt: r.Order}
		f.last, f.lastAt = m.At, r.Order
	case capture.MarkRedone:
		f.redone(m)
	case capture.MarkAccepted:
		a := Acceptance{StepID: m.StepID, Closure: m.Closure, Feed: m.Feed, Groups: m.Groups, Pace: m.Pace,
			Stage: m.Stage, Reason: m.Reason, At: m.At, Order: r.Order}
		if i := f.lastOf(m.StepID, m.Stage); i >= 0 {
			f.f.Steps[i].Accepted, a.step = m.Reason, f.f.Steps[i].BeganAt
		}
		f.f.Accepted = append(f.f.Accepted, a)
	case capture.MarkReworked:
		f.f.Reworked = append(f.f.Reworked,
			Rework{Closure: m.Closure, Clip: m.Check == capture.TheClip, Place: m.Feed, Groups: m.Groups,
				Stage: m.Stage, Reason: m.Reason, At: m.At, Order: r.Order})
	case capture.MarkTouchedNothing:
		f.f.TouchedNothing = append(f.f.TouchedNothing, byName)
	case capture.MarkAllowed:
		f.f.Allowed = append(f.f.Allowed, byName)
	case capture.MarkTicked:
		f.f.Ticked = append(f.f.Ticked, byName)
	case capture.MarkAnswered:
		f.f.Answers = append(f.f.Answers, byName)
	case capture.MarkTakenBack:
		f.takenBack(m.Of)
	case capture.MarkClock:
		f.sitting.Clock = append(f.sitting.Clock, m.Reason)
	case capture.MarkNote:
		f.f.Notes = append(f.f.Notes, Note{Name: m.StepID, Text: m.Reason, Stage: m.Stage, At: m.At, Order: r.Order,
			Readings: f.noted})
		f.noted = nil
	default:
		if f.open == nil || f.open.Step.ID != m.StepID {
			f.warnLost(m.StepID)
			return
		}
		f.inStep(m, r)
	}
}

// inStep takes a mark of the open step.
func (f *Folder) inStep(m capture.Mark, r Record) {
	s := f.open
	f.goOn(m.At, r)
	switch m.Kind {
	case capture.MarkOn:
		if s.On.IsZero() {
			s.On = m.At
		}
	case capture.MarkSettled:
		s.Settled = m.At
		s.Kept.SettledAt(m.At)
	case capture.MarkPoint:
		s.Points = append(s.Points, capture.PointAt{Volts: m.SetVolts, At: m.At})
		s.Kept.SweptFrom(m.At)
	case capture.MarkTripped:
		s.Outcome, s.Reason, s.TripVolts = capture.Tripped, m.Reason, m.SetVolts
	case capture.MarkSkipped:
		s.Outcome, s.Reason = capture.Skipped, m.Reason
	case capture.MarkLooked:
		f.looks = append(f.looks, look{m.Seen, r.Order})
	case capture.MarkEnd:
		s.Outcome, s.Ended = m.Outcome, m.At
		s.Warnings, s.Drops, s.ShortestDropS = m.Warnings, m.Drops, m.ShortestDropS
		if m.Reason != "" {
			s.Reason = m.Reason
		}
		if m.Seen != "" && len(f.looks) == 0 && !f.unlooked {
			f.looks = append(f.looks, look{m.Seen, r.Order})
		}
		if m.TripVolts != 0 {
			s.TripVolts = m.TripVolts
		}
		f.close()
	}
}

// goOn notes the latest record of the open step.
func (f *Folder) goOn(at time.Time, r Record) {
	if at.After(f.last) {
		f.last = at
	}
	f.lastAt = r.Order
	f.open.Simulated = f.open.Simulated || r.Simulated
}

func (f *Folder) reading(r Record) {
	x, of := *r.Reading, r.Step
	switch {
	case f.open != nil && of.StepID == f.open.Step.ID:
		f.goOn(x.At, r)
		to := &f.open.Kept
		if of.Base {
			to = &f.open.KeptBase
		}
		if *to == nil {
			*to = &capture.Series{}
			(*to).SettledAt(f.open.Settled)
		}
		(*to).Add(x)
	case strings.HasPrefix(of.StepID, noteStep):
		f.noted = append(f.noted, x)
	default:
		if f.strayFor != of.StepID {
			f.flushStrays()
		}
		f.strays, f.strayFor = f.strays+1, of.StepID
	}
}

// redone takes out the attempt under way, which the program broke off. One that
// had ended stays, marked: the maker wanted another, and that makes what was read
// no less true.
func (f *Folder) redone(m capture.Mark) {
	if f.f.Redone == nil {
		f.f.Redone = map[string]int{}
	}
	if f.open != nil && f.open.Step.ID == m.StepID {
		f.open, f.looks, f.unlooked = nil, nil, false
		f.f.Redone[m.StepID]++
		return
	}
	if i := f.lastOf(m.StepID, m.Stage); i >= 0 && !f.f.Steps[i].Redone {
		f.f.Steps[i].Redone = true
		f.f.Redone[m.StepID]++
	}
}

// lastOf finds the last ended record of a step; -1 if there is none.
func (f *Folder) lastOf(id, stage string) int {
	for i := len(f.f.Steps) - 1; i >= 0; i-- {
		if f.f.Steps[i].Step.ID == id && f.f.Steps[i].Stage == stage {
			return i
		}
	}
	return -1
}

// interrupt ends the open step where its end is missing.
func (f *Folder) interrupt(why string) {
	if f.open == nil {
		return
	}
	// A trip or a skip that lost only its end mark is still one.
	if f.open.Outcome == "" {
		f.open.Outcome, f.open.Reason = capture.Interrupted, why
	}
	f.open.Ended = f.last
	f.close()
}

func (f *Folder) close() {
	f.open.Kept.End()
	f.open.KeptBase.End()
	f.open.EndedAt = f.lastAt
	if len(f.looks) > 0 {
		last := f.looks[len(f.looks)-1]
		f.open.Seen, f.open.SeenAt = last.seen, last.at
		if f.seen == nil {
			f.seen = map[capture.Order][]look{}
		}
		f.seen[f.open.BeganAt] = f.looks
	}
	f.f.Steps = append(f.f.Steps, *f.open)
	f.open, f.looks, f.unlooked = nil, nil, false
}

func (f *Folder) flushStrays() {
	if f.strays > 0 {
		f.warnLost(f.strayFor)
	}
	f.strays, f.strayFor = 0, ""
}

// warnLost says once that the begin of a step is missing, however much of it is there.
func (f *Folder) warnLost(step string) {
	if f.lost != step {
		f.warn("the begin of step %q is missing: what stands there of it is not used", step)
	}
	f.lost = step
}

func (f *Folder) warn(format string, a ...any) {
	f.warnIn(f.sitting.File, 0, fmt.Sprintf(format, a...))
}

func (f *Folder) warnIn(file string, line int, what string) {
	f.f.Warnings = append(f.f.Warnings, Warning{File: file, Line: line, What: what})
}

// Folded gives what was folded so far. A step that is open then is interrupted.
func (f *Folder) Folded() Folded {
	f.flushStrays()
	f.interrupt(noEnd)
	return f.f
}
