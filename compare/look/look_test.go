package look

import "testing"

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
