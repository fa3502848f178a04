package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"

	"sealworthy/capture"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/find"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/smoke"
)

// hands are those of the maker who watches while an instrument is tried.
type makersHands struct {
	e     env
	guard *capture.Guard
	asks  bool // somebody is at a terminal
	lines chan string
	leave func()
	once  sync.Once
}

// newHands listens to the maker, and switches off at a signal.
func newHands(e env, w world, asks bool) *makersHands {
	h := &makersHands{e: e, guard: capture.NewGuard(w.Clock), asks: asks, lines: make(chan string)}
	h.leave = watchSignals(e, h.guard)
	return h
}

// listen reads what the maker types, from the first question on. It ends with the
// input or the process.
func (h *makersHands) listen() {
	guard := h.guard
	guard.Go(func() {
		defer close(h.lines)
		for s := bufio.NewScanner(h.e.stdin); s.Scan(); {
			h.lines <- strings.TrimSpace(s.Text())
		}
	}, nil)
}

// Tell says one thing that was found.
func (h *makersHands) Tell(text string) { wrap(h.e.stdout, "  * ", "    ", text) }

// errNobody: the input ended before a question was answered.
var errNobody = errors.New("nobody answers: the input has ended")

// Ask waits for yes, in full, or no, which is Enter, too: something may go on then.
// ErrStopped: the maker ended it.
func (h *makersHands) Ask(ctx context.Context, question string) (bool, error) {
	return h.ask(ctx, question+" [yes/no, q: stop]", false)
}

// ask takes Enter for the usual answer.
func (h *makersHands) ask(ctx context.Context, question string, usual bool) (bool, error) {
	h.once.Do(h.listen)
	ctx, done := h.guard.Context(ctx)
	defer done()
	for {
		wrap(h.e.stdout, "  ", "  ", question)
		select {
		case <-ctx.Done():
			return false, context.Cause(ctx)
		case line, more := <-h.lines:
			switch {
			case !more:
				return false, errNobody
			case stops(line):
				return false, capture.ErrStopped
			case line == "":
				return usual, nil
			case line == "yes":
				return true, nil
			case line == "no" || line == "n":
				return false, nil
			}
			wrap(h.e.stdout, "  ", "  ", "Type yes in full, or no; q stops.")
		}
	}
}

// tryAll goes through the instruments that were found, if the maker wants it.
func (v benchVerb) tryAll(ctx context.Context, w world, h *makersHands, f find.Finder, folder string,
	looked []lookedAt) error {
	found := usable(looked)
	if len(found) == 0 || v.asJSON || !v.try && !h.asks {
		return nil
	}
	if !v.try {
		which := "it"
		if len(found) > 1 {
			which = "them"
		}
		yes, err := h.ask(ctx, "Try "+which+" now, a minute each? [yes, Enter: no, q: stop]", false)
		if err != nil || !yes {
			return err
		}
	}
	for i := range looked {
		if looked[i].use == nil {
			continue
		}
		if err := v.tryOne(ctx, w, h, f, folder, &looked[i]); err != nil {
			return err
		}
	}
	return nil
}

// tryOne goes through one instrument. What it doesn't do is told; the error is an end
// of the verb.
func (v benchVerb) tryOne(ctx context.Context, w world, h *makersHands, f find.Finder, folder string,
	x *lookedAt) error {
	ctx, done := h.guard.Context(ctx)
	defer done()
	fmt.Fprintf(h.e.stdout, "\n%s on %s\n", x.Found.Kind, x.Port)
	c, err := bench.Connect(ctx, w.Clock, w.Open, x.Port, x.use)
	if err != nil {
		return err
	}
	if c.Supply != nil {
		defer h.guard.Register("supply", c.Supply)()
	}
	found, err := smoke.Try(ctx, w.Clock, c, x.use, h)
	cerr := c.Port.Close()
	switch {
	case ctx.Err() != nil:
		return errors.Join(context.Cause(ctx), err)
	case errors.Is(err, errNobody), errors.Is(err, capture.ErrStopped):
		return errors.Join(err, cerr)
	case err != nil:
		wrap(h.e.stdout, "  ! ", "    ", err.Error())
		x.Why = "it doesn't keep what its driver promises: " + err.Error()
	}
	x.Tried = err == nil
	if found.LimitStepA > 0 {
		x.Found.Changes = append(x.Found.Changes, profile.Change{Table: "supply", Key: "step_amps",
			Value: fmt.Sprint(found.LimitStepA)})
		return errors.Join(cerr, x.derive(f, folder))
	}
	return cerr
}
