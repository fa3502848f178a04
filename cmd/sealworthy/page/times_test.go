package page

import (
	"strings"
	"testing"
	"time"
)

// A page tells times as the clock on its maker's wall does, with the name of their zone, whatever zone they are
// kept in.
func TestTimesAreTheMakers(t *testing.T) {
	there := time.FixedZone("CET", 3600)
	at := time.Date(2026, 11, 27, 23, 30, 0, 0, time.UTC)
	w := &fakeWork{name: "launch", past: []Past{{At: at, What: "test", Stage: "fitted"}}}
	x := newSite(t, w, func(o *Options) { o.Now = func() time.Time { return at.Add(time.Hour).In(there) } })
	_, src := x.send(x.request("GET", "/build/b1", "", x.enter()))
	for _, want := range []string{"the last one: 2026-11-28 00:30 CET",
		`<span class="figures">2026-11-28 00:30 CET</span>`} {
		if !strings.Contains(src, want) {
			t.Errorf("%q isn't in\n%s", want, src)
		}
	}
	if strings.Contains(src, "UTC") {
		t.Errorf("a time is that of another zone:\n%s", src)
	}
	if got := x.s.clock(at); got != "00:30 CET" {
		t.Errorf("withdrawn at %q", got)
	}
}
