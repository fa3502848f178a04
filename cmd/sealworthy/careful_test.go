package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// careful is a maker who does everything right, and what was asked of him.
func careful(asked *[]capture.QuestionKind) awake {
	return awake{func(q capture.Question) capture.Answer {
		*asked = append(*asked, q.Kind)
		switch q.Kind {
		case capture.AskLook:
			return capture.Answer{Choice: "right"}
		case capture.AskTouched:
			return capture.Answer{Choice: "nothing"}
		}
		return capture.Answer{Choice: q.Choices[0]}
	}}
}

// Who does everything right on a healthy model gets ready to close, with one key
// a look, one a wiggle, one where current alone can't tell, and one for what was
// touched.
func TestCarefulMakerGetsReady(t *testing.T) {
	t.Parallel()
	b := gig(t)
	var asked []capture.QuestionKind
	sitBefore(t, careful(&asked), b, session.Sitting{Stage: compare.Fitted, Seed: 3}, sittingBegan)
	if want := []capture.QuestionKind{capture.AskWiggle, capture.AskLook, capture.AskAgain, capture.AskWiggle,
		capture.AskLook, capture.AskTouched}; !slices.Equal(asked, want) {
		t.Errorf("asked %v, want %v", asked, want)
	}
	cs, _, err := b.findings(quiet(), "", compare.Leads{Ohm: 0.1, HalfOhm: 0.05})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range cs {
		if c.Verdict != compare.ReadyToClose {
			t.Errorf("%s: %s %q", c.Closure, c.Verdict, c.Reasons)
		}
	}
}

// Of measurements one after another it is asked once, after the last, what was
// touched: before that nothing is ready.
func TestTouchedIsAskedAfterTheLastOfMany(t *testing.T) {
	t.Parallel()
	b := gig(t)
	var asked []capture.QuestionKind
	end := sitBefore(t, careful(&asked), b, session.Sitting{Stage: compare.Fitted, Seed: 3, More: true}, sittingBegan)
	ready := func() (n int) {
		cs, _, err := b.findings(quiet(), "", compare.Leads{Ohm: 0.1, HalfOhm: 0.05})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range cs {
			if c.Verdict == compare.ReadyToClose {
				n++
			}
		}
		return n
	}
	if slices.Contains(asked, capture.AskTouched) || ready() != 0 {
		t.Errorf("asked %v, %d ready", asked, ready())
	}
	asked = nil
	sitBefore(t, careful(&asked), b, session.Sitting{Stage: compare.Fitted, Last: true}, end.Add(time.Minute))
	if !slices.Equal(asked, []capture.QuestionKind{capture.AskTouched}) || ready() != 2 {
		t.Errorf("asked %v, %d ready", asked, ready())
	}
}

// An answer at a look that is taken back, at the question after it or at the one
// after all, doesn't hold the closure, and the record keeps both. One that isn't
// taken back does.
func TestLookTakenBackOnTheRecord(t *testing.T) {
	t.Parallel()
	wrong := capture.Answer{Choice: "wrong", Text: "one of the bow lamps is out"}
	undo := capture.Answer{Choice: capture.Undo}
	for _, c := range []struct {
		name    string
		answers map[capture.QuestionKind][]capture.Answer
		hull    compare.ClosureVerdict
		undone  int
	}{
		{"at the look after it", map[capture.QuestionKind][]capture.Answer{capture.AskLook: {{Choice: "right"}, wrong,
			undo}}, compare.ReadyToClose, 1},
		{"at the question after all",
			map[capture.QuestionKind][]capture.Answer{capture.AskLook: {{Choice: "right"}, wrong, {Choice: "right"}},
				// each time the last answer, which was of the rest
				capture.AskTouched: {undo, undo}}, compare.KeepOpen, 2},
		{"not at all", map[capture.QuestionKind][]capture.Answer{capture.AskLook: {{Choice: "right"}, wrong}},
			compare.KeepOpen, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := gig(t)
			var asked []capture.QuestionKind
			maker := careful(&asked)
			usual := maker.answer
			maker.answer = func(q capture.Question) capture.Answer {
				if left := c.answers[q.Kind]; len(left) > 0 {
					c.answers[q.Kind] = left[1:]
					if left[0].Choice != capture.Undo || slices.Contains(q.Choices, capture.Undo) {
						return left[0]
					}
				}
				return usual(q)
			}
			sitBefore(t, maker, b, session.Sitting{Stage: compare.Fitted, Seed: 3}, sittingBegan)
			cs, f, err := b.findings(quiet(), "", compare.Leads{Ohm: 0.1, HalfOhm: 0.05})
			if err != nil {
				t.Fatal(err)
			}
			i := slices.IndexFunc(cs, func(x compare.ClosureFinding) bool { return x.Closure == "hull" })
			if cs[i].Verdict != c.hull {
				t.Errorf("hull: %s %q", cs[i].Verdict, cs[i].Reasons)
			}
			if len(f.Damage) > 0 {
				t.Errorf("damage: %+v", f.Damage)
			}
			text := ""
			files, _ := filepath.Glob(filepath.Join(b.dir, readingDir, "*.lp"))
			for _, file := range files {
				src, err := os.ReadFile(file)
				if err != nil {
					t.Fatal(err)
				}
				text += string(src)
			}
			if n := strings.Count(text, `mark="taken back"`); n != c.undone ||
				!strings.Contains(text, "bow lamps: 1 dark") {
				t.Errorf("%d taken back on the record", n)
			}
		})
	}
}
