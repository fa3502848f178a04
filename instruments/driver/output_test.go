package driver

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/profile"
)

// answering is a supply that is told nothing and answers from a table.
type answering struct {
	Protocol
	by     map[*profile.Point]float64
	silent bool
	shown  time.Duration
}

func (a *answering) Tell(context.Context, string, *profile.Point, profile.Args, bool) error {
	return nil
}
func (a *answering) Check(context.Context, string) error { return nil }
func (a *answering) Doubt()                              {}
func (a *answering) Shown() time.Duration                { return a.shown }

func (a *answering) Ask(_ context.Context, _ string, pt *profile.Point, _ profile.Args, _ bool) (Answer, error) {
	if a.silent {
		return Answer{}, instruments.ErrNoReply
	}
	return Answer{Number: Number{Value: a.by[pt], Mark: Finite}, Raw: "a number"}, nil
}

func supplyThat(t *testing.T, change func(*profile.Profile)) (*Supply, *answering) {
	t.Helper()
	p, err := profile.Load("scpi supply", "")
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(p)
	}
	a := &answering{by: map[*profile.Point]float64{}}
	d, err := New(p, a, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d.(*Supply), a
}

// A supply without a state for it holds the current back where its voltage sags
// while most of its limit flows. Cases by hand.
func TestHeldBackByTheReadBack(t *testing.T) {
	bg := context.Background()
	s, a := supplyThat(t, func(p *profile.Profile) { p.Supply.Limiting = profile.Point{} })
	if n := s.Notes(); len(n) != 1 || !strings.Contains(n[0], "can't be asked") {
		t.Errorf("notes %q", n)
	}
	reads := func(volts, amps float64) bool {
		t.Helper()
		a.by[&s.s.MeasureVolts], a.by[&s.s.MeasureAmps] = volts, amps
		on, err := s.Limiting(bg)
		if err != nil {
			t.Fatal(err)
		}
		return on
	}
	if reads(0, 0) {
		t.Error("nothing was set, and it holds back")
	}
	a.by[&s.s.GetVolts], a.by[&s.s.GetAmps] = 12, 0.02
	if err := s.Set(bg, 12, 0.02); err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct {
		volts, amps float64
		want        bool
	}{
		{12, 0.008, false}, {11.99, 0.02, false}, // at its limit's edge, the voltage stands
		{3.1, 0.02, true}, {0.02, 0.019, true}, {11.5, 0.016, true}, // a limit in force below the one set
		{11.5, 0.002, false}, // not by its limit
	} {
		if got := reads(x.volts, x.amps); got != x.want {
			t.Errorf("%v V and %v A: holds back %v", x.volts, x.amps, got)
		}
	}
	a.silent = true
	if on, err := s.Limiting(bg); err == nil || on {
		t.Error("silence was an answer")
	}
}

// A limit that can't be set exactly is the next one above, never one below.
func TestACoarseLimitIsTheNextAbove(t *testing.T) {
	bg := context.Background()
	s, a := supplyThat(t, func(p *profile.Profile) { p.Supply.StepAmps = 0.01 })
	if s.LimitStep() != 0.01 || len(s.Notes()) != 1 || !strings.Contains(s.Notes()[0], "10 mA") {
		t.Errorf("step %v, notes %q", s.LimitStep(), s.Notes())
	}
	for asked, want := range map[float64]float64{0.004: 0.01, 0.01: 0.01, 0.012: 0.02, 0.03: 0.03, 2.995: 3.0,
		3.0: 3.0} {
		a.by[&s.s.GetVolts], a.by[&s.s.GetAmps] = 5, want
		if err := s.Set(bg, 5, asked); err != nil {
			t.Errorf("%v A: %v", asked, err)
		}
		if _, got := s.out.settings(); got != want {
			t.Errorf("%v A is set as %v, want %v", asked, got, want)
		}
	}
	if err := s.Set(bg, 5, 3.001); !errors.Is(err, instruments.ErrNotSet) {
		t.Errorf("more than it can: %v", err)
	}
}

// The output is known to be off after a confirmed off, until it is told to go on.
func TestKnownOff(t *testing.T) {
	bg := context.Background()
	s, a := supplyThat(t, nil)
	if s.KnownOff() {
		t.Error("known to be off before anything was asked")
	}
	if on, err := s.OutputIs(bg); on || err != nil || !s.KnownOff() {
		t.Errorf("asked: on %v, %v, known off %v", on, err, s.KnownOff())
	}
	a.by[&s.s.GetOutput] = 1
	if err := s.On(bg); err != nil || s.KnownOff() {
		t.Errorf("on: %v, known off %v", err, s.KnownOff())
	}
	a.silent = true
	if err := s.Off(bg); err == nil || s.KnownOff() {
		t.Errorf("off without an answer: %v, known off %v", err, s.KnownOff())
	}
	a.silent, a.by[&s.s.GetOutput] = false, 0
	if err := s.Off(bg); err != nil || !s.KnownOff() {
		t.Errorf("off: %v, known off %v", err, s.KnownOff())
	}
	a.shown = 250 * time.Millisecond
	if w := s.OffWithin(); w < 2*time.Second || w > 6*time.Second {
		t.Errorf("a slow supply's off may take %v", w)
	}
}
