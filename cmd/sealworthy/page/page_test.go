package page

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"net/http/cookiejar"
	"strings"
	"sync"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// fakeWork is one build whose test goes on until it's stopped; its name is hostile.
type fakeWork struct {
	name string

	mu        sync.Mutex
	past      []Past
	files     string // how those of the build are
	unread    error  // why not all of them can be read
	glued     Glued
	verdict   compare.ClosureVerdict // "": keep open
	simulated bool                   // its bench is
	told      []Told
	began     int
	desk      *session.Desk
	off       *fakeSupply
	judges    func() (Findings, error) // what nobody judged yet; nil: it's known
	quick     bool                     // the engine switches off itself as it ends, else it leaves that to the guard
}

func (w *fakeWork) build() Build {
	w.mu.Lock()
	defer w.mu.Unlock()
	return Build{ID: "b1", Name: w.name, Where: "/models/" + w.name, Simulated: w.simulated}
}

func (w *fakeWork) Builds(context.Context) ([]Build, error) { return []Build{w.build()}, nil }
func (w *fakeWork) Folder() string                          { return "/models" }

func (w *fakeWork) Overview(_ context.Context, id string) (Overview, error) {
	if id != "b1" {
		return Overview{}, fmt.Errorf("no build %s: %w", id, fs.ErrNotExist)
	}
	files, _ := w.Files(context.Background(), "b1")
	o := Overview{Past: w.past, Files: files, Build: w.build(), Parts: []string{w.name}, Groups: []string{w.name},
		Glued:  w.glued,
		Places: []capture.Place{{Name: w.name, Kind: "joint"}}}
	if w.judgesBy() == nil {
		o.Findings = w.findings()
	}
	return o, nil
}

func (w *fakeWork) Files(context.Context, string) (string, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.unread != nil {
		return "", w.unread
	}
	return cmp.Or(w.files, "as they were"), nil
}

func (w *fakeWork) findings() *Findings {
	files, _ := w.Files(context.Background(), "b1")
	w.mu.Lock()
	defer w.mu.Unlock()
	return &Findings{Files: files, Text: w.name, Closures: []compare.ClosureFinding{{Closure: w.name,
		Verdict: cmp.Or(w.verdict, compare.KeepOpen),
		Reasons: []string{w.name}, Groups: []compare.Finding{{Group: w.name, Verdict: compare.Low, Readings: 3,
			Why: w.name, Causes: []compare.Cause{{Text: w.name, Edit: w.name}}}}}}}
}

func (w *fakeWork) Judge(context.Context, string) (Findings, error) {
	if judges := w.judgesBy(); judges != nil {
		return judges()
	}
	return *w.findings(), nil
}

func (w *fakeWork) judgesBy() func() (Findings, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.judges
}

func (w *fakeWork) Do(ctx context.Context, _ Order, d *session.Desk, g *capture.Guard) Result {
	if w.off != nil {
		defer g.Register("supply", w.off)()
	}
	w.mu.Lock()
	w.began++
	w.desk = d
	w.mu.Unlock()
	ctx, cancel := g.Context(ctx)
	defer cancel()
	<-ctx.Done()
	err := context.Cause(ctx)
	switch {
	case w.off != nil && w.quick:
		if off := w.off.Off(ctx); off != nil {
			err = errors.Join(err, capture.ErrOffNotConfirmed)
		}
	case w.off != nil: // a supply is released once it was switched off
		<-w.off.told
	}
	return Result{Status: 1, Err: err}
}

func (w *fakeWork) Tell(_ context.Context, _ string, t Told) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.told = append(w.told, t)
	return nil
}

func (w *fakeWork) New(context.Context, string) (string, error)              { return "b1", nil }
func (w *fakeWork) Simulated(context.Context, string) (string, error)        { return "b1", nil }
func (w *fakeWork) Sheet(context.Context, string, string, io.Writer) error   { return nil }
func (w *fakeWork) Picture(context.Context, string, string, io.Writer) error { return nil }
func (w *fakeWork) count() (began int, told []Told, desk *session.Desk) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.began, w.told, w.desk
}

// site is a page that is served, and a client of it.
type site struct {
	t      testing.TB
	s      *Server
	at     string
	work   *fakeWork
	names  names
	client *http.Client // of a browser without any cookie of its own
}

