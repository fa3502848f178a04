package look

import (
	"math"
	"testing"

	"sealworthy/compare/plan"
)

// All right of somebody who can't judge colours weighs against what is dark, dim or flickers as
// anybody's does, at the bench and at a return, and less against a cause that isn't known: that
// may be a colour. What is dark to him is dark.
func TestWhoCantJudgeColours(t *testing.T) {
	r, right := DefaultRates(), Look{Saw: AllLit}
	blind := right.ColoursAside()
	for _, is := range []Lights{{Of: 6}, {Dark: 1, Of: 6}, {Dim: 6, Of: 6}, {Of: 6, MayFlicker: 1},
		{Of: 6, Steady: true}} {
		if a, b := r.LogSaw(right, is), r.LogSaw(blind, is); a != b {
			t.Errorf("%+v at a return: %.3f, where colours aren't judged %.3f", is, a, b)
		}
		if a, b := r.LogOf(right, is.Dark, is.Dim, 6), r.LogOf(blind, is.Dark, is.Dim, 6); a != b {
			t.Errorf("%+v at the bench: %.3f, where colours aren't judged %.3f", is, a, b)
		}
	}
	if a, b := r.LogOfUnknown(right, 6), r.LogOfUnknown(blind, 6); !(a < b && b < 0) {
		t.Errorf("of what isn't known %.3f, where colours aren't judged %.3f", a, b)
	}
	dark := Look{Saw: SomeDark, Dark: 1}
	if dark.ColoursAside() != dark || r.LogOfUnknown(dark, 6) != math.Log(0.5/6) {
		t.Error("what is dark is another thing to who can't judge colours")
	}
	for _, w := range []What{Dark, Dim, Flickers, Place} {
		if !blind.SaysOf(w) || !right.SaysOf(w) || (Look{}).SaysOf(w) {
			t.Errorf("what does it say of %s?", w)
		}
	}
	if blind.SaysOf(Colour) || !right.SaysOf(Colour) {
		t.Error("who says something of colours?")
	}
}

// Who can't judge colours and counts what is lit has his count kept: it's written one way, and is
// read back as what it was, a wrong count as a wrong one.
func TestACountOfWhoCantJudgeColours(t *testing.T) {
	six := plan.Group{Name: "cabin windows", Lights: []plan.Light{{Kind: plan.LEDs, Count: 6,
		Series: make([]plan.LED, 1)}}}
	const kept = "all right, 6 lit, colours not judged"
	want := Look{Saw: AllLit, Lit: 6, NoColours: true}
	if got := Parse(RightCounted(6), six).ColoursAside(); got != want || got.Words() != kept {
		t.Errorf("%+v, %q", got, got.Words())
	}
	for _, said := range []string{kept, "all right, colours not judged, 6 are lit",
		"All right, 6 lit, Colours not judged"} {
		u := Read("cabin windows: "+said, []plan.Group{six})
		if !u.Whole || len(u.Seen) != 1 || u.Seen[0].Words != kept || Parse(u.Seen[0].Words, six) != want {
			t.Errorf("%q: %+v", said, u)
		}
	}
	for _, wrong := range []string{"all right, 5 lit, colours not judged", "all right, 0 lit, colours not judged"} {
		if got := Parse(wrong, six); got.Saw != Otherwise {
			t.Errorf("%q: %+v", wrong, got)
		}
	}
}

func TestOneOfFourBranchesIsThreeOfTwelveLights(t *testing.T) {
	for _, x := range []struct{ in, want Look }{
		{Look{Saw: SomeDark, Dark: 1, Of: 4}, Look{Saw: SomeDark, Dark: 3, Of: 4}},
		{Look{Saw: SomeDark, Dark: 4, Of: 4}, Look{Saw: SomeDark, Dark: 12, Of: 4}},
		{Look{Saw: SomeDark, Dark: 2, Of: 12}, Look{Saw: SomeDark, Dark: 2, Of: 12}},
		{Look{Saw: SomeDark, Dark: 2, Of: 5}, Look{Saw: SomeDark, Dark: 2, Of: 5}},
		{Look{Saw: SomeDark, Dark: 40}, Look{Saw: SomeDark, Dark: 12}},
		{Look{Saw: AllLit}, Look{Saw: AllLit}},
	} {
		if got := x.in.Counted(12); got != x.want {
			t.Errorf("%+v: %+v, want %+v", x.in, got, x.want)
		}
	}
}

// TestEyeIsAProbability: what may be said of a group with so many dark adds up to 1.
func TestEyeIsAProbability(t *testing.T) {
	r := DefaultRates()
	for dark := range 6 {
		sum := r.of(Look{Saw: AllLit}, dark, 0, 12)
		for n := 1; n < 60; n++ {
			sum += r.of(Look{Saw: SomeDark, Dark: n}, dark, 0, 12)
		}
		if sum < 0.97 || sum > 1.03 {
			t.Errorf("%d dark: all answers together %.3f", dark, sum)
		}
		if dark > 0 && !(r.of(Look{Saw: AllLit}, dark, 0, 12) < 0.03) {
			t.Errorf("%d dark are overlooked too easily", dark)
		}
	}
}
