package machine

import (
	"math"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

// TestBounds: against the rule of three (of none in n, at most about 3 in n, at 95 %)
// and the exact 1 - 0.05^(1/n).
func TestBounds(t *testing.T) {
	for _, n := range []int{10, 300, 10_000} {
		if got, want := upper(0, n), 1-math.Pow(0.05, 1/float64(n)); math.Abs(got-want) > 1e-9 {
			t.Errorf("none of %d: at most %g, want %g", n, got, want)
		}
		if got, want := lower(n, n), math.Pow(0.05, 1/float64(n)); math.Abs(got-want) > 1e-9 {
			t.Errorf("all of %d: at least %g, want %g", n, got, want)
		}
	}
	if upper(3, 3) != 1 || lower(0, 3) != 0 || upper(0, 0) != 1 {
		t.Error("the ends of the scale")
	}
}

// TestATallyFails: a program that never says ready, or passes what the rule doesn't
// let by, isn't passed.
func TestATallyFails(t *testing.T) {
	x := NewTally(1)
	x.Inside, x.InsideReach = 120, 120
	x.Near[0].Read, x.Near[0].Passed, x.Near[0].Lets = 100, 5, 5
	if _, many := x.TooMany(); many || x.TooFew() {
		t.Error("a good one fails")
	}
	x.InsideReach = 0
	if !x.TooFew() {
		t.Error("never ready passes")
	}
	x.Near[0].Passed = 15
	if _, many := x.TooMany(); !many {
		t.Error("three times what the rule lets by passes")
	}
}

// TestATallyGoesOn: what was counted is read back, and printed with its bound.
func TestATallyGoesOn(t *testing.T) {
	file := filepath.Join(t.TempDir(), "state.json")
	shop := NewShop()
	x := NewTally(40)
	for seed := uint64(40); seed < 43; seed++ {
		s := Sequence(shop, seed)
		o, err := Play(shop, Direct{}, s, Defect{})
		if err != nil {
			t.Fatal(err)
		}
		x.Count(s, o)
		x.Next++
	}
	if err := x.Save(file); err != nil {
		t.Fatal(err)
	}
	back, err := LoadTally(file, 7)
	if err != nil || !reflect.DeepEqual(back, x) {
		t.Errorf("%+v reads back as %+v (%v)", x, back, err)
	}
	if s := back.String(); back.Next != 43 || !strings.Contains(s, "3 sequences") ||
		!strings.Contains(s, "upper 95 % bound") {
		t.Errorf("next %d: %s", back.Next, s)
	}
}
