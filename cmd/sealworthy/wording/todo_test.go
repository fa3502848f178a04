package wording

import (
	"slices"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// Each verdict that isn't good leaves something to do, in one sentence that two or three lines of a tablet hold, and
// which names the button that goes on.
func TestTodo(t *testing.T) {
	said := func(vs ...compare.Verdict) (out []capture.Said) {
		for _, v := range vs {
			out = append(out, capture.Said{Verdict: string(v), Good: v == compare.InBand,
				Undecided: v == compare.CantTell})
		}
		return out
	}
	own := map[string]compare.Verdict{}
	for _, v := range []compare.Verdict{compare.Low, compare.High, compare.StuckLit, compare.StuckDark,
		compare.OffPace} {
		s := Todo(said(compare.InBand, v, compare.CantTell, v))
		if !strings.Contains(s, "redo") || len(s) > 60 || strings.Count(s, ".") != 1 || own[s] != "" {
			t.Errorf("%s: %q", v, s)
		}
		own[s] = v
	}
	for _, read := range []bool{false, true} {
		bench, model := words.NothingFlows(plan.Group{Name: "bow lamp"}, read)
		ofBoard, itself := words.BoardDrawsNothing("blinker", read)
		for _, causes := range [][]string{{bench, model}, {ofBoard, itself}} {
			if read { // the model is suspected first then
				slices.Reverse(causes)
			}
			dead := said(compare.Low)
			dead[0].Causes = causes
			if s := Todo(dead); s != "Nothing flows: see to clip and wires, then redo." {
				t.Errorf("%q: %q", causes, s)
			}
		}
	}
	if s := Todo(said(compare.Low, compare.High)); s != "Mend what is named, then redo it." {
		t.Errorf("low and high: %q", s)
	}
	if s := Todo(said(compare.InBand, compare.CantTell)); !strings.Contains(s, "a look may settle it") {
		t.Errorf("not settled: %q", s)
	}
	moved := said(compare.CantTell)
	moved[0].Causes = []string{words.FindLoose, words.TellTouched}
	if s := Todo(moved); !strings.Contains(s, "touched") || strings.Contains(s, "look") {
		t.Errorf("it moved: %q", s)
	}
	if s := Todo(said(compare.InBand)); s != "" {
		t.Errorf("nothing wrong: %q", s)
	}
}
