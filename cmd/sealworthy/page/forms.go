package page

import (
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"sealworthy/compare"
	"sealworthy/instruments"
)

// home lists the builds.
func (s *Server) home(w http.ResponseWriter, r *http.Request) {
	builds, err := s.o.Work.Builds(r.Context())
	if err != nil {
		s.failed(w, err)
		return
	}
	h := home{Builds: builds, Folder: s.o.Work.Folder()}
	if b, ok := s.o.Work.(Bencher); ok {
		x, err := b.Instruments(r.Context(), false)
		if err != nil {
			s.failed(w, err)
			return
		}
		h.Bench = &x
	}
	if a, ok := s.o.Work.(Asker); ok && h.Folder != "" {
		h.Asks = true
		if h.Unfinished, err = a.Unfinished(r.Context()); err != nil {
			s.failed(w, err)
			return
		}
	}
	s.show(w, http.StatusOK, "home", s.frame("Builds", h))
}

// home is the page of the builds.
type home struct {
	Builds     []Build
	Folder     string
	Bench      *Instruments // the maker's; nil: it isn't to be had from here
	Asks       bool         // a new one can be asked for
	Unfinished []Build
}

// frame is what every page has around its own.
type frame struct {
	Title     string
	Live      map[string]template.HTML
	Simulated bool
	Page      any
}

// buildPage shows what is known of a build and what can be done.
func (s *Server) buildPage(w http.ResponseWriter, r *http.Request) {
	o, err := s.o.Work.Overview(r.Context(), r.PathValue("id"))
	if err != nil {
		s.failed(w, err)
		return
	}
	s.showing(&o, o.ID, nil)
	wait := awaited{ID: o.ID, Testing: true}
	if o.Files != underTest {
		wait = s.awaited(o.ID, o.Findings, "", nil)
	}
	f := s.frame(o.Name, viewOf(o, s.dated(wait, o.Files, "")))
	f.Simulated = o.Simulated || o.BenchSimulated
	s.show(w, http.StatusOK, "build", f)
}

// benchPage shows the test that is under way, or was last, with what its files say now.
func (s *Server) benchPage(w http.ResponseWriter, r *http.Request) {
	if id := s.watch.over(); id != "" {
		s.look(r.Context(), id)
	}
	s.show(w, http.StatusOK, "bench", s.frame("Test", nil))
}

// picture draws one.
func (s *Server) picture(w http.ResponseWriter, r *http.Request) {
	var b strings.Builder
	if err := s.o.Work.Picture(r.Context(), r.PathValue("id"), r.PathValue("name"), &b); err != nil {
		s.failed(w, err)
		return
	}
	w.Header().Set("Content-Type", "image/svg+xml")
	// its own fonts; it runs nothing
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; font-src data:")
	_, _ = w.Write([]byte(b.String()))
}

// sheetPolicy lets the printed page have its own style and pictures, and run nothing.
const sheetPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; base-uri 'none'; " +
	"form-action 'none'; " +
	"frame-ancestors 'none'"

