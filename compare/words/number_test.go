package words

import (
	"math"
	"testing"
)

func TestNumberCarriesNoMoreDigitsThanItsDoubt(t *testing.T) {
	for _, c := range []struct {
		x, u float64
		want string
	}{
		{38.234, 0.4, "38.2"}, {38.234, 0.14, "38.23"}, {38.26, 1.4, "38.3"}, {38.234, 3, "38"}, {0.0004, 0.5, "0.0"},
		{-0.01, 0.5, "0.0"}, {123.4, 0, "123"}, {12.34, 0, "12.3"}, {1.234, 0, "1.23"}, {math.NaN(), 1, "?"},
		{1, math.Inf(1), "1.00"},
		{9.996, 0.03, "10.00"}, {5, 50, "5"},
	} {
		if got := Number(c.x, c.u); got != c.want {
			t.Errorf("Number(%g, %g) = %s, want %s", c.x, c.u, got, c.want)
		}
	}
}

func TestOhmsAreSaidToOneDigit(t *testing.T) {
	for in, want := range map[float64]string{437: "400", 30.4: "30", 0.05: "0.05", 9.6: "10", 1234: "1000"} {
		if got := about(in); got != want {
			t.Errorf("%g ohm: %q, want %q", in, got, want)
		}
	}
}

// A draw that lies in a band lies between the figures that are shown of it.
func TestABandIsRoundedOutwards(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		want      string
	}{
		{0.0350, 0.03894, "35.0 to 39.0 mA"}, {0.0350, 0.0390, "35.0 to 39.0 mA"},
		{0.08049, 0.0886, "80 to 89 mA"}, {0, 0.0001, "0.00 to 0.10 mA"}, {0.44651, 0.51849, "446 to 519 mA"},
	} {
		if got := MilliampBand(c.low, c.high); got != c.want {
			t.Errorf("%g to %g A: %q, want %q", c.low, c.high, got, c.want)
		}
	}
}
