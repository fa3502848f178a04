package page

import (
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"sealworthy/cmd/sealworthy/identity"
)

// newSiteBeyond is a site that is served beyond its computer, too. here is its page on
// this computer, there that of another device, whose browser takes the certificate.
func newSiteBeyond(t testing.TB, w *fakeWork) (here, there *site) {
	t.Helper()
	id, _, err := identity.New(time.Now(), []string{"127.0.0.1"})
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	at := l.Addr().String()
	b := &Beyond{Listener: l, TLS: id.TLS(), Hosts: []string{at, "workbench:1"}, Address: "https://" + at,
		Words: id.Words(), Print: id.Print()}
	here = newSite(t, w, func(o *Options) { o.Beyond = b })
	trusted := x509.NewCertPool()
	trusted.AddCert(id.Leaf())
	there = &site{t, here.s, at, w, b.names(), &http.Client{Transport: &http.Transport{
		TLSClientConfig: &tls.Config{RootCAs: trusted}, ForceAttemptHTTP2: true}}}
	return here, there
}

// comeIn lets another device in, as a person does who compared the words.
func (x *site) comeIn(role Role) string {
	x.t.Helper()
	a, src := x.send(x.request("POST", doorPath, "code="+x.s.keys.code(role), ""))
	for _, c := range a.Cookies() {
		if c.Name == x.names.cookieName() && c.HttpOnly && c.Secure && c.SameSite == http.SameSiteStrictMode &&
			c.Path == "/" && c.Domain == "" && strings.HasPrefix(c.Name, "__Host-") {
			return c.Value
		}
	}
	x.t.Fatalf("not let in: %s %v\n%s", a.Status, a.Cookies(), src)
	return ""
}

// Another device sees the six words first; its code is spent by the person's yes alone,
// not by what opens addresses for a look, and once.
func TestDoorBeyond(t *testing.T) {
	_, x := newSiteBeyond(t, &fakeWork{name: "launch"})
	code := x.s.keys.code(Maker)
	for range 3 {
		a, src := x.send(x.request("GET", Entry(code), "", ""))
		if a.StatusCode != 200 || len(a.Cookies()) > 0 || strings.Contains(src, "launch") {
			t.Fatalf("a look: %d %v\n%s", a.StatusCode, a.Cookies(), src)
		}
		for _, w := range x.s.o.Beyond.Words {
			if !strings.Contains(src, "<li>"+w+"</li>") {
				t.Errorf("%s isn't there:\n%s", w, src)
			}
		}
	}
	for i, want := range []int{200, 401} {
		if a, src := x.send(x.request("POST", doorPath, "code="+code, "")); a.StatusCode != want {
			t.Errorf("yes %d: %d\n%s", i, a.StatusCode, src)
		}
	}
	cookie := x.comeIn(Maker)
	if a, src := x.send(x.request("GET", "/", "", cookie)); a.StatusCode != 200 || !strings.Contains(src, "launch") {
		t.Errorf("let in: %d\n%s", a.StatusCode, src)
	}
	if a, _ := x.send(x.request("GET", "/", "", cookie)); a.ProtoMajor != 2 {
		t.Errorf("it speaks %s: each tab's stream takes a connection of six then", a.Proto)
	}
}

// What is attacked on this computer is beyond it, too: another name, another site's
// form, a name of the page on this computer, plain HTTP.
func TestOnlyItsOwnPagesBeyond(t *testing.T) {
	here, x := newSiteBeyond(t, &fakeWork{name: "launch"})
	cookie := x.comeIn(Maker)
	for _, c := range []struct {
		name, method, path string
		with               func(r *http.Request)
		status             int
	}{
		{"a rebinding name", "GET", "/", func(r *http.Request) { r.Host = "evil.example" }, 421},
		{"a rebinding name with its port", "GET", "/", func(r *http.Request) { r.Host = "evil.example:1" }, 421},
		{"a rebinding name's form", "POST", "/begin", func(r *http.Request) {
			r.Host = "evil.example"
			r.Header.Set("Origin", "https://evil.example")
		}, 421},
		{"a name of the page on its own computer", "GET", "/", func(r *http.Request) { r.Host = here.at }, 421},
		{"its own name, without the port", "GET", "/", func(r *http.Request) { r.Host = "workbench" }, 421},
		{"another site's form", "POST", "/begin", func(r *http.Request) {
			r.Header.Set("Origin", "https://evil.example")
			r.Header.Set("Sec-Fetch-Site", "cross-site")
		}, 403},
		{"its own form, sent without TLS", "POST", "/begin", func(r *http.Request) {
			r.Header.Set("Origin", "http://"+x.at)
		}, 403},
		{"the form of the page on its own computer", "POST", "/begin", func(r *http.Request) {
			r.Header.Set("Origin", "http://"+here.at)
		}, 403},
		{"no cookie", "GET", "/bench", func(r *http.Request) { r.Header.Del("Cookie") }, 401},
		{"a cookie under the name of this computer's page", "GET", "/bench", func(r *http.Request) {
			r.Header.Set("Cookie", here.names.cookieName()+"="+cookie)
		}, 401},
	} {
		r := x.request(c.method, c.path, "build=b1&verb=measure", cookie)
		c.with(r)
		a, src := x.send(r)
		if a.StatusCode != c.status || strings.Contains(src, "launch") || len(a.Cookies()) > 0 {
			t.Errorf("%s: %d, want %d\n%s", c.name, a.StatusCode, c.status, src)
		}
	}
	if began, told, _ := x.work.count(); began != 0 || told != nil {
		t.Errorf("%d tests began, told %v", began, told)
	}
}

