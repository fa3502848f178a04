package session

import (
	"context"
	"encoding/json"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

func TestParseLine(t *testing.T) {
	v := 0.0382
	for src, want := range map[string]Line{
		`{"question":3,"choice":"done"}`: {Answer: Answer{3,
			capture.Answer{Choice: "done"}}},
		` {"choice":"skip", "text":"not soldered yet", "question":1 } `: {Answer: Answer{1,
			capture.Answer{Choice: "skip", Text: "not soldered yet"}}},
		`{"question":2,"choice":"number","number":0.0382}`: {Answer: Answer{2,
			capture.Answer{Choice: "number", Number: &v}}},
		`{"stop":true}`:  {Stop: true},
		`{"meter":true}`: {Meter: true},
		`{"question":7,"choice":"wrong","text":"bow lamps: 1 of 2 dark ä"}`: {Answer: Answer{7,
			capture.Answer{Choice: "wrong", Text: "bow lamps: 1 of 2 dark ä"}}},
	} {
		if got, err := ParseLine([]byte(src)); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v, %v; want %+v", src, got, err, want)
		}
	}
	for _, src := range []string{
		``, `done`, `null`, `true`, `"done"`, `[]`, `{}`, `{`, `{"question":1`, `{"question":1,"choice":"done"`,
		`{"question":1}`, `{"choice":"done"}`, `{"question":0,"choice":"done"}`, `{"question":-1,"choice":"done"}`,
		`{"question":1,"choice":""}`,
		`{"question":"1","choice":"done"}`, `{"question":1.0,"choice":"done"}`, `{"question":1e0,"choice":"done"}`,
		`{"question":99999999999999999999,"choice":"done"}`,
		`{"question":1,"question":2,"choice":"done"}`, `{"question":1,"choice":"skip","choice":"done"}`,
		`{"Question":1,"choice":"done"}`, `{"question":1,"choice":"done","extra":1}`,
		`{"question":1,"choice":["done"]}`, `{"question":1,"choice":{"a":"done"}}`,
		`{"question":1,"choice":null}`, `{"question":1,"choice":"done","text":7}`, `{"question":1,"choice":"done"} {}`,
		`{"question":1,"choice":"done"}x`,
		`{"question":1,"choice":"skip","text":"a\nb"}`, `{"question":1,"choice":"skip","text":"\u001b[2J"}`,
		"{\"question\":1,\"choice\":\"skip\",\"text\":\"\xff\"}",
		`{"question":1,"choice":"number","number":"7"}`, `{"question":1,"choice":"number","number":1e999}`,
		`{"question":1,"choice":"number","number":NaN}`,
		`{"stop":false}`, `{"stop":1}`, `{"stop":"true"}`, `{"stop":true,"question":1,"choice":"done"}`,
		`{"question":1,"choice":"done","stop":false}`,
		`{"meter":false}`, `{"meter":1}`, `{"meter":true,"stop":true}`, `{"meter":true,"question":1,"choice":"done"}`,
		`{"question":1,"choice":"done","meter":true}`,
		`{"question":1,"choice":"skip","text":"` + strings.Repeat("x", MostLine) + `"}`,
	} {
		if got, err := ParseLine([]byte(src)); err == nil || !reflect.DeepEqual(got, Line{}) {
			t.Errorf("%.80s: taken as %+v, %v", src, got, err)
		}
	}
}

// Whatever a line holds: it answers the question that is open only where it names
// it and a choice of it, by a reading of the line that knows nothing of ours; what
// is taken is written back as it was; and nothing panics.
func FuzzParseLine(f *testing.F) {
	for _, s := range []string{`{"question":1,"choice":"right"}`, `{"stop":true}`, `{"meter":true}`,
		`{"question":1,"choice":"wrong","text":"one is dark"}`, `{"question":2,"choice":"right"}`,
		`{"question":1,"choice":"right","choice":"skip"}`, `{"question":1,"CHOICE":"right"}`, `[1]`,
		`{"question":1,"choice":"number","number":1e-3}`, "\xff", `{"stop":false}`} {
		f.Add([]byte(s))
	}
	look := capture.Question{Kind: capture.AskLook, Choices: []string{"right", "wrong", "skip", "stop"}}
	f.Fuzz(func(t *testing.T, src []byte) {
		l, err := ParseLine(src)
		if err == nil {
			again, err := ParseLine([]byte(l.String()))
			if err != nil || !reflect.DeepEqual(again, l) {
				t.Fatalf("%q is %+v, written %s and read as %+v, %v", src, l, l, again, err)
			}
		}
		d := NewDesk(false, instruments.Go)
		ctx, cancel := context.WithCancel(context.Background())
		defer cancel()
		d.put(Question{Question: look}, cancel)
		stopped := false
		(&Lines{lost: func(error) { stopped = true }}).heed(src, d)
		var told map[string]any
		object := json.Unmarshal(src, &told) == nil
		if stopped && (!object || told["stop"] != true) {
			t.Fatalf("%q stops", src)
		}
		if d.open != nil || object && told["meter"] == true && len(told) == 1 && l.Meter { // it ends the question
			return
		}
		choice, _ := told["choice"].(string)
		if !object || told["question"] != 1.0 || !slices.Contains(look.Choices, choice) || choice == "wrong" &&
			strings.TrimSpace(told["text"].(string)) == "" {
			t.Fatalf("%q was let through as %+v", src, l)
		}
		_ = ctx
	})
}

