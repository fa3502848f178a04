package instruments

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
)

// answers is an instrument that calls itself by these names, one after another; "-" is a
// garbled answer, "!" none at all.
type answers []string

func (a *answers) Identify(context.Context) (string, error) {
	x := (*a)[0]
	*a = slices.Delete(*a, 0, 1)
	switch x {
	case "-":
		return "", fmt.Errorf("bad bits: %w", ErrGarbled)
	case "!":
		return "", ErrNoReply
	}
	return x, nil
}

// What came once, and isn't known, is no name.
func TestANameComesTwice(t *testing.T) {
	for _, c := range []struct {
		known   string
		answers answers
		want    string
		err     error
	}{
		{"", answers{"me", "me"}, "me", nil},
		{"me", answers{"me"}, "me", nil},
		{"", answers{"mf", "me", "me"}, "me", nil},
		{"me", answers{"mf", "me"}, "me", nil},
		{"me", answers{"you", "you"}, "you", nil},
		{"me", answers{"mf", "you", "you"}, "you", nil},
		{"", answers{"-", "me", "me"}, "me", nil},
		{"", answers{"me", "-", "me", "me"}, "me", nil},
		{"", answers{"me", "-", "me", "-"}, "", ErrGarbled},
		{"", answers{"-", "-", "-", "-"}, "", ErrGarbled},
		{"me", answers{"a", "b", "c", "d"}, "", ErrGarbled},
		{"", answers{"!"}, "", ErrNoReply},
	} {
		got, err := Who(t.Context(), &c.answers, c.known)
		if got != c.want || !errors.Is(err, c.err) || len(c.answers) != 0 {
			t.Errorf("known as %q: %q, %v, %d answers left", c.known, got, err, len(c.answers))
		}
	}
}
