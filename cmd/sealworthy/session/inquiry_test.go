package session

import (
	"context"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// Another meter that is wanted in the questions before a return ends them, what was said
// being kept: it isn't passed over.
func TestAnotherMeterEndsTheInquiry(t *testing.T) {
	h := newHeard()
	d := NewDesk(false, instruments.Go, h)
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	kept := 0
	q := inquirer{desk: d, have: ReturnAnswers{}, keep: func(capture.QuestionKind, string) error { kept++; return nil }}
	got := make(chan error, 1)
	go func() { got <- q.all(ctx) }()
	<-h.asked
	if err := d.Answer(Answer{1, capture.Answer{Choice: NothingSeen}}); err != nil {
		t.Fatal(err)
	}
	<-h.asked
	d.Interrupt(capture.AnotherMeter())
	select {
	case err := <-got:
		if !GivenUp(err) || kept != 1 || q.have[AskEye] != NothingSeen {
			t.Errorf("%v, %d kept, %v", err, kept, q.have)
		}
	case <-h.asked:
		t.Error("the same is asked again")
	}
}
