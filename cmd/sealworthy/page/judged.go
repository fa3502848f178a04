package page

import (
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"maps"
	"net/http"
	"net/url"
	"strconv"
	"sync"

	"sealworthy/instruments"
)

// Bounds of judging for pages (our own choice): one build after another, so that a test under way keeps
// its share of the machine; the latest are held for pages that still have to fetch them.
const (
	judgedAtOnce = 1
	mostJudged   = 16
)

// judgements are those that pages wait for. A page is shown at once, without what takes a while to judge;
// the stream tells which judgement has ended, and the page fetches what was found then. Pages of
// one build wait for the same.
type judgements struct {
	work Work
	ctx  context.Context // of the server
	// waits while a build's files are written, and gives how they are then
	stands func(ctx context.Context, id string) (state string)

	turn chan struct{} // has one in it for each that goes on

	mu    sync.Mutex
	nth   uint64
	byID  map[string]*judgement // the latest of each build
	ended chan struct{}         // closed when the next one ends
}

// judgement is one of a build.
type judgement struct {
	nth  uint64
	done chan struct{} // closed once what follows is there
	what Findings
	err  error
	of   string // how the files were as it began
}

// holds: what came of a judgement is of the files of its build as they are now. An error is of those
// that it began with.
func (j *judgement) holds(p *present, id string) bool {
	if j.err != nil {
		return p.at(id).state == j.of
	}
	return p.stillTrue(id, j.what.Files)
}

func newJudgements(ctx context.Context, w Work, stands func(context.Context, string) string) *judgements {
	return &judgements{work: w, ctx: ctx, stands: stands, turn: make(chan struct{}, judgedAtOnce),
		byID:  map[string]*judgement{},
		ended: make(chan struct{})}
}

func (j *judgement) over() bool {
	select {
	case <-j.done:
		return true
	default:
		return false
	}
}

// begin judges a build in the background, unless that is under way.
func (x *judgements) begin(id string) *judgement {
	x.mu.Lock()
	defer x.mu.Unlock()
	if j := x.byID[id]; j != nil && !j.over() {
		return j
	}
	x.nth++
	j := &judgement{nth: x.nth, done: make(chan struct{})}
	delete(x.byID, id)
	x.dropOldest()
	x.byID[id] = j
	instruments.Go(func() { j.what, j.err = x.judge(id, &j.of); x.end(j) }, func(err error) { j.err = err; x.end(j) })
	return j
}

func (x *judgements) judge(id string, of *string) (Findings, error) {
	*of = x.stands(x.ctx, id)
	select {
	case x.turn <- struct{}{}:
	case <-x.ctx.Done():
		return Findings{}, context.Cause(x.ctx)
	}
	defer func() { <-x.turn }()
	return x.work.Judge(x.ctx, id)
}

// dropOldest makes room: whoever waits for what was dropped has it judged anew. mu is held.
func (x *judgements) dropOldest() {
	oldest := ""
	for id, j := range x.byID {
		if j.over() && (oldest == "" || j.nth < x.byID[oldest].nth) {
			oldest = id
		}
	}
	if len(x.byID) >= mostJudged {
		delete(x.byID, oldest)
	}
}

func (x *judgements) end(j *judgement) {
	x.mu.Lock()
	defer x.mu.Unlock()
	close(j.done)
	close(x.ended)
	x.ended = make(chan struct{})
}

// over tells which judgement of each build ended last.
func (x *judgements) over() (nth map[string]uint64, ended <-chan struct{}) {
	x.mu.Lock()
	defer x.mu.Unlock()
	nth = map[string]uint64{}
	for id, j := range x.byID {
		if j.over() {
			nth[id] = j.nth
		}
	}
	return nth, x.ended
}

// since gives the judgement of a build where it ended and isn't older than the one that a page waits
// for; nil: there is none.
func (x *judgements) since(id string, nth uint64) *judgement {
	x.mu.Lock()
	defer x.mu.Unlock()
	if j := x.byID[id]; j != nil && j.over() && j.nth >= nth {
		return j
	}
	return nil
}

// of waits for what the readings of a build say.
func (x *judgements) of(ctx context.Context, id string) (Findings, error) {
	j := x.begin(id)
	select {
	case <-j.done:
		return j.what, j.err
	case <-ctx.Done():
		return Findings{}, context.Cause(ctx)
	}
}

// awaited is what stands where the readings' word has still to come.
type awaited struct {
	ID   string
	From string // the address of what was found, once it's there; "": nothing is awaited
	Nth  uint64 // the judgement that is waited for
	Came bool   // it came after the page did
	Why  string // why there is none; "": there is one, or will be
	// Files are those that it's of, where the page withdraws it once they change; "": it doesn't.
	Files string
	Anew  string // the address of what is found of others
	// Since is when a page was written on which it was withdrawn; "": nothing was
	Since   string
	Testing bool // a test of the build is under way: it's judged after that
}

