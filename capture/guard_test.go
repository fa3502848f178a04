package capture

import (
	"context"
	"errors"
	"os"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// stubborn is a supply whose off fails as told.
type stubborn struct {
	instruments.Supply
	off  func(ctx context.Context, n int) error
	n    atomic.Int64
	isOn atomic.Bool
	atOn func()
}

func (s *stubborn) Off(ctx context.Context) error {
	n := int(s.n.Add(1))
	if s.off != nil {
		if err := s.off(ctx, n); err != nil {
			return err
		}
	}
	s.isOn.Store(false)
	return nil
}

func (s *stubborn) On(context.Context) error {
	if s.atOn != nil {
		s.atOn()
	}
	s.isOn.Store(true)
	return nil
}

func TestOffIsTriedAgainAndGivesUp(t *testing.T) {
	c := clock.NewSimulated(time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC))
	for _, x := range []struct {
		name string
		off  func(ctx context.Context, n int) error
		want error
		n    int64
	}{
		{"at once", nil, nil, 1},
		{"garbled once", func(_ context.Context, n int) error {
			if n == 1 {
				return instruments.ErrGarbled
			}
			return nil
		}, nil, 2},
		{"never confirmed", func(context.Context, int) error { return instruments.ErrNotSet }, ErrOffNotConfirmed, 3},
		{"hangs", func(ctx context.Context, _ int) error {
			return c.Wait(ctx, new(clock.Gate), c.Now().Add(time.Hour))
		}, clock.ErrDeadline, 1},
		{"panics", func(context.Context, int) error { panic("nil") }, ErrOffNotConfirmed, 3},
	} {
		g := NewGuard(c)
		s := &stubborn{off: x.off}
		s.isOn.Store(true)
		g.Register("supply", s)
		ctx, cancel := context.WithCancel(context.Background())
		cancel() // off must not end with it
		began := c.Now()
		err := g.Off(ctx)
		if !errors.Is(err, x.want) || s.n.Load() != x.n || s.isOn.Load() != (x.want != nil) {
			t.Errorf("%s: %v after %d tries, on %v", x.name, err, s.n.Load(), s.isOn.Load())
		}
		if d := c.Now().Sub(began); d > offDeadline {
			t.Errorf("%s: took %v", x.name, d)
		}
	}
}

// knowing is a supply that knows what it told its output, and how slow it is.
type knowing struct {
	stubborn
	knownOff bool
	takes    time.Duration
}

func (k *knowing) KnownOff() bool           { return k.knownOff }
func (k *knowing) OffWithin() time.Duration { return k.takes }

// The output may still be on only where it was told to go on since it was last
// known to be off; a slow supply gets the time that it takes.
func TestAnOutputThatWasOffIsntCalledOn(t *testing.T) {
	c := clock.NewSimulated(time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC))
	for _, x := range []struct {
		name  string
		s     *knowing
		takes time.Duration // until it answers
		want  error
	}{
		{"gone, was off", &knowing{knownOff: true}, -1, ErrOffBefore},
		{"gone, was on", &knowing{}, -1, ErrOffNotConfirmed},
		{"slow", &knowing{takes: 5 * time.Second}, 3 * time.Second, nil},
		{"quick as it said, and slow", &knowing{}, 3 * time.Second, ErrOffNotConfirmed},
	} {
		g := NewGuard(c)
		x.s.off = func(ctx context.Context, _ int) error {
			if x.takes < 0 {
				return instruments.ErrPortGone
			}
			return c.Wait(ctx, nil, c.Now().Add(x.takes))
		}
		g.Register("supply", x.s)
		err := g.Off(context.Background())
		if !errors.Is(err, x.want) || x.want == ErrOffBefore && errors.Is(err, ErrOffNotConfirmed) {
			t.Errorf("%s: %v, want %v", x.name, err, x.want)
		}
	}
}

// coarse is a supply whose limit goes in steps.
type coarse struct {
	instruments.Supply
	step float64
}

func (c coarse) LimitStep() float64 { return c.step }

// The limit in force is the step above, but never more than the bench allows.
func TestALimitInSteps(t *testing.T) {
	for _, x := range []struct{ asked, most, want float64 }{
		{0.012, 0, 0.02}, {0.02, 0, 0.02}, {0.004, 0, 0.01}, {0.155, 0.155, 0.15}, {0.15, 0.155, 0.15},
		{0.004, 0.005, 0},
	} {
		e := &engine{b: Bench{Supply: coarse{step: 0.01}, MostAmps: x.most}}
		got, err := e.stepped(e.clamp(x.asked))
		if d := got - x.want; d > 1e-12 || d < -1e-12 || (err == nil) != (x.want > 0) {
			t.Errorf("%v A with at most %v: %v, %v, want %v", x.asked, x.most, got, err, x.want)
		}
	}
}

// knob is a supply by hand: off takes the maker so long.
type knob struct {
	stubborn
	c     clock.Clock
	takes time.Duration
}

func (k *knob) ByHand() bool { return true }

func (k *knob) Off(ctx context.Context) error {
	if err := k.c.Wait(ctx, nil, k.c.Now().Add(k.takes)); err != nil {
		return err
	}
	return k.stubborn.Off(ctx)
}

