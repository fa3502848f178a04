package page

import (
	"bufio"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"
)

// The table of attacks. Each that follows has its own test: another site's form, a
// rebinding name, a frame, a stolen address, a guessed code, a hostile build, a slow
// reader, a flood, too much at once. Those from other devices stand in beyond_test.go: a
// rebinding name and a stolen address there, plain HTTP at the port of TLS, a helper who
// wants more, codes tried from elsewhere, a slow reader of HTTP/2, a flood over TLS.

// What another site's page, another name or a frame sends does nothing and shows nothing.
func TestOnlyItsOwnPages(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	cookie := x.enter()
	for _, c := range []struct {
		name, method, path string
		with               func(r *http.Request)
		status             int
	}{
		{"another site's form", "POST", "/begin", func(r *http.Request) {
			r.Header.Set("Origin", "http://evil.example")
			r.Header.Set("Sec-Fetch-Site", "cross-site")
		}, 403},
		{"a form whose browser says nothing but the origin", "POST", "/begin", func(r *http.Request) {
			r.Header.Set("Origin", "http://evil.example")
			r.Header.Del("Sec-Fetch-Site")
		}, 403},
		{"a form without any origin", "POST", "/begin", func(r *http.Request) {
			r.Header.Del("Origin")
			r.Header.Del("Sec-Fetch-Site")
		}, 403},
		{"a form of a sandboxed page", "POST", "/begin", func(r *http.Request) { r.Header.Set("Origin", "null") },
			403},
		{"a form of another port of this computer", "POST", "/begin", func(r *http.Request) {
			r.Header.Set("Origin", "http://127.0.0.1:1")
			r.Header.Set("Sec-Fetch-Site", "same-site")
		}, 403},
		{"the same over TLS", "POST", "/begin", func(r *http.Request) { r.Header.Set("Origin", "https://"+x.at) },
			403},
		{"a rebinding name", "GET", "/", func(r *http.Request) { r.Host = "evil.example:80" }, 421},
		{"a rebinding name's form", "POST", "/begin", func(r *http.Request) {
			r.Host = "evil.example"
			r.Header.Set("Origin", "http://evil.example")
		}, 421},
		{"a name that begins like its own", "GET", "/", func(r *http.Request) { r.Host = x.at + ".evil.example" },
			421},
		{"a frame", "GET", "/bench", func(r *http.Request) { r.Header.Set("Sec-Fetch-Dest", "iframe") }, 403},
		{"a picture of it on another site", "GET", "/build/b1/picture/feed-tree", func(r *http.Request) {
			r.Header.Set("Sec-Fetch-Site", "cross-site")
			r.Header.Set("Sec-Fetch-Mode", "no-cors")
		}, 403},
		{"the stream for another site", "GET", "/stream", func(r *http.Request) {
			r.Header.Set("Sec-Fetch-Site", "cross-site")
			r.Header.Set("Sec-Fetch-Mode", "cors")
		}, 403},
		{"a STOP from another site", "POST", "/stop",
			func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") }, 403},
		{"no cookie", "GET", "/", func(r *http.Request) { r.Header.Del("Cookie") }, 401},
		{"no cookie, a form", "POST", "/begin", func(r *http.Request) { r.Header.Del("Cookie") }, 401},
		{"a cookie that was never given", "GET", "/stream", func(r *http.Request) {
			r.Header.Set("Cookie", x.s.o.names().cookieName()+"=AAAAAAAAAAAAAAAAAAAAAAAAAA")
		}, 401},
		{"an answer as a page", "GET", "/answer", func(*http.Request) {}, 404},
	} {
		r := x.request(c.method, c.path, "build=b1&verb=measure", cookie)
		c.with(r)
		a, src := x.send(r)
		if a.StatusCode != c.status {
			t.Errorf("%s: %d, want %d", c.name, a.StatusCode, c.status)
		}
		if strings.Contains(src, "launch") || len(a.Cookies()) > 0 {
			t.Errorf("%s: it shows\n%s", c.name, src)
		}
		if !strings.Contains(a.Header.Get("Content-Security-Policy"), "frame-ancestors 'none'") ||
			a.Header.Get("X-Frame-Options") != "DENY" ||
			a.Header.Get("X-Content-Type-Options") != "nosniff" || a.Header.Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("%s: %v", c.name, a.Header)
		}
	}
	if began, told, _ := x.work.count(); began != 0 || told != nil {
		t.Errorf("%d tests began, told %v", began, told)
	}
	if a, _ := x.send(x.request("POST", "/begin", "build=b1&verb=measure", cookie)); a.StatusCode != 303 {
		t.Errorf("its own form: %d", a.StatusCode)
	}
}

