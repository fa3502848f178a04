package page

import (
	"context"
	"net/http"
)

// Role is whom a code is for.
type Role string

// The roles.
const (
	Maker  Role = "maker"  // starts tests and answers, from one page at a time
	Helper Role = "helper" // looks, photographs and STOPs
)

// standing is what a browser may have done.
type standing string

const (
	stranger standing = ""        // it wasn't let in
	helps    standing = "helps"   // a helper's
	follows  standing = "follows" // a maker's, while another one starts
	leads    standing = "leads"   // the one that starts
)

// may tells what a browser of that standing may have done. Whoever was let in may look;
// a helper may photograph and STOP besides; a maker's page that doesn't lead may take
// over; all else is for the one that leads.
func (x standing) may(r *http.Request) bool {
	if x == leads || r.Method == http.MethodGet || r.Method == http.MethodHead {
		return x != stranger
	}
	switch p := r.URL.Path; {
	case p == "/stop", p == "/seen": // only what the leading page sees counts
		return x != stranger
	case bringsPhoto(r):
		return x != stranger
	case p == leadPath:
		return x == follows
	}
	return false
}

// mayTouchPorts: to list ports may open them, so only the page that starts tests has it done.
func (x standing) mayTouchPorts() bool { return x == leads }

// notMay says why something isn't done, and what to do.
func (x standing) notMay() (what, todo string) {
	if x == follows {
		return "Another page starts tests now.", "Nothing was done. Take over here, then do it once more."
	}
	return "This is a helper's page.", "It may look, photograph and STOP. Nothing was done."
}

// visit is what the fence found out about a request.
type visit struct {
	names    names
	standing standing
}

type visitKey struct{}

func (v visit) with(r *http.Request) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), visitKey{}, v))
}

func visitOf(r *http.Request) visit {
	v, _ := r.Context().Value(visitKey{}).(visit)
	return v
}

// leadPath is where a maker's page takes over.
const leadPath = "/lead"

// lead lets a maker's page take over: it starts and answers from now on, and a test
// goes on only while it's to be seen there.
func (s *Server) lead(w http.ResponseWriter, r *http.Request) {
	if c, err := r.Cookie(visitOf(r).names.cookieName()); err == nil {
		s.keys.lead(c.Value)
	}
	http.Redirect(w, r, "/bench", http.StatusSeeOther)
}

// role is a style that shows a page as its standing has it: what would be refused isn't
// offered.
func (s *Server) role(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/css; charset=utf-8")
	switch visitOf(r).standing {
	case helps:
		_, _ = w.Write([]byte(".forhelper { display: block; }\n" +
			"main form:not(.photo), main .ask .ways:not(form.photo .ways), main .ask " +
			"details:not(:has(form.photo)),\n" +
			"main :is(input, label):is([form], :has([form])), main a[href$='/plan'],\n" +
			"main section:not(.ask):has(form:not(.photo)):not(:has(.closure, form.photo)) { display: none; }\n"))
	case follows:
		_, _ = w.Write([]byte(".forfollower { display: flex; }\n"))
	}
}
