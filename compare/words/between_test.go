package words

import "testing"

// A draw is said to lie between two others only where it does.
func TestBetweenIsBetween(t *testing.T) {
	const row = "one branch of 3 in series, amber 0603"
	for _, x := range []struct {
		measuredA float64
		want      string
	}{
		{0.02213, "It draws more than a healthy one should, yet not enough to be sure that something is wrong."},
		{0.0165, "It lies between a healthy group and one with one dark branch of 3 in series, amber 0603."},
		{0.0101, "It lies between a healthy group and one with one dark branch of 3 in series, amber 0603."},
		{0.0097, "It draws less than even one with one dark branch of 3 in series, amber 0603."},
	} {
		if got := NotWhatHealthy(x.measuredA, 0.0197, 0.0098, row); got != x.want {
			t.Errorf("%g A: %q, want %q", x.measuredA, got, x.want)
		}
	}
}
