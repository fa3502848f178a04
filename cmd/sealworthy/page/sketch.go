package page

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"

	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/sketch"
)

// Plans is what the page needs to change plans.
type Plans interface {
	// Plan reads the plan of a build as its file is now.
	Plan(ctx context.Context, id string) (PlanFile, error)
	// PlanKnown tells what was measured of a build, by the plan as its file is now.
	PlanKnown(ctx context.Context, id string) (PlanKnown, error)
	// SavePlan replaces the file that was read by the changed one. ErrPlanChanged: it
	// isn't as it was read. ErrNotNoted: it's saved all the same. While a test of the
	// build is running nothing is written.
	SavePlan(ctx context.Context, id string, was, src []byte, changes []string) error
	// Reckon says what comes of a plan that isn't saved.
	Reckon(ctx context.Context, id string, p *plan.Plan) (Reckoned, error)
	// BuyList writes the page of what a plan takes to build, as its file is now.
	BuyList(ctx context.Context, id string, w io.Writer) error
}

// ErrPlanChanged says that a plan's file isn't as it was read.
var ErrPlanChanged = errors.New("the plan's file was changed meanwhile, in an editor or on another page")

// ErrNotNoted says that a plan is saved, and that its record doesn't tell of the change.
var ErrNotNoted = errors.New("the plan is saved, but its record doesn't tell of the change")

// PlanFile is a plan's file as it was read.
type PlanFile struct {
	Name    string // of the build
	Where   string // the file
	Src     []byte // the file's bytes
	Options plan.Options
	// Simulated: the build's bench is.
	Simulated bool
}

// PlanKnown is what was measured of a build.
type PlanKnown struct {
	Measured map[string]int // readings of each group and board that was measured
	Findings *Findings      // what they say; nil: that wasn't worked out yet
}

// Offer is a change to the plan that would explain or cure what was found.
type Offer struct {
	Edit, For string // Edit: PATH = VALUE; For: what it would explain or cure, in words
}

// Reckoned is what comes of a plan.
type Reckoned struct {
	Budget   *budget.Budget
	Coverage []string // what the test sees of each closure, a sentence or more each
}

// sketchRoutes are those of the plan.
func (s *Server) sketchRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /build/{id}/plan", s.planPage)
	m.HandleFunc("GET /build/{id}/plan/judged", s.planJudged)
	m.HandleFunc("GET /build/{id}/plan/reckoned", s.planReckoned)
	for path, do := range map[string]func(*draft, *plan.Plan, plan.Said, url.Values) (step, error){
		"change": changed, "remove": removed, "add": addedPlace, "offer": offered,
		"item": addedItem, "takeout": takenOut,
	} {
		m.HandleFunc("POST /build/{id}/plan/"+path, s.stepped(do))
	}
	// What was refused stands under the address of its step: that leads back, loaded afresh.
	m.HandleFunc("GET /build/{id}/plan/{step}", func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, planURL(r.PathValue("id"), sketch.Place{}), http.StatusSeeOther)
	})
	m.HandleFunc("GET /build/{id}/buy", s.buyList)
	m.HandleFunc("POST /build/{id}/plan/try", s.tryPlan)
	m.HandleFunc("POST /build/{id}/plan/undo", s.onDraft((*draft).undo))
	m.HandleFunc("POST /build/{id}/plan/forget", s.onDraft((*draft).forget))
	m.HandleFunc("POST /build/{id}/plan/again", s.onDraft((*draft).again))
	m.HandleFunc("POST /build/{id}/plan/save", s.savePlan)
}

// onTheDraft gives the draft of a build's plan with the file as it is now, and holds it
// until let go. Whoever has gone while another held it gets nothing: each key that is
// typed asks, and the next one takes the question before it back.
func (s *Server) onTheDraft(w http.ResponseWriter, r *http.Request) (d *draft, letGo func(), ok bool) {
	id := r.PathValue("id")
	if d = s.drafts.find(id); d == nil { // none is made for what is no build
		if _, err := s.o.Plans.Plan(r.Context(), id); err != nil {
			s.failed(w, err)
			return nil, nil, false
		}
		d = s.drafts.get(id)
	}
	d.mu.Lock()
	err := r.Context().Err()
	if err == nil {
		var f PlanFile
		if f, err = s.o.Plans.Plan(r.Context(), id); err == nil {
			d.read(f)
			return d, d.mu.Unlock, true
		}
	}
	d.mu.Unlock()
	s.failed(w, err)
	return nil, nil, false
}

// formOnDraft is onTheDraft for a form, which it reads.
func (s *Server) formOnDraft(w http.ResponseWriter, r *http.Request) (d *draft, letGo func(), ok bool) {
	if !s.form(w, r) {
		return nil, nil, false
	}
	return s.onTheDraft(w, r)
}

