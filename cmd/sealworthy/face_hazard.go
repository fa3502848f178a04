package main

import (
	"strings"

	"sealworthy/capture"
)

// hazardAnswer reads what was typed there: Enter alone leaves the step out, and
// only the check's whole name goes on to the reason.
func hazardAnswer(k capture.QuestionKind, typed string) (a capture.Answer, why string) {
	typed = strings.TrimSpace(typed)
	switch {
	case typed == "" && k == capture.AskReason:
		return a, "say why, in a few words"
	case typed == "" || strings.EqualFold(typed, "s") || strings.EqualFold(typed, "skip"):
		return capture.Answer{Choice: "skip"}, ""
	case k == capture.AskReason:
		return capture.Answer{Choice: "reason", Text: typed}, ""
	}
	return capture.Answer{Choice: "allow", Text: typed}, ""
}
