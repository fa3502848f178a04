package session

import (
	"context"
	"errors"
	"math"
	"slices"
	"sync"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// heard is a face that keeps what it is told.
type heard struct {
	mu     sync.Mutex
	events []Event
	asked  chan Question
}

func newHeard() *heard { return &heard{asked: make(chan Question, 99)} }

func (h *heard) Tell(e Event) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.events = append(h.events, e)
	if e.What == Asked {
		h.asked <- *e.Ask
	}
}

func (h *heard) all() []Event {
	h.mu.Lock()
	defer h.mu.Unlock()
	return slices.Clone(h.events)
}

func (h *heard) whats() (out []What) {
	for _, e := range h.all() {
		out = append(out, e.What)
	}
	return out
}

var clip = capture.Question{Kind: capture.AskClip, Text: "Clip.", Choices: []string{"done", "skip", "stop"}}

// asking asks in a goroutine of its own, as the engine does.
func asking(ctx context.Context, d *Desk, q capture.Question) <-chan reply {
	got := make(chan reply, 1)
	go func() {
		a, err := d.Ask(ctx, q)
		got <- reply{a, err}
	}()
	return got
}

// One answer to each question is let through: not one to another question, not
// one that isn't offered or says nothing, and none twice.
func TestOneAnswerIsLetThrough(t *testing.T) {
	h := newHeard()
	d := NewDesk(false, instruments.Go, h)
	answer := func(n int, choice, text string) Refusal {
		var r *RefusedError
		if err := d.Answer(Answer{n, capture.Answer{Choice: choice, Text: text}}); errors.As(err, &r) {
			return r.Why
		} else if err != nil {
			t.Fatal(err)
		}
		return ""
	}
	if why := answer(1, "done", ""); why != Foreign {
		t.Errorf("before any question: %q", why)
	}
	got := asking(context.Background(), d, clip)
	if q := <-h.asked; q.Number != 1 || q.Text != "Clip." {
		t.Errorf("asked %+v", q)
	}
	for _, c := range []struct {
		n            int
		choice, text string
		why          Refusal
	}{
		{0, "done", "", Foreign}, {-1, "done", "", Foreign}, {2, "done", "", Foreign},
		{1, "right", "", NoChoice}, {1, "", "", NoChoice}, {1, "Done", "", NoChoice},
		{1, "skip", "", NeedsText}, {1, "skip", " \t", NeedsText}, {1, "skip", "not soldered yet", ""},
		{1, "done", "", Late},
	} {
		if why := answer(c.n, c.choice, c.text); why != c.why {
			t.Errorf("%d %q %q: %q, want %q", c.n, c.choice, c.text, why, c.why)
		}
	}
	if r := <-got; r.err != nil || r.answer.Choice != "skip" || r.answer.Text != "not soldered yet" {
		t.Errorf("%+v", r)
	}
	asking(context.Background(), d, clip)
	if q := <-h.asked; q.Number != 2 {
		t.Errorf("asked %+v", q)
	}
	if why := answer(1, "done", ""); why != Late {
		t.Errorf("an answer to the question before: %q", why)
	}
	for i, e := range h.all() {
		if e.N != uint64(i+1) {
			t.Errorf("event %d has the number %d", i+1, e.N)
		}
	}
}

