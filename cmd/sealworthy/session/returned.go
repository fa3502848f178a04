package session

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"strconv"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/plan"
	"sealworthy/compare/returns"
)

// What is asked of a return before it gets current, in this order. A Question of
// these kinds has no text: each face has words of its own. Its About holds the
// figures that go with it.
const (
	AskEye      capture.QuestionKind = "eye"          // nothing, seen (Text is what)
	AskClient   capture.QuestionKind = "client"       // said (Text is their words), nothing said, don't know
	AskColours  capture.QuestionKind = "colours"      // whether the maker can tell them apart: yes, no
	AskGoOn     capture.QuestionKind = "go on"        // after something was seen: stop here, go on
	AskAdapter  capture.QuestionKind = "adapter"      // sent, not sent, don't know
	AskPolarity capture.QuestionKind = "polarity"     // as it should be, turned round, don't know
	AskOpen     capture.QuestionKind = "open volts"   // number, don't know
	AskLoad     capture.QuestionKind = "load ohm"     // number, don't know
	AskLoaded   capture.QuestionKind = "loaded volts" // number, don't know
)

// ToldLook is a look told by a flag; one that is asked for is a step of its own.
const ToldLook = capture.AskLook

// toldOrAsked is all that is kept as an answer.
var toldOrAsked = []capture.QuestionKind{
	AskEye, AskClient, AskColours, AskAdapter, AskPolarity, AskOpen, AskLoad, AskLoaded, ToldLook,
}

// Choices of those questions, and what is kept of them.
const (
	NothingSeen = "nothing"
	Seen        = "seen"
	StopHere    = "stop here"
	GoOn        = "go on"
	WasSent     = "sent"
	NotSent     = "not sent"
	DontKnow    = "don't know"
	Said        = "said"
	NothingSaid = "nothing said"
	Judges      = "yes"
	JudgesNot   = "no"
	PlusRight   = "as it should be"
	TurnedRound = "turned round"
)

// ReturnAnswers are what the maker said of a return, by question: a choice, what was
// seen, or a number.
type ReturnAnswers map[capture.QuestionKind]string

// Number of an answer; nil: none.
func (a ReturnAnswers) Number(q capture.QuestionKind) *float64 {
	v, err := strconv.ParseFloat(a[q], 64)
	if err != nil {
		return nil
	}
	return &v
}

// NumberText writes a number as it is kept.
func NumberText(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// Adapter is what was said of the client's adapter; nil: nothing.
func (a ReturnAnswers) Adapter() *returns.Adapter {
	switch a[AskAdapter] {
	case NotSent:
		return &returns.Adapter{}
	case WasSent:
	default:
		return nil
	}
	out := &returns.Adapter{Sent: true, Reversed: a[AskPolarity] == TurnedRound}
	if v := a.Number(AskOpen); v != nil {
		// A minus typed with the number says it, too.
		size := math.Abs(*v)
		out.OpenV, out.Reversed = &size, out.Reversed || *v < 0
	}
	if ohms, v := a.Number(AskLoad), a.Number(AskLoaded); ohms != nil && v != nil {
		out.LoadOhm, out.LoadedV = *ohms, v
	}
	return out
}

// Client is what the client said is wrong, in their words; "": nothing is known.
func (a ReturnAnswers) Client() string {
	if w := a[AskClient]; w != NothingSaid && w != DontKnow {
		return w
	}
	return ""
}

// Heard is what the client named, and why what of it wasn't understood.
func (a ReturnAnswers) Heard(p *plan.Plan, s *returns.Signature) (named []returns.Seen, why string) {
	if w := a.Client(); w != "" {
		return returns.Heard(p, s, w)
	}
	return nil, ""
}

// Seen is what was told of a look in one go.
func (a ReturnAnswers) Seen(p *plan.Plan, s *returns.Signature) []returns.Seen {
	if a[ToldLook] == "" {
		return nil
	}
	seen, _ := returns.SeenAs(p, s, a[ToldLook], a[AskColours] != JudgesNot)
	return seen
}

// Over gives a with what b says on top.
func (a ReturnAnswers) Over(b ReturnAnswers) ReturnAnswers {
	out := ReturnAnswers{}
	maps.Copy(out, a)
	maps.Copy(out, b)
	return out
}

// asked is the kind of a step of the record that holds an answer; the engine
// never sees one.
const asked capture.Kind = "asked"

// askedID begins the ID of such a step.
const askedID = "asked/"

// keepAnswer writes one answer into the record of a sitting.
func keepAnswer(k *record.Keeper, revision string, q capture.QuestionKind, answer string, now time.Time) error {
	s := capture.Step{ID: askedID + string(q), Kind: asked, PlanRevision: revision}
	m := capture.Mark{At: now, StepID: s.ID, Stage: compare.Returned}
	begin, end := m, m
	begin.Kind, begin.Step, begin.PlanRevision = capture.MarkBegin, &s, s.PlanRevision
	end.Kind, end.Outcome, end.Seen = capture.MarkEnd, capture.Measured, answer
	if err := errors.Join(k.Mark(begin), k.Mark(end), k.Sync()); err != nil {
		return fmt.Errorf("the record can't be kept: %w", err)
	}
	return nil
}

// AnswersIn takes the answers out of a sitting; the last to a question counts.
func AnswersIn(steps []capture.StepRecord) ReturnAnswers {
	out := ReturnAnswers{}
	for _, r := range steps {
		if q, ok := strings.CutPrefix(r.Step.ID, askedID); ok && r.Step.Kind == asked &&
			r.Outcome == capture.Measured {
			out[capture.QuestionKind(q)] = r.Seen
		}
	}
	return out
}
