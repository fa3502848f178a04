package page

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/wording"
)

// wrong is what stands in the question after a verdict that isn't good: the verdicts in a word each, what to do next,
// and below the answers what was measured and why it may be.
type wrong struct {
	Words []capture.Said // the first of those that aren't good
	More  string         // how many follow below; "": none
	Todo  string         // in one sentence
	All   []capture.Said
}

// mostWords of a verdict are set in letters to be read from two metres: with more the answers would lie below
// what is in sight of a tablet.
const mostWords = 2

// wrongOf lays out a question about what is wrong; nil: it says something else.
func wrongOf(q session.Question, last []capture.Said) *wrong {
	if !judged(q, last) {
		return nil
	}
	w := &wrong{Todo: wording.Todo(last), All: last}
	w.Words = slices.DeleteFunc(slices.Clone(last), func(x capture.Said) bool { return x.Good || x.Undecided })
	if n := len(w.Words) - mostWords; n > 0 {
		w.Words, w.More = w.Words[:mostWords], fmt.Sprintf("and %d more, below", n)
	}
	return w
}

// judged: a question says of each group that isn't good what its verdict is, and little else.
func judged(q session.Question, last []capture.Said) bool {
	wrong := slices.DeleteFunc(slices.Clone(last), func(x capture.Said) bool { return x.Good || x.Undecided })
	return q.Kind == capture.AskAgain && len(wrong) > 0 && !slices.ContainsFunc(wrong, func(x capture.Said) bool {
		return !strings.Contains(q.Text, strconv.Quote(x.Group)+" is "+x.Verdict)
	})
}
