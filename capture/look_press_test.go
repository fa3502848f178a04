package capture

import (
	"errors"
	"slices"
	"strings"
	"testing"
)

// buttonedLook is a look at two groups of a board with a button and one of none.
func buttonedLook(boards ...string) Step {
	s := lookStep("a")
	s.Groups = []string{"lamp", "cabin"}
	s.GroupsBy = map[string][]string{"a": s.Groups}
	s.SeeBy = map[string][]string{"a": {"lamp: amber", "cabin: warm"}}
	for _, b := range boards {
		s.Buttons = append(s.Buttons, Button{Board: b, Groups: []string{"lamp"},
			See: []string{"slow", "fast", "steady"}})
	}
	return s
}

// While the lights are looked at the maker steps a board through its paces: each time the
// session says what should be seen, after the last pace the first one again. A relay at the
// button presses it, else hands do; the output stays on, and the answer is of the groups.
func TestALookStepsABoard(t *testing.T) {
	for _, byRelay := range []bool{true, false} {
		b := newBench(t, led)
		b.button = 7
		x := b.withRelays(map[string]int{"a": 1})
		if byRelay {
			x.Buttons = map[string]int{"beacon": 7}
		}
		var said []string
		f := &face{answer: func(q Question) (Answer, error) {
			if q.Kind != AskLook {
				return plainest(q), nil
			}
			if !b.outputOn() {
				t.Error("the output is off")
			}
			_, should, _ := strings.Cut(q.Text, `"beacon" should be `)
			said = append(said, strings.Fields(strings.ReplaceAll(should, ".", ""))[0])
			if hands := strings.Contains(q.Text, "press the button"); hands == byRelay {
				t.Errorf("with a relay %v it asks: %s", byRelay, q.Text)
			}
			if len(said) < 5 {
				return Answer{Choice: Press, Text: []string{"", "1", "beacon", " "}[len(said)-1]}, nil
			}
			return Answer{Choice: "right"}, nil
		}}
		rec, r := runOne(t, b, x, buttonedLook("beacon"), f)
		if rec.Seen != AllRight || rec.Outcome != Measured || r.kinds() != "begin on settled looked end" {
			t.Errorf("%s: %q, marks %s", rec.Outcome, rec.Seen, r.kinds())
		}
		if want := []string{"slow", "fast", "steady", "slow", "fast"}; !slices.Equal(said, want) {
			t.Errorf("said %q, want %q", said, want)
		}
		if want := map[bool]int{true: 4}[byRelay]; b.presses != want {
			t.Errorf("the relay pressed %d times, want %d", b.presses, want)
		}
		b.mustOff()
	}
}

// Which board's button it is must be said where there are several; what names none of them
// presses nothing. Groups without a button have no such choice.
func TestALookStepsNoOtherBoard(t *testing.T) {
	b := newBench(t, led)
	n := 0
	f := &face{answer: func(q Question) (Answer, error) {
		if q.Kind != AskLook {
			return plainest(q), nil
		}
		if n++; n == 1 {
			return Answer{Choice: Press}, nil
		}
		if strings.Contains(q.Text, "fast") {
			t.Errorf("stepped: %s", q.Text)
		}
		return Answer{Choice: "right"}, nil
	}}
	runOne(t, b, b.withRelays(map[string]int{"a": 1}), buttonedLook("beacon", "mast"), f)
	if n != 2 || len(f.questions(AskLook)[0].Places) != 2 {
		t.Errorf("%d questions", n)
	}
	f = &face{answer: func(q Question) (Answer, error) {
		if slices.Contains(q.Choices, Press) {
			return Answer{}, errors.New("a button is offered")
		}
		return plainest(q), nil
	}}
	if rec, _ := runOne(t, b, b.withRelays(map[string]int{"a": 1}), buttonedLook(), f); rec.Seen != AllRight {
		t.Errorf("%s: %q", rec.Outcome, rec.Seen)
	}
}