// A browser leaves the port of the scheme out of the name and the origin; any other
// port must be there.
func TestPortOfTheScheme(t *testing.T) {
	for _, c := range []struct {
		host   string
		secure bool
		named  string
		own    bool
	}{
		{"127.0.0.1:80", false, "127.0.0.1", true}, {"127.0.0.1:80", false, "127.0.0.1:80", true},
		{"127.0.0.1:443", true, "127.0.0.1", true}, {"[::1]:80", false, "[::1]", true},
		{"127.0.0.1:443", false, "127.0.0.1", false}, {"127.0.0.1:80", true, "127.0.0.1", false},
		{"127.0.0.1:8080", false, "127.0.0.1", false}, {"127.0.0.1:80", false, "evil.example", false},
	} {
		o := Options{Work: &fakeWork{name: "launch"}, Now: time.Now, Hosts: []string{c.host}, Secure: c.secure}
		s, err := New(t.Context(), o)
		if err != nil {
			t.Fatal(err)
		}
		scheme := map[bool]string{false: "http://", true: "https://"}[c.secure]
		r := httptest.NewRequest("POST", "/stop", nil)
		r.Host = c.named
		r.Header.Set("Origin", scheme+c.named)
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		_, door, _ := strings.Cut(Entry(s.Code()), "=")
		cookie, _ := s.keys.swap(door, "here", false)
		r.AddCookie(&http.Cookie{Name: o.names().cookieName(), Value: cookie})
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		if got := w.Code == http.StatusSeeOther; got != c.own {
			t.Errorf("%s served, %s asked for: %d", c.host, scheme+c.named, w.Code)
		}
	}
}

// A page runs no script but the program's own, and no attribute of one.
func TestNoInlineScript(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	cookie := x.enter()
	for _, path := range []string{"/", "/bench", "/build/b1", "/nowhere", Entry("x")} {
		a, src := x.send(x.request("GET", path, "", cookie))
		csp := a.Header.Get("Content-Security-Policy")
		if !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") {
			t.Errorf("%s: %s", path, csp)
		}
		if strings.Contains(src, "<script>") || strings.Contains(src, "style=") || strings.Contains(src, " onclick") ||
			strings.Contains(src, "javascript:") {
			t.Errorf("%s has something inline:\n%s", path, src)
		}
	}
}

// An address is good once: whoever reads it later, in a history or over a shoulder,
// isn't let in by it. So is a code that is a quarter of an hour old.
func TestStolenAddress(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	entry := Entry(x.s.Code())
	if a, _ := x.send(x.request("GET", entry, "", "")); a.StatusCode != 200 || len(a.Cookies()) != 1 {
		t.Fatalf("the first: %d", a.StatusCode)
	}
	if a, src := x.send(x.request("GET", entry, "", "")); a.StatusCode != 401 || len(a.Cookies()) != 0 ||
		!strings.Contains(src, "isn&#39;t good any more") {
		t.Errorf("the second: %d\n%s", a.StatusCode, src)
	}
	now := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	k := newKeys(func() time.Time { return now })
	old := k.code(Maker)
	now = now.Add(codeLasts + time.Second)
	if _, what := k.swap(old, "here", false); what != noCode {
		t.Errorf("an old code: %s", what)
	}
}

