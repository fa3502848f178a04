package exchange

import (
	"context"
	"errors"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// intoStep makes sure that the next bytes to come answer the next question. It
// is an exchange of its own, so that an urgent command can go between.
func (l *Line) intoStep(ctx context.Context, op string, urgent bool) error {
	if !l.outOfStep.Load() {
		return nil
	}
	held, err := l.take(ctx, op, urgent)
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
// instrument answers in order: what it owed has then come.
func (l *Line) bySync(ctx context.Context, op string, s *Sync) error {
	deadline := l.clk.Now().Add(l.opt.Timeout)
	message := append(append([]byte{}, l.opt.Wake...), s.Message...)
	if err := l.write(ctx, op, message); err != nil {
		return err
	}
	var got []byte
	buf := make([]byte, 512)
	total := 0
	for {
		until := deadline // while nothing new came
		if quiet := l.clk.Now().Add(l.opt.Quiet); s.Split == nil && total > 0 && quiet.Before(deadline) {
			until = quiet
		}
		n, err := l.port.ReadUntil(ctx, buf, until)
		switch {
		case errors.Is(err, clock.ErrDeadline) && until.Before(deadline):
			if s.Mine(got) {
				l.next = l.clk.Now().Add(l.opt.Gap)
				return nil
			}
			total = 0 // wait for more
			continue
		case errors.Is(err, clock.ErrDeadline):
			return l.silent(op, total, 0)
		case err != nil:
			return l.lost(ctx, op, err)
		case !l.clk.Now().Before(deadline):
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
			mine := s.Mine(reply)
			got = got[took:]
			if mine && len(got) == 0 {
				l.next = l.clk.Now().Add(l.opt.Gap)
				return nil
			}
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
