package page

import (
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/compare"
)

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
	shown := func(c compare.ClosureFinding, glued map[string]string) string {
		src, err := x.s.fill("ready", x.s.readyOf("b1", c, glued))
		if err != nil {
			t.Fatal(err)
		}
		return string(src)
	}
	const day, glue, retest = "A day has passed", "I've glued it", "the short retest"
	for _, v := range []compare.ClosureVerdict{compare.KeepOpen, compare.NotSettled, compare.LookFirst,
		compare.ClosedByChoice} {
		n := c
		n.Verdict = v
		if s := shown(n, map[string]string{"hull": "2026-11-27 12:00 UTC"}); s != "" {
			t.Errorf("%s: %s", v, s)
		}
	}
	has := func(s string, want ...string) {
		t.Helper()
		for _, w := range []string{day, glue, retest, "as of 2026-11-27 09:00 UTC"} {
			wanted := false
			for _, x := range want {
				wanted = wanted || x == w
			}
			if strings.Contains(s, w) != wanted {
				t.Errorf("%q: want it %v in\n%s", w, wanted, s)
			}
		}
	}
	has(shown(c, nil), glue, "as of 2026-11-27 09:00 UTC")
	has(shown(c, map[string]string{"deckhouse": "2026-11-27 12:00 UTC"}), glue, "as of 2026-11-27 09:00 UTC")
	has(shown(c, map[string]string{"hull": "2026-11-27 12:00 UTC"}), retest, "as of 2026-11-27 09:00 UTC")
	at(measured.Add(dayPassed))
	has(shown(c, nil), day, glue, "as of 2026-11-27 09:00 UTC")
}
