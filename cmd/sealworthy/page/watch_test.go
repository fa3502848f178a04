package page

import (
	"bufio"
	"context"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments"
)

// fakeSupply is switched off; it may say that it isn't.
type fakeSupply struct {
	instruments.Supply
	fails error

	mu   sync.Mutex
	off  time.Time
	told chan struct{} // closed when it's told to be off
}

func newFakeSupply(fails error) *fakeSupply {
	return &fakeSupply{fails: fails, told: make(chan struct{})}
}

func (s *fakeSupply) Off(context.Context) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.off.IsZero() {
		s.off = time.Now()
		close(s.told)
	}
	return s.fails
}

func (s *fakeSupply) wasOff() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return !s.off.IsZero()
}

// until waits for something that only a hang keeps from coming true.
func until(t testing.TB, is func() bool) {
	t.Helper()
	for end := time.Now().Add(time.Minute); !is(); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("it never comes true")
		}
	}
}

func overNow() *session.Event { n := 0; return &session.Event{What: session.Over, Status: &n} }

// hostileTest tells a test of a feed of that name.
func hostileTest(d *session.Desk, name string) {
	s := capture.Step{Feed: name, Groups: []string{name}, Kind: capture.Power, Pace: name}
	d.Show(capture.Event{What: capture.StepBegins, Step: &s})
	d.Show(capture.Event{What: capture.Warning, Text: name, Step: &s})
	d.Show(capture.Event{What: capture.StepEnds, Step: &s,
		Said: []capture.Said{{Group: name, Verdict: name, Measured: name, Expected: name, Causes: []string{name}}}})
	d.Show(capture.Event{What: capture.StepBegins, Step: &s})
	go func() {
		_,
			_ = d.Ask(context.Background(),
			capture.Question{Kind: capture.AskTouched, Text: name, Help: name,
				Choices: []string{"nothing", "touched", name},
				Step:    &s, Groups: []string{name}, Places: []capture.Place{{Name: name, Kind: "joint"}}})
	}()
}

// STOP: asked at once, then what the supply confirmed.
func TestStop(t *testing.T) {
	for _, c := range []struct {
		fails error
		quick bool
		says  string
	}{{nil, false, "off (read back)"}, {instruments.ErrPortGone, false, "NOT CONFIRMED: switch the supply off."},
		{nil, true, "off (read back)"}, {instruments.ErrPortGone, true, "NOT CONFIRMED: switch the supply off."}} {
		w := &fakeWork{name: "launch", off: newFakeSupply(c.fails), quick: c.quick}
		x := newSite(t, w)
		cookie := x.enter()
		x.send(x.request("POST", "/begin", "build=b1&verb=measure", cookie))
		until(t, func() bool { _, _, d := w.count(); return d != nil })
		x.send(x.request("POST", "/stop", "", cookie))
		until(t, func() bool {
			_, src := x.send(x.request("GET", "/bench", "", cookie))
			return strings.Contains(src, c.says)
		})
	}
	x := newSite(t, &fakeWork{name: "launch"})
	cookie := x.enter()
	x.send(x.request("POST", "/stop", "", cookie))
	if _, src := x.send(x.request("GET", "/", "", cookie)); !strings.Contains(src, "nothing was switched from here") {
		t.Errorf("with no test:\n%s", src)
	}
}

// STOP switches off before anything else is waited for: the state of the page, the desk
// and the draft of a plan are all held by somebody else.
func TestStopGoesFirst(t *testing.T) {
	w := &fakeWork{name: "Gig", off: newFakeSupply(nil)}
	x := newSite(t, w, func(o *Options) { o.Plans = &fakePlans{src: gig} })
	held, letGo := make(chan struct{}), make(chan struct{})
	hold := sync.OnceFunc(func() { close(held) })
	x.s.watch.now = func() time.Time { // a question that is told asks for the time
		hold()
		<-letGo
		return time.Now()
	}
	cookie := x.enter()
	x.send(x.request("GET", "/build/b1/plan", "", cookie))
	x.send(x.request("POST", "/begin", "build=b1&verb=measure", cookie))
	until(t, func() bool { _, _, d := w.count(); return d != nil })
	_, _, desk := w.count()
	stop := x.request("POST", "/stop", "", cookie)
	stop.Header.Set("Accept", "application/json")

	draft := x.s.drafts.find("b1")
	draft.mu.Lock()
	asking, end := context.WithCancel(t.Context())
	defer end()
	go func() {
		_, _ = desk.Ask(asking, capture.Question{Kind: capture.AskClip, Text: "Clip it.", Choices: []string{"done"}})
	}()
	<-held // so are the desk and the state
	answered := make(chan int, 1)
	go func() {
		a, err := http.DefaultClient.Do(stop)
		if err != nil {
			answered <- 0
			return
		}
		_ = a.Body.Close()
		answered <- a.StatusCode
	}()
	until(t, w.off.wasOff)
	close(letGo)
	draft.mu.Unlock()
	if s := <-answered; s != http.StatusNoContent {
		t.Errorf("STOP: %d", s)
	}
	until(t, func() bool {
		_, src := x.send(x.request("GET", "/bench", "", cookie))
		return strings.Contains(src, "off (read back)")
	})
}

