package look_test

import (
	"testing"

	"sealworthy/compare/look"
)

func TestOf(t *testing.T) {
	groups := []string{"cabin windows", "saloon"}
	for _, c := range []struct{ seen, group, want string }{
		{"all right", "saloon", "all right"},
		{"cabin windows: 2 of 12 dark; saloon", "cabin windows", "2 of 12 dark"},
		{"cabin windows: 2 of 12 dark; saloon", "saloon", "not all right"},
		{"cabin windows: 2 of 12 dark", "saloon", ""}, // not named: not seen
		{"cabin windows: 2 of 12 dark; saloon: all right", "saloon", "all right"},
		{"two windows are dark", "saloon", "two windows are dark"},
	} {
		if got := look.Of(c.seen, c.group, groups); got != c.want {
			t.Errorf("%q of %s: %q, want %q", c.seen, c.group, got, c.want)
		}
	}
}

func TestOfSaidTwice(t *testing.T) {
	groups := []string{"fore", "fore: red", "aft"}
	for _, c := range []struct{ seen, group, want string }{
		{"fore: all right; fore: 1 dark", "fore", "1 dark"},
		{"fore: 1 dark; fore: all right", "fore", "1 dark"},
		{"fore: all right; fore: all right", "fore", look.Right},
		{"fore; fore: all right", "fore", "not all right"},
		{"fore: red: all right", "fore: red", look.Right},
		{"fore: red: all right", "fore", ""},
		{"fore: red: 1 dark; fore: All right", "fore: red", "1 dark"},
		{"fore: red: 1 dark; fore: All right", "fore", look.Right},
	} {
		if got := look.Of(c.seen, c.group, groups); got != c.want {
			t.Errorf("%q of %q: %q, want %q", c.seen, c.group, got, c.want)
		}
	}
}
