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

// A client's words that aren't understood whole are asked for once more, and only once.
func TestAClientsWordsAreAskedForOnceMore(t *testing.T) {
	for _, c := range []struct {
		name, second, kept string
	}{
		{"said better", "bow lamps: dark", "bow lamps: dark"},
		{"said as badly", "they hum", "they hum"},
		{"left at that", "", "they crackle"},
	} {
		t.Run(c.name, func(t *testing.T) {
			h := newHeard()
			d := NewDesk(false, instruments.Go, h)
			ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
			defer cancel()
			var kept []string
			q := inquirer{desk: d, have: ReturnAnswers{AskEye: NothingSeen, AskColours: Judges, AskAdapter: NotSent},
				keep: func(_ capture.QuestionKind, a string) error { kept = append(kept, a); return nil },
				heard: func(a ReturnAnswers) string {
					if a.Client() == "bow lamps: dark" {
						return ""
					}
					return "which group?"
				}}
			got := make(chan error, 1)
			go func() { got <- q.all(ctx) }()
			first := <-h.asked
			if err := d.Answer(Answer{1, capture.Answer{Choice: Said, Text: "they crackle"}}); err != nil {
				t.Fatal(err)
			}
			again := <-h.asked
			if first.About.Why != "" || again.Kind != AskClient || again.About.Why != "which group?" {
				t.Fatalf("first %+v, then %+v", first.About, again)
			}
			a := capture.Answer{Choice: Said, Text: c.second}
			if c.second == "" {
				a = capture.Answer{Choice: NothingSaid}
			}
			if err := d.Answer(Answer{2, a}); err != nil {
				t.Fatal(err)
			}
			select {
			case err := <-got:
				if err != nil || q.have[AskClient] != c.kept || kept[len(kept)-1] != c.kept {
					t.Errorf("%v, %q known, %q kept", err, q.have[AskClient], kept)
				}
			case x := <-h.asked:
				t.Errorf("asked a third time: %+v", x)
			}
		})
	}
}
