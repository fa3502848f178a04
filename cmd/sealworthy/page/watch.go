package page

import (
	"sync"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/tones"
	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare"
	"sealworthy/compare/words"
)

// Watch follows a session: it folds what happens into a State and wakes whoever
// shows it. It is a session.Face, and knows whether somebody sees the page.
type Watch struct {
	now    func() time.Time
	missed time.Duration // after which a silent page isn't seen

	mu      sync.Mutex
	state   State
	version uint64
	changed chan struct{} // closed at the next change
	seen    time.Time     // when a page that is to be seen answered last
	tones   []tone        // the latest ones
	toned   uint64        // tones so far
	ear     tones.Ear
}

// tone is a sound that goes with an event.
type tone struct {
	n    uint64
	name tones.Name
}

// missedAfter is how long a page may be silent before nobody is taken to see it;
// beats come three times in that time (our own choice: with what a reading takes the
// output is off within two seconds).
const (
	missedAfter = 1000 * time.Millisecond
	beatEvery   = 300 * time.Millisecond
)

var _ session.Watcher = (*Watch)(nil)

func newWatch(now func() time.Time, missed time.Duration) *Watch {
	return &Watch{now: now, missed: missed, changed: make(chan struct{}), state: State{Output: NotKnown}}
}

// Watched tells whether a page was to be seen a moment ago.
func (w *Watch) Watched() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.now().Sub(w.seen) < w.missed
}

// Seen says that a page is to be seen.
func (w *Watch) Seen() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.seen = w.now()
}

// change changes the state and wakes whoever shows it.
func (w *Watch) change(do func(*State)) {
	w.mu.Lock()
	defer w.mu.Unlock()
	do(&w.state)
	w.wake()
}

// wake is for whoever holds mu.
func (w *Watch) wake() {
	w.version++
	close(w.changed)
	w.changed = make(chan struct{})
}

// passes takes away what was said long enough, and wakes whoever shows it.
func (w *Watch) passes() {
	w.mu.Lock()
	defer w.mu.Unlock()
	if s := &w.state; s.stopPasses() && w.now().Sub(s.StopAt) >= stopSaidFor {
		s.stopOver = true
		w.wake()
	}
}

// sound adds a tone. mu is held.
func (w *Watch) sound(name tones.Name) {
	w.toned++
	w.tones = append(w.tones, tone{w.toned, name})
	if len(w.tones) > 8 {
		w.tones = w.tones[1:]
	}
}

// Tell takes an event over.
func (w *Watch) Tell(e session.Event) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, t := range w.ear.Hear(e) {
		w.sound(t)
	}
	s := &w.state
	switch e.What {
	case session.Opened:
		s.Bench, s.Simulated = e.Bench, s.Simulated || e.Bench.Simulated
		if !e.Bench.ByHand { // opening it switches it off and reads that back
			s.Output, s.Unsure = Off, false
		}
	case session.Cautioned:
		s.say("caution", e.Text)
	case session.Noted:
		s.say("note", e.Text)
	case session.WrongInPlan:
		s.say("warning", wording.WrongInPlan(e.Wrong.Text, e.Wrong.Closures))
	case session.Proved:
		for _, x := range e.Proof.Warnings {
			s.say("warning", "bench: "+x)
		}
		if e.Proof.Good() {
			s.say("note", wording.BenchProved(*e.Proof))
		}
	case session.Recording, session.Written:
		s.File = e.File
	case session.Looking:
		s.Searches = wording.LooksAt(e.Port)
	case session.LookedAt:
		s.found(*e.Looked)
		s.Simulated = s.Simulated || e.Looked.Simulated()
	case session.Trying:
		s.Searches = wording.Tries(e.Text, e.Port)
		s.say("told", s.Searches)
	case session.Tried:
		s.say("told", e.Text)
	case session.Remetered:
		for _, x := range wording.Remetered(*e.Meter) {
			s.say("note", x)
		}
	case session.Chosen:
		s.say("told", "next: "+e.Next.What)
	case session.Shown:
		w.test(*e.Test, e.Band)
		w.returned(*e.Test, e.Return)
	case session.Asked:
		q := *e.Ask
		s.Ask, s.Opened, s.Refused, s.Felt, s.Searches = &q, w.now(), "", capture.Event{}, ""
	case session.Answered, session.Withdrawn:
		if s.Ask != nil && s.Ask.Number == e.Of {
			s.Ask, s.Refused = nil, ""
		}
	case session.Refused:
		if s.Ask != nil && s.Ask.Number == e.Of && e.Why != session.Late {
			s.Refused = refusal(e.Why, *s.Ask)
		}
	case session.Found:
		if r, ok := e.Result.(interface {
			Findings() []compare.ClosureFinding
		}); ok {
			cs := r.Findings()
			s.Closures, s.FoundOf, s.FoundAt = cs, "", w.now()
			if r, ok := e.Result.(interface{ Files() string }); ok {
				s.FoundOf = r.Files()
			}
			for _, c := range cs {
				for _, f := range c.Groups {
					s.row(Row{Said: compare.Say(f)})
				}
			}
		}
	case session.Over:
		over := e
		s.Over, s.Running, s.Step, s.Ask, s.Searches = &over, false, nil, nil, ""
	}
	w.wake()
}

// refusal says why an answer wasn't taken.
func refusal(r session.Refusal, q session.Question) string {
	switch r {
	case session.NeedsText:
		return "Say why, too, in a few words."
	case session.OutOfRange:
		return wording.ValueWanted(q)
	}
	return "That was no answer to this question."
}

