package page

import (
	"net"
	"net/http"
	"slices"
	"strings"
)

// cookieName is that of the cookie that lets a browser in. A browser sends a cookie to
// every port of its host, so each server's has a name of its own: two pages on one
// computer would take each other's otherwise.
func (o Options) cookieName() string {
	for _, h := range o.Hosts {
		if _, port, err := net.SplitHostPort(h); err == nil {
			return "sealworthy-" + port
		}
	}
	return "sealworthy"
}

// mostBody is how much a request may bring, bytes: an answer, a form.
const mostBody = 64 << 10

// policy lets a page load and do nothing but what comes from this server. Workers,
// streams and pictures are its own, too; nothing may frame it.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// asNamed are the names as browsers give them: the port of the scheme itself is left out.
func (o Options) asNamed() []string {
	usual := ":80"
	if o.Secure {
		usual = ":443"
	}
	out := slices.Clone(o.Hosts)
	for _, h := range o.Hosts {
		if short, ok := strings.CutSuffix(h, usual); ok {
			out = append(out, short)
		}
	}
	return out
}

// fence lets through what comes from a page of this server, under one of its names,
// from a browser that was let in.
type fence struct {
	hosts  []string // "127.0.0.1:8765", as a browser names them
	secure bool
	cookie string // the name of the cookie that lets in
	keys   *keys
	cross  *http.CrossOriginProtection
	next   http.Handler
	refuse func(w http.ResponseWriter, status int, what, todo string)
}

func (f fence) scheme() string {
	if f.secure {
		return "https://"
	}
	return "http://"
}

func (f fence) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "same-origin") // none at all would hide the origin of its own forms
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	switch {
	case !slices.Contains(f.hosts, strings.ToLower(r.Host)):
		// A name that was made to point here: its pages are somebody else's.
		f.refuse(w, http.StatusMisdirectedRequest, "This name isn't one of this bench.",
			"Use the address that the program printed.")
		return
	case f.cross.Check(r) != nil, !f.own(r):
		f.refuse(w, http.StatusForbidden, "This came from another site.",
			"Nothing was done. Use the bench's own page.")
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, mostBody)
	if r.URL.Path != doorPath && !f.letIn(r) {
		f.refuse(w, http.StatusUnauthorized, "This browser wasn't let in yet.",
			"Open the address that the program printed where it was started. It is good once; Enter there prints a "+
				"new one.")
		return
	}
	f.next.ServeHTTP(w, r)
}

// own: as far as the browser tells, a request comes from a page of this server, or
// was typed or opened from outside as a page of its own. What changes something must
// say where it comes from.
func (f fence) own(r *http.Request) bool {
	if o := r.Header.Get("Origin"); o != "" {
		if !slices.Contains(f.hosts, strings.TrimPrefix(strings.ToLower(o), f.scheme())) {
			return false
		}
	} else if r.Method != http.MethodGet && r.Method != http.MethodHead {
		return false
	}
	switch r.Header.Get("Sec-Fetch-Dest") {
	case "iframe", "frame", "embed", "object", "fencedframe":
		return false
	}
	switch r.Header.Get("Sec-Fetch-Site") {
	case "cross-site", "same-site": // another port of this host is another site
		return r.Method == http.MethodGet && r.Header.Get("Sec-Fetch-Mode") == "navigate"
	}
	return true
}

func (f fence) letIn(r *http.Request) bool {
	c, err := r.Cookie(f.cookie)
	return err == nil && f.keys.guest(c.Value)
}
