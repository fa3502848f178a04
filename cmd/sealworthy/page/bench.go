package page

import (
	"context"
	"errors"
	"sync"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments/clock"
)

// bench carries out one order at a time and can stop it.
type bench struct {
	work  Work
	watch *Watch
	now   func() time.Time
	clock clock.Clock     // of what stands on the bench
	faces []session.Face  // beside the page
	ctx   context.Context // of the server

	mu    sync.Mutex
	guard *capture.Guard // nil: nothing is under way
	desk  *session.Desk
	order Order         // what is under way
	done  chan struct{} // closed when what is under way has ended
	ends  bool          // nothing of it touches the build any more

	over func(build string) // looks how its files are then

	listing chan struct{} // has one in it while ports are listed, which may open them
}

// Why an order isn't carried out, or an answer isn't taken.
var (
	errBusy    = errors.New("a test is under way already")
	errNoTest  = errors.New("no test is under way")
	errNoMeter = errors.New("no meter is in use yet: put the other one in its place now, then go on")
	errTooSoon = errors.New("that came before the question could be read; it doesn't count")
)

// tooSoon is how soon after a question nobody has read it yet: a second tap on the
// place where the last answer stood (a simple reaction takes a person 0.2 s and more).
const tooSoon = 300 * time.Millisecond

// begin carries out an order in the background.
func (b *bench) begin(o Order, of Overview) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.guard != nil {
		return errBusy
	}
	g := capture.NewGuard(b.clock)
	d := session.NewDesk(false, g.Go, append([]session.Face{b.watch}, b.faces...)...)
	b.guard, b.desk, b.order, b.done, b.ends = g, d, o, make(chan struct{}), false
	b.watch.begun(o, of, b.now())
	g.Go(func() { b.carryOut(o, d, g) }, func(err error) { b.ended(d, Result{Status: 1, Err: err}) })
	return nil
}

func (b *bench) carryOut(o Order, d *session.Desk, g *capture.Guard) {
	ctx, cancel := g.Context(b.ctx)
	defer cancel()
	select { // what lists ports still lets go of them first; what comes later finds it busy
	case b.listing <- struct{}{}:
		<-b.listing
	case <-ctx.Done():
	}
	b.ended(d, b.work.Do(ctx, o, d, g))
}

// idle does something, told whether nothing is under way; what begins meanwhile waits for it.
func (b *bench) idle(ctx context.Context, do func(idle bool) error) error {
	select {
	case b.listing <- struct{}{}:
	case <-ctx.Done():
		return context.Cause(ctx)
	}
	defer func() { <-b.listing }()
	return do(!b.busy())
}

// ended tells how an order ended.
func (b *bench) ended(d *session.Desk, r Result) {
	over := session.Event{What: session.Over, Status: &r.Status}
	stopped := errors.Is(r.Err, capture.ErrStopped) || errors.Is(r.Err, capture.ErrStopping)
	unsure := errors.Is(r.Err, capture.ErrOffNotConfirmed)
	if r.Err != nil && (!stopped || unsure || record.NotKept(r.Err)) {
		over.Text, over.Hints = r.Err.Error(), r.Hints
	}
	b.mu.Lock()
	b.ends = true
	build := b.order.Build
	b.mu.Unlock()
	if b.over != nil {
		b.over(build)
	}
	b.watch.change(func(s *State) {
		s.Result, s.Running = r.Text, false
		switch {
		case unsure, s.engineOff && errors.Is(r.Err, capture.ErrOffBefore): // nothing was read back
			s.stopped(StopNotKnown, b.now())
			s.Unsure = true
		case s.Stop == StopAsked && s.engineOff:
			s.confirmedOff(b.now())
		case s.Stop == StopByHand:
			s.StopAt = b.now()
		}
	})
	d.Tell(over)
	b.mu.Lock()
	defer b.mu.Unlock()
	close(b.done)
	b.guard, b.desk = nil, nil
}

// stop switches off before anything else is waited for, and tells what became of it. It
// returns at once.
func (b *bench) stop() {
	b.mu.Lock()
	g := b.guard
	b.mu.Unlock()
	if g == nil {
		b.watch.change(func(s *State) {
			if s.stopped(StopNothing, b.now()); s.Unsure {
				s.Stop = StopNotKnown
			}
		})
		return
	}
	answered := false // changed with the state
	g.Go(func() {
		held, told, err := g.Halt(capture.ErrStopped)
		b.watch.change(func(s *State) {
			answered = true
			switch {
			case err != nil:
				s.stopped(StopNotKnown, b.now())
				s.Unsure = true
			case s.byHand():
				s.stopped(StopByHand, b.now())
			case held == 0:
				s.stopped(StopUnreached, b.now())
			case told < held && s.Running: // the engine was quicker: what came of that it tells as it ends
				s.stopped(StopAsked, b.now())
				s.engineOff = true
			case s.Stop != StopNotKnown: // the engine's own off has the last word
				s.confirmedOff(b.now())
			}
		})
	}, nil)
	b.watch.change(func(s *State) {
		switch {
		case answered:
		case s.byHand(): // it's off once the maker has done it: there's nothing to wait for
			s.stopped(StopByHand, b.now())
		default:
			s.stopped(StopAsked, b.now())
		}
	})
}

// anotherMeter ends the step under way, or the question that is open, to take another
// meter.
func (b *bench) anotherMeter() error {
	b.mu.Lock()
	d := b.desk
	b.mu.Unlock()
	switch {
	case d == nil:
		return errNoTest
	case !b.watch.opened():
		return errNoMeter
	}
	d.Interrupt(capture.AnotherMeter())
	return nil
}

// light has a look stay lit longer, or lit again.
func (b *bench) light() error {
	b.mu.Lock()
	d := b.desk
	b.mu.Unlock()
	if d == nil {
		return errNoTest
	}
	d.Light()
	return nil
}

// over names the build of the last test; "": one is under way, or none was.
func (w *Watch) over() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.state.Over == nil {
		return ""
	}
	return w.state.Order.Build
}

// opened: the bench of the test is.
func (w *Watch) opened() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.state.Bench != nil
}

// tests: a build is under test here.
func (b *bench) tests(build string) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.guard != nil && !b.ends && b.order.Build == build
}

// busy: an order is under way.
func (b *bench) busy() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.guard != nil
}

// answer gives an answer to the question that is open.
func (b *bench) answer(a session.Answer) error {
	b.mu.Lock()
	d := b.desk
	b.mu.Unlock()
	if d == nil {
		return errNoTest
	}
	if b.watch.early(a.Question, b.now()) {
		return errTooSoon
	}
	return d.Answer(a)
}

// early: a question was asked only just now.
func (w *Watch) early(question int, now time.Time) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	q := w.state.Ask
	return q != nil && q.Number == question && now.Sub(w.state.Opened) < tooSoon
}

// close stops what is under way and waits for its end.
func (b *bench) close() {
	b.mu.Lock()
	g, done := b.guard, b.done
	b.mu.Unlock()
	if g == nil {
		return
	}
	g.Stop(capture.ErrStopping)
	<-done
}
