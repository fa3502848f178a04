package capture

import (
	"context"
	"errors"
	"testing"

	"sealworthy/instruments"
)

// asked is a supply that can be asked whether its output is on.
type asked struct {
	*fakeSupply
	garbled int // so many answers are garbled
	n       int
}

func (a *asked) OutputIs(context.Context) (bool, error) {
	if a.n++; a.n <= a.garbled {
		return true, instruments.ErrGarbled
	}
	return a.b.outputOn(), nil
}

// A bench that is opened is off, whatever it was, and it is said if it was on.
func TestBenchIsQuietOnceOpened(t *testing.T) {
	for _, c := range []struct {
		name         string
		on           bool
		garbled      int
		offFails     error
		found, still bool
	}{
		{"off", false, 0, nil, false, false},
		{"on", true, 0, nil, true, false},
		{"on, one bad answer", true, 1, nil, true, false},
		{"off, one bad answer", false, 1, nil, false, false},
		{"on, and it doesn't say so", true, 2, nil, false, false}, // it is switched off all the same
		{"on, and stays so", true, 0, instruments.ErrNotSet, true, true},
	} {
		b := newBench(t, led)
		s := &asked{fakeSupply: &fakeSupply{b, "supply A"}, garbled: c.garbled}
		b.on = c.on
		b.supplyFails = func(op string) error {
			if op == "off" {
				return c.offFails
			}
			return nil
		}
		found, err := NewGuard(b.c).Quiet(context.Background(), s)
		if found != c.found || b.outputOn() != c.still || errors.Is(err, ErrOffNotConfirmed) != c.still ||
			(err != nil) != c.still {
			t.Errorf("%s: found on %v, still on %v, %v", c.name, found, b.outputOn(), err)
		}
	}
	// One that can't be asked is switched off without a word.
	b := newBench(t, led)
	b.on = true
	if found, err := NewGuard(b.c).Quiet(context.Background(), &fakeSupply{b, "supply A"}); found || err != nil ||
		b.outputOn() {
		t.Errorf("found on %v, still on %v, %v", found, b.outputOn(), err)
	}
}
