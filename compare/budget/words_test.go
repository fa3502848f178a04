package budget

import (
	"strings"
	"testing"
)

func TestAmps(t *testing.T) {
	for _, c := range []struct {
		a    float64
		want string
	}{
		{0.032, "32 mA"}, {0.025, "25 mA"}, {0.0112, "11 mA"}, {0.00962, "9.6 mA"}, {0.000451, "0.45 mA"},
		{1.25, "1.25 A"},
		{0.46, "460 mA"}, {0.0999, "100 mA"}, {0.09949, "99 mA"}, {0.99949, "999 mA"}, {0.9996, "1 A"},
		{0.009996, "10 mA"}, {0, "0 mA"}, {1e-9, "0 mA"},
	} {
		if got := amps(c.a); got != c.want {
			t.Errorf("amps(%g) = %q, want %q", c.a, got, c.want)
		}
	}
	for r, want := range map[float64]string{470: "470 ohm", 4700: "4.7 kohm", 999.6: "1 kohm", 0.55: "0.55 ohm",
		1e6: "1 Mohm"} {
		if got := ohms(r); got != want {
			t.Errorf("ohms(%g) = %q, want %q", r, got, want)
		}
	}
}

// After JCGM 100:2008, 7.2.6, at the boundaries of rounding.
func TestDecimals(t *testing.T) {
	for _, c := range []struct {
		u    float64
		want int
	}{{0.27, 1}, {2.7, 0}, {1.7, 1}, {0.17, 2}, {27, 0}, {17, 0}, {9.96, 0}, {0.99, 1}, {0.996, 1}, {0.0027, 2},
		{0, 2}} {
		if got := decimals(c.u); got != c.want {
			t.Errorf("decimals(%g) = %d, want %d", c.u, got, c.want)
		}
	}
	if got := milli(-1e-9, 1); got != "0.0" {
		t.Errorf("milli(-1e-9) = %q", got)
	}
	if got := list([]string{"a", "b", "c"}); got != "a, b and c" {
		t.Errorf("list = %q", got)
	}
}

func TestTableKeepsItsWidth(t *testing.T) {
	var s strings.Builder
	p := &page{w: &s, width: 40}
	p.table([][]string{{"group", "draw"}, {"a name that is much too long for the first column of it", "12.3"}})
	p.para("  - ", "words that go on and on until the line is full and the next one begins below them")
	for _, l := range strings.Split(strings.TrimSuffix(s.String(), "\n"), "\n") {
		if n := len([]rune(l)); n > 40 {
			t.Errorf("line of %d columns: %q", n, l)
		}
	}
	// Nothing of a name is lost: it stands above its numbers.
	if got := strings.Join(strings.Fields(s.String()), " "); !strings.Contains(got,
		"for the first column of it 12.3") ||
		!strings.Contains(s.String(), "\n    ") {
		t.Errorf("got:\n%s", s.String())
	}
}