// stepped makes one step on the draft of a plan and shows it.
func (s *Server) stepped(do func(*draft, *plan.Plan, plan.Said, url.Values) (step, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		d, letGo, ok := s.formOnDraft(w, r)
		if !ok {
			return
		}
		defer letGo()
		if !d.isAt(r.PostForm.Get("draft")) {
			s.showPlan(w, r, d, atOf(r.PostForm.Get("at")), errOtherDraft, nil)
			return
		}
		known, err := s.o.Plans.PlanKnown(r.Context(), r.PathValue("id"))
		if err != nil {
			s.failed(w, err)
			return
		}
		if d.known = known; known.Findings == nil && r.PostForm.Has("edit") { // what is offered has to be known
			x, err := s.judgements.of(r.Context(), r.PathValue("id"))
			if err != nil {
				s.failed(w, err)
				return
			}
			d.known.Findings = &x
		}
		st, err := stepOf(d, do, r.PostForm)
		if err != nil {
			s.showPlan(w, r, d, atOf(r.PostForm.Get("at")), err, r.PostForm)
			return
		}
		d.steps = append(d.steps, st)
		d.version++
		http.Redirect(w, r, planURL(r.PathValue("id"), st.after), http.StatusSeeOther)
	}
}

// stepOf is the step that a form asks for, with the plan as it would be.
func stepOf(d *draft, do func(*draft, *plan.Plan, plan.Said, url.Values) (step, error), form url.Values) (step, error) {
	p, said, err := d.plan()
	if err != nil {
		return step{}, err
	}
	st, err := do(d, p, said, form)
	if err == nil {
		st.src, err = st.make(d.now(), d.file.Options)
	}
	return st, err
}

// errOtherDraft is said where a form was of a draft that has changed since.
var errOtherDraft = errors.New("nothing was changed: this page showed an earlier draft, which was changed on " +
	"another page; here it is as it is now")

// onDraft does what needs no form.
func (s *Server) onDraft(do func(*draft) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		d, letGo, ok := s.formOnDraft(w, r)
		if !ok {
			return
		}
		defer letGo()
		err := errOtherDraft
		if d.isAt(r.PostForm.Get("draft")) {
			err = do(d)
		}
		if err != nil {
			s.showPlan(w, r, d, sketch.Place{}, err, nil)
			return
		}
		http.Redirect(w, r, planURL(r.PathValue("id"), atOf(r.PostForm.Get("at"))), http.StatusSeeOther)
	}
}

// savePlan writes the draft, if the file is as it was read.
func (s *Server) savePlan(w http.ResponseWriter, r *http.Request) {
	d, letGo, ok := s.formOnDraft(w, r)
	if !ok {
		return
	}
	defer letGo()
	err := errOtherDraft
	if d.isAt(r.PostForm.Get("draft")) {
		switch {
		case s.bench.tests(r.PathValue("id")):
			err = fmt.Errorf("nothing was saved: %w. Save it when that has ended", errBusy)
		case d.parted():
			err = ErrPlanChanged
		default:
			err = s.o.Plans.SavePlan(r.Context(), r.PathValue("id"), d.base, d.now(), d.says())
		}
	}
	if errors.Is(err, ErrNotNoted) {
		d.saved()
	}
	if errors.Is(err, ErrPlanChanged) || errors.Is(err, ErrNotNoted) { // it may have changed just now
		if f, again := s.o.Plans.Plan(r.Context(), r.PathValue("id")); again == nil {
			d.file = f
		}
	}
	if err != nil {
		s.showPlan(w, r, d, atOf(r.PostForm.Get("at")), err, nil)
		return
	}
	d.saved()
	http.Redirect(w, r, planURL(r.PathValue("id"), atOf(r.PostForm.Get("at"))), http.StatusSeeOther)
}

// buyList shows what a plan takes to build, as it's printed.
func (s *Server) buyList(w http.ResponseWriter, r *http.Request) {
	var b strings.Builder
	if err := s.o.Plans.BuyList(r.Context(), r.PathValue("id"), &b); err != nil {
		s.failed(w, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Security-Policy", sheetPolicy)
	_, _ = w.Write([]byte(b.String())) // package plots made its text harmless
}

// atOf reads a place, as "group:cabin windows".
func atOf(text string) sketch.Place {
	kind, name, _ := strings.Cut(text, ":")
	return sketch.Place{Kind: kind, Name: name}
}

// atText is a place as atOf reads it; empty: none.
func atText(at sketch.Place) string {
	if at.Kind == "" {
		return ""
	}
	return at.Kind + ":" + at.Name
}

func planURL(id string, at sketch.Place) string {
	u := "/build/" + url.PathEscape(id) + "/plan"
	if at.Kind != "" {
		u += "?at=" + url.QueryEscape(atText(at)) + "#place"
	}
	return u
}
