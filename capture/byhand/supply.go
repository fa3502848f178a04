package byhand

import (
	"context"
	"errors"
	"fmt"
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

	mu  sync.Mutex
	off bool // confirmed by the maker since the last On
}

var (
	_ instruments.Supply    = (*Supply)(nil)
	_ instruments.Describer = (*Supply)(nil)
)

// ByHand is true: every command costs a person.
func (s *Supply) ByHand() bool { return true }

// Describe tells what the maker stated of the supply.
func (s *Supply) Describe() instruments.Description {
	return instruments.Description{Profile: "by hand", Identity: "a supply set by the maker", SetAccuracy: s.SetAccuracy}
}

// Set asks the maker to set voltage and limit.
func (s *Supply) Set(ctx context.Context, volts, limitAmps float64) error {
	return s.ask(ctx, fmt.Sprintf("Set the supply to %.2f V and its current limit to %.0f mA.", volts, limitAmps*1e3))
}

// On asks the maker to switch on.
func (s *Supply) On(ctx context.Context) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.off = false
	return s.ask(ctx, "Switch the supply's output ON. Nobody but you can switch it off again: "+
		"keep a hand near it, and switch off if its limit lamp comes on.")
}

// Off asks the maker to switch off. Confirmed once, it isn't asked again until
// the next On. The program can't do it: without an answer it is ErrNotConfirmed.
func (s *Supply) Off(ctx context.Context) error {
	s.mu.Lock()
	defer s.mu.Unlock()
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
