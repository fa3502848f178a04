package page

import (
	"net"
	"net/http"
	"slices"
	"strings"
)

// names are those that a listener is reached under.
type names struct {
	hosts  []string // "127.0.0.1:8765", as a browser names them
	secure bool     // over TLS
	beyond bool     // from other devices
}

func (o Options) names() names { return names{hosts: o.Hosts, secure: o.Secure} }

// cookieName is that of the cookie that lets a browser in. A browser sends a cookie to
// every port of its host, so each server's has a name of its own: two pages on one
// computer would take each other's otherwise. Over TLS its name keeps all but this very
// host from setting it (RFC 6265bis, 4.1.3.2).
func (n names) cookieName() string {
	name := "sealworthy"
	for _, h := range n.hosts {
		if _, port, err := net.SplitHostPort(h); err == nil {
			name += "-" + port
			break
		}
	}
	if n.secure {
		name = "__Host-" + name
	}
	return name
}

// mostBody is how much a request may bring, bytes: an answer, a form.
const mostBody = 64 << 10

// policy lets a page load and do nothing but what comes from this server. Workers,
// streams and pictures are its own, too; nothing may frame it.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// asNamed are the names as browsers give them: the port of the scheme itself is left out.
func (n names) asNamed() []string {
	usual := ":80"
	if n.secure {
		usual = ":443"
	}
	out := slices.Clone(n.hosts)
	for _, h := range n.hosts {
		if short, ok := strings.CutSuffix(h, usual); ok {
			out = append(out, short)
		}
	}
	return out
}

// fence lets through what comes from a page of this server, under one of its names,
// from a browser that was let in and may have it done.
type fence struct {
	names  names
	hosts  []string // as browsers give them
	keys   *keys
	cross  *http.CrossOriginProtection
	next   http.Handler
	refuse func(w http.ResponseWriter, status int, what, todo string)  // to who isn't let in
	forbid func(w http.ResponseWriter, r *http.Request, from standing) // to who may not
}

func (f fence) scheme() string {
	if f.names.secure {
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
	if !bringsPhoto(r) { // that has a bound of its own
		r.Body = http.MaxBytesReader(w, r.Body, mostBody)
	}
	v := visit{f.names, f.standing(r)}
	r = v.with(r)
	if v.standing != stranger {
		keepsOpen(r) // its connection stays in a flood of others
	}
	switch {
	case r.URL.Path == doorPath, r.URL.Path == doorStyle && v.standing == stranger:
	case v.standing == stranger:
		f.refuse(w, http.StatusUnauthorized, "This browser wasn't let in yet.",
			"Open the address that the program printed where it was started. It is good once; Enter there prints a "+
				"new one.")
		return
	case !v.standing.may(r):
		f.forbid(w, r, v.standing)
		return
	}
	f.next.ServeHTTP(w, r)
}

// doorStyle is what the door looks like: it's shown to strangers.
const doorStyle = "/static/page.css"

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

func (f fence) standing(r *http.Request) standing {
	c, err := r.Cookie(f.names.cookieName())
	if err != nil {
		return stranger
	}
	return f.keys.standing(c.Value)
}
