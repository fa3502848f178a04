package page

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"net"
	"net/http"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/cmd/sealworthy/identity"
)

// asked is a way to other devices that is opened when the page asks for it.
type asked struct {
	id    identity.Identity
	opens atomic.Int32
	last  atomic.Pointer[Beyond]
}

func newAsked(t testing.TB) *asked {
	t.Helper()
	id, _, err := identity.New(time.Now(), []string{"127.0.0.1"})
	if err != nil {
		t.Fatal(err)
	}
	return &asked{id: id}
}

func (a *asked) open() (*Beyond, error) {
	a.opens.Add(1)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	at := l.Addr().String()
	b := &Beyond{Listener: l, TLS: a.id.TLS(), Hosts: []string{at}, Address: "https://" + at, Words: a.id.Words(),
		Print: a.id.Print()}
	a.last.Store(b)
	return b, nil
}

// there is the page of another device.
func (a *asked) there(here *site) *site {
	trusted := x509.NewCertPool()
	trusted.AddCert(a.id.Leaf())
	b := a.last.Load()
	return &site{here.t, here.s, b.Hosts[0], here.work, b.names(), &http.Client{Transport: &http.Transport{
		TLSClientConfig: &tls.Config{RootCAs: trusted}, ForceAttemptHTTP2: true}}}
}

// codeIn is the code that a page shows to another device.
func codeIn(t testing.TB, src string) string {
	t.Helper()
	m := regexp.MustCompile(`enter\?code=([A-Z2-7]{26})`).FindStringSubmatch(src)
	if m == nil {
		t.Fatalf("no code in\n%s", src)
	}
	return m[1]
}

// The bench's own page lets another device in, over TLS with the six words, and keeps it out again: with what it
// holds it isn't let in any more, neither by its cookie nor by a code that was shown.
func TestATabletIsLetInFromThePage(t *testing.T) {
	a := newAsked(t)
	here := newSite(t, &fakeWork{name: "launch"}, func(o *Options) { o.Listen = a.open })
	cookie := here.enter()
	if _, src := here.send(here.request("GET", "/devices", "", cookie)); !strings.Contains(src, `action="/listen"`) ||
		strings.Contains(src, "sixwords") {
		t.Fatalf("before:\n%s", src)
	}
	r, src := here.send(here.request("POST", "/listen", "for=maker", cookie))
	if r.StatusCode != 200 || !strings.Contains(src, `<svg class="qr"`) || !strings.Contains(src, `action="/listen/end"`) {
		t.Fatalf("begun: %s\n%s", r.Status, src)
	}
	for _, w := range a.id.Words() {
		if !strings.Contains(src, "<li>"+w+"</li>") {
			t.Errorf("%s isn't there:\n%s", w, src)
		}
	}
	code := codeIn(t, src)
	x := a.there(here)
	if r, src := x.send(x.request("GET", Entry(code), "", "")); r.StatusCode != 200 || strings.Contains(src, "launch") ||
		!strings.Contains(src, a.id.Words()[0]) {
		t.Errorf("at its door: %s\n%s", r.Status, src)
	}
	tablet := x.comeIn(Maker)
	if r, _ := x.send(x.request("GET", "/", "", tablet)); r.StatusCode != 200 {
		t.Errorf("let in: %s", r.Status)
	}
	// It starts tests now, yet it lets nobody in and keeps nobody out: that is for the bench's own computer.
	for _, path := range []string{"/listen", "/listen/end"} {
		if r, src := x.send(x.request("POST", path, "for=maker", tablet)); r.StatusCode != 403 ||
			!strings.Contains(src, "own computer") {
			t.Errorf("the tablet, %s: %s\n%s", path, r.Status, src)
		}
	}
	if _, src := x.send(x.request("GET", "/devices", "", tablet)); strings.Contains(src, `action="/listen`) {
		t.Errorf("it's offered what is refused:\n%s", src)
	}
	if r, _ := here.send(here.request("POST", "/listen/end", "", cookie)); r.StatusCode != 403 {
		t.Errorf("a page that follows: %s", r.Status)
	}
	here.send(here.request("POST", leadPath, "", cookie))
	if r, _ := here.send(here.request("POST", "/listen", "for=helper", cookie)); r.StatusCode != 200 || a.opens.Load() != 1 {
		t.Errorf("once more: %s, opened %d times", r.Status, a.opens.Load())
	}
	if r, _ := here.send(here.request("POST", "/listen/end", "", cookie)); r.StatusCode != 303 {
		t.Fatalf("ended: %s", r.Status)
	}
	if c, err := net.Dial("tcp", x.at); err == nil {
		c.Close()
		t.Error("it's reached yet")
	}
	here.send(here.request("POST", "/listen", "for=maker", cookie))
	y := a.there(here)
	if r, _ := y.send(y.request("GET", "/", "", tablet)); r.StatusCode != 401 {
		t.Errorf("by its old cookie: %s", r.Status)
	}
	if r, _ := y.send(y.request("POST", doorPath, "code="+code, "")); r.StatusCode != 401 {
		t.Errorf("by an old code: %s", r.Status)
	}
	if r, _ := here.send(here.request("GET", "/", "", cookie)); r.StatusCode != 200 {
		t.Errorf("the bench's own page: %s", r.Status)
	}
}

