//go:build unix

package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"html"
	"io"
	"maps"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
)

// follower is a browser without a window: it was let in by a code, follows the stream, answers
// its beat, and holds what each region of the page says.
type follower struct {
	t      *testing.T
	at     string
	cookie *http.Cookie

	mu      sync.Mutex
	regions map[string]string
}

// asks asks the page's program for something; 0: it isn't there.
func (f *follower) asks(method, path, body string) (status int, answer string) {
	f.t.Helper()
	r, err := http.NewRequestWithContext(f.t.Context(), method, "http://"+f.at+path, strings.NewReader(body))
	must(f.t, err)
	r.Header.Set("Origin", "http://"+f.at)
	if !strings.HasPrefix(body, "{") {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if f.cookie != nil {
		r.AddCookie(f.cookie)
	}
	a, err := (&http.Client{CheckRedirect: func(*http.Request, []*http.Request) error {
		return http.ErrUseLastResponse
	}}).Do(r)
	if err != nil {
		return 0, err.Error()
	}
	defer a.Body.Close()
	for _, c := range a.Cookies() {
		f.cookie = c
	}
	src, _ := io.ReadAll(a.Body)
	return a.StatusCode, string(src)
}

// follow holds the stream until it ends.
func (f *follower) follow() (ended <-chan struct{}) {
	f.t.Helper()
	r, err := http.NewRequestWithContext(f.t.Context(), "GET", "http://"+f.at+"/stream", nil)
	must(f.t, err)
	r.AddCookie(f.cookie)
	a, err := http.DefaultClient.Do(r)
	must(f.t, err)
	over := make(chan struct{})
	go func() {
		defer close(over)
		defer a.Body.Close()
		event := ""
		s := bufio.NewScanner(a.Body)
		s.Buffer(nil, 1<<20)
		for s.Scan() {
			if e, ok := strings.CutPrefix(s.Text(), "event: "); ok {
				event = e
			}
			data, ok := strings.CutPrefix(s.Text(), "data: ")
			switch {
			case !ok:
			case event == "beat":
				f.asks("POST", "/seen", "")
			case event == "told":
				var told struct{ Regions map[string]string }
				if json.Unmarshal([]byte(data), &told) != nil {
					return
				}
				f.mu.Lock()
				maps.Copy(f.regions, told.Regions)
				f.mu.Unlock()
			}
		}
	}()
	return over
}

var markup = regexp.MustCompile(`<[^>]*>`)

// says is a region in words.
func (f *follower) says(region string) string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return strings.Join(strings.Fields(html.UnescapeString(markup.ReplaceAllString(f.regions[region], " "))), " ")
}

// await waits until a region says something.
func (f *follower) await(region, words string) {
	f.t.Helper()
	for end := time.Now().Add(patience); !strings.Contains(f.says(region), words); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			f.t.Fatalf("%s never says %q; it says %q", region, words, f.says(region))
		}
	}
}

// answers gives an answer to the question of a kind, once it could be read.
func (f *follower) answers(kind, choice string) {
	f.t.Helper()
	asked := regexp.MustCompile(`data-question="(\d+)" data-kind="` + kind + `"`)
	var m []string
	for end := time.Now().Add(patience); m == nil; time.Sleep(5 * time.Millisecond) {
		f.mu.Lock()
		m = asked.FindStringSubmatch(f.regions["ask"])
		f.mu.Unlock()
		if time.Now().After(end) {
			f.t.Fatalf("%s is never asked: %s", kind, f.says("ask"))
		}
	}
	time.Sleep(tooSoon + tooSoon/4)
	if s, why := f.asks("POST", "/answer", fmt.Sprintf(`{"question":%s,"choice":%q}`, m[1], choice)); s != 204 {
		f.t.Fatalf("%s: %d %s", choice, s, why)
	}
}

// letIn is a browser that uses the address which a program has printed.
func letIn(t *testing.T, m *process, cookie *http.Cookie) *follower {
	t.Helper()
	m.await("good once: http://")
	door, err := url.Parse(regexp.MustCompile(`http://\S+`).FindString(m.out.raw()))
	must(t, err)
	f := &follower{t: t, at: door.Host, cookie: cookie, regions: map[string]string{}}
	if cookie != nil { // of the one that was killed
		if s, _ := f.asks("GET", "/bench", ""); s != http.StatusUnauthorized {
			t.Errorf("with the cookie of a program that is gone: %d", s)
		}
	}
	if s, why := f.asks("GET", door.RequestURI(), ""); s != http.StatusOK || f.cookie == nil {
		t.Fatalf("%d: %s", s, why)
	}
	return f
}

// The page's program is killed in the middle of a step and started anew on its port: the
// browser comes in by the new address; the output, which the killed one couldn't switch off, is
// off before anything else; what was measured stays, and the test goes on where it stopped.
func TestPageProgramKilledAndStartedAnew(t *testing.T) {
	t.Parallel()
	dir, r := putUpBench(t)
	free, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	_, port, err := net.SplitHostPort(free.Addr().String())
	must(t, err)
	must(t, free.Close())
	serve := func() *process {
		return start(t, append([]string{"page", dir, "--no-open", "--port", port}, r.ports(true)...)...)
	}
	begin := url.Values{"build": {buildID(dir)}, "verb": {"measure"}, "closure": {"hull"}, "noproof": {"1"},
		"short": {"1"}}

	m := serve()
	f := letIn(t, m, nil)
	ended := f.follow()
	if s, why := f.asks("POST", "/begin", begin.Encode()); s != http.StatusSeeOther {
		t.Fatalf("%d: %s", s, why)
	}
	f.await("last", "stern light")
	f.await("group", "cabin lamps")
	f.await("output", "OUTPUT ON")
	m.signal(syscall.SIGKILL)
	m.status()
	<-ended // a browser says NOT KNOWN then
	if s, _ := f.asks("GET", "/bench", ""); s != 0 {
		t.Errorf("a killed program answers: %d", s)
	}
	before := recorded(t, dir)

	again := letIn(t, serve(), f.cookie)
	again.follow()
	begin.Set("how", "resume")
	if s, why := again.asks("POST", "/begin", begin.Encode()); s != http.StatusSeeOther {
		t.Fatalf("%d: %s", s, why)
	}
	again.await("log", capture.FoundOn)
	again.await("output", "OUTPUT OFF")
	again.await("rows", "stern light in band")
	again.answers("touched", "nothing")
	again.await("last", "cabin lamps")
	if s, _ := again.asks("POST", "/stop", ""); s != http.StatusSeeOther {
		t.Errorf("STOP: %d", s)
	}
	again.await("stopped", "off (read back)")
	again.await("output", "NO TEST")

	if !strings.HasPrefix(recorded(t, dir), before[:strings.LastIndex(before, "\n")+1]) { // but for a torn line
		t.Error("what was kept isn't at the head of the record any more")
	}
	folded, err := record.ReadDir(dir)
	if err != nil || len(folded.Damage) > 0 {
		t.Fatalf("%+v, %v", folded.Damage, err)
	}
	measured := map[string]int{}
	for _, s := range folded.Steps {
		if s.Outcome == capture.Measured && s.Step.Kind == capture.Power {
			measured[s.Step.Feed]++
		}
	}
	if len(measured) != 2 || measured["stern light"] != 1 || measured["cabin lamps"] != 1 {
		t.Errorf("measured: %v", measured)
	}
	if e := r.ends(); e.Output != "output off" {
		t.Errorf("the output was left: %s", e.Output)
	}
}
