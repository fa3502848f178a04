package page

import (
	"errors"
	"net/http"
	"sync"

	"sealworthy/instruments"
)

// listening is how the page is served beyond its own computer: from its start, or from when the bench's own page asks
// for that, until it asks for the end. It never outlasts the server of this computer.
type listening struct {
	mu   sync.Mutex
	now  *Beyond      // nil: it isn't
	srv  *http.Server // that serves now; nil: not yet
	over bool         // the server of this computer ends: nothing is opened any more
	why  string       // it ended by itself; "": it didn't
}

// at is how it's served beyond this computer; nil: it isn't.
func (l *listening) at() *Beyond {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.now
}

// whyNot says why it isn't any more; "": nobody was cut off.
func (l *listening) whyNot() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.why
}

// The errors of opening it.
var (
	errNoListening = errors.New("this page can't be served to other devices")
	errPageEnds    = errors.New("the program is ending")
)

// open serves the page beyond this computer; failed is told where that ends by itself. mu is held.
func (l *listening) open(b *Beyond, h http.Handler, failed func(error)) {
	srv := serverOf(h, b.TLS)
	l.now, l.srv, l.why = b, srv, ""
	instruments.Go(func() {
		if err := srv.ServeTLS(b.Listener, "", ""); !errors.Is(err, http.ErrServerClosed) {
			failed(err)
		}
	}, failed)
}

// close takes what serves from those that are asked for more; nil: nothing does.
func (l *listening) close(over bool) *http.Server {
	l.mu.Lock()
	defer l.mu.Unlock()
	srv := l.srv
	l.now, l.srv, l.over = nil, nil, l.over || over
	return srv
}

// listen begins it, where it isn't served so yet.
func (s *Server) listen() error {
	l := &s.listening
	l.mu.Lock()
	defer l.mu.Unlock()
	switch {
	case l.now != nil:
		return nil
	case s.o.Listen == nil:
		return errNoListening
	case l.over:
		return errPageEnds
	}
	b, err := s.o.Listen()
	if err != nil {
		return err
	}
	l.open(b, s.fenced(b.names()), func(err error) { s.unlisten(b, err.Error()) })
	return nil
}

// unlisten ends it, where it's that which is served now: who came in from there is out, and no code lets one in any
// more. Their streams are cut at once, so what they showed isn't known there any more.
func (s *Server) unlisten(b *Beyond, why string) {
	if b == nil || s.listening.at() != b {
		return
	}
	srv := s.listening.close(false)
	s.keys.forgetBeyond()
	s.listening.mu.Lock()
	s.listening.why = why
	s.listening.mu.Unlock()
	if srv != nil {
		_ = srv.Close() // what it still held is cut, whatever it says
	}
}

// mayListen: the page that starts tests on the bench's own computer, and no other, lets others in or keeps them out.
func mayListen(r *http.Request) bool {
	v := visitOf(r)
	return v.standing == leads && !v.names.beyond
}

// beginListening serves the page to other devices and shows how one gets in.
func (s *Server) beginListening(w http.ResponseWriter, r *http.Request) {
	if !mayListen(r) {
		s.onlyHere(w)
		return
	}
	if err := s.listen(); err != nil {
		s.failed(w, err)
		return
	}
	s.newDevice(w, r)
}

// endListening keeps the page on this computer again.
func (s *Server) endListening(w http.ResponseWriter, r *http.Request) {
	if !mayListen(r) {
		s.onlyHere(w)
		return
	}
	s.unlisten(s.listening.at(), "")
	http.Redirect(w, r, "/devices", http.StatusSeeOther)
}

func (s *Server) onlyHere(w http.ResponseWriter) {
	s.refuse(w, http.StatusForbidden, "Only the bench's own computer may do that.", "Nothing was done. Use its page there.")
}
