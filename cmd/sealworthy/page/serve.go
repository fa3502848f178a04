package page

import (
	"context"
	"errors"
	"io"
	"log"
	"net"
	"net/http"
	"sync"
	"time"

	"sealworthy/instruments"
)

// Bounds of connections (our own choice): a browser needs six.
const (
	mostConns    = 96
	headerIn     = 4 * time.Second
	bodyIn       = 15 * time.Second
	idleFor      = 2 * time.Minute
	pageIn       = 10 * time.Second // to take a page
	mostHeaders  = 16 << 10
	closesWithin = 3 * time.Second
)

// Serve serves the page on a listener until ctx ends; what is under way is stopped
// then, its output off.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	h := s.Handler()
	srv := &http.Server{
		Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(pageIn)) // a stream sets its own
			h.ServeHTTP(w, r)
		}),
		ReadHeaderTimeout: headerIn, ReadTimeout: bodyIn, IdleTimeout: idleFor, MaxHeaderBytes: mostHeaders,
		ConnState: s.gate.state, ErrorLog: log.New(io.Discard, "", 0),
	}
	ended := make(chan error, 1)
	instruments.Go(func() { ended <- srv.Serve(l) }, func(err error) { ended <- err })
	select {
	case err := <-ended:
		s.Close()
		return err
	case <-ctx.Done():
	}
	s.Close()
	closing, cancel := context.WithTimeout(context.WithoutCancel(ctx), closesWithin)
	defer cancel()
	err := srv.Shutdown(closing)
	if errors.Is(err, context.DeadlineExceeded) { // streams stay open until they're cut
		err = srv.Close()
	}
	return err
}

// gate bounds the connections. One that never asked anything makes room for a new one,
// the oldest first, so that whoever only opens them keeps nobody out; a browser's own,
// which carry its STOP, stay.
type gate struct {
	mu    sync.Mutex
	conns map[net.Conn]int // those that asked nothing yet: which came when
	open  int
	n     int
}

func (g *gate) state(c net.Conn, s http.ConnState) {
	g.mu.Lock()
	defer g.mu.Unlock()
	switch s {
	case http.StateNew:
		g.n++
		g.open++
		g.conns[c] = g.n
		if g.open > mostConns {
			g.dropOldest()
		}
	case http.StateActive:
		delete(g.conns, c)
	case http.StateClosed, http.StateHijacked:
		delete(g.conns, c)
		g.open--
	}
}

// dropOldest closes the oldest that asked nothing. mu is held.
func (g *gate) dropOldest() {
	var oldest net.Conn
	for c, n := range g.conns {
		if oldest == nil || n < g.conns[oldest] {
			oldest = c
		}
	}
	if oldest != nil {
		delete(g.conns, oldest)
		_ = oldest.Close() // its reader ends with it
	}
}
