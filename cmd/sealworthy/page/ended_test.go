package page

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// A test that was stopped needs no words of its own, but where not all is kept.
func TestAStopHidesNoLostLine(t *testing.T) {
	full := &record.NotKeptError{Path: "r.lp", Lines: 3, Err: errors.New("the disk is full")}
	for _, c := range []struct {
		err  error
		says string
	}{
		{capture.ErrStopped, ""}, {errors.Join(capture.ErrStopped, full), "3 lines not on disk yet"},
		{errors.Join(capture.ErrStopping, &record.GoneError{Path: "r.lp"}), "is not kept"},
	} {
		w := newWatch(time.Now, missedAfter)
		b := &bench{watch: w, now: time.Now, done: make(chan struct{})}
		b.ended(session.NewDesk(false, instruments.Go, w), Result{Status: 1, Err: c.err})
		over := w.state.Over
		if over == nil || (over.Text == "") != (c.says == "") || !strings.Contains(over.Text, c.says) {
			t.Errorf("%v: %+v", c.err, over)
		}
	}
}

// That an off wasn't confirmed stays in sight, whatever is pressed and begun, until a bench has confirmed one.
func TestNotKnownStaysUntilConfirmed(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	b, w := x.s.bench, x.s.watch
	is := func(when, want string) {
		t.Helper()
		if html := x.s.write(w.state); !strings.Contains(html["output"], want) {
			t.Errorf("%s: %s", when, html["output"])
		}
	}
	ends := func(err error) {
		b.done = make(chan struct{})
		b.ended(session.NewDesk(false, instruments.Go, w), Result{Status: 1, Err: err})
	}
	w.begun(Order{}, Overview{}, time.Now())
	w.Tell(session.Event{What: session.Opened, Bench: &session.OnBench{}})
	ends(capture.ErrOffNotConfirmed)
	is("it ended", "NOT KNOWN")
	b.stop()
	is("STOP with no test", "NOT KNOWN")
	if html := x.s.write(w.state)["stopped"]; !strings.Contains(html, "NOT CONFIRMED") {
		t.Error(html)
	}
	w.begun(Order{}, Overview{}, time.Now())
	ends(errors.New("no supply answers"))
	is("the next one reached no supply", "NOT KNOWN")
	b.stop()
	is("STOP after that", "NOT KNOWN")
	w.begun(Order{}, Overview{}, time.Now())
	is("the next one hasn't reached one yet", "the supply didn't confirm")
	w.Tell(session.Event{What: session.Opened, Bench: &session.OnBench{ByHand: true}})
	ends(nil)
	is("nothing read back by hand", "NOT KNOWN")
	w.begun(Order{}, Overview{}, time.Now())
	w.Tell(session.Event{What: session.Opened, Bench: &session.OnBench{}})
	is("a bench has confirmed it", "OUTPUT OFF")
	ends(nil)
	is("and that is over", "NO TEST")
	b.stop()
	is("STOP with nothing in doubt", "NO TEST")
}

// The supply's cable is out with the output on: it isn't known to be on, nor off, until it confirms an off.
func TestLostSupplyIsNotKnown(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	w := x.s.watch
	w.begun(Order{}, Overview{}, time.Now())
	w.Tell(session.Event{What: session.Opened, Bench: &session.OnBench{}})
	step := capture.Step{Feed: "nav lights", Kind: capture.Power}
	for _, c := range []struct {
		what       capture.EventKind
		on, unsure bool
		want       string
	}{
		{capture.OutputOn, true, false, "OUTPUT ON"}, {capture.Warning, true, true, "NOT KNOWN"},
		{capture.Paused, true, true, "the supply didn't confirm"}, {capture.OutputOff, false, false, "OUTPUT OFF"},
		{capture.OutputOn, true, false, "OUTPUT ON"}, {capture.Ended, true, true, "NOT KNOWN"},
	} {
		w.Tell(session.Event{What: session.Shown, Test: &capture.Event{What: c.what, Step: &step, OutputOn: c.on,
			SetVolts: 12, Unsure: c.unsure}})
		if html := x.s.write(w.state)["output"]; !strings.Contains(html, c.want) {
			t.Errorf("%s: %s", c.what, html)
		}
	}
}

// unhurried is a supply that its maker switches, who takes time.
type unhurried struct {
	instruments.Supply
	done chan struct{}
}

func (unhurried) ByHand() bool                { return true }
func (u unhurried) Off(context.Context) error { <-u.done; return nil }

// By hand a STOP says at once who is to switch off: nothing is read back, and the maker's word comes after he did it.
func TestStopByHandSaysItAtOnce(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	b, w := x.s.bench, x.s.watch
	w.begun(Order{}, Overview{}, time.Now())
	w.Tell(session.Event{What: session.Opened, Bench: &session.OnBench{ByHand: true}})
	u := unhurried{done: make(chan struct{})}
	b.guard = capture.NewGuard(clock.Wall{})
	b.guard.Register("supply", u)
	b.stop()
	if html := x.s.write(w.state)["stopped"]; !strings.Contains(html, "Switch the supply off yourself") {
		t.Errorf("with the output on and nobody at its switch yet: %s", html)
	}
	close(u.done)
	b.guard = nil
}

// What a STOP came to is said with its time, and not for ever: what was read back then isn't what is now. What leaves
// something to do stays.
func TestWhatAStopCameToPasses(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	w := x.s.watch
	now := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	w.now = func() time.Time { return now }
	for _, c := range []struct {
		came  Stopped
		says  string
		stays bool
	}{
		{StopRead, "off (read back), 07:00:00", false}, {StopNothing, "No test is under way", false},
		{StopByHand, "yourself", false}, {StopUnreached, "no supply in hand", true},
		{StopNotKnown, "NOT CONFIRMED", true}, {StopAsked, "asked", true},
	} {
		now = time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
		w.change(func(s *State) { s.stopped(c.came, now) })
		for _, after := range []time.Duration{0, stopSaidFor - time.Second, stopSaidFor} {
			now = time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC).Add(after)
			regions, _, _, _ := x.s.regions()
			if says := strings.Contains(regions["stopped"], c.says); says != (after < stopSaidFor || c.stays) {
				t.Errorf("%s, %v after: %q", c.came, after, regions["stopped"])
			}
		}
	}
	w.change(func(s *State) { s.Running = true; s.stopped(StopByHand, now) })
	now = now.Add(time.Hour)
	if regions, _, _, _ := x.s.regions(); !strings.Contains(regions["stopped"], "yourself") {
		t.Error("by hand it's to be switched off as long as the test isn't over")
	}
}