// sheet shows the page that is printed. It has no STOP: a test that is under way pauses
// while nothing else is to be seen.
func (s *Server) sheet(w http.ResponseWriter, r *http.Request) {
	var b strings.Builder
	if err := s.o.Work.Sheet(r.Context(), r.PathValue("id"), r.PathValue("form"), &b); err != nil {
		s.failed(w, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Security-Policy", sheetPolicy)
	_, _ = w.Write([]byte(b.String())) // package plots made its text harmless
}

// form reads a form that came; it was bounded by the fence.
func (s *Server) form(w http.ResponseWriter, r *http.Request) bool {
	if err := r.ParseForm(); err != nil {
		s.refuse(w, http.StatusRequestEntityTooLarge, "That form is too long, or none.", "")
		return false
	}
	return true
}

// begin begins a test.
func (s *Server) begin(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	f := r.PostForm
	o := Order{
		Build: f.Get("build"), Verb: Verb(f.Get("verb")), Closure: f.Get("closure"), Stage: f.Get("stage"),
		Resume: f.Get("how") == "resume", TypedMeter: f.Has("typed"), SupplyByHand: f.Has("byhand"),
		NoProof:   f.Has("noproof"),
		HandsFree: f.Has("handsfree"), Hands: f.Has("hands"), Redo: f["redo"],
		Adapter: f.Has("adapter"), Short: f.Has("short"),
	}
	if h := f.Get("hours"); h != "" {
		v, err := strconv.ParseFloat(strings.Replace(h, ",", ".", 1), 64)
		if err != nil || !(v >= 1.0/60 && v <= 7*24) {
			s.refuse(w, http.StatusUnprocessableEntity, "A soak lasts from a minute to a week: "+h+
				" hours isn't that.", "")
			return
		}
		o.Hours = v
	}
	if o.Stage == "" {
		o.Stage = compare.Fitted
	}
	of, err := s.o.Work.Overview(r.Context(), o.Build)
	if err == nil {
		err = s.bench.begin(o, of)
	}
	if err != nil {
		s.failed(w, err)
		return
	}
	if of.Findings == nil { // the test doesn't wait for what was found before it
		j := s.judgements.begin(o.Build)
		instruments.Go(func() { <-j.done; s.watch.knew(o, j.what) }, nil)
	}
	http.Redirect(w, r, "/bench", http.StatusSeeOther)
}

// hand does what hands do at a simulated bench.
func (s *Server) hand(w http.ResponseWriter, r *http.Request) {
	h, ok := s.o.Work.(Hander)
	if !ok || !s.form(w, r) {
		return
	}
	s.watch.mu.Lock()
	id, hands := s.watch.state.Order.Build, s.watch.state.Order.Hands && s.watch.state.Running
	s.watch.mu.Unlock()
	err := errNoTest
	if hands {
		err = h.Hand(id, r.PostForm.Get("line"))
	}
	if err != nil {
		s.failed(w, err)
		return
	}
	s.backToBench(w, r)
}

// anotherMeter takes another meter in the middle of a test.
func (s *Server) anotherMeter(w http.ResponseWriter, r *http.Request) {
	if err := s.bench.anotherMeter(); err != nil {
		s.failed(w, err)
		return
	}
	http.Redirect(w, r, "/bench", http.StatusSeeOther)
}

// light has a look stay lit longer, or lit again.
func (s *Server) light(w http.ResponseWriter, r *http.Request) {
	if err := s.bench.light(); err != nil {
		s.failed(w, err)
		return
	}
	s.backToBench(w, r)
}

// backToBench shows the test again, where the page's own script didn't ask.
func (s *Server) backToBench(w http.ResponseWriter, r *http.Request) {
	if scripted(r) {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	http.Redirect(w, r, "/bench", http.StatusSeeOther)
}

// tell keeps what was told without a test.
func (s *Server) tell(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	f := r.PostForm
	id := f.Get("build")
	t := Told{Kind: Telling(f.Get("kind")), Names: f["name"], Closure: f.Get("closure"),
		Reason: strings.TrimSpace(f.Get("reason"))}
	if f.Has("nothing") {
		t.Names = nil
	} else if len(t.Names) == 0 && t.Kind != ToldClients {
		s.refuse(w, http.StatusUnprocessableEntity, "Nothing was ticked, so nothing was kept.",
			"Go back and tick what it is.")
		return
	}
	if err := s.o.Work.Tell(r.Context(), id, t); err != nil {
		s.failed(w, err)
		return
	}
	at := ""
	switch t.Kind {
	case ToldClients:
		at = "#photos"
	case ToldGlued, ToldTicked:
		at = "#known"
	case ToldAccepted, ToldTouched, ToldBack:
		at = "#said"
	}
	http.Redirect(w, r, "/build/"+url.PathEscape(id)+at, http.StatusSeeOther)
}

// newBuild begins a build.
func (s *Server) newBuild(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	name := strings.TrimSpace(r.PostForm.Get("name"))
	if a, ok := s.o.Work.(Asker); ok && r.PostForm.Has("ask") {
		id, err := a.BeginAsking(r.Context(), name)
		if err != nil {
			s.notNamed(w, err)
			return
		}
		http.Redirect(w, r, "/new/"+url.PathEscape(id), http.StatusSeeOther)
		return
	}
	id, err := s.o.Work.New(r.Context(), name)
	if err != nil {
		s.notNamed(w, err)
		return
	}
	http.Redirect(w, r, "/build/"+url.PathEscape(id), http.StatusSeeOther)
}

// simulated opens the simulated bench.
func (s *Server) simulated(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	id, err := s.o.Work.Simulated(r.Context(), r.PostForm.Get("build"))
	if err != nil {
		s.failed(w, err)
		return
	}
	http.Redirect(w, r, "/build/"+url.PathEscape(id), http.StatusSeeOther)
}
