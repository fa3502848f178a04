package page

import (
	"html"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

// After whatever wasn't good the question says what to do next before anything else, and its answers stand before what
// was measured: first the one that the sentence names first, which Enter gives, too.
func TestWhatToDoAfterAVerdict(t *testing.T) {
	said := func(group, verdict string) capture.Said {
		return capture.Said{Group: group, Verdict: verdict, Good: verdict == "in band", Undecided: verdict == "can't tell",
			Measured: "9.65 mA", Causes: []string{"a joint is off"}}
	}
	const off = " The output is off."
	for _, c := range []struct {
		name, text string
		last       []capture.Said
		do, words  string // words: those in large letters
		has        []string
	}{
		{"low", `"bow" is low.` + off, []capture.Said{said("bow", "low"), said("mast", "in band")},
			"A dark light or a bad joint? Mend it, then redo.", "bow: low", nil},
		{"tripped", "Stopped at 1.2 V: 40 mA flowed, against at most 21 mA." + off, []capture.Said{said("bow", "high")},
			"Look for a short or a wrong resistor, mend it, then redo.", "bow: high", []string{"40 mA flowed"}},
		{"several", `"a" is low, "b" is low, "c" is low.` + off, []capture.Said{said("a", "low"), said("b", "low"),
			said("c", "low")}, "A dark light or a bad joint? Mend it, then redo.", "a: low b: low",
			[]string{"and 1 more, below"}},
		{"not settled", `The current alone can't settle "bow".` + off, []capture.Said{said("bow", "can't tell")},
			"Go on: a look may settle it. Or redo it.", "bow: can't tell", nil},
		{"not measured", "Not measured. The reason: the meter doesn't answer." + off, nil,
			"Not measured: see why, mend that, then redo it.", "", []string{"The reason: the meter doesn't answer."}},
	} {
		x := newSite(t, &fakeWork{name: "launch"})
		step := capture.Step{Feed: "bow", Kind: capture.Power}
		choices, first := []string{"redo", "next", "accept", "stop"}, "Redo"
		if strings.HasPrefix(c.do, "Go on") {
			choices, first = []string{"next", "redo", "accept", "stop"}, "Go on"
		}
		st := State{Running: true, Step: &step, Output: Off, Last: c.last, Ask: &session.Question{Number: 3,
			Question: capture.Question{Kind: capture.AskAgain, Text: c.text, Step: &step, Choices: choices}}}
		all := x.s.write(st)
		src := html.UnescapeString(all["ask"])
		before, after, ok := strings.Cut(src, `data-choice="`+choices[0]+`"`)
		if !strings.HasPrefix(after, ` data-enter="1" class="first">`+first+"<") || strings.Count(src, "data-enter") != 1 {
			t.Errorf("%s: not first and on Enter: %s", c.name, after)
		}
		if !ok || !strings.Contains(before, `<p class="do">`+c.do+`</p>`) || strings.Contains(before, "9.65 mA") ||
			len(c.last) > 0 && !strings.Contains(after, "9.65 mA") || strings.Contains(before, off[1:]) {
			t.Errorf("%s: %s", c.name, src)
		}
		if got := strings.Join(strings.Fields(large(before)), " "); got != c.words {
			t.Errorf("%s: %q in large letters, want %q", c.name, got, c.words)
		}
		for _, want := range c.has {
			if !strings.Contains(before, want) {
				t.Errorf("%s: %q isn't in %s", c.name, want, before)
			}
		}
		if strings.Contains(all["last"], "9.65") {
			t.Errorf("%s: it's said twice: %s", c.name, all["last"])
		}
	}
}

// large is what stands in large letters, without its marks.
func large(src string) (out string) {
	for _, x := range strings.Split(src, `<p class="word">`)[1:] {
		x, _, _ = strings.Cut(x, "</p>")
		_, x, _ = strings.Cut(x, "</span>")
		out += " " + strings.NewReplacer("<strong>", "", "</strong>", "").Replace(x)
	}
	return out
}