// test takes over what the engine shows.
func (w *Watch) test(e capture.Event, band *session.Band) {
	s := &w.state
	was := s.Output
	s.Output = Off
	switch {
	case e.Unsure:
		s.Output, s.Unsure = NotKnown, true
	case e.OutputOn && e.Sensing:
		s.Output = Sensing
	case e.OutputOn:
		s.Output = On
	}
	if e.Step != nil {
		step := *e.Step
		s.Step, s.Test = &step, e
	} else {
		s.Test.OutputOn, s.Test.Sensing, s.Test.SetVolts, s.Test.LimitA = e.OutputOn, e.Sensing, e.SetVolts, e.LimitA
	}
	if s.Output == Sensing && was != Sensing { // what hangs on the clip isn't that of the step before
		s.Band, s.BandOf, s.Trace, s.metered = nil, byPlan, nil, false
	}
	w.reading(e)
	if e.What != capture.SoFar && !e.OutputOn { // it ended, well or not: what counts is said now
		s.SoFar = nil
	}
	switch e.What {
	case capture.SoFar:
		s.SoFar = e.Said
	case capture.Starting:
		s.Band, s.Trace = nil, nil
		s.say("note", e.Text)
	case capture.StepBegins:
		s.Felt, s.SoFar = capture.Event{}, nil
		s.Band, s.Amps, s.AmpsText, s.metered, s.Drops, s.Trace = band, nil, "", false, 0, nil
		s.BandOf = byPlan
	case capture.RampStep:
		if e.Sweeping { // what flows is held against what is expected at this voltage, or against nothing
			s.Band, s.BandOf = band, byPlan
		}
	case capture.OutputOff:
		s.Amps, s.AmpsText, s.Unsure = nil, "", false
		s.Felt = capture.Event{}
	case capture.Contact, capture.HandsOff:
		s.Felt = e
	case capture.NothingYet:
		s.Felt = e
		s.say("told", e.Text)
	case capture.ClipOff:
		s.Felt = capture.Event{}
		if s.Ask != nil && s.Ask.Kind == capture.AskSense && e.Text != "" {
			q := *s.Ask
			q.Text = e.Text
			s.Ask = &q
		}
	case capture.Trip:
		s.say("trip", e.Text)
	case capture.DropSeen:
		s.Drops++
	case capture.Told, capture.Lit:
		s.say("told", e.Text)
	case capture.Warning:
		s.say("warning", e.Text)
	case capture.Paused:
		s.say("paused", e.Text)
		s.Amps, s.AmpsText = nil, "" // what flows now nobody knows
	case capture.StepEnds:
		w.stepEnded(e)
	case capture.Ended:
		s.Step = nil
		s.say("note", e.Text)
	}
}

// returned takes over what a step of a return is for and told.
func (w *Watch) returned(e capture.Event, r *session.ReturnStep) {
	s := &w.state
	if r == nil || e.Step == nil {
		s.Purpose = ""
		return
	}
	s.Purpose = r.Purpose
	switch {
	case e.What == capture.StepBegins && r.First:
		s.say("told", wording.PurposeText(*e.Step, r.Purpose))
	case e.What == capture.StepEnds && r.Stopped:
		s.LastOf, s.LastText = wording.StepLabel(*e.Step, r.Purpose), "stopped"
	case e.What == capture.StepEnds && e.Text == "":
		s.LastOf, s.LastText = wording.StepLabel(*e.Step, r.Purpose), wording.ToldBy(*r)
		s.say("told", s.LastOf+": "+s.LastText)
	}
}

// stepEnded takes over the verdicts of a step.
func (w *Watch) stepEnded(e capture.Event) {
	s := &w.state
	if e.Step == nil {
		return
	}
	s.Last, s.LastOf, s.LastText = e.Said, wording.Subject(*e.Step), e.Text
	for _, x := range e.Said {
		s.row(Row{Said: x})
	}
	s.Band = nil
	if len(e.Said) == 1 && e.Said[0].HighA > 0 { // the bar stands beside the verdict: it's held against the same
		s.Band, s.BandOf = &session.Band{LowA: e.Said[0].LowA, HighA: e.Said[0].HighA}, ofVerdict
	}
}

// reading takes over what flows. The supply's own reading counts only where no meter
// was read.
func (w *Watch) reading(e capture.Event) {
	r, s := e.Reading, &w.state
	if r == nil || r.Unit != "A" || (r.Instrument == compare.SupplyName && s.metered) {
		return
	}
	s.metered = s.metered || r.Instrument != compare.SupplyName
	v, ok := r.Float()
	if !ok {
		s.Amps, s.AmpsText = nil, "- "+string(r.Status)
		return
	}
	s.Amps, s.AmpsText = &v, words.Milliamps(v, r.HalfWidth)
	if e.OutputOn {
		s.add(e.At, v)
	}
}

// begun is a session that begins: nothing of the one before stays but what was found,
// and that its off wasn't confirmed.
func (w *Watch) begun(o Order, of Overview, now time.Time) {
	w.change(func(s *State) {
		*s = State{Order: o, Name: of.Name, Photo: of.photo(), Simulated: of.Simulated, Groups: of.Groups,
			Feeds: of.Feeds, Buttons: of.Buttons, Glued: of.Glued, Parts: len(of.Parts), Running: true, Since: now,
			Output: NotKnown, Unsure: s.Unsure,
			Rows: known(of.Findings, o.Closure)}
	})
}

// knew takes in what was found before the test that an order began, where that was still being judged then. What the
// test itself has found stays.
func (w *Watch) knew(o Order, f Findings) {
	w.change(func(s *State) {
		if !s.Running || s.Order.Build != o.Build || s.Order.Closure != o.Closure {
			return
		}
		all := State{Rows: known(&f, o.Closure)}
		for _, r := range s.Rows {
			all.row(r)
		}
		s.Rows = all.Rows
	})
}
