package session

import (
	"math"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// TypedValue reads what somebody typed at a question that takes a value: with its unit
// ("32 mA", "0.032 A", "4k7"), or without one as V, A or ohm as the question asks. The
// value is in these. False: it is none, in a unit of something else, or no such question.
func TypedValue(kind capture.QuestionKind, text string) (float64, bool) {
	key := ""
	switch kind {
	case AskOpen, AskLoaded:
		key = "volts"
	case AskFuse:
		key = "adapter_amps"
	case AskLoad:
		key = "ohms"
	default:
		return 0, false
	}
	v, ok := plan.NumberOf(key, text)
	return v, ok && !math.IsNaN(v) && !math.IsInf(v, 0)
}

// valued is an answer with the value that was typed in its text.
func valued(q Question, a capture.Answer) capture.Answer {
	if a.Choice != "number" || a.Number != nil || q.About == nil {
		return a
	}
	if v, ok := TypedValue(q.Kind, a.Text); ok {
		a.Number = &v
	}
	return a
}