// Before a supply was reached nothing is said of its output, and a STOP confirms nothing.
func TestStopBeforeASupply(t *testing.T) {
	w := &fakeWork{name: "launch"}
	x := newSite(t, w)
	cookie := x.enter()
	x.send(x.request("POST", "/begin", "build=b1&verb=measure", cookie))
	until(t, func() bool { _, _, d := w.count(); return d != nil })
	if _, src := x.send(x.request("GET", "/bench", "", cookie)); strings.Contains(src, "OUTPUT OFF") ||
		!strings.Contains(src, "no supply was reached yet") {
		t.Errorf("before:\n%s", between(src, "<header>", "</header>"))
	}
	x.send(x.request("POST", "/stop", "", cookie))
	said := func() string {
		_, src := x.send(x.request("GET", "/bench", "", cookie))
		return between(src, "<header>", "</header>")
	}
	until(t, func() bool { return !strings.Contains(said(), "STOP: asked") })
	if src := said(); strings.Contains(src, "read back") || !strings.Contains(src, "had no supply in hand") {
		t.Errorf("after:\n%s", src)
	}
}

// What a bench was opened with is known to be off, unless a person switches it.
func TestOutputOnceOpened(t *testing.T) {
	for byHand, want := range map[bool]Output{false: Off, true: NotKnown} {
		w := newWatch(time.Now, missedAfter)
		w.begun(Order{}, Overview{}, time.Now())
		w.Tell(session.Event{What: session.Opened, Bench: &session.OnBench{ByHand: byHand}})
		if got := w.state.Output; got != want {
			t.Errorf("by hand %v: %s", byHand, got)
		}
	}
}

// A test is seen while a page that is to be seen answers its beat, and for a second more.
func TestSeen(t *testing.T) {
	now := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	w := newWatch(func() time.Time { return now }, missedAfter)
	if w.Watched() {
		t.Error("before any page")
	}
	w.Seen()
	now = now.Add(missedAfter - time.Millisecond)
	if !w.Watched() {
		t.Error("a moment ago")
	}
	now = now.Add(time.Millisecond)
	if w.Watched() {
		t.Error("a second later")
	}
}

// Readings that come faster than a page is told of them hold no beat up: a page in plain
// view would be taken for one that nobody sees. What's told comes no faster than each
// toldEvery, so that some beatEvery/toldEvery of it fit between two beats, however slow
// the machine is.
func TestBeatsAmongReadings(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	a, err := http.DefaultClient.Do(x.request("GET", "/stream", "", x.enter()))
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	end := make(chan struct{})
	defer close(end)
	go func() {
		for i := 0; ; i++ {
			select {
			case <-end:
				return
			case <-time.After(time.Millisecond):
				x.s.watch.change(func(s *State) { s.Name, s.Running = strconv.Itoa(i), true })
			}
		}
	}()
	told, since := 0, 0
	for s := bufio.NewScanner(a.Body); told < 25 && s.Scan(); {
		switch s.Text() {
		case "event: told":
			told++
			since++
		case "event: beat":
			since = 0
		}
		if since > int(beatEvery/toldEvery)+1 {
			t.Fatalf("%d times it was told what changed, without a beat", since)
		}
	}
	if told < 25 {
		t.Errorf("the stream ended after %d", told)
	}
}

// A tap that comes before its question could be read is none.
func TestSecondTap(t *testing.T) {
	var later atomic.Int64
	w := &fakeWork{name: "launch"}
	began := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	x := newSite(t, w, func(o *Options) { o.Now = func() time.Time { return began.Add(time.Duration(later.Load())) } })
	cookie := x.enter()
	x.send(x.request("POST", "/begin", "build=b1&verb=measure", cookie))
	until(t, func() bool { _, _, d := w.count(); return d != nil })
	_, _, d := w.count()
	got := make(chan capture.Answer, 1)
	go func() {
		a, _ := d.Ask(context.Background(), capture.Question{Kind: capture.AskClip, Text: "Clip it.",
			Choices: []string{"done", "stop"}})
		got <- a
	}()
	until(t, func() bool { x.s.watch.mu.Lock(); defer x.s.watch.mu.Unlock(); return x.s.watch.state.Ask != nil })
	tap := func() int {
		a, _ := x.send(x.request("POST", "/answer", `{"question":1,"choice":"done"}`, cookie))
		return a.StatusCode
	}
	if s := tap(); s != http.StatusConflict {
		t.Errorf("at once: %d", s)
	}
	later.Add(int64(tooSoon))
	if s := tap(); s != http.StatusNoContent {
		t.Errorf("later: %d", s)
	}
	if a := <-got; a.Choice != "done" {
		t.Errorf("%+v", a)
	}
}

// One test at a time.
func TestOneTest(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	cookie := x.enter()
	for i, want := range []int{http.StatusSeeOther, http.StatusConflict} {
		if a, src := x.send(x.request("POST", "/begin", "build=b1&verb=measure", cookie)); a.StatusCode != want {
			t.Errorf("%d: %d\n%s", i, a.StatusCode, src)
		}
	}
}

// What is asked stands first, whatever is said before it.
func TestAsksWhat(t *testing.T) {
	for _, c := range []struct{ text, head, tail string }{
		{"Something was wrong. What did you touch since it was measured? The output is off.",
			"What did you touch since it was measured?", "Something was wrong. The output is off."},
		{"\"cabin lamps\" is low. The output is off.", "\"cabin lamps\" is low.", "The output is off."},
		{"Set the supply to 5.00 V and its limit to 0.1 A.", "Set the supply to 5.00 V and its limit to 0.1 A.", ""},
		{"", "", ""}, {"?", "?", ""},
	} {
		if head, tail := asksWhat(c.text); head != c.head || tail != c.tail {
			t.Errorf("%q: %q, %q", c.text, head, tail)
		}
	}
}
