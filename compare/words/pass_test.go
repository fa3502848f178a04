package words

import "testing"

func TestWhatStandsBesideAPass(t *testing.T) {
	for _, x := range []struct {
		loss, ohm, p float64
		want         string
	}{
		{0.00931, 12.4, 0.9968, "Nothing wrong: 99.6 %. A loss of 9.31 mA or more would have shown, a bad joint in " +
			"its wire from 12.4 ohm."},
		{0.0042, 0, 0.958, "Nothing wrong: 95 %. A loss of 4.20 mA or more would have shown. A bad joint in its " +
			"wire may not have shown."},
		{0, 5.1, 0.97, "Nothing wrong: 97 %. No loss is excluded by current. A bad joint in its wire would have shown " +
			"from 5.1 ohm."},
		{0, 0, 0.99999, "Nothing wrong: more than 99.9 %. No loss is excluded by current. A bad joint in its " +
			"wire may not have shown."},
	} {
		if got := Excluded(x.loss, x.ohm, x.p); got != x.want {
			t.Errorf("%q, want %q", got, x.want)
		}
	}
}
