package exchange

import (
	"context"
	"errors"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// intoStep makes sure that the next bytes to come answer the next question. It
// is an exchange of its own, so that an urgent command can go between.
func (l *Line) intoStep(ctx context.Context, op string, urgent bool) error {
	if !l.outOfStep.Load() {
		return nil
	}
	held, err := l.takeToAsk(ctx, op, urgent)
	if err != nil {
		return err
	}
	if !held {
		return l.fail(op, "another exchange hangs", instruments.ErrNoReply)
	}
	defer l.turn.give(l.clk)
	if !l.outOfStep.Load() {
		return nil
	}
	l.port.Discard()
	if s := l.sync.Load(); s != nil {
		err = l.bySync(ctx, op, s)
	} else {
		err = l.bySilence(ctx, op)
	}
	if err == nil {
		l.outOfStep.Store(false)
	}
	return err
}

// bySync asks what can't be mistaken and throws away all before its answer. An
// instrument answers in order: what it owed has then come. A silence after it
// makes sure: else a reply that came out of order would pass for the next
// answer, and each answer after it for the one before.
func (l *Line) bySync(ctx context.Context, op string, s *Sync) error {
	message := append(append([]byte{}, l.opt.Wake...), s.Message...)
	l.pace.told(commands(message, l.opt.Wake) - 1)
	deadline := l.deadline().Add(time.Duration(l.owed) * spare * l.pace.shown())
	l.pace.waiting = 0 // they have their time now
	silence := l.opt.Quiet
	if l.owed > 0 { // more than one such answer may come
		silence = max(silence, (1+spare)*l.pace.shown())
	}
	l.owed = min(l.owed+1, mostOwed)
	if err := l.write(ctx, op, message); err != nil {
		return err
	}
	var got []byte
	buf := make([]byte, 512)
	total := 0
	mine := false
	for {
		until := deadline // while nothing new came
		if quiet := l.clk.Now().Add(silence); (mine || s.Split == nil && total > 0) && quiet.Before(deadline) {
			until = quiet
		}
		n, err := l.port.ReadUntil(ctx, buf, until)
		now := l.clk.Now()
		switch {
		case errors.Is(err, clock.ErrDeadline) && (mine || s.Split == nil && total > 0 && s.Mine(got)):
			l.next = now.Add(l.opt.Gap)
			l.owed = 0
			return nil
		case errors.Is(err, clock.ErrDeadline) && until.Before(deadline):
			total = 0 // wait for more
			continue
		case errors.Is(err, clock.ErrDeadline):
			return l.silent(op, len(got), 0)
		case err != nil:
			return l.lost(ctx, op, err)
		case !now.Before(deadline):
			return l.fail(op, "bytes without end", instruments.ErrGarbled)
		}
		total += n
		got = append(got, buf[:n]...)
		for s.Split != nil && len(got) > 0 {
			took, reply, err := s.Split(got)
			if err != nil {
				got = got[1:]
				continue
			}
			if took == 0 {
				break
			}
			mine = s.Mine(reply) || mine
			got = got[took:]
		}
		if len(got) > l.opt.Longest {
			got = got[len(got)-l.opt.Longest:]
		}
	}
}

// bySilence reads until nothing has come for Options.Quiet.
func (l *Line) bySilence(ctx context.Context, op string) error {
	deadline := l.clk.Now().Add(l.opt.Timeout)
	buf := make([]byte, 512)
	for {
		until := l.clk.Now().Add(l.opt.Quiet)
		_, err := l.port.ReadUntil(ctx, buf, until)
		switch {
		case errors.Is(err, clock.ErrDeadline):
			return nil
		case err != nil:
			return l.lost(ctx, op, err)
		case !l.clk.Now().Before(deadline):
			return l.fail(op, "bytes without end: is the baud rate right?", instruments.ErrGarbled)
		}
	}
}

// stamper is a port that knows when bytes came, which may be well before they
// are read: a busy machine wakes readers late.
type stamper interface {
	ReadStamped(ctx context.Context, p []byte, deadline time.Time) (int, time.Time, error)
}

// ReadStamped is ReadUntil with the time at which the bytes came, where the port
// knows it, and the present else.
func ReadStamped(ctx context.Context, p instruments.Port, c clock.Clock, buf []byte, deadline time.Time) (int,
	time.Time, error) {
	if s, ok := p.(stamper); ok {
		return s.ReadStamped(ctx, buf, deadline)
	}
	n, err := p.ReadUntil(ctx, buf, deadline)
	return n, c.Now(), err
}
