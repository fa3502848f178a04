package byhand

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"sealworthy/capture"
	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// asks is how often a number that can't be read is asked for again.
const asks = 3

// Meter is a meter that the maker reads.
type Meter struct {
	Face  capture.Face
	Clock clock.Clock
	// Accuracy is the meter's own, from its manual. The zero Accuracy is taken
	// as ±(1.5 % + 5 counts), the worse of usual hand-held meters (common
	// practice, no source).
	Accuracy     instruments.Accuracy
	Bare         string // unit of a number typed without one; "" is mA
	JackFuseAmps float64
	BurdenOhm    float64

	mu   sync.Mutex
	lead func() string // what else is to be done before it's read; nil: nothing
}

// before has a supply say what is to be turned before the next reading.
func (m *Meter) before(lead func() string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.lead = lead
}

// question is what the next reading asks, with what is to be turned first.
func (m *Meter) question(q instruments.Quantity) string {
	m.mu.Lock()
	lead := m.lead
	m.lead = nil
	m.mu.Unlock()
	text := fmt.Sprintf("What does the meter show now? (%s)", q)
	if lead != nil {
		if first := lead(); first != "" {
			text = first + " " + text
		}
	}
	return text
}

var (
	_ instruments.Meter     = (*Meter)(nil)
	_ instruments.Describer = (*Meter)(nil)
)

// ByHand is true: every reading costs a person.
func (m *Meter) ByHand() bool { return true }

// Profile is that of what a person reads or sets: which one it is nobody can tell.
const Profile = "by hand"

// Describe tells what the maker stated of the meter.
func (m *Meter) Describe() instruments.Description {
	return instruments.Description{Profile: Profile, Identity: "a meter read by the maker",
		JackFuseAmps: m.JackFuseAmps,
		Ranges: []instruments.Range{{Name: "as set by hand", Quantity: instruments.Current,
			Accuracy: m.Accuracy, BurdenOhm: m.BurdenOhm}}}
}

// Read asks for the number on the display. Its half-width is the stated
// accuracy with one unit of the last place that was typed.
func (m *Meter) Read(ctx context.Context, q instruments.Quantity) (instruments.Reading, error) {
	text := m.question(q)
	for range asks {
		asked := m.Clock.Now()
		a, err := m.Face.Ask(ctx, capture.Question{Kind: capture.AskNumber, Text: text,
			Choices: []string{"number", "overload", "stop"}})
		if err != nil {
			return instruments.Reading{}, err
		}
		if a.Choice == "stop" {
			return instruments.Reading{}, capture.ErrStopped
		}
		t, err := m.typed(a, q)
		if err != nil {
			text = err.Error() + ". What does the meter show now?"
			continue
		}
		now := m.Clock.Now()
		r := instruments.Reading{Quantity: q, Unit: q.Unit(), Status: instruments.Overload,
			At: now, Latency: now.Sub(asked), Raw: a.Text}
		if !t.Overload {
			r.Status, r.Value = instruments.OK, &t.Value
			r.HalfWidth = m.halfWidth(t)
			if r.Raw == "" {
				r.Raw = fmt.Sprintf("%g", t.Value)
			}
		}
		return r, nil
	}
	return instruments.Reading{}, fmt.Errorf("%w: no number that could be read was typed", instruments.ErrGarbled)
}

func (m *Meter) typed(a capture.Answer, q instruments.Quantity) (Typed, error) {
	switch {
	case a.Choice == "overload":
		return Typed{Overload: true}, nil
	case a.Number != nil:
		return Typed{Value: *a.Number}, nil
	}
	bare := m.Bare
	if bare == "" {
		bare = "m" + q.Unit()
	}
	return Parse(a.Text, q, bare)
}

func (m *Meter) halfWidth(t Typed) float64 {
	if m.Accuracy == (instruments.Accuracy{}) {
		res := t.Resolution
		if res == 0 {
			res = 1e-4 // of a bare number nothing is known: 0.1 mA a count
		}
		return instruments.Accuracy{OfReading: 0.015, Floor: 5 * res}.HalfWidth(t.Value)
	}
	return m.Accuracy.HalfWidth(t.Value) + t.Resolution
}

// ErrCantRead is returned by Supply.Read: nobody reads a hand-set supply back.
var ErrCantRead = errors.New("a supply set by hand can't be read back")
