package page

import (
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare"
)

// A part that hides a board alone has no group of its own: what runs through the board is what's measured of it.
func TestAPartThatHidesABoardIsMeasured(t *testing.T) {
	c := card{ClosureFinding: compare.ClosureFinding{Closure: "cabin", Verdict: compare.NotSettled,
		Items: []compare.Item{{Name: "morse"}}}}
	if s := c.Next(); s != wording.NothingMeasured {
		t.Errorf("before: %q", s)
	}
	c.Items[0].By = compare.ByTest
	if s := c.Next(); s != wording.Next(compare.NotSettled) {
		t.Errorf("after: %q", s)
	}
}

// What comes next is offered for what is ready alone; a day later a recheck comes before
// the glue, and once it was glued only the retest is left.
func TestReady(t *testing.T) {
	measured := time.Date(2026, 11, 27, 9, 0, 0, 0, time.UTC)
	var now atomic.Pointer[time.Time] // the server beside reads it, too
	at := func(t time.Time) { now.Store(&t) }
	at(measured.Add(2 * time.Hour))
	x := newSite(t, &fakeWork{name: "launch"}, func(o *Options) {
		o.Now = func() time.Time { return *now.Load() }
	})
	c := compare.ClosureFinding{Closure: "hull", Verdict: compare.ReadyToClose,
		Groups: []compare.Finding{{At: measured.Add(-time.Hour)}, {At: measured}}}
	var others []compare.ClosureFinding
	shown := func(c compare.ClosureFinding, glued Glued) string {
		src, err := x.s.fill("closure", x.s.cardOf("b1", c, append(others, c), glued, 2))
		if err != nil {
			t.Fatal(err)
		}
		return string(src)
	}
	const day, glue, retest, asOf = "A day has passed", "I've glued it", "the short retest",
		"Measured last: 2026-11-27 09:00 UTC"
	const ready, next, leaves = "READY TO CLOSE", "On to the next part", "keep its signature"
	noon := Glued{"hull": measured.Add(3 * time.Hour)}
	for _, v := range []compare.ClosureVerdict{compare.KeepOpen, compare.NotSettled, compare.LookFirst,
		compare.ClosedByChoice} {
		n := c
		n.Verdict = v
		if s := shown(n, noon); strings.Contains(s, "class=\"ready\"") ||
			!strings.Contains(s, "You glued it: 2026-11-27 12:00 UTC.") {
			t.Errorf("%s: %s", v, s)
		}
		s := shown(n, nil)
		if strings.Contains(s, "glued it") {
			t.Errorf("%s: %s", v, s)
		}
		if strings.Contains(s, "/build/b1#touched") != (v == compare.KeepOpen) {
			t.Errorf("%s: where it's said what was touched: %s", v, s)
		}
	}
	has := func(s string, want ...string) {
		t.Helper()
		for _, w := range []string{day, glue, retest, asOf, ready, next, leaves} {
			wanted := false
			for _, x := range want {
				wanted = wanted || x == w
			}
			if strings.Contains(s, w) != wanted {
				t.Errorf("%q: want it %v in\n%s", w, wanted, s)
			}
		}
	}
	has(shown(c, nil), ready, glue, asOf)
	// What can't be taken back is asked once: the button lies behind the question.
	s := shown(c, nil)
	question := strings.Index(s, "Is hull really glued?")
	if question < strings.Index(s, "<details") || question > strings.Index(s, "</details>") ||
		strings.Count(s, `value="glued"`) != 1 || strings.Index(s, `value="glued"`) < strings.Index(s, "<details") ||
		!strings.Contains(s[max(0, question):], `type="submit">Yes, hull is glued`) {
		t.Error(s)
	}
	has(shown(c, Glued{"deckhouse": noon["hull"]}), ready, glue, asOf)
	has(shown(c, noon), retest, asOf)
	// Measured once more at stage closed the next part comes, and with the last of them the model may leave.
	closed := c
	closed.Groups = []compare.Finding{{At: measured}, {At: measured.Add(5 * time.Hour), Stage: compare.Closed}}
	const again = "Measured last: 2026-11-27 14:00 UTC"
	if s := shown(closed, noon); !strings.Contains(s, again) || !strings.Contains(s, "hull: <strong>GLUED") {
		t.Error(s)
	}
	has(shown(closed, noon), next)
	both := Glued{"hull": noon["hull"], "deckhouse": measured}
	has(shown(closed, both), leaves)
	// Not while another one, glued, isn't measured since or isn't right: that comes first. One that is ready
	// and not glued yet is to be glued first.
	house := closed
	house.Closure = "deckhouse"
	for _, o := range []struct {
		name  string
		is    func(*compare.ClosureFinding)
		glued Glued
		want  string
	}{
		{"measured since, and right", func(*compare.ClosureFinding) {}, both, leaves},
		{"not measured since", func(x *compare.ClosureFinding) { x.Groups = c.Groups }, both, next},
		{"not right", func(x *compare.ClosureFinding) { x.Verdict = compare.NotSettled }, both, next},
		{"closed by choice", func(x *compare.ClosureFinding) { x.Verdict = compare.ClosedByChoice }, both, leaves},
		{"ready, not glued", func(x *compare.ClosureFinding) { x.Groups = c.Groups }, noon, next},
	} {
		t.Run(o.name, func(t *testing.T) {
			x := house
			o.is(&x)
			others = []compare.ClosureFinding{x}
			defer func() { others = nil }()
			has(shown(closed, o.glued), o.want)
		})
	}
	fitted := closed // said of it, but not of its stage
	fitted.Groups = []compare.Finding{{At: measured.Add(5 * time.Hour), Stage: compare.Fitted}}
	has(shown(fitted, noon), retest)
	at(measured.Add(dayPassed))
	has(shown(c, nil), ready, day, glue, asOf)
}