func newSite(t testing.TB, w *fakeWork, with ...func(*Options)) *site {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	o := Options{Work: w, Now: time.Now, Hosts: []string{l.Addr().String()}, ReckonedWith: time.Minute}
	for _, f := range with {
		f(&o)
	}
	s, err := New(ctx, o)
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, l) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return &site{t, s, l.Addr().String(), w, o.names(), http.DefaultClient}
}

func (x *site) origin() string {
	return map[bool]string{false: "http://", true: "https://"}[x.names.secure] + x.at
}

// request makes a request as a browser's own page does.
func (x *site) request(method, path, body, cookie string) *http.Request {
	x.t.Helper()
	r, err := http.NewRequestWithContext(x.t.Context(), method, x.origin()+path, strings.NewReader(body))
	if err != nil {
		x.t.Fatal(err)
	}
	if method != http.MethodGet {
		r.Header.Set("Origin", x.origin())
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	if cookie != "" {
		r.AddCookie(&http.Cookie{Name: x.names.cookieName(), Value: cookie})
	}
	return r
}

// send sends a request and gives its answer; nothing is followed.
func (x *site) send(r *http.Request) (*http.Response, string) {
	x.t.Helper()
	c := &http.Client{Timeout: time.Minute, Transport: x.client.Transport,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	a, err := c.Do(r)
	if err != nil {
		x.t.Fatal(err)
	}
	defer a.Body.Close()
	src, err := io.ReadAll(a.Body)
	if err != nil {
		x.t.Fatal(err)
	}
	return a, string(src)
}

// enter lets a browser in and gives its cookie.
func (x *site) enter() string {
	x.t.Helper()
	a, src := x.send(x.request("GET", Entry(x.s.Code()), "", ""))
	for _, c := range a.Cookies() {
		if c.Name == x.s.o.names().cookieName() && c.HttpOnly && c.SameSite == http.SameSiteStrictMode {
			return c.Value
		}
	}
	x.t.Fatalf("not let in: %s\n%s", a.Status, src)
	return ""
}

// Two pages on one computer, in one browser: each stays let in, though a browser keeps
// cookies apart by host alone.
func TestTwoPages(t *testing.T) {
	one, two := newSite(t, &fakeWork{name: "launch"}), newSite(t, &fakeWork{name: "tender"})
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	browser := &http.Client{Jar: jar}
	status := func(x *site, method, path string) int {
		a, err := browser.Do(x.request(method, path, "", ""))
		if err != nil {
			t.Fatal(err)
		}
		defer a.Body.Close()
		return a.StatusCode
	}
	for _, x := range []*site{one, two} {
		if s := status(x, "GET", Entry(x.s.Code())); s != http.StatusOK {
			t.Fatalf("the door: %d", s)
		}
	}
	for _, x := range []*site{one, two} {
		if s := status(x, "POST", "/stop"); s != http.StatusOK { // it was led to /bench
			t.Errorf("STOP at %s: %d", x.at, s)
		}
	}
}

// All that a page can load of ours weighs less than 200 kB, its words with it: a tablet on a
// slow net in a workshop shows the first view at once. (The bound is our own choice.)
func TestPageIsLight(t *testing.T) {
	const most = 200_000
	total := 0
	for _, files := range []fs.FS{static, templates} {
		err := fs.WalkDir(files, ".", func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			src, err := fs.ReadFile(files, path)
			total += len(src)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if total < 50_000 || total > most {
		t.Errorf("it weighs %d bytes, want at most %d", total, most)
	}
	t.Logf("%d bytes", total)
}

// Each picture of the leads is a drawing of ours that is there, runs nothing, has no style
// that the page's policy would stop, and says in words what it shows.
func TestPicturesOfLeads(t *testing.T) {
	for _, x := range []Lead{leadsSupply, leadsFree, leadsMeter, leadsGroup, leadsWhole, leadsVolts, leadsClips} {
		src, err := fs.ReadFile(static, "static/"+x.File)
		if err != nil {
			t.Error(err)
			continue
		}
		if s := string(src); strings.Contains(s, "script") || strings.Contains(s, "style") ||
			strings.Contains(s, "href") ||
			!strings.Contains(s, "<text") || len(src) > 4000 {
			t.Errorf("%s: %d bytes: %s", x.File, len(src), s)
		}
		if len(x.Alt) < 40 || len(x.Says) < 40 || !strings.HasSuffix(x.Alt, ".") {
			t.Errorf("%s says %q, and %q below it", x.File, x.Alt, x.Says)
		}
	}
}
