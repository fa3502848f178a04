package exchange

import (
	"context"
	"errors"
	"fmt"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// read waits for the echo of message, where there is one, and for one reply,
// where split is given.
func (l *Line) read(ctx context.Context, op string, message []byte, split Split, deadline time.Time) (Reply, error) {
	r := Reply{Sent: l.clk.Now()}
	skip := 0
	if l.opt.Echo {
		skip = len(message)
	}
	rested := false // the gap is over
	defer func() {
		if l.next = l.clk.Now(); !rested {
			l.next = l.next.Add(l.opt.Gap)
		}
	}()
	var got []byte
	buf := make([]byte, 512)
	for {
		n, came, err := ReadStamped(ctx, l.port, l.clk, buf, deadline)
		now := l.clk.Now()
		if err != nil {
			l.outOfStep.Store(true)
			if errors.Is(err, clock.ErrDeadline) {
				return Reply{}, l.silent(op, len(got), skip)
			}
			return Reply{}, l.lost(ctx, op, err)
		}
		got = append(got, buf[:n]...)
		if i := min(len(got), skip); string(got[:i]) != string(message[:i]) && skip > 0 {
			l.outOfStep.Store(true)
			return Reply{}, l.fail(op, fmt.Sprintf("the echo came back as %q", got[:i]), instruments.ErrGarbled)
		}
		if len(got) > skip && r.Start.IsZero() {
			// The bytes of one batch came one after another.
			r.Start = came.Add(-time.Duration(min(len(got)-skip, n)) * l.opt.Line.CharTime())
			if r.Start.Before(r.Sent) {
				r.Start = r.Sent
			}
		}
		if split == nil {
			if len(got) >= skip {
				return r, nil
			}
			continue
		}
		if len(got) < skip {
			continue
		}
		took, reply, err := split(got[skip:])
		switch {
		case err != nil:
			l.outOfStep.Store(true)
			return Reply{}, l.fail(op, fmt.Sprintf("got %q: %v", clip(got[skip:]), err), instruments.ErrGarbled)
		case took > 0 && skip+took < len(got):
			// Which of two replies is the fresh one can't be told.
			l.outOfStep.Store(true)
			return Reply{}, l.fail(op, fmt.Sprintf("more than one reply: %q", clip(got[skip:])),
				instruments.ErrGarbled)
		case took > 0:
			r.Bytes, r.End = append([]byte{}, reply...), came
			if err := l.alone(ctx, op); err != nil {
				return Reply{}, err
			}
			rested = true
			return r, nil
		case len(got)-skip > l.opt.Longest || !now.Before(deadline):
			l.outOfStep.Store(true)
			return Reply{}, l.fail(op, fmt.Sprintf("no end in %d bytes: %q", len(got)-skip, clip(got[skip:])),
				instruments.ErrGarbled)
		}
	}
}

// alone makes sure that nothing comes right behind a reply: it may have been a
// late one, with the fresh one behind it. It waits for the gap, which the next
// command would have to wait for in any case.
func (l *Line) alone(ctx context.Context, op string) error {
	var buf [64]byte
	n, err := l.port.ReadUntil(ctx, buf[:], l.clk.Now().Add(l.opt.Gap))
	if errors.Is(err, clock.ErrDeadline) {
		return nil
	}
	l.outOfStep.Store(true)
	if err != nil {
		return l.lost(ctx, op, err)
	}
	return l.fail(op, fmt.Sprintf("more came behind the reply: %q", clip(buf[:n])), instruments.ErrGarbled)
}

func (l *Line) silent(op string, got, skip int) error {
	if got > skip || got > 0 && got < skip {
		return l.fail(op, "the reply broke off", instruments.ErrGarbled)
	}
	return l.fail(op, "is it switched on, the cable in, the baud rate right?", instruments.ErrNoReply)
}

// stale throws away what has arrived and tells whether there was anything.
func (l *Line) stale(ctx context.Context, op string) (bool, error) {
	var buf [64]byte
	_, err := l.port.ReadUntil(ctx, buf[:], l.clk.Now())
	switch {
	case err == nil:
		l.port.Discard()
		return true, nil
	case errors.Is(err, clock.ErrDeadline):
		return false, nil
	}
	l.outOfStep.Store(true)
	return false, l.lost(ctx, op, err)
}
