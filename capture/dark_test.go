package capture

import (
	"context"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// readable is a supply that can be asked whether its output is on, and counts how often it was.
type readable struct {
	*fakeSupply
	asked atomic.Int64
}

func (s *readable) OutputIs(ctx context.Context) (on bool, err error) {
	s.asked.Add(1)
	err = s.do(ctx, "output?", func() { on = s.b.on })
	return on, err
}

// dark is an engine whose output is off, with a question of which the maker is slow to answer.
type dark struct {
	b *bench
	s *readable
	f *face
	e *engine
}

// asks has a question open for so long; after the first so long something happens at the supply.
func asks(t *testing.T, q Question, open, first time.Duration, happens func(d *dark)) (d *dark, a Answer, err error) {
	t.Helper()
	return asksFailing(t, q, open, first, nil, happens)
}

// asksFailing is asks with a supply that fails from the beginning on where fails says so: the
// engine reads fails while things happen, so what changes meanwhile is within it.
func asksFailing(t *testing.T, q Question, open, first time.Duration, fails func(op string) error,
	happens func(d *dark)) (d *dark, a Answer, err error) {
	t.Helper()
	inWallTime(t, led, func(t *testing.T, b *bench) {
		b.supplyFails = fails
		d = &dark{b: b, s: &readable{fakeSupply: &fakeSupply{b, "supply A"}}, f: &face{}}
		x := b.Bench()
		x.Supply = d.s
		x.ReopenSupply = func(ctx context.Context) (instruments.Supply, error) {
			return d.s, d.s.do(ctx, "open", func() {})
		}
		ctx, cancel := context.WithCancel(context.Background())
		defer cancel()
		var eng *engine
		if eng, err = newEngine(x, noGuide{}, patiently{d.f, time.Now().Add(open)}, &record{}, Options{}); err != nil {
			t.Fatal(err)
		}
		d.e = eng
		eng.release = eng.guard.Register("supply", d.s)
		if err = eng.identify(ctx); err != nil {
			t.Fatal(err)
		}
		if happens != nil {
			time.AfterFunc(first, func() { happens(d) })
		}
		a, err = eng.ask(ctx, q)
	})
	return d, a, err
}

// patiently is a face whose maker answers no question before a time.
type patiently struct {
	*face
	until time.Time
}

func (p patiently) Ask(ctx context.Context, q Question) (Answer, error) {
	a, err := p.face.Ask(ctx, q)
	select {
	case <-time.After(time.Until(p.until)):
		return a, err
	case <-ctx.Done():
		return Answer{}, ctx.Err()
	}
}

func maySolder() Question {
	return Question{Kind: AskSolder, Text: maySolderText, Choices: []string{"done", "stop"}}
}

// pressed: somebody switches the output on at the supply's panel.
func pressed(d *dark) {
	d.b.mu.Lock()
	defer d.b.mu.Unlock()
	d.b.on = true
}

// While a question stands with the output off it's read back about once a second; nothing is
// told as long as it stays off.
func TestOffIsReadBackWhileItIsAsked(t *testing.T) {
	d, a, err := asks(t, maySolder(), 20*time.Second, 0, nil)
	if n := d.s.asked.Load(); err != nil || a.Choice != "done" || n < 17 || n > 21 {
		t.Errorf("%v, %v: asked %d times in 20 s", a, err, n)
	}
	if len(d.f.asked) != 1 || len(d.f.events) != 0 {
		t.Errorf("asked %d times, told %+v", len(d.f.asked), d.f.events)
	}
}

// Somebody switches on at the supply while it's said that one may solder: that is taken back,
// the output goes off, is read back, and what happened is told as what it is.
func TestAnOutputThatSomebodySwitchedOn(t *testing.T) {
	for _, q := range []Question{maySolder(), {Kind: AskClip, Choices: []string{"done", "skip", "stop"},
		Text: "Clip the plus lead to \"nav lights\". The output is off."}} {
		d, a, err := asks(t, q, 20*time.Second, 5300*time.Millisecond, pressed)
		if err != nil || a.Choice != "done" || d.b.on {
			t.Errorf("%v, %v: on %v", a, err, d.b.on)
		}
		told := slices.IndexFunc(d.f.events, func(e Event) bool {
			return e.What == Warning && e.OutputOn && e.Text == switchedOn
		})
		if told < 0 || !slices.ContainsFunc(d.f.events[told:], func(e Event) bool { return e.What == OutputOff }) {
			t.Errorf("told %+v", d.f.events)
		}
		if len(d.f.asked) != 2 || !strings.HasPrefix(d.f.asked[1].Text, switchedBack) {
			t.Fatalf("asked %+v", d.f.asked)
		}
		if strings.Contains(d.f.asked[1].Text, "may solder") {
			t.Errorf("asked %q", d.f.asked[1].Text)
		}
		off := slices.Index(d.b.log, "off")
		if off < 0 {
			t.Fatalf("%q", d.b.log)
		}
		if r := d.e.r.(*record); !strings.Contains(r.kinds(), "note") {
			t.Errorf("the record says %q", r.kinds())
		}
	}
}

// A supply that can't be read back any more isn't called off: that isn't known. Once it answers
// it's switched off, and what was asked is asked again.
func TestASupplyThatIsGoneWhileItIsAsked(t *testing.T) {
	for _, x := range []struct {
		name string
		err  error
		says string
	}{
		{"pulled", instruments.ErrPortGone, "The supply's cable is out."},
		{"says nothing", instruments.ErrNoReply, "The supply can't be read back."},
		{"speaks nonsense", instruments.ErrGarbled, "The supply can't be read back."},
	} {
		var gone atomic.Bool
		fails := func(string) error {
			if gone.Load() {
				return x.err
			}
			return nil
		}
		d, a, err := asksFailing(t, maySolder(), 40*time.Second, 5300*time.Millisecond, fails, func(d *dark) {
			gone.Store(true)
			time.AfterFunc(10*time.Second, func() { pressed(d); gone.Store(false) })
		})
		if err != nil || a.Choice != "done" || d.b.on {
			t.Fatalf("%s: %v, %v, on %v", x.name, a, err, d.b.on)
		}
		lost := slices.IndexFunc(d.f.events, func(e Event) bool { return e.What == Paused })
		if lost < 0 || !d.f.events[lost].Unsure || !strings.HasPrefix(d.f.events[lost].Text, x.says) {
			t.Fatalf("%s: told %+v", x.name, d.f.events)
		}
		last := d.f.events[len(d.f.events)-1]
		if last.What != OutputOff || last.Unsure || last.OutputOn {
			t.Errorf("%s: told %+v", x.name, d.f.events)
		}
		if n := len(d.f.asked); n != 3 || d.f.asked[1].Kind != AskPlug || d.f.asked[2].Kind != AskSolder ||
			!strings.Contains(d.f.asked[1].Text, "don't solder") {
			t.Errorf("%s: asked %+v", x.name, d.f.asked)
		}
	}
}

// A plug that is loose goes again before the supply that came back is switched off: that pauses
// once more, and ends no test.
func TestASupplyThatGoesAgainAtOnce(t *testing.T) {
	var late atomic.Bool
	gone, offs := 1, 0 // exchanges that fail yet; times that it was switched off since
	fails := func(op string) error {
		if !late.Load() {
			return nil
		}
		if op == "off" {
			if offs++; offs == 2 {
				gone = 4
			}
		}
		if gone > 0 {
			gone--
			return instruments.ErrPortGone
		}
		return nil
	}
	d, a, err := asksFailing(t, maySolder(), 40*time.Second, 5300*time.Millisecond, fails,
		func(*dark) { late.Store(true) })
	if err != nil || a.Choice != "done" || d.b.on || offs < 3 || gone != 0 {
		t.Fatalf("%v, %v, on %v, switched off %d times", a, err, d.b.on, offs)
	}
	if n := len(d.f.kinds(Paused)); n != 2 {
		t.Errorf("paused %d times: %+v", n, d.f.events)
	}
	last := d.f.asked[len(d.f.asked)-1]
	if end := d.f.events[len(d.f.events)-1]; last.Kind != AskSolder || end.What != OutputOff || end.Unsure {
		t.Errorf("asked %+v, told %+v", last, end)
	}
}

// One bad reply is none, and one bit doesn't make on of off.
func TestOneBadReplyOfAnOutputThatIsOff(t *testing.T) {
	var late atomic.Bool
	n := 0
	fails := func(string) error {
		if !late.Load() {
			return nil
		}
		if n++; n == 2 {
			return instruments.ErrGarbled
		}
		return nil
	}
	d, _, err := asksFailing(t, maySolder(), 20*time.Second, 1500*time.Millisecond, fails,
		func(*dark) { late.Store(true) })
	if err != nil || n < 2 || len(d.f.asked) != 1 || len(d.f.events) != 0 {
		t.Errorf("%v: %d exchanges, asked %+v, told %+v", err, n, d.f.asked, d.f.events)
	}
}

// Where there is nothing to read back nothing is read: by hand it costs a person, and in
// simulated time nobody moves.
func TestWhatCantBeReadBack(t *testing.T) {
	b := newBench(t, led)
	s := &readable{fakeSupply: &fakeSupply{b, "supply A"}}
	x := b.Bench()
	x.Supply = s
	e, err := newEngine(x, noGuide{}, &face{}, &record{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := e.ask(context.Background(), maySolder()); err != nil || s.asked.Load() != 0 {
		t.Errorf("%v, asked %d times in simulated time", err, s.asked.Load())
	}
	e.b.Clock = clock.Wall{}
	if e.b.Supply = (&fakeSupply{b, "supply A"}); e.readableOff() {
		t.Error("a supply without an answer is read back")
	}
}
