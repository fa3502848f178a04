package session

import (
	"context"
	"errors"
	"fmt"

	"sealworthy/capture"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/smoke"
)

// tryAll goes through the instruments that are taken, if the maker wants it.
func (s *Search) tryAll(ctx context.Context, all []Looked) error {
	taken := Usable(all)
	if len(taken) == 0 || s.Desk.Nobody() {
		return nil
	}
	if !s.Try {
		var kinds []string
		for _, x := range taken {
			kinds = append(kinds, string(x.Use.Kind))
		}
		a, err := s.ask(ctx, AskTry, About{Instruments: kinds}, nil, TryThem, Leave)
		if err != nil || a.Choice == Leave {
			return err
		}
	}
	for _, x := range taken {
		if err := s.tryOne(ctx, x); err != nil {
			return err
		}
	}
	return nil
}

// tryOne goes through one instrument. What it doesn't do is told; the error is an end
// of the search.
func (s *Search) tryOne(ctx context.Context, x *Looked) error {
	s.Desk.Tell(Event{What: Trying, Port: x.Port, Text: string(x.Use.Kind)})
	c, err := bench.Connect(ctx, s.World.Clock, s.World.Open, x.Port, x.Use)
	if err != nil {
		return err
	}
	closing := c.Port.Close
	tried := *c
	if c.Supply != nil {
		o := s.hold(c, x)
		tried.Supply, closing = o, o.letGo
	}
	found, err := smoke.Try(ctx, s.World.Clock, &tried, x.Use, trialHands{s})
	var cerr error
	if c.Supply == nil || err != nil {
		cerr = closing()
	}
	switch {
	case errors.Is(err, smoke.ErrMayBeOn):
		return errors.Join(offUnsure{err}, cerr)
	case ctx.Err() != nil, errors.Is(err, capture.ErrStopped), errors.Is(err, errNoAnswer):
		return errors.Join(err, cerr)
	case err != nil:
		x.Why = "it doesn't keep what its driver promises: " + err.Error()
	}
	x.Tried = err == nil
	if found.LimitStepA > 0 {
		x.Found.Changes = append(x.Found.Changes, profile.Change{Table: "supply", Key: "step_amps",
			Value: fmt.Sprint(found.LimitStepA)})
		cerr = errors.Join(cerr, s.derive(x))
		s.onChannel(x, x.Channel)
	}
	s.tell(*x)
	return cerr
}

// offUnsure is what ended a trial whose supply didn't confirm its off: to whoever shows how a
// test ended it's what it is there, so that no STOP passes for an off.
type offUnsure struct{ error }

func (offUnsure) Is(target error) bool { return target == capture.ErrOffNotConfirmed }
func (e offUnsure) Unwrap() error      { return e.error }

// errNoAnswer: a question of a trial got no answer; nothing further can be asked.
var errNoAnswer = errors.New("nobody answers")

// trialHands are those of the maker who watches while an instrument is tried.
type trialHands struct{ s *Search }

// Tell tells one thing that was found.
func (h trialHands) Tell(text string) { h.s.Desk.Tell(Event{What: Tried, Text: text}) }

// Ask asks whether nothing hangs on what is switched in a moment. A no leaves it off.
func (h trialHands) Ask(ctx context.Context, q smoke.Question) (bool, error) {
	a, err := h.s.ask(ctx, AskFree, About{Instrument: string(q)}, nil, Free, NotFree)
	if err != nil && !errors.Is(err, capture.ErrStopped) {
		err = errors.Join(errNoAnswer, err)
	}
	return err == nil && a.Choice == Free, err
}

// Output tells what the supply's output does.
func (h trialHands) Output(o smoke.Output) {
	e := capture.Event{At: h.s.World.Clock.Now(), What: capture.OutputOff, OutputOn: o.On, Unsure: o.Unsure,
		SetVolts: o.Volts, LimitA: o.LimitA}
	if o.On {
		e.What = capture.OutputOn
	}
	if o.Unsure {
		e.What, e.Text = capture.Warning, "the supply doesn't confirm that its output is off"
	}
	h.s.Desk.Show(e)
}
