package byhand

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"sync"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// ErrNotConfirmed: the maker didn't say that the output is off.
var ErrNotConfirmed = errors.New("not confirmed: this program can't switch the supply off, do it by hand")

// Supply is a supply that the maker sets and switches.
type Supply struct {
	Face capture.Face
	// SetAccuracy is how far the output may be from what the maker set.
	SetAccuracy instruments.Accuracy
	// Meter, where it's typed in: what is set with the output on is told together with
	// the question for its number, one prompt for both. Nil: each setting is asked for.
	Meter *Meter

	mu      sync.Mutex
	off     bool      // confirmed by the maker since the last On
	waiting []setting // what is to be set before the next answer counts
}

// setting is what the knobs are to be turned to.
type setting struct{ volts, amps float64 }

// limitStep is what a knob's current limit can be set to (common practice, no source).
const limitStep = 0.010

// LimitStep is the step of the limit, A.
func (s *Supply) LimitStep() float64 { return limitStep }

// String is the setting as it's turned to: no more places than a knob has, but where
// the plan's own voltage has more.
func (t setting) String() string {
	v := fmt.Sprintf("%.1f V", t.volts)
	if math.Abs(t.volts*10-math.Round(t.volts*10)) > 1e-6 {
		v = fmt.Sprintf("%.2f V", t.volts)
	}
	return fmt.Sprintf("%s, limit %.0f mA", v, t.amps*1e3)
}

var (
	_ instruments.Supply    = (*Supply)(nil)
	_ instruments.Describer = (*Supply)(nil)
)

// ByHand is true: every command costs a person.
func (s *Supply) ByHand() bool { return true }

// Describe tells what the maker stated of the supply.
func (s *Supply) Describe() instruments.Description {
	return instruments.Description{Profile: Profile, Identity: "a supply set by the maker",
		SetAccuracy: s.SetAccuracy}
}

// Set tells the maker what to turn the knobs to: with the output off together with
// switching it on, with it on together with the meter's number where that is typed in,
// else at once.
func (s *Supply) Set(ctx context.Context, volts, limitAmps float64) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	t := setting{volts, limitAmps}
	if s.off {
		s.waiting = []setting{t}
		return nil
	}
	if s.Meter != nil {
		s.waiting = append(s.waiting, t)
		s.Meter.before(s.turned)
		return nil
	}
	return s.ask(ctx, "Set the supply to "+t.String()+".")
}

// turned hands out what is to be turned before the meter is read; "" when nothing is.
// Each point on the way is named: its limit protects what hangs on it.
func (s *Supply) turned() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.waiting) == 0 {
		return ""
	}
	var way []string
	for _, t := range s.waiting {
		way = append(way, t.String())
	}
	s.waiting = nil
	if len(way) == 1 {
		return "Set the supply to " + way[0] + "."
	}
	return "Turn the supply up, limits first: " + strings.Join(way, "; ") +
		". If its limit lamp comes on, switch it off and stop."
}

// On asks the maker to switch on.
func (s *Supply) On(ctx context.Context) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.off = false
	lead := "Switch the supply's output ON."
	if len(s.waiting) == 1 {
		lead = "Set the supply to " + s.waiting[0].String() + ", then switch its output ON."
	}
	s.waiting = nil
	return s.ask(ctx, lead+" Nobody but you can switch it off again: "+
		"keep a hand near it, and switch off if its limit lamp comes on.")
}

// Off asks the maker to switch off. Confirmed once, it isn't asked again until
// the next On. The program can't do it: without an answer it is ErrNotConfirmed.
func (s *Supply) Off(ctx context.Context) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.waiting = nil
	if s.off {
		return nil
	}
	if err := s.ask(ctx, "Switch the supply's output OFF now. This program can't do it for you."); err != nil {
		return fmt.Errorf("%w (%w)", ErrNotConfirmed, err)
	}
	s.off = true
	return nil
}

// Read fails: there is nothing to read.
func (s *Supply) Read(context.Context, instruments.Quantity) (instruments.Reading, error) {
	return instruments.Reading{}, ErrCantRead
}

// Limiting is false: only the maker sees the lamp. On says so.
func (s *Supply) Limiting(context.Context) (bool, error) { return false, nil }

func (s *Supply) ask(ctx context.Context, text string) error {
	a, err := s.Face.Ask(ctx, capture.Question{Kind: capture.AskSupply, Text: text, Choices: []string{"done", "stop"}})
	if err != nil {
		return err
	}
	if a.Choice == "stop" {
		return capture.ErrStopped
	}
	return nil
}
