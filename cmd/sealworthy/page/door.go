package page

import "net/http"

// doorPath is where a code is swapped for a cookie.
const doorPath = "/enter"

// door swaps the code in the address for a cookie, which no other site's page sends.
// It answers with a page of its own that goes on: a cookie of the strict kind isn't
// sent along a redirect that began elsewhere.
func (s *Server) door(w http.ResponseWriter, r *http.Request) {
	if c, err := r.Cookie(s.o.cookieName()); err == nil && s.keys.guest(c.Value) {
		s.show(w, http.StatusOK, "door", s.firstPage())
		return
	}
	cookie, what := s.keys.swap(r.URL.Query().Get("code"))
	switch what {
	case letIn:
	case barred:
		s.refuse(w, http.StatusTooManyRequests, "Too many codes were wrong.",
			"Wait a minute, then use the address that the program printed.")
		return
	case full:
		s.refuse(w, http.StatusTooManyRequests, "Too many browsers were let in.", "End the program and start it anew.")
		return
	default:
		s.refuse(w, http.StatusUnauthorized, "This address isn't good any more.",
			"Each is good once, for a quarter of an hour. Press Enter where the program runs: it prints a new one.")
		return
	}
	http.SetCookie(w, &http.Cookie{
		Name: s.o.cookieName(), Value: cookie, Path: "/", HttpOnly: true, Secure: s.o.Secure,
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
