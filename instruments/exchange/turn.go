package exchange

import (
	"context"
	"sync"
	"time"

	"sealworthy/instruments/clock"
)

// turn lets one exchange at a time onto the line. Urgent ones go before all
// that wait. Waiting is on the clock, so simulated time goes on meanwhile.
type turn struct {
	mu     sync.Mutex
	taken  bool
	urgent []*clock.Gate
	plain  []*clock.Gate
}

// take returns ErrDeadline at until (zero: no deadline) and ctx.Err when
// cancelled; then the turn is not held.
func (t *turn) take(ctx context.Context, c clock.Clock, urgent bool, until time.Time) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	t.mu.Lock()
	if !t.taken {
		t.taken = true
		t.mu.Unlock()
		return nil
	}
	g := new(clock.Gate)
	queue := &t.plain
	if urgent {
		queue = &t.urgent
	}
	*queue = append(*queue, g)
	t.mu.Unlock()

	err := c.Wait(ctx, g, until)
	if err == nil {
		return nil // handed over
	}
	t.mu.Lock()
	for i, q := range *queue {
		if q == g {
			*queue = append((*queue)[:i], (*queue)[i+1:]...)
			t.mu.Unlock()
			return err
		}
	}
	t.mu.Unlock()
	// It was handed over while the wait ended: pass it on.
	t.give(c)
	return err
}

// give hands the turn to who waits longest, urgent ones first.
func (t *turn) give(c clock.Clock) {
	t.mu.Lock()
	queue := &t.urgent
	if len(*queue) == 0 {
		queue = &t.plain
	}
	if len(*queue) == 0 {
		t.taken = false
		t.mu.Unlock()
		return
	}
	g := (*queue)[0]
	*queue = (*queue)[1:]
	t.mu.Unlock()
	c.Open(g)
}