// awaited has a build judged where that wasn't done yet, and says what a page waits for then: of is the
// page, with what its address says besides.
func (s *Server) awaited(id string, f *Findings, of string, also url.Values) awaited {
	if f != nil {
		return awaited{ID: id}
	}
	nth := s.judgements.begin(id).nth
	q := maps.Clone(also)
	if q == nil {
		q = url.Values{}
	}
	q.Set(nthKey, strconv.FormatUint(nth, 10))
	return awaited{ID: id, Nth: nth, From: "/build/" + url.PathEscape(id) + of + "/judged?" + q.Encode()}
}

// nthKey names, in an address, the judgement that a page waits for.
const nthKey = "nth"

// came is what a page gets that waited for a judgement, by the address that it was given: known, where
// it's still so. Without findings it's told why there are none, or waits for another.
func (s *Server) came(r *http.Request, known *Findings, of string) (awaited, *Findings) {
	id, q := r.PathValue("id"), r.URL.Query()
	nth, _ := strconv.ParseUint(q.Get(nthKey), 10, 64) // 0: any does
	j := s.judgements.since(id, nth)
	switch {
	case known != nil:
		return awaited{ID: id, Came: true}, known
	case of == "" && s.present.at(id).state == unreadable:
		_, err := s.o.Work.Files(r.Context(), id)
		return awaited{ID: id, Why: whyUnreadable(err)}, nil
	case j == nil, of == "" && !j.holds(s.present, id):
		q.Del(nthKey)
		return s.awaited(id, nil, of, q), nil
	case j.err != nil:
		return awaited{ID: id, Why: j.err.Error()}, nil
	}
	return awaited{ID: id, Came: true}, &j.what
}

// sinceKey names, in an address, when the page was written that asks.
const sinceKey = "since"

// showing takes in that a build is shown with its files as they are: nothing that was found of others stands
// there.
func (s *Server) showing(o *Overview, id string, err error) {
	switch {
	case s.bench.tests(id):
		o.Files, o.Findings = underTest, nil
	case err != nil || o.Files == "":
		o.Files = unreadable
	}
	if s.present.saw(id, o.Files, true, s.o.Now()) {
		s.again(id)
	}
}

// dated says of what a page's word is, so that it's withdrawn once that has changed, and since when it was on a page
// before.
func (s *Server) dated(a awaited, files, since string) awaited {
	q := url.Values{sinceKey: {s.clock(s.o.Now())}}
	a.Files, a.Since, a.Anew = files, since, "/build/"+url.PathEscape(a.ID)+"/judged?"+q.Encode()
	return a
}

// whyUnreadable says why nothing is said of a build whose files can't all be read.
func whyUnreadable(err error) string {
	why := "not all files in its folder can be read, so that nobody could tell whether it still holds"
	if err != nil {
		why += ": " + err.Error()
	}
	return why
}

// planOf is the path of a build's plan, behind the build's own.
const planOf = "/plan"

// buildJudged gives what a build's page waited for, as regions.
func (s *Server) buildJudged(w http.ResponseWriter, r *http.Request) {
	o, err := s.o.Work.Overview(r.Context(), r.PathValue("id"))
	if errors.Is(err, fs.ErrNotExist) {
		s.failed(w, err)
		return
	}
	since := r.URL.Query().Get(sinceKey)
	s.showing(&o, r.PathValue("id"), err)
	var wait awaited
	switch {
	case err != nil:
		wait = awaited{ID: r.PathValue("id"), Why: err.Error()}
	case o.Files == underTest:
		wait = awaited{ID: o.ID, Testing: true}
	default:
		wait, o.Findings = s.came(r, o.Findings, "")
	}
	wait = s.dated(wait, o.Files, since)
	s.fetched(w, viewOf(o, wait), "awaited", "known", "sum", "stages", "expected")
}

// planJudged gives what a plan's page waited for, as regions.
func (s *Server) planJudged(w http.ResponseWriter, r *http.Request) {
	d, letGo, ok := s.onTheDraft(w, r)
	if !ok {
		return
	}
	defer letGo()
	id := r.PathValue("id")
	p, said, err := d.plan()
	var known PlanKnown
	if err == nil {
		known, err = s.o.Plans.PlanKnown(r.Context(), id)
	}
	if err != nil {
		s.failed(w, err)
		return
	}
	v := planView{ID: id, Draft: d.version}
	v.Awaited, known.Findings = s.came(r, known.Findings, planOf)
	if d.known = known; d.isAt(r.URL.Query().Get("draft")) { // else the page shows another draft
		v.Offers = offersOf(d, p, said)
	}
	s.fetched(w, v, "awaited", "offers")
}

// fetched writes regions as the stream tells them.
func (s *Server) fetched(w http.ResponseWriter, data any, regions ...string) {
	out := map[string]string{}
	var all error
	for _, name := range regions {
		src, err := s.fill(name, data)
		out[name] = string(src)
		all = errors.Join(all, err)
	}
	if all != nil {
		http.Error(w, "this can't be shown: "+s.clean(all.Error()), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(out) // whoever asked may be gone
}