// A look never passes without its own choice, what is accepted needs a reason, and
// a number is one.
func TestFits(t *testing.T) {
	seven := 7.0
	for _, c := range []struct {
		kind    capture.QuestionKind
		choices []string
		a       capture.Answer
		why     Refusal
	}{
		{capture.AskLook, []string{"right", "wrong", "skip", "stop"}, capture.Answer{Choice: "done"}, NoChoice},
		{capture.AskLook, []string{"right", "wrong", "skip", "stop"}, capture.Answer{Choice: "wrong"}, NeedsText},
		{capture.AskLook, []string{"right", "wrong", "skip", "stop"}, capture.Answer{Choice: "skip"}, ""},
		{capture.AskLook, []string{"right", "wrong", "skip", "stop"}, capture.Answer{Choice: capture.Undo}, NoChoice},
		{capture.AskAgain, []string{"next", "redo", "accept", "stop"}, capture.Answer{Choice: "accept"}, NeedsText},
		{capture.AskAgain, []string{"next", "redo", "accept", "stop"},
			capture.Answer{Choice: "accept", Text: "the owner knows"}, ""},
		{capture.AskTouched, []string{"nothing", "touched", "stop"}, capture.Answer{Choice: "touched"}, NeedsText},
		{capture.AskHazard, []string{"skip", "allow", "stop"}, capture.Answer{Choice: "allow"}, NeedsText},
		{capture.AskHazard, []string{"skip", "allow", "stop"}, capture.Answer{Choice: "skip"}, ""},
		{capture.AskNumber, []string{"number", "overload", "stop"}, capture.Answer{Choice: "number"}, NeedsText},
		{capture.AskNumber, []string{"number", "overload", "stop"}, capture.Answer{Choice: "number", Number: &seven},
			""},
		{capture.AskNumber, []string{"number", "overload", "stop"}, capture.Answer{Choice: "number", Text: "7 mA"},
			""},
	} {
		if why := Fits(Question{Question: capture.Question{Kind: c.kind, Choices: c.choices}}, c.a); why != c.why {
			t.Errorf("%s %+v: %q, want %q", c.kind, c.a, why, c.why)
		}
	}
}

// A value that is typed with its unit, from whatever face, is taken in the question's own.
func TestAValueIsTypedWithItsUnit(t *testing.T) {
	for _, c := range []struct {
		text  string
		value float64
		why   Refusal
	}{
		{"400 mA", 0.4, ""}, {"0,4", 0.4, ""}, {"0.032 A", 0.032, ""},
		{"400", 0, OutOfRange}, {"0.4 V", 0, OutOfRange}, {"", 0, OutOfRange},
	} {
		h := newHeard()
		d := NewDesk(false, instruments.Go, h)
		got := make(chan reply, 1)
		go func() {
			a, err := d.ask(t.Context(), Question{About: &About{Least: leastFuseA, Most: mostFuseA},
				Question: capture.Question{Kind: AskFuse, Choices: []string{"number", DontKnow}}})
			got <- reply{a, err}
		}()
		q := <-h.asked
		err := d.Answer(Answer{q.Number, capture.Answer{Choice: "number", Text: c.text}})
		if c.why != "" {
			if r, ok := err.(*RefusedError); !ok || r.Why != c.why {
				t.Errorf("%q: %v, want it refused: %s", c.text, err, c.why)
			}
			continue
		}
		if a := (<-got).answer; err != nil || a.Number == nil || math.Abs(*a.Number-c.value) > 1e-12 {
			t.Errorf("%q: %+v, %v", c.text, a, err)
		}
	}
}

// A question whose answer isn't wanted any more is withdrawn, once, and one that
// comes while another is open takes its place.
func TestQuestionsAreWithdrawn(t *testing.T) {
	h := newHeard()
	d := NewDesk(false, instruments.Go, h)
	ctx, cancel := context.WithCancelCause(context.Background())
	first := asking(ctx, d, clip)
	<-h.asked
	second := asking(ctx, d, clip)
	<-h.asked
	if r := <-first; r.err == nil {
		t.Errorf("%+v", r)
	}
	cancel(capture.ErrStopped)
	if r := <-second; !errors.Is(r.err, capture.ErrStopped) {
		t.Errorf("%+v", r)
	}
	if err := d.Answer(Answer{2, capture.Answer{Choice: "done"}}); !late(err) {
		t.Errorf("%v", err)
	}
	if got, want := h.whats(), []What{Asked, Withdrawn, Asked, Withdrawn, Refused}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if r := <-asking(ctx, d, clip); !errors.Is(r.err, capture.ErrStopped) || len(h.asked) != 0 {
		t.Errorf("after the end it asked: %+v", r)
	}
}

// atOnce is a context in which the maker presses a button just as a question comes.
type atOnce struct {
	context.Context
	press func()
}

func (c atOnce) Done() <-chan struct{} {
	c.press()
	return c.Context.Done()
}

// What the maker wants in the moment in which a question comes ends that question.
func TestAnInterruptIsNeverLost(t *testing.T) {
	h := newHeard()
	d := NewDesk(false, instruments.Go, h)
	end, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	var once sync.Once
	_, err := d.Ask(atOnce{end, func() { once.Do(func() { d.Interrupt(capture.AnotherMeter()) }) }}, clip)
	if !GivenUp(err) {
		t.Errorf("%v", err)
	}
}

