package capture

import (
	"fmt"
	"math"
	"runtime/debug"
	"time"

	"sealworthy/instruments"
)

// show fills in what every event says and hands it to the face.
func (e *engine) show(ev Event) {
	now := e.b.Clock.Now()
	ev.At = now
	ev.OutputOn, ev.SetVolts, ev.LimitA = e.out.on, e.out.volts, e.out.limit
	ev.Sensing = e.out.on && e.out.sensing
	ev.ToTap = ev.Sensing && e.toTap
	ev.Unsure = e.out.unsure
	ev.Sweeping, ev.ByHand = e.sweeping && e.out.on, byHand(e.b.Supply)
	if !e.litUntil.IsZero() && e.out.on {
		ev.LitFor = max(0, e.litUntil.Sub(now))
	}
	if ev.Step == nil && e.rec != nil {
		s := e.rec.Step
		ev.Step = &s
	}
	ev.Done = len(e.done)
	ev.Total = max(e.o.Total, ev.Done)
	left := e.remaining
	if !ev.Sensing { // how long hands take nobody knows
		left -= now.Sub(e.began)
	}
	ev.Remaining = max(left, 0)
	ev.Kept = e.r.Kept()
	defer func() {
		if p := recover(); p != nil {
			// The contexts end with it, so the test ends at its next wait.
			e.guard.stop(&PanicError{Value: p, Stack: debug.Stack()})
		}
	}()
	e.f.Show(ev)
}

// warn shows a warning and keeps it with the step, once.
func (e *engine) warn(text string) {
	if e.rec != nil {
		for _, w := range e.rec.Warnings {
			if w == text {
				return
			}
		}
		e.rec.Warnings = append(e.rec.Warnings, text)
	}
	e.show(Event{What: Warning, Text: text})
}

// mark writes a mark of the step under way.
func (e *engine) mark(m Mark) error {
	if m.At.IsZero() {
		m.At = e.b.Clock.Now()
	}
	m.Simulated = e.rec.Simulated
	m.SetVolts, m.LimitA = e.out.volts, e.out.limit
	s := e.rec.Step
	m.StepID, m.Closure, m.Feed, m.Pace = s.ID, s.Closure, s.Feed, s.Pace
	if m.Groups == nil {
		m.Groups = s.Groups
	}
	m.Stage = e.o.Stage
	if err := e.r.Mark(m); err != nil {
		return &keptError{err: err}
	}
	e.tellGuide(m)
	return nil
}

// tellGuide hands on what was told of the model, so that the next step is judged by it.
func (e *engine) tellGuide(m Mark) {
	h, ok := e.g.(Hearer)
	if !ok || m.Kind != MarkReworked && m.Kind != MarkTakenBack {
		return
	}
	if p, ok := e.r.(Placed); ok {
		m.Order = p.LastMark()
	}
	h.Hear(m)
}

// note writes a mark that belongs to no step.
func (e *engine) note(m Mark) error {
	m.At, m.Stage, m.Simulated = e.b.Clock.Now(), e.o.Stage, e.simulated()
	if err := e.r.Mark(m); err != nil {
		return &keptError{err: err}
	}
	e.tellGuide(m)
	return nil
}

// simulated tells whether time or an instrument is.
func (e *engine) simulated() bool {
	for _, d := range e.desc {
		if d.Simulated {
			return true
		}
	}
	return e.b.Clock.Simulated()
}

// keep puts a reading into the record and the step. What is read while feeling for
// a clip is of no step: it measures nothing.
func (e *engine) keep(r instruments.Reading) error {
	if e.rec == nil {
		return nil
	}
	s := e.rec.Step
	if e.base {
		e.rec.Base = append(e.rec.Base, r)
	} else {
		e.rec.Readings = append(e.rec.Readings, r)
	}
	err := e.r.Append(r, StepRef{StepID: s.ID, Closure: s.Closure, Feed: s.Feed, Groups: s.Groups,
		Pace: s.Pace, Stage: e.o.Stage, Base: e.base})
	if err != nil {
		return &keptError{err: err}
	}
	return nil
}

// begin starts the record of a step.
func (e *engine) begin(s Step) error {
	e.began, s.Leads = e.b.Clock.Now(), e.b.Leads
	e.remaining = e.g.Remaining(e.done)
	e.pairs, e.overloads, e.base, e.early = nil, 0, false, early{}
	e.rec = &StepRecord{Step: s, Stage: e.o.Stage, Began: e.began, AmbientC: e.b.AmbientC,
		Simulated: e.simulated(), Instruments: e.desc, Warnings: e.carry}
	e.carry = nil
	e.show(Event{What: StepBegins, Text: s.Ask})
	return e.mark(Mark{Kind: MarkBegin, At: e.began, Step: &s, PlanRevision: s.PlanRevision,
		Instruments: e.desc, AmbientC: e.b.AmbientC})
}

// finish ends the record of a step and counts it as done.
func (e *engine) finish(o Outcome, reason string) error {
	r := e.rec
	r.Ended, r.Outcome, r.Reason = e.b.Clock.Now(), o, reason
	err := e.mark(Mark{Kind: MarkEnd, At: r.Ended, Outcome: o, Reason: reason, Seen: r.Seen, TripVolts: r.TripVolts,
		Warnings: r.Warnings, ShortestDropS: r.ShortestDropS, Drops: r.Drops})
	e.done = append(e.done, *r)
	e.rec = nil
	return err
}

// amps writes a current as a maker reads it.
func amps(a float64) string {
	switch b := math.Abs(a); {
	case b < 1e-3:
		return fmt.Sprintf("%.0f µA", a*1e6)
	case b < 0.1:
		return fmt.Sprintf("%.1f mA", a*1e3)
	case b < 1:
		return fmt.Sprintf("%.0f mA", a*1e3)
	}
	return fmt.Sprintf("%.2f A", a)
}

// roughly writes a time as one plans with it.
func roughly(d time.Duration) string {
	switch s := int(math.Ceil(d.Seconds())); {
	case s < 90:
		return fmt.Sprintf("%d s", s)
	default:
		return fmt.Sprintf("%d min", (s+59)/60)
	}
}