// Plain HTTP at the port of TLS gets nothing, whatever it asks; nor does TLS at the port
// of this computer's page.
func TestPlainAtTLS(t *testing.T) {
	here, x := newSiteBeyond(t, &fakeWork{name: "launch"})
	cookie := x.comeIn(Maker)
	for _, ask := range []string{
		"GET / HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\n\r\n",
		"POST /stop HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\nContent-Length: 0\r\n\r\n",
		"GET " + Entry(x.s.Code()) + " HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\n\r\n",
	} {
		c, err := net.Dial("tcp", x.at)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(c, ask, x.at, x.names.cookieName(), cookie)
		got, err := io.ReadAll(c)
		_ = c.Close()
		if err != nil || !strings.HasPrefix(string(got), "HTTP/1.0 400 ") || strings.Contains(string(got), "launch") ||
			strings.Contains(string(got), "Set-Cookie") {
			t.Errorf("%v: %q", err, got)
		}
	}
	if _, err := x.client.Get("https://" + here.at + "/"); err == nil {
		t.Error("TLS is spoken on this computer")
	}
	if _, err := http.Get("https://" + x.at + "/"); err == nil {
		t.Error("a browser that wasn't told to takes the certificate")
	}
}

// routes are all that this package serves by a method, read from its source: none that
// is added is forgotten.
func routes(t *testing.T, method string) []string {
	t.Helper()
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	named := map[string]string{"doorPath": doorPath, "leadPath": leadPath, "path": "set"}
	pattern := regexp.MustCompile(`"` + method + ` (/[^"]*)?"(?:\+(\w+))?`)
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		src, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range pattern.FindAllStringSubmatch(string(src), -1) {
			path := m[1]
			if m[2] != "" {
				if path += named[m[2]]; named[m[2]] == "" {
					t.Fatalf("%s: %s isn't known here", f, m[2])
				}
			}
			out = append(out, strings.NewReplacer("{id}", "b1", "{$}", "").Replace(path))
		}
	}
	if len(out) < 5 {
		t.Fatalf("%s: %v", method, out)
	}
	return out
}

