package instruments

import (
	"context"
	"errors"
	"fmt"
)

// mostAsked is how often an instrument is asked who it is (our own choice): a line that spoils
// so many answers, no two of them alike, carries no reading either.
const mostAsked = 4

// Who asks an instrument who it is. A name counts once it came twice in a row, or is the one
// that is known already: one bad bit in an answer makes no other instrument of it. What never
// does is ErrGarbled.
func Who(ctx context.Context, i Identifier, known string) (string, error) {
	last, bad := "", error(nil)
	for range mostAsked {
		id, err := i.Identify(ctx)
		switch {
		case errors.Is(err, ErrGarbled) && ctx.Err() == nil:
			last, bad = "", err
			continue
		case err != nil:
			return "", err
		case id == known || id == last: // known and last are empty where there is none
			return id, nil
		}
		last = id
	}
	if last == "" {
		return "", bad
	}
	return "", fmt.Errorf("%w: it calls itself another name each time, at last %q", ErrGarbled, last)
}
