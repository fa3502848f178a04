package capture

import (
	"context"
	"slices"
	"strings"
	"testing"
)

// An answer at a look can be taken back at the look after it, at the clip
// between them and at the question after all: the record keeps both.
func TestLookIsTakenBack(t *testing.T) {
	wrong := Answer{Choice: "wrong", Text: "one dark"}
	for _, c := range []struct {
		name string
		by   map[QuestionKind][]Answer
		seen string // of the last look
		ran  string
	}{
		{"at the next look", map[QuestionKind][]Answer{AskLook: {wrong, {Choice: Undo}, {Choice: "right"},
			{Choice: "right"}}}, AllRight,
			"1, 2, look, back looked, nothing"},
		{"at the clip between", map[QuestionKind][]Answer{AskLook: {wrong},
			AskClip: {{Choice: "done"}, {Choice: "done"}, {Choice: "done"}, {Choice: Undo}}}, AllRight,
			"1, 2, look, back looked, nothing"},
		{"at the question after it", map[QuestionKind][]Answer{AskLook: {{Choice: "right"}, wrong},
			AskTouched: {{Choice: Undo}}}, "cabin: all right",
			"1, 2, look, back looked, look, nothing"},
		{"not any more", map[QuestionKind][]Answer{AskLook: {wrong, wrong}}, "nav lights: one dark; cabin: one dark",
			"1, 2, look, nothing"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, g, r := newBench(t, led), ship(), &record{}
			recs, err := Run(context.Background(), b.Bench(), g, script(t, b, c.by), r, touching())
			if err != nil {
				t.Fatal(err)
			}
			if r.ran() != c.ran {
				t.Errorf("ran %q, want %q", r.ran(), c.ran)
			}
			if last := recs[len(recs)-1]; last.Seen != c.seen &&
				!(len(last.Step.Groups) == 1 && last.Seen == AllRight) {
				t.Errorf("seen %q of %v, want %q", last.Seen, last.Step.Groups, c.seen)
			}
			b.mustOff()
		})
	}
}

// Of what is lit together words must say which; who is not named is asked for.
func TestLookAsksWhich(t *testing.T) {
	b, g, r := newBench(t, led), ship(), &record{}
	g.understood = func(groups []string, typed string) Understood {
		switch typed {
		case "cabin: one dark":
			return Understood{Seen: []GroupSeen{{"cabin", "one dark"}}, Whole: true, Text: "cabin: 1 dark"}
		case "cabin odd":
			return Understood{Seen: []GroupSeen{{"cabin", "odd"}}, Text: "cabin: something"}
		}
		return Understood{}
	}
	f := script(t, b, map[QuestionKind][]Answer{
		AskLook:       {{Choice: "wrong", Text: "one is dark"}, {Choice: "right"}},
		AskUnderstood: {{Choice: "wrong", Text: "cabin odd"}, {Choice: "wrong", Text: "cabin: one dark"}},
	})
	recs, err := Run(context.Background(), b.withRelays(map[string]int{"nav lights": 1, "cabin": 2}), g, f, r,
		touching())
	if err != nil {
		t.Fatal(err)
	}
	if s := recs[2].Seen; s != "nav lights: all right; cabin: one dark" {
		t.Errorf("seen %q", s)
	}
	asked := f.questions(AskUnderstood)
	if len(asked) != 2 || !strings.HasPrefix(asked[0].Text,
		"Which of them is that? Lit are \"nav lights\", \"cabin\".") ||
		slices.Contains(asked[0].Choices, "right") ||
		!strings.HasPrefix(asked[1].Text, "I understood: cabin: something.") ||
		!slices.Contains(asked[1].Choices, "right") {
		t.Errorf("asked %+v", asked)
	}
	if looks := f.questions(AskLook); len(looks) != 2 || !slices.Equal(looks[1].Groups, []string{"nav lights"}) {
		t.Errorf("looks %+v", looks)
	}
}

// What nobody understands, however often it's said, ends as a look left out, not
// as one that found all right, nor never.
func TestLookThatNobodyUnderstands(t *testing.T) {
	b, g, r := newBench(t, led), ship(), &record{}
	g.understood = func([]string, string) Understood { return Understood{} }
	by := map[QuestionKind][]Answer{AskLook: {{Choice: "wrong", Text: "hm"}}}
	for range 2 * understandTries {
		by[AskUnderstood] = append(by[AskUnderstood], Answer{Choice: "wrong", Text: "hm"})
	}
	f := script(t, b, by)
	recs, err := Run(context.Background(), b.withRelays(map[string]int{"nav lights": 1, "cabin": 2}), g, f, r,
		touching())
	if err != nil {
		t.Fatal(err)
	}
	if x := recs[2]; x.Outcome != Skipped || x.Seen != "" {
		t.Errorf("%s, seen %q", x.Outcome, x.Seen)
	}
	if n := len(f.questions(AskUnderstood)); n != understandTries {
		t.Errorf("asked %d times", n)
	}
	b.mustOff()
}

// A part that is left out leaves what was said of the others.
func TestLookPartLeftOut(t *testing.T) {
	b, g, r := newBench(t, led), ship(), &record{}
	f := script(t, b, map[QuestionKind][]Answer{AskLook: {{Choice: "right"}, {Choice: "skip", Text: "too bright"}}})
	recs, err := Run(context.Background(), b.Bench(), g, f, r, touching())
	if err != nil {
		t.Fatal(err)
	}
	if x := recs[2]; x.Seen != "nav lights: all right" || x.Outcome != Measured ||
		!slices.Contains(x.Warnings, "\"cabin\": not looked at, skipped: too bright") &&
			!slices.Contains(x.Warnings, "\"cabin\": not looked at, too bright") {
		t.Errorf("%s, seen %q, %q", x.Outcome, x.Seen, x.Warnings)
	}
	f = script(t, b, map[QuestionKind][]Answer{AskLook: {{Choice: "skip"}, {Choice: "skip"}}})
	if recs, err = Run(context.Background(), b.Bench(), g, f, &record{}, touching()); err != nil ||
		recs[2].Outcome != Skipped || recs[2].Seen != "" {
		t.Errorf("%+v, %v", recs[2], err)
	}
}