// A question that is open at the end is withdrawn before it: nothing comes after.
func TestNothingComesAfterTheEnd(t *testing.T) {
	h := newHeard()
	d := NewDesk(false, instruments.Go, h)
	got := asking(context.Background(), d, clip)
	<-h.asked
	d.Tell(Event{What: Over})
	if r := <-got; r.err == nil {
		t.Errorf("%+v", r)
	}
	if got, want := h.whats(), []What{Asked, Withdrawn, Over}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// Where nobody is there no question is open, and no face is told of one.
func TestNobodyIsAsked(t *testing.T) {
	h := newHeard()
	d := NewDesk(true, instruments.Go, h)
	if _, err := d.Ask(context.Background(), clip); !errors.Is(err, capture.ErrUnattended) || len(h.all()) != 0 {
		t.Errorf("%v, %v", err, h.whats())
	}
}

// patient is a face that waits for its maker by itself.
type patient struct {
	*heard
	answer func(context.Context, Question) (capture.Answer, error)
}

func (p patient) Ask(ctx context.Context, q Question) (capture.Answer, error) {
	return p.answer(ctx, q)
}

// Of a face that waits and another that doesn't the faster one answers, and the
// other waits no longer.
func TestTheFasterFaceAnswers(t *testing.T) {
	h, ended := newHeard(), make(chan struct{})
	d := NewDesk(false, instruments.Go, h,
		patient{newHeard(), func(ctx context.Context, q Question) (capture.Answer, error) {
			if q.Number == 1 {
				return capture.Answer{Choice: "done"}, nil
			}
			<-ctx.Done()
			close(ended)
			return capture.Answer{}, context.Cause(ctx)
		}})
	if a, err := d.Ask(context.Background(), clip); err != nil || a.Choice != "done" {
		t.Errorf("%+v, %v", a, err)
	}
	<-h.asked
	got := asking(context.Background(), d, clip)
	if q := <-h.asked; d.Answer(Answer{q.Number, capture.Answer{Choice: "stop"}}) != nil {
		t.Error("refused")
	}
	if r := <-got; r.err != nil || r.answer.Choice != "stop" {
		t.Errorf("%+v", r)
	}
	select {
	case <-ended:
	case <-time.After(10 * time.Second):
		t.Error("the face waits for ever")
	}
}

// A face that can't ask any more, or gives an answer that is none, ends the
// question with that error: nobody waits for ever with an output on.
func TestAFaceThatCantAsk(t *testing.T) {
	gone := errors.New("the input ended")
	for _, c := range []struct {
		a    capture.Answer
		err  error
		want string
	}{{err: gone, want: gone.Error()},
		{a: capture.Answer{Choice: "keep"}, want: "the answer to question 1 is refused: no choice"}} {
		d := NewDesk(false, instruments.Go,
			patient{newHeard(), func(context.Context, Question) (capture.Answer, error) { return c.a, c.err }})
		if _, err := d.Ask(context.Background(), clip); err == nil || err.Error() != c.want {
			t.Errorf("%v, want %s", err, c.want)
		}
	}
}

// seenFace is a page: somebody is there, or nobody.
type seenFace struct{ there bool }

func (seenFace) Tell(Event)      {}
func (f seenFace) Watched() bool { return f.there }

// plainFace is a terminal: somebody sits there.
type plainFace struct{}

func (plainFace) Tell(Event) {}

func TestWatched(t *testing.T) {
	run := func(f func(), _ func(error)) { go f() }
	for _, c := range []struct {
		faces []Face
		want  bool
	}{
		{nil, true}, {[]Face{plainFace{}}, true}, {[]Face{seenFace{}}, false}, {[]Face{seenFace{true}}, true},
		{[]Face{seenFace{}, seenFace{true}}, true}, {[]Face{seenFace{}, plainFace{}}, true},
	} {
		if got := NewDesk(false, run, c.faces...).Watched(); got != c.want {
			t.Errorf("%+v: %v", c.faces, got)
		}
	}
}
