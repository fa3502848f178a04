package page

import (
	"context"
	"net/http"
	"net/url"
	"strings"

	"sealworthy/compare/plan"
	"sealworthy/compare/sketch"
)

// Planner is Work that knows plans: a plan is changed by pointing, and its file keeps
// every other byte.
type Planner interface {
	// Plan shows a plan as it stands in its file.
	Plan(ctx context.Context, id string) (Sketch, error)
	// Revise tries changes to a plan, and writes them where save is true. What is wrong
	// with them stands in the Trial; an error means that they couldn't be tried.
	Revise(ctx context.Context, id string, r Revision, save bool) (Trial, error)
}

// Sketch is a plan to be changed.
type Sketch struct {
	Build
	Revision string // of the file
	Tree     []Node
	Places   []PlaceForm
	Kinds    []string        // of places that can be added
	On       []sketch.Option // what a new place can hang on
	Cards    []sketch.Card
	Trial    Trial // as it stands
}

// Node is one of the feed tree, with how deep it hangs.
type Node struct {
	sketch.Node
	Depth              int
	Flows, Drops, Says string
}

// PlaceForm is what can be said of a place.
type PlaceForm struct {
	sketch.Place
	Says   string // what it should draw
	Fields []sketch.Field
}

// Revision is what a maker wants changed in a plan.
type Revision struct {
	Base   string            // the revision that he saw
	Filled map[string]string // by the path of each field
	Remove []sketch.Place
	New    sketch.New // its Name is empty where none is wanted
}

// Trial is what changes come to.
type Trial struct {
	Problems []string // the command line's own messages; some: nothing can be written
	Wrong    []string // checks that hold closures
	Notes    []string // other checks
	Draws    []Drawn
	Total    string
	// Changed: the file was changed by somebody else meanwhile; Mine is what would have
	// been written, Theirs what stands there now.
	Changed      bool
	Mine, Theirs string
	Saved        bool
	Nothing      bool // nothing differs
	Simulated    bool // its bench is
}

// Drawn is what a group would draw.
type Drawn struct{ Group, Draw string }

func (s *Server) planner() (Planner, bool) { p, ok := s.o.Work.(Planner); return p, ok }

// planPage shows the plan of a build.
func (s *Server) planPage(w http.ResponseWriter, r *http.Request) {
	p, ok := s.planner()
	if !ok {
		s.refuse(w, http.StatusNotFound, "There is no plan to be changed here.", "")
		return
	}
	k, err := p.Plan(r.Context(), r.PathValue("id"))
	if err != nil {
		s.failed(w, err)
		return
	}
	f := s.frame(k.Name+", its plan", k)
	f.Simulated = k.Simulated
	s.show(w, http.StatusOK, "plan", f)
}

// revise tries changes, or saves them.
func (s *Server) revise(w http.ResponseWriter, r *http.Request) {
	p, ok := s.planner()
	if !ok || !s.form(w, r) {
		return
	}
	id := r.PathValue("id")
	save := r.PostForm.Has("save")
	t, err := p.Revise(r.Context(), id, revisionOf(r.PostForm), save)
	switch {
	case err != nil:
		s.failed(w, err)
	case !save:
		s.show(w, http.StatusOK, "trial", t)
	case t.Saved:
		http.Redirect(w, r, "/build/"+url.PathEscape(id)+"/plan", http.StatusSeeOther)
	default:
		f := s.frame("Nothing was written", struct {
			ID string
			Trial
		}{id, t})
		f.Simulated = t.Simulated
		s.show(w, http.StatusConflict, "unsaved", f)
	}
}

// revisionOf reads a form: f:PATH for each field, remove for each place that goes.
func revisionOf(f url.Values) Revision {
	get := func(key string) string { return strings.Join(strings.Fields(f.Get(key)), " ") }
	v := Revision{Base: get("base"), Filled: map[string]string{}}
	v.New = sketch.New{Place: sketch.Place{Kind: get("new.kind"), Name: get("new.name")}, On: get("new.on"), Part: get("new.part")}
	for key := range f {
		if path, ok := strings.CutPrefix(key, "f:"); ok {
			v.Filled[path] = get(key)
		}
	}
	for _, x := range f["remove"] {
		kind, name, _ := strings.Cut(x, "/")
		v.Remove = append(v.Remove, sketch.Place{Kind: kind, Name: name})
	}
	return v
}

// kinds writes kinds of part for a script.
func kinds(ks []plan.PartKind) string {
	var out []string
	for _, k := range ks {
		out = append(out, string(k))
	}
	return strings.Join(out, " ")
}
