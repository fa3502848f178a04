package fault_test

import (
	"strings"
	"testing"

	"sealworthy/compare/fault"
)

func TestPlace(t *testing.T) {
	p := parsed(t, reversible)
	_, ship := brackwaterPlan(t)
	for _, c := range []struct {
		f    fault.Fault
		ship bool
		want string
	}{
		{fault.Fault{Kind: fault.DarkSegment, Group: "strips", Branch: 6}, false,
			"main > strips, 2nd strip, 3rd segment"},
		{fault.Fault{Kind: fault.PieceReversed, Group: "strips", Branch: 4}, false, "main > strips, 2nd strip"},
		{fault.Fault{Kind: fault.ShortedLED, Group: "conducts", Branch: 1, LED: 2}, false,
			"main > keel > conducts, 2nd branch, 3rd LED from plus; back by mast"},
		{fault.Fault{Kind: fault.OpenBranch, Group: "mixed", Light: 1}, false, "main > keel > mixed, red 1.8 mm"},
		{fault.Fault{Kind: fault.StuckDark, Group: "port light"}, false,
			"main > keel > beacon, output 1 > port light"},
		{fault.Fault{Kind: fault.BadJoint, Group: "lone"}, false, "main > keel > lone"},
		{fault.Fault{Kind: fault.OpenBranch, Group: "hold lamps", Branch: 3}, true,
			"main > entry > keel > hold lamps, 4th piece"},
		{fault.Fault{Kind: fault.OpenBranch, Group: "lantern", Branch: 0}, true,
			"main > entry > keel > deck plate > mast foot > lantern ring > lamp driver, output 1 > lantern, 1st " +
				"branch; back by brass mast"},
		{fault.Fault{Kind: fault.BadJoint, Group: "nobody"}, false, ""},
	} {
		q := p
		if c.ship {
			q = ship
		}
		if got := fault.Place(q, c.f); got != c.want {
			t.Errorf("%s: %q, want %q", c.f, got, c.want)
		}
	}
}

func TestDarkens(t *testing.T) {
	p := parsed(t, reversible)
	for _, c := range []struct {
		f        fault.Fault
		dark, of int
	}{
		{fault.Fault{Kind: fault.OpenBranch, Group: "blocks"}, 3, 6},
		{fault.Fault{Kind: fault.OpenBranch, Group: "lamps"}, 1, 3},
		{fault.Fault{Kind: fault.DarkSegment, Group: "strips"}, 1, 8},
		{fault.Fault{Kind: fault.ShortedLED, Group: "blocks", LED: 1}, 1, 6},
		{fault.Fault{Kind: fault.Short, Group: "blocks"}, 6, 6},
		{fault.Fault{Kind: fault.BadJoint, Group: "blocks", Ohms: 30}, 0, 6},
		{fault.Fault{Kind: fault.DecadeOff, Group: "blocks", Factor: 10}, 0, 6},
		{fault.Fault{Kind: fault.ExtraBranch, Group: "blocks"}, 0, 6},
		{fault.Fault{Kind: fault.StuckDark, Group: "port light"}, 2, 2},
		{fault.Fault{Kind: fault.CountOff, Group: "strips"}, 0, 8},
		{fault.Fault{Kind: fault.OpenBranch, Group: "nobody"}, 0, 0},
	} {
		if dark, of := fault.Darkens(p, c.f); dark != c.dark || of != c.of {
			t.Errorf("%s: %d of %d, want %d of %d", c.f, dark, of, c.dark, c.of)
		}
	}
}

// No fault darkens more lights than there are.
func TestDarkensWithin(t *testing.T) {
	_, ship := brackwaterPlan(t)
	for _, p := range []int{0, 1} {
		q := ship
		if p == 1 {
			q = parsed(t, reversible)
		}
		for _, g := range q.Groups {
			for _, f := range fault.Possible(q, g) {
				if dark, of := fault.Darkens(q, f); dark < 0 || dark > of || of == 0 {
					t.Errorf("%s: %d of %d", f, dark, of)
				}
				if fault.Place(q, f) == "" {
					t.Errorf("%s has no place", f)
				}
			}
		}
	}
}

// What lies at a group or its output isn't said to lie at one of its segments, whatever kind
// comes anew.
func TestAPlaceIsNoFinerThanItsKind(t *testing.T) {
	p := everything(t)
	for _, k := range kindsInSource(t) {
		a := fault.AboutKind(k)
		if a.At != fault.InGroup && a.At != fault.AtOutput && a.At != fault.InPlan || k == fault.PieceReversed {
			continue
		}
		for _, g := range p.Groups {
			at := fault.Place(p, fault.Fault{Kind: k, Group: g.Name})
			for _, w := range []string{" segment", " branch", " piece", " LED "} {
				if strings.Contains(at, w) {
					t.Errorf("%s: %s", k, at)
				}
			}
		}
	}
}
