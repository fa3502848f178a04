package capture

import (
	"context"
	"slices"
	"strings"
	"testing"
)

// Who can't judge colours says so once: what he calls right is that but for its colours, kept with
// the look, and it holds for the looks after it.
func TestWhoCannotJudgeColoursSaysSoOnce(t *testing.T) {
	b := newBench(t, led)
	said := false
	f := &face{}
	f.answer = func(q Question) (Answer, error) {
		if q.Kind == AskLook && !said {
			said = true
			return Answer{Choice: NoColours}, nil
		}
		return Answer{Choice: "right"}, nil
	}
	s, next := lookStep("a"), lookStep("b")
	next.ID, next.Groups = "10", []string{"deck"}
	r := &record{}
	recs, err := Run(context.Background(), b.withRelays(map[string]int{"a": 1, "b": 2}),
		&guide{steps: []Step{s, next}}, f, r, seeded())
	if err != nil || len(recs) != 2 {
		t.Fatal(recs, err)
	}
	for i, want := range []string{"hull: " + AllRightButColour, "deck: " + AllRightButColour} {
		if recs[i].Seen != want {
			t.Errorf("seen %q, want %q", recs[i].Seen, want)
		}
	}
	looks := f.questions(AskLook)
	if len(looks) != 3 || looks[0].NoColours || !looks[1].NoColours || !looks[2].NoColours {
		t.Fatalf("asked %d times: %+v", len(looks), looks)
	}
	if !slices.Contains(looks[0].Choices, NoColours) || slices.Contains(looks[1].Choices, NoColours) ||
		!slices.Contains(looks[1].Choices, Colours) || !strings.Contains(looks[1].Text, "Colours aside") {
		t.Errorf("asked %+v", looks[:2])
	}
	notes := 0
	for _, m := range r.marks {
		if m.Kind == MarkNote && m.StepID == ColoursNote && m.Reason == NoColours {
			notes++
		}
	}
	if notes != 1 {
		t.Errorf("kept %d times: %s", notes, r.kinds())
	}
}

// Somebody who can judge them comes in: from then on a look says it, of what was wrong, too. Who
// can't has his count kept.
func TestSomebodyComesWhoJudgesColours(t *testing.T) {
	for _, c := range []struct{ choices, seen string }{
		{"colours right", AllRight},
		{"right", "hull: " + AllRightButColour},
		{"wrong", "hull: 2 dark"},
		{"counted", "hull: all right, 12 lit, colours not judged"},
	} {
		b := newBench(t, led)
		choices := strings.Fields(c.choices)
		f := &face{}
		f.answer = func(q Question) (Answer, error) {
			if q.Kind != AskLook {
				return plainest(q), nil
			}
			a := Answer{Choice: choices[0], Text: "hull: 2 dark"}
			if a.Choice == "counted" { // as the guide has read it
				a = Answer{Choice: "wrong", Text: "hull: all right, 12 lit"}
			}
			choices = choices[1:]
			return a, nil
		}
		o := seeded()
		o.NoColours = true
		recs, err := Run(context.Background(), b.withRelays(map[string]int{"a": 1}),
			&guide{steps: []Step{lookStep("a")}}, f, &record{}, o)
		if err != nil || recs[0].Seen != c.seen {
			t.Errorf("%s: seen %q, %v", c.choices, recs[0].Seen, err)
		}
	}
}

// A count of what is lit is of no colour: from somebody who can't judge those, it's kept as any
// other look that found all right.
func TestACountIsOfNoColour(t *testing.T) {
	for words, right := range map[string]bool{AllRight: true, "all right, 12 lit": true, AllRightButColour: false,
		"all right, 12 lit, colours not judged": false,
		"all right and 1 dark":                  false, "12 lit": false, "1 of 12 dark": false} {
		if isAllRight(words) != right {
			t.Errorf("%q is taken for all right: %v", words, !right)
		}
	}
}