// A helper's page looks, photographs and STOPs. Whatever else it sends, by whatever
// path, does nothing; nor does it lead, make codes, or keep a test going by being seen.
func TestHelperEscalates(t *testing.T) {
	w := &fakeWork{name: "launch", off: newFakeSupply(nil)}
	here, x := newSiteBeyond(t, w)
	maker, helper := here.enter(), x.comeIn(Helper)
	may := map[string]bool{"/stop": true, "/seen": true, "/build/b1/photo": true, doorPath: true}
	body := "build=b1&verb=measure&kind=touched&nothing=1&name=x&for=maker&line=open&code=x"
	for _, path := range routes(t, "POST") {
		a, src := x.send(x.request("POST", path, body, helper))
		if refused := a.StatusCode == http.StatusForbidden; refused == may[path] {
			t.Errorf("%s: %d\n%s", path, a.StatusCode, src)
		}
	}
	for _, c := range []struct {
		path, body string
		with       func(*http.Request)
	}{
		{"/answer", `{"stop":true}`, func(*http.Request) {}},
		{"/answer", `{"question":1,"choice":"done"}`, func(*http.Request) {}},
		{"/begin?x=/stop", body, func(*http.Request) {}}, {"/stop/../begin", body, func(*http.Request) {}},
		{"/build/b1/plan/photo", body, func(*http.Request) {}}, {"//begin", body, func(*http.Request) {}},
		{"/begin", body, func(r *http.Request) { r.Header.Set("X-HTTP-Method-Override", "GET") }},
		{"/begin", body, func(r *http.Request) { r.Method = "PUT" }},
		{"/begin", body, func(r *http.Request) { r.Header.Set("Sec-Fetch-Mode", "cors") }},
		{"/begin", body, func(r *http.Request) {
			r.AddCookie(&http.Cookie{Name: here.names.cookieName(), Value: maker})
		}},
	} {
		r := x.request("POST", c.path, c.body, helper)
		c.with(r)
		if a, src := x.send(r); a.StatusCode != http.StatusForbidden {
			t.Errorf("%s %s %s: %d\n%s", r.Method, c.path, c.body, a.StatusCode, src)
		}
	}
	for _, path := range routes(t, "GET") { // to look changes nothing
		if path != "/stream" {
			x.send(x.request("GET", path+"?build=b1&verb=measure", body, helper))
		}
	}
	if began, told, _ := w.count(); began != 0 || told != nil {
		t.Errorf("%d tests began, told %v", began, told)
	}
	if x.s.keys.standing(helper) != helps || x.s.keys.standing(maker) != leads {
		t.Errorf("the helper %s, the maker %s", x.s.keys.standing(helper), x.s.keys.standing(maker))
	}
	if len(x.s.keys.codes) > 0 {
		t.Errorf("%d codes were made", len(x.s.keys.codes))
	}
	x.send(x.request("POST", "/seen", "", helper))
	if x.s.watch.Watched() {
		t.Error("what a helper sees keeps a test going")
	}
	here.send(here.request("POST", "/seen", "", maker))
	if !x.s.watch.Watched() {
		t.Error("what the maker sees doesn't")
	}
	here.send(here.request("POST", "/begin", "build=b1&verb=measure", maker))
	until(t, func() bool { _, _, d := w.count(); return d != nil })
	x.send(x.request("POST", "/stop", "", helper))
	until(t, w.off.wasOff)
}

// Only one page starts: the maker's that came in last. The one before may look and STOP,
// and takes over by one touch; then the other one may not.
func TestOneStarts(t *testing.T) {
	w := &fakeWork{name: "launch"}
	here, x := newSiteBeyond(t, w)
	first := here.enter()
	second := x.comeIn(Maker)
	begin := func(x *site, cookie string) (int, string) {
		a, src := x.send(x.request("POST", "/begin", "build=b1&verb=measure", cookie))
		return a.StatusCode, src
	}
	s, src := begin(here, first)
	if s != 403 || !strings.Contains(src, "Take over here") || !strings.Contains(src, `id="stop"`) {
		t.Errorf("the first, after the second came: %d\n%s", s, src)
	}
	if _, src := here.send(here.request("GET", "/role.css", "", first)); !strings.Contains(src, ".forfollower { d") {
		t.Errorf("it doesn't offer to take over: %s", src)
	}
	if a, _ := here.send(here.request("POST", leadPath, "", first)); a.StatusCode != 303 {
		t.Errorf("taking over: %d", a.StatusCode)
	}
	if s, _ := begin(x, second); s != 403 {
		t.Errorf("the second then: %d", s)
	}
	if s, src := begin(here, first); s != 303 {
		t.Errorf("the first then: %d\n%s", s, src)
	}
	if _, src := x.send(x.request("GET", "/role.css", "", x.comeIn(Helper))); !strings.Contains(src,
		".forhelper { d") {
		t.Errorf("a helper's style: %s", src)
	}
}

// A QR code in a terminal says the address, dark on light and light on dark.
func TestQRLines(t *testing.T) {
	const text = "https://192.0.2.7:58443/enter?code=ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	dark, err := QRLines(text, false)
	if err != nil {
		t.Fatal(err)
	}
	bright, err := QRLines(text, true)
	if err != nil {
		t.Fatal(err)
	}
	other := strings.NewReplacer("█", " ", " ", "█", "▀", "▄", "▄", "▀")
	for i := range dark {
		if n := len([]rune(dark[i])); n > 45 || n != len([]rune(dark[0])) {
			t.Errorf("line %d has %d columns", i, n)
		}
		if bright[i] != other.Replace(dark[i]) {
			t.Errorf("line %d: %q, light on dark %q", i, dark[i], bright[i])
		}
	}
	if len(dark) > 23 {
		t.Errorf("%d lines", len(dark))
	}
}