// Codes can't be guessed: after ten wrong ones nobody is let in for a minute.
func TestTriesAreBounded(t *testing.T) {
	now := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	k := newKeys(func() time.Time { return now })
	good := k.code(Maker)
	for i := range mostWrong {
		if _, what := k.swap(fmt.Sprintf("%026d", i), "there", false); what != noCode {
			t.Fatalf("try %d: %s", i, what)
		}
	}
	if _, what := k.swap(good, "there", false); what != barred {
		t.Errorf("after %d wrong ones: %s", mostWrong, what)
	}
	now = now.Add(closedFor + time.Second)
	cookie, what := k.swap(good, "there", false)
	if what != letIn || k.standing(cookie) != leads || k.standing(cookie+"x") != stranger ||
		k.standing("") != stranger {
		t.Errorf("a minute later: %s", what)
	}
	for range mostGuests - 1 {
		if _, what := k.swap(k.code(Maker), "here", false); what != letIn {
			t.Fatal(what)
		}
	}
	if _, what := k.swap(k.code(Maker), "here", false); what != full {
		t.Errorf("one too many: %s", what)
	}
}

// A build whose names hold markup, a script, what turns a line round and what a
// terminal obeys is shown with all of it written out.
func TestHostileBuild(t *testing.T) {
	name := "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>\u202egnp.exe\x1b[2J\u2028\x00{{.}}`${1}`"
	w := &fakeWork{name: name}
	x := newSite(t, w)
	cookie := x.enter()
	x.send(x.request("POST", "/begin", "build=b1&verb=measure", cookie))
	until(t, func() bool { _, _, d := w.count(); return d != nil })
	_, _, desk := w.count()
	hostileTest(desk, name)
	for _, path := range []string{"/", "/bench", "/build/b1"} {
		until(t, func() bool {
			_, src := x.send(x.request("GET", path, "", cookie))
			return strings.Contains(src, "alert(1)")
		})
		_, src := x.send(x.request("GET", path, "", cookie))
		harmlessPage(t, path, src)
	}
	r := x.request("GET", "/stream", "", cookie)
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	s := bufio.NewScanner(a.Body)
	s.Buffer(nil, 1<<20)
	for s.Scan() && !strings.HasPrefix(s.Text(), "data: {\"regions\"") {
	}
	harmlessPage(t, "the stream", strings.NewReplacer(`\u003c`, "<", `\u003e`, ">", `\\`, `\`).Replace(s.Text()))
}

func harmlessPage(t *testing.T, where, src string) {
	t.Helper()
	if strings.ContainsAny(src, "\u202e\x1b\u2028\x00") {
		t.Errorf("%s: something obeys or hides", where)
	}
	for _, s := range []string{"<script>alert", "<img src=x", "'><img"} {
		if strings.Contains(src, s) {
			t.Errorf("%s holds %s", where, s)
		}
	}
	if strings.Contains(src, "gnp.exe") && !strings.Contains(src, `\u202egnp.exe`) {
		t.Errorf("%s hides what turns the line round", where)
	}
}

// unread is a browser that takes nothing until it's let go; its connection is broken then.
type unread struct {
	http.ResponseWriter
	entered, letGo chan struct{}
	once           sync.Once
}

func (w *unread) Write([]byte) (int, error) {
	w.once.Do(func() { close(w.entered) })
	<-w.letGo
	return 0, net.ErrClosed
}

func (w *unread) Flush()                           {}
func (w *unread) SetWriteDeadline(time.Time) error { return nil }

// Who opens a stream and doesn't read it holds nothing up: all is told while it still
// waits for him, and another browser's page is shown.
func TestSlowReaderHoldsNothingUp(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	cookie := x.enter()
	w := &unread{ResponseWriter: httptest.NewRecorder(),
		entered: make(chan struct{}), letGo: make(chan struct{})}
	ended := make(chan struct{})
	r := x.request("GET", "/stream", "", cookie)
	go func() { defer close(ended); x.s.stream(w, r) }()
	<-w.entered
	for i := range 1000 {
		x.s.watch.change(func(s *State) { s.Result, s.Over = fmt.Sprint("told ", i), overNow() })
	}
	if a, src := x.send(x.request("GET", "/bench", "", cookie)); a.StatusCode != 200 ||
		!strings.Contains(src, "told 999") {
		t.Errorf("another page: %d", a.StatusCode)
	}
	select {
	case <-ended:
		t.Error("nothing was held")
	default:
	}
	close(w.letGo)
	<-ended
}

// Who takes nothing is dropped.
func TestSlowReader(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	cookie := x.enter()
	c, err := net.Dial("tcp", x.at)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	_ = c.(*net.TCPConn).SetReadBuffer(1024)
	fmt.Fprintf(c, "GET /stream HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\n\r\n", x.at, x.s.o.names().cookieName(),
		cookie)
	until(t, func() bool { return x.s.streams.Load() == 1 })
	long := strings.Repeat("never read ", 20000)
	i := 0
	until(t, func() bool {
		i++
		x.s.watch.change(func(s *State) { s.Result, s.Over = fmt.Sprint(long, i), overNow() })
		return x.s.streams.Load() == 0
	})
}

// closing is a connection of which only the end is of interest.
type closing struct {
	net.Conn
	closed bool
}

func (c *closing) Close() error { c.closed = true; return nil }

// A flood of strangers' connections makes room at once, the oldest first, whether they ask
// something or not; one of a browser that was let in stays, however old.
func TestFloodMakesRoom(t *testing.T) {
	g := &gate{conns: map[net.Conn]int{}}
	asks := &closing{}
	g.state(asks, http.StateNew)
	g.knows(asks)
	var all []*closing
	for i := range 3 * mostConns {
		c := &closing{}
		all = append(all, c)
		g.state(c, http.StateNew)
		g.state(c, http.StateActive)
		if n := i + 1 - (mostConns - 1); n > 0 { // one place is taken
			if !all[n-1].closed || all[n].closed {
				t.Fatalf("at connection %d: %v, then %v", i, all[n-1].closed, all[n].closed)
			}
			g.state(all[n-1], http.StateClosed) // as the server says then
		}
	}
	if asks.closed || g.open != mostConns {
		t.Errorf("the one that asked: closed %v; %d are open", asks.closed, g.open)
	}
}

// A STOP gets through a flood of connections that ask nothing.
func TestFlood(t *testing.T) {
	w := &fakeWork{name: "launch", off: newFakeSupply(nil)}
	x := newSite(t, w)
	cookie := x.enter()
	x.send(x.request("POST", "/begin", "build=b1&verb=measure", cookie))
	until(t, func() bool { _, _, d := w.count(); return d != nil })
	for range 3 * mostConns {
		c, err := net.Dial("tcp", x.at)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
	}
	r := x.request("POST", "/stop", "", cookie)
	r.Header.Set("Accept", "application/json")
	if a, _ := x.send(r); a.StatusCode != http.StatusNoContent {
		t.Errorf("STOP: %d", a.StatusCode)
	}
	until(t, w.off.wasOff)
}

// What is too long, in a body or a header, and too many streams are refused.
func TestTooMuch(t *testing.T) {
	x := newSite(t, &fakeWork{name: "launch"})
	cookie := x.enter()
	long := strings.Repeat("a", 2*mostBody)
	for _, c := range []struct{ path, body string }{
		{"/begin", "build=" + long}, {"/tell", "name=" + long}, {"/new", "name=" + long}, {"/answer", long},
		{"/answer", `{"question":1,"choice":"done","question":2}`}, {"/answer", `{"question":1,"choice":"done"`},
		{"/answer", ""},
	} {
		if a, _ := x.send(x.request("POST", c.path, c.body, cookie)); a.StatusCode < 400 || a.StatusCode >= 500 {
			t.Errorf("%s: %d", c.path, a.StatusCode)
		}
	}
	for i := range mostStreams + 1 {
		a, err := http.DefaultClient.Do(x.request("GET", "/stream", "", cookie))
		if err != nil {
			t.Fatal(err)
		}
		defer a.Body.Close()
		if want := map[bool]int{true: 503, false: 200}[i == mostStreams]; a.StatusCode != want {
			t.Errorf("stream %d: %d", i, a.StatusCode)
		}
	}
	if began, told, _ := x.work.count(); began != 0 || told != nil {
		t.Errorf("%d tests began, told %v", began, told)
	}
}
