package page

import (
	"context"
	"io"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
)

// allWork can have everything done that a page asks for, and notes what would touch a port or
// change something.
type allWork struct {
	*strange
	mu    sync.Mutex
	noted []string
}

func (w *allWork) note(what string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.noted = append(w.noted, what)
}

// did gives what was noted since it was asked last.
func (w *allWork) did() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	did := w.noted
	w.noted = nil
	return did
}

func (w *allWork) Instruments(_ context.Context, listed bool) (Instruments, error) {
	if listed {
		w.note("listed the ports")
	}
	return Instruments{Listed: listed}, nil
}

func (w *allWork) Do(_ context.Context, o Order, _ *session.Desk, _ *capture.Guard) Result {
	w.note("began " + string(o.Verb))
	return Result{}
}

func (w *allWork) Hand(string, string) error { w.note("moved hands"); return nil }

func (w *allWork) Tell(context.Context, string, Told) error { w.note("told"); return nil }

func (w *allWork) New(context.Context, string) (string, error) { w.note("new"); return "b1", nil }

func (w *allWork) BeginAsking(context.Context, string) (string, error) {
	w.note("new")
	return "i1", nil
}

func (w *allWork) Simulated(context.Context, string) (string, error) {
	w.note("simulated")
	return "b1", nil
}

func (w *allWork) Reply(ctx context.Context, id string, _ int, _ string) (Interview, error) {
	w.note("replied")
	return w.Asked(ctx, id)
}

func (w *allWork) Photo(context.Context, string, string, []byte) error        { return nil }
func (w *allWork) PhotoFile(context.Context, string, string, io.Writer) error { return nil }

// Over every route that there is: a helper's page, and a maker's while another one starts, may
// look, photograph and STOP. Nothing that it sends touches a port, an output or a file, not while
// nothing is under way either.
func TestOnlyTheLeadingPageTouchesPorts(t *testing.T) {
	w := &allWork{strange: &strange{fakeWork: &fakeWork{name: "launch"}}}
	plans := &fakePlans{src: gig}
	x := newSite(t, w.fakeWork, func(o *Options) { o.Work, o.Plans = w, plans })
	follower := x.enter()
	leader := x.enter()
	a, _ := x.send(x.request("GET", Entry(x.s.keys.code(Helper)), "", ""))
	helper := a.Cookies()[0].Value
	const body = "build=b1&verb=measure&kind=touched&nothing=1&name=x&for=maker&line=open&byhand=1&nth=0&answer=1"
	may := []string{doorPath, "/stop", "/seen", "/build/b1/photo"}
	for who, cookie := range map[standing]string{helps: helper, follows: follower} {
		if is := x.s.keys.standing(cookie); is != who {
			t.Fatalf("it %s, want one that %s", is, who)
		}
		for _, path := range routes(t, "GET") {
			if path == "/stream" || path == doorPath { // the one doesn't end, the other lets in
				continue
			}
			path = strings.NewReplacer("{name}", "p1", "{form}", "client").Replace(path)
			a, src := x.send(x.request("GET", path, "", cookie))
			if a.StatusCode == http.StatusForbidden {
				t.Errorf("one that %s may not look at %s: %s", who, path, src)
			}
			if did := w.did(); did != nil {
				t.Errorf("one that %s, GET %s: %q", who, path, did)
			}
		}
		for _, path := range routes(t, "POST") {
			if who == follows && path == leadPath || path == doorPath {
				continue
			}
			a, src := x.send(x.request("POST", path, body, cookie))
			if refused := a.StatusCode == http.StatusForbidden; refused == slices.Contains(may, path) {
				t.Errorf("one that %s, POST %s: %d\n%s", who, path, a.StatusCode, src)
			}
			if did := w.did(); did != nil || x.s.bench.busy() {
				t.Errorf("one that %s, POST %s: %q", who, path, did)
			}
		}
	}
	if plans.get() != gig || plans.saved != nil {
		t.Errorf("the plan was changed: %q", plans.saved)
	}
	// The one that leads has them done: what is noted above would have been.
	for _, path := range []string{"GET /instruments", "POST /instruments", "POST /simulated", "POST /new",
		"POST /tell"} {
		method, path, _ := strings.Cut(path, " ")
		x.send(x.request(method, path, body, leader))
		until(t, func() bool { return w.did() != nil })
	}
}
