package fault_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
	"sealworthy/compare/words"
)

// drawn is what a group lit alone at 12 V draws.
func drawn(t *testing.T, w *wiring.Wired, g string) float64 {
	t.Helper()
	gi := slices.IndexFunc(w.Plan.Groups, func(x plan.Group) bool { return x.Name == g })
	w.Alone(gi)
	amps, err := w.AddsAmps(gi, circuit.Source{EmfV: 12})
	if err != nil {
		t.Fatal(err)
	}
	return amps
}

// first is the first possible fault of a kind, at the first LED of a chain.
func first(t *testing.T, p *plan.Plan, g string, k fault.Kind) fault.Fault {
	t.Helper()
	all := fault.Possible(p, group(t, p, g))
	i := slices.IndexFunc(all, func(f fault.Fault) bool { return f.Kind == k && f.LED == 0 })
	if i < 0 {
		t.Fatalf("no %s is possible in %q", k, g)
	}
	return all[i]
}

// with is what a group draws with a fault, which is taken back.
func with(t *testing.T, w *wiring.Wired, f fault.Fault) float64 {
	t.Helper()
	if err := fault.Apply(w, f); err != nil {
		t.Fatal(err)
	}
	defer w.Reset()
	return drawn(t, w, f.Group)
}

func TestTurnedRound(t *testing.T) {
	p := parsed(t, reversible)
	w := wired(t, p)
	for _, c := range []struct {
		group string
		kind  fault.Kind
		// share is what the fault leaves of the draw: between the two.
		low, high float64
		dark, of  int
		says      string
	}{
		// One of two equal branches goes dark and draws nothing.
		{"blocks", fault.ReversedLED, .49, .51, 3, 6, "so its branch is dark"},
		{"blocks", fault.PieceReversed, .49, .51, 3, 6, "the wrong way round, or its wire is off"},
		{"blocks", fault.GroupReversed, 0, .001, 6, 6, "draws nothing"},
		// One LED of a chain of three conducts at 0.7 V instead of 3 V: the other
		// two get (12 - 0.7 - 2 x 3)/150 instead of (12 - 9)/150.
		{"conducts", fault.ReversedLED, 1.2, 1.6, 1, 6, "its neighbours in the chain are too bright"},
		{"conducts", fault.PieceReversed, 1.8, 2.6, 3, 6, "protection diodes"},
		{"conducts", fault.GroupReversed, 2.8, 4, 6, 6, "draws too much"},
		// One piece of three draws (12 - 0.7)/(12 - 3) of what it should.
		{"lamps", fault.ReversedLED, 1 + .2/3, 1 + .32/3, 1, 3, "it is dark, and the draw is high"},
		{"lamps", fault.GroupReversed, 1.2, 1.32, 3, 3, "draws too much"},
		{"strips", fault.PieceReversed, 1.5, 4, 4, 8, "Switch off, then swap"},
		{"strips", fault.GroupReversed, 2, 8, 8, 8, "Only its resistors hold the current back"},
		{"mixed", fault.GroupReversed, .5, .7, 2, 2, "A part of it conducts"},
		{"port light", fault.GroupReversed, 0, .001, 2, 2, "at output 1 of \"beacon\""},
	} {
		f := first(t, p, c.group, c.kind)
		if s := with(t, w, f) / drawn(t, w, c.group); !(s >= c.low && s <= c.high) {
			t.Errorf("%s, %s: draws %.3f of the healthy, want %.3g to %.3g", c.group, c.kind, s, c.low, c.high)
		}
		if dark, of := fault.Darkens(p, f); dark != c.dark || of != c.of {
			t.Errorf("%s, %s: darkens %d of %d, want %d of %d", c.group, c.kind, dark, of, c.dark, c.of)
		}
		if text := words.Fault(p, f, nil); !strings.Contains(text, c.says) {
			t.Errorf("%s, %s: %q lacks %q", c.group, c.kind, text, c.says)
		}
	}
}

// Every reversal that Possible lists is an outcome of its own, and only where
// something can be turned round.
func TestWhoCanBeReversed(t *testing.T) {
	p := parsed(t, reversible)
	for name, want := range map[string][2]int{ // pieces, groups
		"blocks": {2, 1}, "conducts": {2, 1}, "lamps": {0, 1}, "strips": {2, 1}, "mixed": {0, 1},
		"lone": {0, 0}, "fire": {0, 0}, "port light": {0, 1},
	} {
		var got [2]int
		for _, f := range fault.Possible(p, group(t, p, name)) {
			switch f.Kind {
			case fault.PieceReversed:
				got[0]++
			case fault.GroupReversed:
				got[1]++
			}
		}
		if got != want {
			t.Errorf("%s: %d pieces and %d groups can be reversed, want %v", name, got[0], got[1], want)
		}
	}
}

// Reset takes a reversal back, to what the solver leaves open (1e-7 A).
func TestReversalIsTakenBack(t *testing.T) {
	p := parsed(t, reversible)
	w := wired(t, p)
	for _, name := range []string{"blocks", "conducts", "strips"} {
		before := drawn(t, w, name)
		if err := fault.Apply(w, fault.Fault{Kind: fault.GroupReversed, Group: name}); err != nil {
			t.Fatal(err)
		}
		if turned := drawn(t, w, name); math.Abs(turned-before) < 1e-4 {
			t.Errorf("%s draws %g A turned round, as before", name, turned)
		}
		w.Reset()
		if after := drawn(t, w, name); math.Abs(before-after) > 1e-7 {
			t.Errorf("%s: %g A before, %g A after", name, before, after)
		}
	}
}

// Nothing can be turned round in a group of resistors and electronics.
func TestNothingToTurnRound(t *testing.T) {
	p := parsed(t, reversible)
	err := fault.Apply(wired(t, p), fault.Fault{Kind: fault.GroupReversed, Group: "fire"})
	if err == nil || !strings.Contains(err.Error(), "no LED there to turn round") {
		t.Errorf("got %v", err)
	}
}
