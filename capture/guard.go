package capture

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"sync"
	"syscall"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// Deadlines of switching off; of a slow supply, what it has shown that it takes.
const (
	offDeadline   = 2 * time.Second
	offByHandWait = time.Minute // a person has to walk to the knob
	offTries      = 3           // off may be repeated: it never makes things worse
)

// Errors of a guard.
var (
	// ErrOffNotConfirmed: the supply didn't confirm that its output is off.
	ErrOffNotConfirmed = errors.New("the output may still be on: switch the supply off by hand")
	// ErrOffBefore: the supply doesn't answer any more. Its output was off when it
	// last did, and wasn't told to go on since.
	ErrOffBefore = errors.New("the supply doesn't answer any more; its output was off when it last did, and nothing " +
		"has switched it on since")
	// ErrStopping: the program is being ended, the output stays off.
	ErrStopping = errors.New("the test is being ended")
)

// Guard switches every registered supply off on each way out that a program
// can take: the end, an error, a trip, signals, a panic in a goroutine started
// with Go.
//
// It can't do so after SIGKILL, SIGABRT, a throw of Go's runtime (out of memory,
// a map written by two at once), a crash of the system, a power cut of the
// computer or a pulled cable: no program can. What covers those: the supply
// holds the step's voltage at the step's own limit, set before the output goes
// on to little more than the step needs, and switches off by its own over-voltage
// and over-current protection where it has any, set as well. A supply with a watchdog
// of its own switches off when nothing is said to it for a while: its profile states
// it, for no standard has a command for one.
type Guard struct {
	c clock.Clock

	mu       sync.Mutex
	supplies []guarded
	nextID   int
	stopping bool
	cancels  map[int]context.CancelCauseFunc

	forced     chan struct{}
	forcedOnce sync.Once
}

type guarded struct {
	id   int
	name string
	s    instruments.Supply
}

// NewGuard makes a guard that takes its deadlines from c.
func NewGuard(c clock.Clock) *Guard {
	return &Guard{c: c, cancels: map[int]context.CancelCauseFunc{}, forced: make(chan struct{})}
}

// Register puts a supply under the guard. release takes it out again; call it
// only after the supply was switched off.
func (g *Guard) Register(name string, s instruments.Supply) (release func()) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.nextID++
	id := g.nextID
	g.supplies = append(g.supplies, guarded{id, name, s})
	return func() {
		g.mu.Lock()
		defer g.mu.Unlock()
		for i, x := range g.supplies {
			if x.id == id {
				g.supplies = append(g.supplies[:i:i], g.supplies[i+1:]...)
				return
			}
		}
	}
}

// Context returns a context that ends when the guard stops: at a signal or a
// panic. Its cause says which.
func (g *Guard) Context(ctx context.Context) (context.Context, context.CancelFunc) {
	ctx, cancel := context.WithCancelCause(ctx)
	g.mu.Lock()
	defer g.mu.Unlock()
	g.nextID++
	id := g.nextID
	g.cancels[id] = cancel
	if g.stopping {
		cancel(ErrStopping)
	}
	return ctx, func() {
		cancel(context.Canceled)
		g.mu.Lock()
		defer g.mu.Unlock()
		delete(g.cancels, id)
	}
}

// stop keeps the output from going on again and ends the contexts. held is how many
// supplies are under the guard as it begins: whoever's context ends may take his out.
func (g *Guard) stop(cause error) (held int) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.stopping = true
	for _, c := range g.cancels {
		c(cause)
	}
	return len(g.supplies)
}

// Stopping tells whether the guard keeps the output off for good.
func (g *Guard) Stopping() bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.stopping
}

// on switches a supply on, unless the guard is stopping. A stop that comes
// while On is under way switches off by itself; whoever loses that race ends
// with an off too, since the caller switches off on ErrStopping.
func (g *Guard) on(ctx context.Context, s instruments.Supply) error {
	if g.Stopping() {
		return ErrStopping
	}
	if err := s.On(ctx); err != nil {
		return err
	}
	if g.Stopping() {
		return ErrStopping
	}
	return nil
}

// Off switches all registered supplies off. It doesn't end with ctx and keeps a
// deadline of its own on the clock. The caller must be a party of the clock.
func (g *Guard) Off(ctx context.Context) error {
	_, err := g.allOff(ctx)
	return err
}

// allOff is Off that says how many supplies were told.
func (g *Guard) allOff(ctx context.Context) (told int, err error) {
	g.mu.Lock()
	all := append([]guarded(nil), g.supplies...)
	g.mu.Unlock()
	var errs []error
	for _, x := range all {
		if err := g.off(ctx, x.s); err != nil {
			errs = append(errs, fmt.Errorf("%s: %w", x.name, err))
		}
	}
	return len(all), errors.Join(errs...)
}

