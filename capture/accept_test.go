package capture

import (
	"context"
	"slices"
	"testing"
)

// What was accepted against its verdict can be taken back at the next question: it's asked again at once where that one
// comes of the same step, and both stay on the record.
func TestAcceptedIsTakenBack(t *testing.T) {
	for _, c := range []struct {
		name      string
		undecided bool
		by        map[QuestionKind][]Answer
		want      []MarkKind
		accepted  string
	}{
		{"asked what was touched", false, map[QuestionKind][]Answer{
			AskAgain:   {{Choice: "accept", Text: "it is meant so"}, {Choice: "next"}},
			AskTouched: {{Choice: Undo}, {Choice: "nothing"}, {Choice: "nothing"}}},
			[]MarkKind{MarkAccepted, MarkTakenBack, MarkTouchedNothing, MarkTouchedNothing}, ""},
		{"accepted once more", false, map[QuestionKind][]Answer{
			AskAgain:   {{Choice: "accept", Text: "it is meant so"}, {Choice: "accept", Text: "the owner knows"}},
			AskTouched: {{Choice: Undo}, {Choice: "nothing"}, {Choice: "nothing"}}},
			[]MarkKind{MarkAccepted, MarkTakenBack, MarkAccepted, MarkTouchedNothing, MarkTouchedNothing},
			"the owner knows"},
		{"asked to clip the next one", true, map[QuestionKind][]Answer{
			AskAgain: {{Choice: "accept", Text: "it is meant so"}},
			AskClip:  {{Choice: "done"}, {Choice: Undo}}},
			[]MarkKind{MarkAccepted, MarkTakenBack, MarkTouchedNothing}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, g, r := newBench(t, led), ship(), &record{}
			g.judge = func(x StepRecord) []Said {
				bad := x.Step.ID == "1"
				return []Said{{Group: x.Step.Feed, Verdict: "low", Good: !bad, Undecided: bad && c.undecided}}
			}
			recs, err := Run(context.Background(), b.Bench(), g, script(t, b, c.by), r, touching())
			if err != nil {
				t.Fatal(err)
			}
			var told []MarkKind
			for _, m := range r.marks {
				switch m.Kind {
				case MarkAccepted, MarkTakenBack, MarkTouchedNothing:
					told = append(told, m.Kind)
				}
				if m.Kind == MarkTakenBack && r.marks[m.Of.Line()-1].Kind != MarkAccepted {
					t.Errorf("taken back: %+v", r.marks[m.Of.Line()-1])
				}
			}
			if !slices.Equal(told, c.want) {
				t.Errorf("kept %q, want %q", told, c.want)
			}
			for _, x := range recs {
				if x.Step.ID == "1" && x.Accepted != c.accepted {
					t.Errorf("accepted: %q, want %q", x.Accepted, c.accepted)
				}
			}
			b.mustOff()
		})
	}
}