// The maker may take his time to switch off, but not when the program leaves.
func TestOffByHandTakesItsTime(t *testing.T) {
	c := clock.NewSimulated(time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC))
	g := NewGuard(c)
	k := &knob{c: c, takes: 10 * time.Minute}
	g.Register("supply", k)
	if err := g.Off(context.Background()); err != nil || k.n.Load() != 1 {
		t.Errorf("%v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	began := c.Now()
	err := g.Off(ctx)
	if d := c.Now().Sub(began); !errors.Is(err, ErrOffNotConfirmed) || d > offByHandWait {
		t.Errorf("%v after %v", err, d)
	}
}

func TestReleasedSupplyIsLeftAlone(t *testing.T) {
	g := NewGuard(clock.Wall{})
	a, b := &stubborn{}, &stubborn{}
	release := g.Register("a", a)
	g.Register("b", b)
	release()
	if err := g.Off(context.Background()); err != nil || a.n.Load() != 0 || b.n.Load() != 1 {
		t.Errorf("%v, %d, %d", err, a.n.Load(), b.n.Load())
	}
}

// A stop while On is under way, or before it, ends with the output off.
func TestStopBeatsOn(t *testing.T) {
	g := NewGuard(clock.Wall{})
	s := &stubborn{}
	g.Register("supply", s)
	s.atOn = func() { // the signal comes now, its off is sent before the on
		g.stop(&SignalError{os.Interrupt})
		_, _ = g.offFromOutside()
	}
	if err := g.on(context.Background(), s); !errors.Is(err, ErrStopping) {
		t.Errorf("error %v, so the engine wouldn't switch off", err)
	}
	s.isOn.Store(false)
	if err := g.on(context.Background(), s); !errors.Is(err, ErrStopping) || s.isOn.Load() {
		t.Errorf("error %v, on %v", err, s.isOn.Load())
	}
	ctx, cancel := g.Context(context.Background())
	defer cancel()
	if ctx.Err() == nil {
		t.Error("a context made after the stop lives")
	}
}

// Each signal switches off; the second lets the program leave, after its off.
func TestSecondSignalSwitchesOffBeforeItLeaves(t *testing.T) {
	g := NewGuard(clock.Wall{})
	s := &stubborn{off: func(_ context.Context, n int) error {
		if n <= 3 { // the first signal's tries all fail
			return instruments.ErrNotSet
		}
		time.Sleep(20 * time.Millisecond)
		return nil
	}}
	s.isOn.Store(true)
	g.Register("supply", s)
	ctx, cancel := g.Context(context.Background())
	defer cancel()
	ch := make(chan os.Signal, 4)
	stop := g.Watch(ch)
	defer stop()
	ch <- os.Interrupt
	<-ctx.Done()
	select {
	case <-g.Forced():
		t.Fatal("forced after one signal")
	case <-time.After(20 * time.Millisecond):
	}
	ch <- os.Interrupt
	select {
	case <-g.Forced():
	case <-time.After(10 * time.Second):
		t.Fatal("the second signal was not heeded")
	}
	if s.isOn.Load() {
		t.Error("left with the output on")
	}
}

func TestPanicInAGoroutineSwitchesOff(t *testing.T) {
	g := NewGuard(clock.Wall{})
	s := &stubborn{}
	s.isOn.Store(true)
	g.Register("supply", s)
	ctx, cancel := g.Context(context.Background())
	defer cancel()
	reported := make(chan error, 1)
	g.Go(func() { panic("index out of range") }, func(err error) { reported <- err })
	var p *PanicError
	if err := <-reported; !errors.As(err, &p) || s.isOn.Load() {
		t.Errorf("reported %v, on %v", err, s.isOn.Load())
	}
	if !errors.As(context.Cause(ctx), &p) {
		t.Errorf("cause %v", context.Cause(ctx))
	}
}

// A halt says how many supplies it told: none confirms nothing.
func TestHaltCounts(t *testing.T) {
	g := NewGuard(clock.Wall{})
	if held, n, err := g.Halt(ErrStopped); held != 0 || n != 0 || err != nil {
		t.Errorf("without a supply: %d, %d, %v", held, n, err)
	}
	release := g.Register("supply", &stubborn{})
	if held, n, err := g.Halt(ErrStopped); held != 1 || n != 1 || err != nil {
		t.Errorf("with one: %d, %d, %v", held, n, err)
	}
	release()
	g.Register("supply", &stubborn{off: func(context.Context, int) error { panic("torn") }})
	if held, n, err := g.Halt(ErrStopped); held != 1 || n != 1 || !errors.Is(err, ErrOffNotConfirmed) {
		t.Errorf("with one that fails: %d, %d, %v", held, n, err)
	}
}

// released is a clock on which what is begun waits until something else was done.
type released struct {
	clock.Wall
	first func()
}

func (c *released) Go(f func()) {
	c.first()
	c.Wall.Go(f)
}

// Who switches off himself as his context ends may be quicker than the halt that ended
// it: then the halt has told none, though one was held.
func TestHaltAfterTheEngine(t *testing.T) {
	c := &released{}
	g := NewGuard(c)
	c.first = g.Register("supply", &stubborn{})
	if held, told, err := g.Halt(ErrStopped); held != 1 || told != 0 || err != nil {
		t.Errorf("%d held, %d told, %v", held, told, err)
	}
}