// Nobody else opens the bench to other devices: no other site's form, no name that was made to point here, no
// stranger, no helper, no page that follows; not by a GET either.
func TestOnlyTheBenchsPageLetsOthersIn(t *testing.T) {
	a := newAsked(t)
	x := newSite(t, &fakeWork{name: "launch"}, func(o *Options) { o.Listen = a.open })
	follower := x.enter()
	leader := x.enter()
	r, _ := x.send(x.request("GET", Entry(x.s.keys.code(Helper)), "", ""))
	helper := r.Cookies()[0].Value
	for _, c := range []struct {
		name, method, cookie string
		with                 func(r *http.Request)
		status               int
	}{
		{"another site's form", "POST", leader, func(r *http.Request) {
			r.Header.Set("Origin", "https://evil.example")
			r.Header.Set("Sec-Fetch-Site", "cross-site")
		}, 403},
		{"another port's form", "POST", leader, func(r *http.Request) {
			r.Header.Set("Origin", "http://127.0.0.1:1")
			r.Header.Set("Sec-Fetch-Site", "same-site")
		}, 403},
		{"without where it comes from", "POST", leader, func(r *http.Request) { r.Header.Del("Origin") }, 403},
		{"a rebinding name", "POST", leader, func(r *http.Request) { r.Host = "evil.example" }, 421},
		{"a stranger", "POST", "", func(*http.Request) {}, 401},
		{"a helper", "POST", helper, func(*http.Request) {}, 403},
		{"a page that follows", "POST", follower, func(*http.Request) {}, 403},
		{"a link", "GET", leader, func(*http.Request) {}, 404},
		{"a frame", "GET", leader, func(r *http.Request) { r.Header.Set("Sec-Fetch-Dest", "iframe") }, 403},
	} {
		for _, path := range []string{"/listen", "/listen/end"} {
			q := x.request(c.method, path, "for=maker", c.cookie)
			c.with(q)
			if r, src := x.send(q); r.StatusCode != c.status && r.StatusCode != 405 || a.opens.Load() != 0 ||
				x.s.listening.at() != nil {
				t.Errorf("%s, %s: %s, opened %d times\n%s", c.name, path, r.Status, a.opens.Load(), src)
			}
		}
	}
	if r, _ := x.send(x.request("POST", "/listen", "for=maker", leader)); r.StatusCode != 200 || a.opens.Load() != 1 {
		t.Errorf("its own page: %s, opened %d times", r.Status, a.opens.Load())
	}
}

// What was opened from the page ends with the page's server, and isn't opened after it; what can't be opened says so.
func TestListeningEndsWithThePage(t *testing.T) {
	a := newAsked(t)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, end := context.WithCancel(t.Context())
	s, err := New(ctx, Options{Work: &fakeWork{name: "launch"}, Now: time.Now, Hosts: []string{l.Addr().String()},
		Listen: a.open})
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, l) }()
	if err := s.listen(); err != nil {
		t.Fatal(err)
	}
	c, err := net.Dial("tcp", a.last.Load().Hosts[0])
	if err != nil {
		t.Fatalf("it isn't reached: %v", err)
	}
	c.Close()
	end()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	if c, err := net.Dial("tcp", a.last.Load().Hosts[0]); err == nil {
		c.Close()
		t.Error("it's reached after the page's end")
	}
	if err := s.listen(); !errors.Is(err, errPageEnds) || a.opens.Load() != 1 {
		t.Errorf("after its end: %v, opened %d times", err, a.opens.Load())
	}
	x := newSite(t, &fakeWork{name: "launch"}, func(o *Options) {
		o.Listen = func() (*Beyond, error) { return nil, errors.New("this computer is in no network") }
	})
	if r, src := x.send(x.request("POST", "/listen", "for=maker", x.enter())); r.StatusCode != 422 ||
		!strings.Contains(src, "This computer is in no network") {
		t.Errorf("without a network: %s\n%s", r.Status, src)
	}
}
