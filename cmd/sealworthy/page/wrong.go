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
	Why   string         // what else the question says, of a step that was stopped; "": nothing
	All   []capture.Said
}

// mostWords of a verdict are set in letters to be read from two metres: with more the answers would lie below
// what is in sight of a tablet.
const mostWords = 2

// wrongOf lays out a question about what isn't good; nil: nothing was said of the step.
func wrongOf(q session.Question, last []capture.Said) *wrong {
	if q.Kind != capture.AskAgain {
		return nil
	}
	open := slices.DeleteFunc(slices.Clone(last), func(x capture.Said) bool { return x.Good })
	bad := slices.DeleteFunc(slices.Clone(open), func(x capture.Said) bool { return x.Undecided })
	w := &wrong{Todo: wording.Todo(last), All: last, Words: bad}
	if len(bad) == 0 {
		w.Words = open
	}
	if len(w.Words) == 0 {
		return nil
	}
	if !named(q.Text, w.Words) {
		w.Why = strings.TrimSuffix(q.Text, " "+isOff)
	}
	if n := len(w.Words) - mostWords; n > 0 {
		w.Words, w.More = w.Words[:mostWords], fmt.Sprintf("and %d more, below", n)
	}
	return w
}

// isOff is what such a question ends with; the page says it over all else.
const isOff = "The output is off."

// named: a text says of each what its verdict is, and little else.
func named(text string, said []capture.Said) bool {
	return !slices.ContainsFunc(said, func(x capture.Said) bool {
		group := strconv.Quote(x.Group)
		return !strings.Contains(text, group+" is "+x.Verdict) && !(x.Undecided && strings.Contains(text, group))
	})
}

// failed is the question after a step that gave no readings, with what to do before why; ok is false for any other.
func failed(q session.Question) (head, tail string, ok bool) {
	why, ok := strings.CutPrefix(q.Text, "Not measured. ")
	if !ok || q.Kind != capture.AskAgain {
		return "", "", false
	}
	return wording.NotMeasured, strings.TrimSuffix(why, " "+isOff), true
}
