package page

import (
	"net"
	"net/http"
)

// doorPath is where a code is swapped for a cookie.
const doorPath = "/enter"

// door takes whoever comes with a code in the address. On this computer it's swapped at
// once. From another device it isn't yet: what reads codes for people opens their
// addresses, too, and a person should see first whether it's the right bench.
func (s *Server) door(w http.ResponseWriter, r *http.Request) {
	code := r.URL.Query().Get("code")
	switch x := visitOf(r).standing; {
	case x == leads, x == follows, x == helps && code == "":
		s.show(w, http.StatusOK, "door", s.firstPage())
	case visitOf(r).names.beyond:
		if b := s.listening.at(); b != nil { // else it's ended just now
			s.show(w, http.StatusOK, "arrived", arrived{*b, code})
		}
	default:
		s.enter(w, r, code)
	}
}

// arrived is what is shown to a device that came with a code.
type arrived struct {
	Beyond
	Code string
}

// comeIn takes the code of a device whose person saw that it's the right bench.
func (s *Server) comeIn(w http.ResponseWriter, r *http.Request) {
	if s.form(w, r) {
		s.enter(w, r, r.PostForm.Get("code"))
	}
}

// enter swaps the code for a cookie, which no other site's page sends. It answers with
// a page of its own that goes on: a cookie of the strict kind isn't sent along a
// redirect that began elsewhere.
func (s *Server) enter(w http.ResponseWriter, r *http.Request, code string) {
	from, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		from = r.RemoteAddr // it's counted all the same
	}
	cookie, what := s.keys.swap(code, from, visitOf(r).names.beyond)
	switch what {
	case letIn:
	case barred:
		s.turnAway(w, http.StatusTooManyRequests, "Too many codes were wrong.",
			"Wait a minute, then use the address that the program printed.")
		return
	case full:
		s.turnAway(w, http.StatusTooManyRequests, "Too many browsers were let in.",
			"End the program and start it anew.")
		return
	default:
		s.turnAway(w, http.StatusUnauthorized, "This address isn't good any more.",
			"Each is good once, for a quarter of an hour. Press Enter where the program runs: it prints a new one.")
		return
	}
	n := visitOf(r).names
	http.SetCookie(w, &http.Cookie{
		Name: n.cookieName(), Value: cookie, Path: "/", HttpOnly: true, Secure: n.secure,
		SameSite: http.SameSiteStrictMode,
	})
	s.show(w, http.StatusOK, "door", s.firstPage())
}

// firstPage is where whoever was let in goes on: to the test that is under way, else to
// the build that was named, else to the list.
func (s *Server) firstPage() string {
	s.watch.mu.Lock()
	running := s.watch.state.Running
	s.watch.mu.Unlock()
	switch {
	case running:
		return "/bench"
	case s.o.First != "":
		return "/build/" + s.o.First
	}
	return "/"
}
