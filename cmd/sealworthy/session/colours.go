package session

import (
	"sealworthy/capture"
	"sealworthy/capture/record"
)

// JudgesColours tells whether whoever looks can judge colours, as it was said last in a look or
// before a return; known: it was said.
func JudgesColours(f record.Folded) (judges, known bool) {
	var at capture.Order
	for _, n := range f.Notes {
		if n.Name == capture.ColoursNote {
			judges, known, at = n.Text != capture.NoColours, true, n.Order
		}
	}
	for _, r := range f.Kept() {
		said, ok := AnswersIn([]capture.StepRecord{r})[AskColours]
		if ok && (!known || r.SeenAt.After(at) || r.EndedAt.After(at)) {
			judges, known, at = said != JudgesNot, true, max(r.SeenAt, r.EndedAt)
		}
	}
	return judges, known
}