// slow is a reader that reads nothing until it's let.
type slow struct{ let chan struct{} }

func (s slow) Write(p []byte) (int, error) { <-s.let; return len(p), nil }

// Whoever tells never waits for who reads; one who is far behind ends the test.
func TestAReaderWhoDoesNotRead(t *testing.T) {
	w, lost := slow{make(chan struct{})}, make(chan error, 1)
	l := NewLines(w, instruments.Go, func(err error) { lost <- err })
	text := strings.Repeat("x", 1<<20)
	for range 2*(mostBehind>>20) + 2 { // the writer may have taken all that one may be behind, before it waits
		l.Tell(Event{What: Cautioned, Text: text})
	}
	select {
	case err := <-lost:
		if !errors.Is(err, ErrBehind) {
			t.Error(err)
		}
	case <-time.After(10 * time.Second):
		t.Error("the test goes on")
	}
	close(w.let)
	if err := l.Close(); !errors.Is(err, ErrBehind) {
		t.Error(err)
	}
}

// broken is a reader that is gone.
type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, errors.New("broken pipe") }

func TestAReaderWhoIsGone(t *testing.T) {
	lost := make(chan error, 1)
	l := NewLines(broken{}, instruments.Go, func(err error) { lost <- err })
	l.Tell(Event{What: Cautioned})
	if err := <-lost; err == nil || err.Error() != "broken pipe" {
		t.Error(err)
	}
	if err := l.Close(); err == nil {
		t.Error("nobody has read it")
	}
}

// Lines come in as they like: what is no answer is refused and told, an input that
// ends ends the test.
func TestListen(t *testing.T) {
	h, lost := newHeard(), make(chan error, 9)
	l := NewLines(broken{}, instruments.Go, func(err error) { lost <- err })
	d := NewDesk(false, instruments.Go, h)
	got := asking(context.Background(), d, clip)
	<-h.asked
	in := strings.Repeat("x", 3*MostLine) + "\n\n  \r\nwhat?\n" + `{"question":9,"choice":"done"}` + "\r\n" +
		`{"question":1,"choice":"keep"}` + "\n" +
		`{"question":1,"choice":"done"}` + "\n" + `{"question":1,"choice":"done"}` + "\n" + `{"stop":true}` + "\n" +
		`{"question":1,`
	l.Listen(strings.NewReader(in), d)
	if r := <-got; r.err != nil || r.answer.Choice != "done" {
		t.Errorf("%+v", r)
	}
	if err := <-lost; !errors.Is(err, capture.ErrStopped) {
		t.Error(err)
	}
	if err := <-lost; !errors.Is(err, ErrInputEnded) {
		t.Error(err)
	}
	var why []Refusal
	for _, e := range h.all() {
		if e.What == Refused {
			why = append(why, e.Why)
		}
	}
	if want := []Refusal{NotUnderstood, NotUnderstood, Foreign, NoChoice, Late, NotUnderstood}; !slices.Equal(why,
		want) {
		t.Errorf("%q, want %q", why, want)
	}
}

// String writes a line as ParseLine reads it.
func (l Line) String() string {
	var v any = map[string]bool{"stop": true}
	switch {
	case l.Meter:
		v = map[string]bool{"meter": true}
	case !l.Stop:
		v = struct {
			Question int      `json:"question"`
			Choice   string   `json:"choice"`
			Text     string   `json:"text,omitempty"`
			Number   *float64 `json:"number,omitempty"`
		}{l.Answer.Question, l.Answer.Choice, l.Answer.Text, l.Answer.Number}
	}
	b, err := json.Marshal(v)
	if err != nil { // a number that is none: no line holds one
		return ""
	}
	return string(b)
}
