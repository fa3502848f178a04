//go:build unix

package main

import (
	"crypto/sha256"
	"crypto/tls"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"sealworthy/cmd/sealworthy/identity"
)

// On a terminal a page that listens prints an address, the same as a code for a camera,
// and the words of the certificate that is really spoken there. "helper" prints a code
// with which nothing can be begun. Once more it shows the same certificate.
func TestListenOnATerminal(t *testing.T) {
	dir := tender(t)
	free, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	at := free.Addr().String()
	must(t, free.Close())
	home := t.TempDir()
	var words string
	for again := range 2 {
		p := command(t, "page", dir, "--simulated", "--no-open", "--listen="+at)
		p.cmd.Env = append(p.cmd.Env, "SEALWORTHY_HOME="+home)
		p.onTerminal()
		p.await("Enter prints new addresses")
		said := p.out.raw()
		address := regexp.MustCompile(`https://\S+`).FindString(said)
		var lines []string
		for _, m := range regexp.MustCompile("\x1b\\[30;47m([ █▀▄]+)\x1b\\[0m\r?\n").FindAllStringSubmatch(said, -1) {
			lines = append(lines, m[1])
		}
		if len(lines) == 0 {
			t.Fatalf("no code is drawn:\n%s", said)
		}
		if got := readLines(t, lines, false); got != address ||
			!strings.HasPrefix(address, "https://"+at+"/enter?code=") {
			t.Errorf("the code says %q, above it stands %q", got, address)
		}
		c, err := tls.Dial("tcp", at, &tls.Config{InsecureSkipVerify: true}) // the test looks itself
		must(t, err)
		leaf := c.ConnectionState().PeerCertificates[0]
		must(t, c.Close())
		must(t, leaf.VerifyHostname("127.0.0.1"))
		spoken := strings.Join(sixWords(leaf.Raw), "  ")
		if !strings.Contains(said, "Its six words: "+spoken) {
			t.Errorf("the certificate's words are %s; it says\n%s", spoken, said)
		}
		if made := strings.Contains(said, "a certificate was made"); made != (again == 0) || again == 1 &&
			spoken != words {
			t.Errorf("run %d: made %v, words %s, before %s", again, made, spoken, words)
		}
		words = spoken

		p.enter("helper")
		p.await("For a helper")
		p.await("six words")
		_, after, _ := strings.Cut(p.out.raw(), "For a helper")
		door, err := url.Parse(regexp.MustCompile(`https://\S+`).FindString(after))
		must(t, err)
		client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}}
		cookie := (*http.Cookie)(nil)
		for _, path := range []string{"/enter", "/begin"} {
			form := url.Values{"code": {door.Query().Get("code")}, "build": {buildID(dir)}, "verb": {"measure"}}
			r, err := http.NewRequestWithContext(t.Context(), "POST", "https://"+at+path,
				strings.NewReader(form.Encode()))
			must(t, err)
			r.Header.Set("Origin", "https://"+at)
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			if cookie != nil {
				r.AddCookie(cookie)
			}
			a, err := client.Do(r)
			must(t, err)
			must(t, a.Body.Close())
			if want := map[string]int{"/enter": 200, "/begin": 403}[path]; a.StatusCode != want {
				t.Fatalf("a helper's %s: %s", path, a.Status)
			}
			if path == "/enter" {
				cookie = a.Cookies()[0]
			}
		}
		p.typeAhead("\x03")
		if s := p.status(); s != exitReady {
			t.Errorf("status %d", s)
		}
	}
}

// sixWords are the words of a certificate, reckoned from the bits of its print one by one.
func sixWords(raw []byte) (out []string) {
	var bits strings.Builder
	for _, b := range sha256.Sum256(raw) {
		fmt.Fprintf(&bits, "%08b", b)
	}
	for i := range identity.HowMany {
		n := 0
		fmt.Sscanf(bits.String()[11*i:11*i+11], "%b", &n)
		out = append(out, identity.Word(n))
	}
	return out
}
