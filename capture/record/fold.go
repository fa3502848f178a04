package record

import (
	"fmt"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// noEnd is the reason of a step that began and has no end.
const noEnd = "no end is recorded: the program ended in it, or that line is damaged"

// Folded is what a file, or several in order, tell of the tests.
type Folded struct {
	Builds []string // names of builds seen, in order of appearance
	// Steps are in the order in which they began, redone ones left out.
	Steps []capture.StepRecord
	// Redone counts the records that a redone mark took out, by step ID.
	Redone   map[string]int
	Accepted []Acceptance
	Reworked []Rework
	// Allowed, Ticked and Answers are what the maker accepted or answered by name;
	// TouchedNothing are the times that nothing was said to be touched.
	Allowed        []ByName
	Ticked         []ByName
	Answers        []ByName
	TouchedNothing []ByName
	// Sittings are in their order; Damage is all that is wrong with the record.
	Sittings []SittingState
	Damage   []Damage
	Warnings []Warning
}

// ByName is a word of the maker about a thing with a name.
type ByName struct {
	Name    string        `json:"name"`
	Closure string        `json:"closure,omitempty"`
	Stage   string        `json:"stage,omitempty"`
	Reason  string        `json:"reason,omitempty"`
	Value   float64       `json:"value,omitempty"` // of a check when it was allowed, in its own unit
	At      time.Time     `json:"at"`
	Order   capture.Order `json:"order"`
}

// SittingState is what a record tells of one sitting as a whole.
type SittingState struct {
	Number    int       `json:"number"`
	File      string    `json:"file"`
	Stage     string    `json:"stage"`
	At        time.Time `json:"at"`
	Simulated bool      `json:"simulated"`
	// Whole: it has its end. Without, the program died in it or was cut off.
	Whole bool `json:"whole"`
	// Chained is false for a record of before the chain.
	Chained bool `json:"chained"`
}

// Damage is something wrong with a record that could matter: a changed, missing,
// doubled, moved or foreign line or file. It caps every verdict until answered.
type Damage struct {
	Name  string        `json:"name"` // by which it is answered: "FILE:LINE" or "FILE"
	File  string        `json:"file"`
	Line  int           `json:"line,omitempty"` // from 1; 0: the file as a whole
	What  string        `json:"what"`
	Order capture.Order `json:"order,omitempty"` // where it stands
	// Answered is what the maker said of it; empty: nothing yet.
	Answered string `json:"answered,omitempty"`
}

// Acceptance is a group that the maker closes over by choice.
type Acceptance struct {
	StepID  string        `json:"step_id,omitempty"`
	Closure string        `json:"closure"`
	Feed    string        `json:"feed"`
	Groups  []string      `json:"groups"`
	Pace    string        `json:"pace,omitempty"`
	Stage   string        `json:"stage"`
	Reason  string        `json:"reason"`
	At      time.Time     `json:"at"`
	Order   capture.Order `json:"order"`
}

// Rework is a solder point, wire, board or group that was touched again. What
// lies behind it must have been measured after it.
type Rework struct {
	Closure string        `json:"closure,omitempty"`
	Clip    bool          `json:"clip,omitempty"`   // only the clip on Place: readings count no more, looks do
	Place   string        `json:"place,omitempty"`  // joint, board or group
	Groups  []string      `json:"groups,omitempty"` // that lie behind it, where the mark says so
	Stage   string        `json:"stage"`
	Reason  string        `json:"reason,omitempty"`
	At      time.Time     `json:"at"`
	Order   capture.Order `json:"order"`
}

// Fold makes the step records of the records of a file.
func Fold(records []Record) Folded {
	var f Folder
	for _, r := range records {
		f.Add(r)
	}
	return f.Folded()
}

// Folder is Fold for records that come one by one, as from Scan. Readings and
// marks belong to the step that was begun last and not ended; a reading whose
// step's begin is missing (a damaged line) is a warning and no reading of any
// other step. The zero Folder is ready.
type Folder struct {
	f    Folded
	open *capture.StepRecord
	last time.Time // of the open step: the latest record

	strays   int // readings without a step, since the last mark
	strayFor string
}

// Add takes the next record.
func (f *Folder) Add(r Record) {
	if r.Build != "" && !slices.Contains(f.f.Builds, r.Build) {
		f.f.Builds = append(f.f.Builds, r.Build)
	}
	if r.Reading != nil {
		f.reading(*r.Reading, r.Step)
		return
	}
	if r.Mark == nil {
		return
	}
	f.flushStrays()
	m := *r.Mark
	switch m.Kind {
	case capture.MarkBegin:
		f.interrupt(noEnd)
		f.open = &capture.StepRecord{Step: *m.Step, Stage: m.Stage, Began: m.At, AmbientC: m.AmbientC,
			Simulated: m.Simulated, Instruments: m.Instruments}
		f.last = m.At
		return
	case capture.MarkRedone:
		f.redone(m)
		return
	case capture.MarkAccepted:
		f.f.Accepted = append(f.f.Accepted, Acceptance{StepID: m.StepID, Closure: m.Closure, Feed: m.Feed,
			Groups: m.Groups, Pace: m.Pace, Stage: m.Stage, Reason: m.Reason, At: m.At})
		if i := f.lastOf(m.StepID, m.Stage); i >= 0 {
			f.f.Steps[i].Accepted = m.Reason
		}
		return
	case capture.MarkReworked:
		f.f.Reworked = append(f.f.Reworked, Rework{Closure: m.Closure, Clip: m.Check == capture.TheClip, Place: m.Feed, Groups: m.Groups,
			Stage: m.Stage, Reason: m.Reason, At: m.At})
		return
	}
	if f.open == nil || f.open.Step.ID != m.StepID {
		f.warn("a mark %q of step %s, whose begin is missing", m.Kind, m.StepID)
		return
	}
	f.inStep(m)
}

// inStep takes a mark of the open step.
func (f *Folder) inStep(m capture.Mark) {
	s := f.open
	if m.At.After(f.last) {
		f.last = m.At
	}
	switch m.Kind {
	case capture.MarkOn:
		if s.On.IsZero() {
			s.On = m.At
		}
	case capture.MarkSettled:
		s.Settled = m.At
	case capture.MarkPoint:
		s.Points = append(s.Points, capture.PointAt{Volts: m.SetVolts, At: m.At})
	case capture.MarkTripped:
		s.Outcome, s.Reason, s.TripVolts = capture.Tripped, m.Reason, m.SetVolts
	case capture.MarkSkipped:
		s.Outcome, s.Reason = capture.Skipped, m.Reason
	case capture.MarkLooked:
		s.Seen = m.Seen
	case capture.MarkEnd:
		s.Outcome, s.Ended = m.Outcome, m.At
		s.Warnings, s.Drops, s.ShortestDropS = m.Warnings, m.Drops, m.ShortestDropS
		if m.Reason != "" {
			s.Reason = m.Reason
		}
		if m.Seen != "" {
			s.Seen = m.Seen
		}
		if m.TripVolts != 0 {
			s.TripVolts = m.TripVolts
		}
		f.close()
	}
}

func (f *Folder) reading(x instruments.Reading, of capture.StepRef) {
	if f.open == nil || of.StepID != f.open.Step.ID {
		if f.strayFor != of.StepID {
			f.flushStrays()
		}
		f.strays, f.strayFor = f.strays+1, of.StepID
		return
	}
	if x.At.After(f.last) {
		f.last = x.At
	}
	if of.Base {
		f.open.Base = append(f.open.Base, x)
	} else {
		f.open.Readings = append(f.open.Readings, x)
	}
}

// redone takes out the attempt under way, else the last one that ended. Earlier
// ones, of another sitting, stay.
func (f *Folder) redone(m capture.Mark) {
	if f.f.Redone == nil {
		f.f.Redone = map[string]int{}
	}
	if f.open != nil && f.open.Step.ID == m.StepID {
		f.open = nil
		f.f.Redone[m.StepID]++
		return
	}
	if i := f.lastOf(m.StepID, m.Stage); i >= 0 {
		f.f.Steps = slices.Delete(f.f.Steps, i, i+1)
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
	byTime := func(a, b instruments.Reading) int { return a.At.Compare(b.At) }
	slices.SortStableFunc(f.open.Readings, byTime)
	slices.SortStableFunc(f.open.Base, byTime)
	f.f.Steps = append(f.f.Steps, *f.open)
	f.open = nil
}

func (f *Folder) flushStrays() {
	if f.strays > 0 {
		f.warn("%d readings of step %q, whose begin is missing; they are not used", f.strays, f.strayFor)
	}
	f.strays, f.strayFor = 0, ""
}

func (f *Folder) warn(format string, a ...any) {
	f.f.Warnings = append(f.f.Warnings, Warning{What: fmt.Sprintf(format, a...)})
}

// Folded gives what was folded so far. A step that is open then is interrupted.
func (f *Folder) Folded() Folded {
	f.flushStrays()
	f.interrupt(noEnd)
	return f.f
}
