package clock

import (
	"container/heap"
	"context"
	"sync"
	"time"
)

// Simulated is a discrete-event clock. Parties that time or a gate wakes run
// one at a time, in the order in which they were woken, so that a run can be
// repeated. Time stands still while any of them runs.
type Simulated struct {
	mu      sync.Mutex
	now     time.Time
	running int // parties that run
	held    int
	seq     uint64
	timed   waitHeap             // waits with a deadline
	waits   map[*waiter]struct{} // all waits that are neither ready nor running
	ready   []*waiter            // woken, not yet running
	pace    pacer
}

// waiter is one Wait under way.
type waiter struct {
	ctx   context.Context
	gate  *Gate
	until time.Time
	seq   uint64
	index int // in the heap; -1 outside
	state waitState
	err   error
	wake  chan struct{}
}

type waitState int

const (
	waiting waitState = iota
	isReady
	awake
)

var _ Clock = (*Simulated)(nil)

// NewSimulated returns a clock that stands at t. Its caller counts as a party.
func NewSimulated(t time.Time) *Simulated {
	return &Simulated{now: t.Round(0), running: 1, waits: map[*waiter]struct{}{}}
}

// Now is the simulated time.
func (s *Simulated) Now() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.now
}

// Simulated is true.
func (s *Simulated) Simulated() bool { return true }

// Wait lets other parties run and time go on until the gate opens, the deadline
// comes or ctx is cancelled.
func (s *Simulated) Wait(ctx context.Context, g *Gate, until time.Time) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	s.mu.Lock()
	if g != nil && g.state.open {
		g.state.open = false
		s.mu.Unlock()
		return nil
	}
	if !until.IsZero() && !until.After(s.now) {
		s.mu.Unlock()
		return reached(g)
	}
	if s.running == 0 {
		s.mu.Unlock()
		return ErrNoParty
	}
	w := &waiter{ctx: ctx, gate: g, until: until.Round(0), seq: s.seq, index: -1, wake: make(chan struct{})}
	s.seq++
	s.waits[w] = struct{}{}
	if !until.IsZero() {
		heap.Push(&s.timed, w)
	}
	if g != nil {
		g.state.waiter = w
	}
	s.running--
	s.step()
	s.mu.Unlock()

	select {
	case <-w.wake:
		return w.err
	case <-ctx.Done():
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	switch w.state {
	case waiting:
		s.forget(w)
		w.err = ctx.Err()
		s.running++
	case isReady: // don't wait for the turn: the canceller may be blocking for us
		for i, r := range s.ready {
			if r == w {
				s.ready = append(s.ready[:i], s.ready[i+1:]...)
				break
			}
		}
		s.running++
	}
	w.state = awake
	return w.err
}

// Open wakes the Wait on g, now or later.
func (s *Simulated) Open(g *Gate) {
	s.mu.Lock()
	defer s.mu.Unlock()
	w := g.state.waiter
	if w == nil {
		g.state.open = true
		return
	}
	s.makeReady(w, nil)
	s.step()
}

// Hold keeps time still until release. Parties that are woken still run.
func (s *Simulated) Hold() (release func()) {
	s.mu.Lock()
	s.held++
	s.mu.Unlock()
	var once sync.Once
	return func() {
		once.Do(func() {
			s.mu.Lock()
			s.held--
			s.step()
			s.mu.Unlock()
		})
	}
}

// Go runs f as a party.
func (s *Simulated) Go(f func()) {
	s.mu.Lock()
	s.running++
	s.mu.Unlock()
	go func() {
		defer s.leave()
		f()
	}()
}

func (s *Simulated) leave() {
	s.mu.Lock()
	s.running--
	s.step()
	s.mu.Unlock()
}

// Outside runs f while its caller is not counted.
func (s *Simulated) Outside(f func()) {
	s.mu.Lock()
	counted := s.running > 0
	if counted {
		s.running--
		s.step()
	}
	s.mu.Unlock()
	if counted {
		defer func() {
			s.mu.Lock()
			s.running++
			s.mu.Unlock()
		}()
	}
	f()
}

// Stuck reports a deadlock: no party runs, none waits for a time, and nothing
// is held. Only an Open, a Go or a cancelled context from outside can go on
// from there; the clock doesn't spin meanwhile.
func (s *Simulated) Stuck() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.running == 0 && len(s.ready) == 0 && s.held == 0 && len(s.timed) == 0 && len(s.waits) > 0
}

// step lets the next party run, if none does. It is called with mu held after
// every change that could make it possible.
func (s *Simulated) step() {
	for s.running == 0 {
		if len(s.ready) > 0 {
			w := s.ready[0]
			s.ready = s.ready[1:]
			w.state = awake
			s.running++
			close(w.wake)
			return
		}
		if s.held > 0 || s.cancelled() || len(s.timed) == 0 {
			return
		}
		w := s.timed[0]
		if w.until.After(s.now) {
			if !s.pace.allows(s.now, w.until, s.retry) {
				return
			}
			s.now = w.until
		}
		s.makeReady(w, reached(w.gate))
	}
}

// cancelled reports whether a wait's context has ended. Its goroutine wakes by
// itself soon; until then time must not jump past the moment of cancelling.
func (s *Simulated) cancelled() bool {
	for w := range s.waits {
		if w.ctx.Err() != nil {
			return true
		}
	}
	return false
}

func (s *Simulated) retry() {
	s.mu.Lock()
	s.step()
	s.mu.Unlock()
}

func (s *Simulated) makeReady(w *waiter, err error) {
	s.forget(w)
	w.state, w.err = isReady, err
	s.ready = append(s.ready, w)
}

func (s *Simulated) forget(w *waiter) {
	delete(s.waits, w)
	if w.index >= 0 {
		heap.Remove(&s.timed, w.index)
	}
	if w.gate != nil && w.gate.state.waiter == w {
		w.gate.state.waiter = nil
	}
}

// waitHeap orders waits by time, then by order of coming.
type waitHeap []*waiter

func (h waitHeap) Len() int { return len(h) }
func (h waitHeap) Less(i, j int) bool {
	if h[i].until.Equal(h[j].until) {
		return h[i].seq < h[j].seq
	}
	return h[i].until.Before(h[j].until)
}
func (h waitHeap) Swap(i, j int) {
	h[i], h[j] = h[j], h[i]
	h[i].index, h[j].index = i, j
}

// Push is for container/heap.
func (h *waitHeap) Push(x any) {
	w := x.(*waiter)
	w.index = len(*h)
	*h = append(*h, w)
}

// Pop is for container/heap.
func (h *waitHeap) Pop() any {
	old := *h
	w := old[len(old)-1]
	old[len(old)-1] = nil
	*h = old[:len(old)-1]
	w.index = -1
	return w
}
