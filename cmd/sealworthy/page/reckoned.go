package page

import (
	"context"
	"encoding/json"
	"net/http"
	"net/url"
	"strconv"
	"sync"
	"time"

	"sealworthy/compare/plan"
	"sealworthy/compare/sketch"
	"sealworthy/instruments"
)

// Bounds of what a plan's page waits for (our own choice): what is there by then comes with the page, so that nothing
// moves on it; for the rest the page asks.
const (
	reckonedWith  = 100 * time.Millisecond
	reckonedAfter = time.Minute
)

// reckonings are what comes of plans, the latest of each build: it takes longer than a page may.
type reckonings struct {
	ctx   context.Context // of the server
	plans Plans

	mu  sync.Mutex
	nth uint64
	of  map[string]*reckoning // by the build's ID
}

// reckoning is what comes of one draft; done is closed once it's there.
type reckoning struct {
	nth     uint64
	version int // of the draft
	stop    context.CancelFunc
	done    chan struct{}
	what    Reckoned
	why     error
}

func newReckonings(ctx context.Context, plans Plans) *reckonings {
	return &reckonings{ctx: ctx, plans: plans, of: map[string]*reckoning{}}
}

// begin reckons a draft in the background, unless that is under way. What comes of an earlier one nobody waits for.
func (x *reckonings) begin(id string, version int, p *plan.Plan) *reckoning {
	x.mu.Lock()
	defer x.mu.Unlock()
	if r := x.of[id]; r != nil && r.version == version && !r.over() {
		return r
	} else if r != nil {
		r.stop()
	}
	x.nth++
	ctx, stop := context.WithCancel(x.ctx)
	r := &reckoning{nth: x.nth, version: version, stop: stop, done: make(chan struct{})}
	x.of[id] = r
	instruments.Go(func() {
		defer stop()
		r.what, r.why = x.plans.Reckon(ctx, id, p)
		close(r.done)
	}, func(err error) { r.why = err; close(r.done) })
	return r
}

// since gives the reckoning that a page was told to wait for, or a later one of the same draft; nil: there is none.
func (x *reckonings) since(id string, nth uint64, version int) *reckoning {
	x.mu.Lock()
	defer x.mu.Unlock()
	if r := x.of[id]; r != nil && r.nth >= nth && r.version == version {
		return r
	}
	return nil
}

func (r *reckoning) over() bool {
	select {
	case <-r.done:
		return true
	default:
		return false
	}
}

// within waits for what comes of it; false: that takes longer.
func (r *reckoning) within(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-r.done:
		return true
	case <-t.C:
	case <-ctx.Done():
	}
	return r.over()
}

// reckonedFrom is where a page gets what comes of its draft.
func reckonedFrom(id string, r *reckoning) string {
	q := url.Values{"draft": {strconv.Itoa(r.version)}, nthKey: {strconv.FormatUint(r.nth, 10)}}
	return planURL(id, sketch.Place{}) + "/reckoned?" + q.Encode()
}

// planReckoned gives what a plan's page didn't wait for.
func (s *Server) planReckoned(w http.ResponseWriter, r *http.Request) {
	id, q := r.PathValue("id"), r.URL.Query()
	d, letGo, ok := s.onTheDraft(w, r)
	if !ok {
		return
	}
	at, version := d.isAt(q.Get("draft")), d.version
	p, _, err := d.plan()
	letGo() // others may change it meanwhile
	switch {
	case err != nil:
		s.failed(w, err)
		return
	case !at:
		http.Error(w, errOtherDraft.Error(), http.StatusConflict)
		return
	}
	nth, _ := strconv.ParseUint(q.Get(nthKey), 10, 64) // 0: any does
	x := s.reckonings.since(id, nth, version)
	if x == nil { // another page's draft came between
		x = s.reckonings.begin(id, version, p)
	}
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(reckonedAfter + pageIn))
	if !x.within(r.Context(), reckonedAfter) {
		http.Error(w, "It isn't there yet.", http.StatusServiceUnavailable)
		return
	}
	out := tried{}
	s.reckoned(&out, p, x.what, x.why)
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(out) // whoever asked may be gone
}

// tried is what a plan's page is told of a draft, or of a form as it's filled in: in the places of its own page.
type tried struct {
	Figures  map[string]string `json:"figures,omitempty"`
	Reckoned string            `json:"reckoned,omitempty"`
	Answer   string            `json:"answer"`
}

// reckoned fills in what comes of a plan.
func (s *Server) reckoned(out *tried, p *plan.Plan, r Reckoned, why error) {
	out.Reckoned = s.filled("reckoned", reckonedOf(p, r, why))
	out.Figures = map[string]string{}
	s.figures(out.Figures, sketch.Tree(p, r.Budget))
}