// off switches one supply off, tries again where it didn't confirm, and gives
// up at the deadline. A supply set by hand may take its maker's time while ctx
// lives; once it has ended there is a deadline too.
func (g *Guard) off(ctx context.Context, s instruments.Supply) error {
	wait, tries := offDeadline, offTries
	if byHand(s) {
		wait, tries = offByHandWait, 1
		if ctx.Err() == nil {
			err := g.offOnce(ctx, s, time.Time{})
			if err == nil {
				return nil
			}
			if ctx.Err() == nil {
				return fmt.Errorf("%w (%w)", ErrOffNotConfirmed, err)
			}
		}
	}
	if t, ok := s.(instruments.OffTimer); ok {
		wait = max(wait, t.OffWithin())
	}
	ctx = context.WithoutCancel(ctx)
	deadline := g.c.Now().Add(wait)
	var err error
	for range tries {
		if err = g.offOnce(ctx, s, deadline); err == nil {
			return nil
		}
		if errors.Is(err, clock.ErrDeadline) || errors.Is(err, instruments.ErrPortGone) {
			break
		}
	}
	if k, ok := s.(instruments.OffKnower); ok && k.KnownOff() {
		return fmt.Errorf("%w (%w)", ErrOffBefore, err)
	}
	return fmt.Errorf("%w (%w)", ErrOffNotConfirmed, err)
}

// offOnce ends at the deadline, if it isn't zero, and with ctx.
func (g *Guard) offOnce(ctx context.Context, s instruments.Supply, deadline time.Time) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var done clock.Gate
	res := make(chan error, 1)
	// In a goroutine of its own: a driver that hangs must not hang us. It is a
	// party of the clock, so the guard's own way to start one isn't for it.
	g.c.Go(func() {
		defer g.c.Open(&done)
		defer func() {
			if p := recover(); p != nil {
				res <- fmt.Errorf("panic while switching off: %v", p)
			}
		}()
		res <- s.Off(ctx)
	})
	if err := g.c.Wait(ctx, &done, deadline); err != nil {
		select {
		case r := <-res:
			return r
		default:
			return fmt.Errorf("no answer to off: %w", err)
		}
	}
	return <-res
}

// offFromOutside switches off from a goroutine that is no party of the clock.
func (g *Guard) offFromOutside() (told int, err error) {
	ended, end := context.WithCancel(context.Background())
	end() // the deadlines of a program that is leaving
	done := make(chan struct{})
	g.c.Go(func() {
		defer close(done)
		defer func() {
			if p := recover(); p != nil {
				err = fmt.Errorf("%w (panic while switching off: %v)", ErrOffNotConfirmed, p)
			}
		}()
		told, err = g.allOff(ended)
	})
	<-done
	return told, err
}

// PanicError is a panic that was caught on its way out.
type PanicError = instruments.PanicError

// Go runs f in a goroutine. A panic in it doesn't end the program: the guard's
// contexts end with a PanicError, the supplies go off, then report is called
// (it may be nil). It is the Runner of all that lives while an output is on.
func (g *Guard) Go(f func(), report func(error)) {
	instruments.Go(f, func(err error) {
		g.stop(err)
		if _, off := g.offFromOutside(); off != nil {
			err = errors.Join(err, off)
		}
		if report != nil {
			report(err)
		}
	})
}

// SignalError says which signal ended a test.
type SignalError struct{ Signal os.Signal }

func (e *SignalError) Error() string { return "ended by signal: " + e.Signal.String() }

// Signals lists the signals that end a test: Ctrl-C, the polite kill, and the
// terminal closed (on Windows a closed console arrives as SIGTERM).
func Signals() []os.Signal {
	return []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP}
}

// Stop switches off before anything else, as a signal does, and ends the guard's
// contexts with cause. Call it from a goroutine that is no party of the clock. The
// engine switches off, too, and reports what became of it.
func (g *Guard) Stop(cause error) { _, _, _ = g.Halt(cause) }

// Halt is Stop for whoever wants to know at once: how many supplies were under the guard
// as it began, how many were told, and nil where each of these confirmed that its output
// is off. Where none was told, nil confirms nothing: none was held yet, or any more, or
// whoever had it switched it off himself as his context ended, and tells what came of it.
func (g *Guard) Halt(cause error) (held, told int, err error) {
	held = g.stop(cause)
	told, err = g.offFromOutside()
	return held, told, err
}

// Notify watches the process's signals until stop is called.
func (g *Guard) Notify() (stop func()) {
	ch := make(chan os.Signal, 4)
	signal.Notify(ch, Signals()...)
	end := g.Watch(ch)
	return func() { signal.Stop(ch); end() }
}

// Watch switches off at every signal that comes through ch, each time, before
// anything else; the first also ends the guard's contexts. After the second,
// Forced is closed once its off was confirmed or given up.
func (g *Guard) Watch(ch <-chan os.Signal) (stop func()) {
	quit := make(chan struct{})
	var once sync.Once
	g.Go(func() {
		for n := 1; ; n++ {
			select {
			case <-quit:
				return
			case s := <-ch:
				g.Stop(&SignalError{s})
				if n >= 2 {
					g.forcedOnce.Do(func() { close(g.forced) })
				}
			}
		}
	}, nil)
	return func() { once.Do(func() { close(quit) }) }
}

// Forced is closed when a second signal came and the supplies were switched
// off (or didn't answer until the deadline): the program may leave at once.
func (g *Guard) Forced() <-chan struct{} { return g.forced }

// byHand tells whether every answer of an instrument costs a person.
func byHand(x any) bool {
	h, ok := x.(interface{ ByHand() bool })
	return ok && h.ByHand()
}
