package sketch

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
)

// The list of a small plan, counted by hand.
func TestBuyOfASmallPlan(t *testing.T) {
	p, _ := read(t, []byte(`build = "Gig"
[jack.main]
volts = 12.0
adapter_amps = 0.5
[joint.keel]
from = "main"
wire = { mm = 0.4, length_mm = 300, colour = "red, black" }
holds = [ { fuse = "resettable", amps = 0.25 } ]
[return.mast]
to = "main"
wire = { mm = 0.4, length_mm = 500, colour = "black" }
[board.beacon]
part = "single blinker"
joint = "keel"
wire = { mm = 0.2, length_mm = 100 }
[[group]]
name = "bow"
joint = "keel"
return = "mast"
wire = { mm = 0.4, length_mm = 200, colour = "red" }
lights = [ { leds = ["red 1.8 mm", "amber 1.8 mm"], ohms = 680, count = 3 }, { part = "red 1.8 mm", ohms = 1200, watts = 0.25 } ]
[[group]]
name = "stern"
joint = "keel"
lights = [ { part = "strip warm white 12 V", segments = 4, count = 2 }, { part = "smd red 12 V", count = 12 } ]
[[group]]
name = "old one"
joint = "keel"
lights = "as found"
[[group]]
name = "for the mast"
joint = "keel"
wire = { mm = 0.2, length_mm = 400 }
lights = [ { test_ohms = 470 } ]
`))
	b, err := budget.Of(p, budget.At{}, 1)
	if err != nil {
		t.Fatal(err)
	}
	s := Buy(p, b)
	want := []Bought{{"amber 1.8 mm", "pieces", 3, 2}, {"red 1.8 mm", "pieces", 4, 2},
		{"single blinker", "boards", 1, 0},
		{"smd red 12 V", "pieces", 12, 2}, {"strip warm white 12 V", "segments", 8, 2}}
	if !slices.Equal(s.Parts, want) {
		t.Errorf("parts: %+v", s.Parts)
	}
	// 12.6 V less at least 3.2 V over 680 ohm are 0.13 W at the most, 0.12 W at 3.6 V: twice that is what 0.25 W
	// holds.
	if want := []Resistor{{680, 0.25, 3, 2}, {1200, 0.25, 1, 2}}; !slices.Equal(s.Resistors, want) {
		t.Errorf("resistors: %+v", s.Resistors)
	}
	near := func(size, colour string, needed, buy float64) {
		t.Helper()
		for _, w := range s.Wires {
			if strings.HasPrefix(w.Size, size) && w.Colour == colour {
				if math.Abs(w.NeededM-needed) > 1e-9 || math.Abs(w.BuyM-buy) > 1e-9 {
					t.Errorf("%s %q: %g m, buy %g m", size, colour, w.NeededM, w.BuyM)
				}
				return
			}
		}
		t.Errorf("no wire of %s %q: %+v", size, colour, s.Wires)
	}
	near("0.4 mm", "red", 0.3+0.2, 1)    // the joint's plus, and the bow's, which has a return of its own
	near("0.4 mm", "black", 0.3+0.5, 1)  // the joint's minus, and the mast
	near("0.2 mm", "", 2*(0.1+0.4), 1.5) // the board and the sealed wire, both ways
	if len(s.Held) != 1 || s.Held[0].Needed != 1 || s.Held[0].Spare != 1 ||
		!strings.Contains(s.Held[0].Name, "0.25 A") {
		t.Errorf("held: %+v", s.Held)
	}
	if len(s.Feeds) != 1 || !strings.Contains(s.Feeds[0], "12 V") ||
		!strings.Contains(s.Feeds[0], "the plan has one of 0.5 A") {
		t.Errorf("feeds: %q", s.Feeds)
	}
	if !slices.Equal(s.AsFound, []string{"old one"}) || len(s.ForTests) != 1 ||
		!strings.Contains(s.ForTests[0], "470 ohm") {
		t.Errorf("%q, %q", s.AsFound, s.ForTests)
	}
}

// A length that was said is no guess, whoever left out how thick the wire is; nor is a thickness a length.
func TestBuyGuessesOnlyWhatNobodySaid(t *testing.T) {
	for wire, guessed := range map[string]float64{`length_mm = 220`: 0, `mm = 0.3`: 0.4, `mm = 0.3, length_mm = 220`: 0} {
		p, _ := read(t, fmt.Appendf(nil, `build = "Gig"
[jack.main]
volts = 12.0
[[group]]
name = "bow"
wire = { %s, colour = "blue" }
lights = [ { part = "smd red 12 V" } ]
`, wire))
		b, err := budget.Of(p, budget.At{}, 1)
		if err != nil {
			t.Fatal(err)
		}
		if w := Buy(p, b).Wires; len(w) != 1 || math.Abs(w[0].AssumedM-guessed) > 1e-9 {
			t.Errorf("%s: %+v, want %g m by guess", wire, w, guessed)
		}
	}
}

// Whatever the plan, each branch of it has its LEDs and its resistor on the list.
func TestBuyCountsEachBranch(t *testing.T) {
	p, _ := read(t, brackwater(t))
	b, err := budget.Of(p, budget.At{}, 1)
	if err != nil {
		t.Fatal(err)
	}
	s := Buy(p, b)
	resistors, branches := 0, 0
	for _, r := range s.Resistors {
		resistors += r.Needed
	}
	for _, g := range p.Groups {
		for _, l := range g.Lights {
			if l.Kind == plan.LEDs && l.Ohms.Nominal > 0 {
				branches += l.Branches()
			}
		}
	}
	if resistors != branches || branches == 0 {
		t.Errorf("%d resistors for %d branches", resistors, branches)
	}
}
