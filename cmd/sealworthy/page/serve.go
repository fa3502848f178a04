package page

import (
	"context"
	"crypto/tls"
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
	mostAtOnce   = 64 // requests on one connection of HTTP/2: some pages, each with its stream
)

// Serve serves the page on a listener, and beyond this computer where the options say
// so or the page asks for it, until ctx ends; what is under way is stopped then, its output off.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	ctx, end := context.WithCancel(ctx)
	defer end()
	here := serverOf(s.Handler(), nil)
	ended := make(chan error, 3) // nobody waits to tell
	told := func(err error) { ended <- err }
	instruments.Go(func() { ended <- here.Serve(l) }, told)
	if b := s.o.Beyond; b != nil {
		s.listening.mu.Lock()
		s.listening.open(b, s.fenced(b.names()), told)
		s.listening.mu.Unlock()
	}
	instruments.Go(func() { s.keepLooking(ctx) }, told)
	if s.o.Alone > 0 {
		instruments.Go(func() { s.untilAlone(ctx, s.o.Alone); end() }, told)
	}
	var err error
	select {
	case err = <-ended:
	case <-ctx.Done():
	}
	servers := []*http.Server{here}
	if there := s.listening.close(true); there != nil {
		servers = append(servers, there)
	}
	s.Close()
	closing, cancel := context.WithTimeout(context.WithoutCancel(ctx), closesWithin)
	defer cancel()
	for _, srv := range servers {
		e := srv.Shutdown(closing)
		if errors.Is(e, context.DeadlineExceeded) { // streams stay open until they're cut
			e = srv.Close()
		}
		err = errors.Join(err, e)
	}
	return err
}

// serverOf is a server with its bounds; secret: over TLS.
func serverOf(h http.Handler, secret *tls.Config) *http.Server {
	g := &gate{conns: map[net.Conn]int{}}
	return &http.Server{
		Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(pageIn)) // a stream sets its own
			h.ServeHTTP(w, r)
		}),
		ReadHeaderTimeout: headerIn, ReadTimeout: bodyIn, IdleTimeout: idleFor, MaxHeaderBytes: mostHeaders,
		TLSConfig: secret, HTTP2: &http.HTTP2Config{MaxConcurrentStreams: mostAtOnce},
		ConnContext: func(ctx context.Context, c net.Conn) context.Context {
			return context.WithValue(ctx, callerKey{}, func() { g.knows(c) })
		},
		ConnState: g.state, ErrorLog: log.New(io.Discard, "", 0),
	}
}

// untilAlone waits until no page has been open, and no test under way, for so long.
func (s *Server) untilAlone(ctx context.Context, d time.Duration) {
	look := time.NewTicker(d / 8)
	defer look.Stop()
	for last := time.Now(); time.Since(last) < d; {
		select {
		case <-ctx.Done():
			return
		case <-look.C:
		}
		if s.streams.Load() > 0 || s.bench.busy() {
			last = time.Now()
		}
	}
}

// callerKey is that of what keeps a request's connection open.
type callerKey struct{}

// keepsOpen: who asks this was let in; the connection makes no room for others.
func keepsOpen(r *http.Request) {
	if knows, ok := r.Context().Value(callerKey{}).(func()); ok {
		knows()
	}
}

// gate bounds the connections. One on which no browser that was let in asked anything
// makes room for a new one, the oldest first, so that whoever only opens them keeps
// nobody out; those of browsers that were let in, which carry their STOP, stay.
type gate struct {
	mu    sync.Mutex
	conns map[net.Conn]int // those of strangers: which came when
	open  int
	n     int
}

// knows: a connection is that of a browser that was let in.
func (g *gate) knows(c net.Conn) {
	g.mu.Lock()
	defer g.mu.Unlock()
	delete(g.conns, c)
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
	case http.StateClosed, http.StateHijacked:
		delete(g.conns, c)
		g.open--
	}
}

// dropOldest closes a stranger's oldest. mu is held.
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
