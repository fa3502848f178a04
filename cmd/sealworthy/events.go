package main

import (
	"errors"
	"io"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

// eventsUsage is what --events does, of each verb that has it.
const eventsUsage = "speak JSON lines, for a program: events out, answers in; with -h it tells them all"

// streamed does what a verb does with a stream of lines instead of a terminal:
// events, its result and its end go to stdout, answers come from stdin.
func streamed(e env, w world, attended bool, do func(env) (int, error)) (int, error) {
	guard := capture.NewGuard(w.Clock)
	l := session.NewLines(e.stdout, guard.Go, guard.Stop)
	desk := session.NewDesk(!attended, guard.Go, l)
	desk.Tell(session.Event{What: session.Hello, Version: session.Version, Text: session.Program()})
	if attended {
		l.Listen(e.stdin, desk)
	}
	e.at, e.stdout = &seat{desk: desk, guard: guard}, outletOf(io.Discard)
	status, err := do(e)
	end := session.Event{What: session.Over, Status: &status}
	if err != nil {
		err = explained(err)
		status, end.Text = statusOf(err), err.Error()
		var h *hinted
		if errors.As(err, &h) {
			end.Hints = h.hints
		}
	}
	desk.Tell(end)
	return status, errors.Join(err, l.Close())
}

// found prints what a verb found for programs: as JSON, or as an event where
// events are spoken.
func (e env) found(v any) error {
	if e.at != nil {
		e.at.desk.Tell(session.Event{What: session.Found, Result: printed{v}})
		return nil
	}
	return writeJSON(e.stdout, v)
}
