package capture

import (
	"slices"
	"testing"
)

// shipGuide is a guide that knows what hangs on what, too: the joint keel feeds
// all, each group hangs on itself.
type shipGuide struct {
	guide
	understood func(groups []string, typed string) Understood
}

func (g *shipGuide) Places([]string) []Place {
	out := []Place{{Name: "keel", Kind: "joint"}}
	for _, s := range g.steps {
		if s.Kind == Power {
			out = append(out, Place{Name: s.Feed, Kind: "group"})
		}
	}
	return out
}

func (g *shipGuide) Behind(place string) (out []string) {
	for _, p := range g.Places(nil)[1:] {
		if place == "keel" || place == p.Name {
			out = append(out, p.Name)
		}
	}
	return out
}

// Next gives a look at what wasn't seen alone.
func (g *shipGuide) Next(done []StepRecord) (Step, bool) {
	for _, s := range g.steps {
		left := slices.DeleteFunc(slices.Clone(s.Groups), func(x string) bool {
			return slices.ContainsFunc(done, func(r StepRecord) bool {
				return r.Step.ID == s.ID &&
					slices.Contains(r.Step.Groups, x)
			})
		})
		if len(left) > 0 {
			if s.Kind == Look {
				s.Groups, s.On = left, left
			}
			return s, true
		}
	}
	return Step{}, false
}

func (g *shipGuide) Understand(groups []string, typed string) Understood {
	if g.understood != nil {
		return g.understood(groups, typed)
	}
	if len(groups) > 1 {
		return Understood{}
	}
	return Understood{Seen: []GroupSeen{{groups[0], typed}}, Whole: true, Text: groups[0] + ": " + typed}
}

// script answers questions of a kind one after another, then with the first choice.
func script(t *testing.T, b *bench, by map[QuestionKind][]Answer) *face {
	return &face{answer: func(q Question) (Answer, error) {
		if (q.Kind == AskTouched || q.Kind == AskAgain || q.Kind == AskClip) && b.outputOn() {
			t.Errorf("%q was asked with the output on", q.Text)
		}
		left := by[q.Kind]
		if len(left) == 0 {
			return plainest(q), nil
		}
		by[q.Kind] = left[1:]
		if !slices.Contains(q.Choices, left[0].Choice) {
			t.Errorf("%q isn't offered at %q, only %v", left[0].Choice, q.Text, q.Choices)
		}
		return left[0], nil
	}}
}
