package page

import (
	"bufio"
	"context"
	"crypto/tls"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

// Codes can't be guessed, and who tries shuts the door for nobody else: that of the
// address which sent them wrong is shut for a minute.
func TestTriesFromElsewhere(t *testing.T) {
	now := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	s, err := New(t.Context(), Options{Work: &fakeWork{name: "launch"}, Now: func() time.Time { return now },
		Hosts: []string{"127.0.0.1:1"}, Beyond: &Beyond{Hosts: []string{"192.0.2.7:58443"}}})
	if err != nil {
		t.Fatal(err)
	}
	h := s.fenced(s.o.Beyond.names())
	try := func(from, code string) int {
		r := httptest.NewRequest("POST", "https://192.0.2.7:58443"+doorPath, strings.NewReader("code="+code))
		r.RemoteAddr = from
		r.Header.Set("Origin", "https://192.0.2.7:58443")
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w.Code
	}
	for i := range 200 {
		want := map[bool]int{true: 401, false: 429}[i < mostWrong]
		if s := try(fmt.Sprintf("192.0.2.66:%d", 1000+i), fmt.Sprintf("%026d", i)); s != want {
			t.Fatalf("try %d: %d, want %d", i, s, want)
		}
	}
	if c := try("192.0.2.66:1", s.keys.code(Helper)); c != 429 {
		t.Errorf("a good one from there: %d", c)
	}
	if c := try("192.0.2.8:1", s.keys.code(Helper)); c != 200 {
		t.Errorf("a good one from elsewhere: %d", c)
	}
	now = now.Add(closedFor + time.Second)
	if c := try("192.0.2.66:1", s.keys.code(Helper)); c != 200 {
		t.Errorf("a minute later: %d", c)
	}
	for i := range 3 * mostSources { // what is held of those who try is bounded
		try(fmt.Sprintf("198.51.100.%d:1", i%250), fmt.Sprint(i))
		s.keys.wrong(fmt.Sprint(i), now)
	}
	if n := len(s.keys.tries); n > mostSources {
		t.Errorf("%d addresses are counted", n)
	}
}

// Over HTTP/2, too, who takes nothing is dropped, and holds nobody else up.
func TestSlowReaderBeyond(t *testing.T) {
	_, x := newSiteBeyond(t, &fakeWork{name: "launch"})
	cookie := x.comeIn(Maker)
	a, err := x.client.Do(x.request("GET", "/stream", "", cookie)) // its body isn't read
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	until(t, func() bool { return x.s.streams.Load() == 1 })
	long := strings.Repeat("never read ", 20000)
	i := 0
	until(t, func() bool {
		i++
		x.s.watch.change(func(s *State) { s.Result, s.Over = fmt.Sprint(long, i), overNow() })
		if a, _ := x.send(x.request("GET", "/role.css", "", cookie)); a.StatusCode != 200 {
			t.Fatalf("another page: %d", a.StatusCode)
		}
		return x.s.streams.Load() == 0
	})
}

// A flood of strangers, who open connections, speak TLS on them, ask something and stay,
// keeps nobody out: a STOP gets through on a connection of its own.
func TestFloodBeyond(t *testing.T) {
	w := &fakeWork{name: "launch", off: newFakeSupply(nil)}
	here, x := newSiteBeyond(t, w)
	maker, helper := here.enter(), x.comeIn(Helper)
	here.send(here.request("POST", "/begin", "build=b1&verb=measure", maker))
	until(t, func() bool { _, _, d := w.count(); return d != nil })
	for i := range 2 * mostConns {
		c, err := net.Dial("tcp", x.at)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		if i < 10 {
			continue // says nothing
		}
		s := tls.Client(c, &tls.Config{InsecureSkipVerify: true})
		if s.Handshake() != nil {
			continue // it made room
		}
		fmt.Fprintf(s, "GET / HTTP/1.1\r\nHost: %s\r\n\r\n", x.at)
		_, _ = http.ReadResponse(bufio.NewReader(s), nil)
	}
	x.client = &http.Client{Transport: x.client.Transport.(*http.Transport).Clone()}
	r := x.request("POST", "/stop", "", helper)
	r.Header.Set("Accept", "application/json")
	if a, _ := x.send(r); a.StatusCode != http.StatusNoContent {
		t.Errorf("STOP: %d", a.StatusCode)
	}
	until(t, w.off.wasOff)
}

// Started without a window, it ends once no page has been open for a while; not while one
// is, nor while a test is under way.
func TestAlone(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	o := Options{Work: &fakeWork{name: "launch"}, Now: time.Now, Hosts: []string{l.Addr().String()},
		Alone: 200 * time.Millisecond}
	s, err := New(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	s.streams.Add(1) // a page
	go func() { ended <- s.Serve(context.WithoutCancel(t.Context()), l) }()
	stays := func(why string) {
		t.Helper()
		select {
		case err := <-ended:
			t.Fatalf("it ended while %s: %v", why, err)
		case <-time.After(3 * o.Alone):
		}
	}
	stays("a page was open")
	if err := s.bench.begin(Order{Build: "b1"}, Overview{}); err != nil {
		t.Fatal(err)
	}
	s.streams.Add(-1)
	stays("a test was under way")
	s.bench.stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}
