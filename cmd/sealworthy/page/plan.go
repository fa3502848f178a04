package page

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strings"
)

// Planner is Work that knows plans: a plan is sketched by pointing, and its file keeps
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
	Groups   []GroupSketch
	Closures []string
	Feeds    []string // jacks and joints: what a group can hang on
	Cards    []Card
	Trial    Trial // as it stands
}

// Node is one of the feed tree, those before it being those that it hangs on.
type Node struct {
	Depth      int
	Kind, Name string
	Amps, Drop string   // everything lit
	Dark       []string // the groups that go dark if it opens
}

// GroupSketch is a group as it's changed: of one kind of light, or nothing but its
// place can be.
type GroupSketch struct {
	Was      string // its name in the file; "": a new one
	Name     string
	Part     string
	Number   string // pieces, or segments of a strip
	Ohms     string
	Joint    string
	Closure  string
	See      string
	Draw     string // what it should draw
	Lights   string // in words
	Simple   bool   // its light can be changed here
	Strip    bool   // Number counts segments
	Resistor bool   // Ohms counts
	Board    string // that feeds it; "": a joint does
	Remove   bool
}

// Card is a part to choose.
type Card struct{ Name, Kind, Draws, Looks, Told string }

// Revision is what a maker wants changed in a plan.
type Revision struct {
	Base       string // the revision that he saw
	Groups     []GroupSketch
	NewJoint   string
	JointFrom  string
	NewClosure string
	Inside     string
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

// mostGroups of a form are read.
const mostGroups = 200

// revise tries changes, or saves them.
func (s *Server) revise(w http.ResponseWriter, r *http.Request) {
	p, ok := s.planner()
	if !ok || !s.form(w, r) {
		return
	}
	v, err := revisionOf(r.PostForm)
	if err != nil {
		s.refuse(w, http.StatusUnprocessableEntity, err.Error(), "")
		return
	}
	id := r.PathValue("id")
	save := r.PostForm.Has("save")
	t, err := p.Revise(r.Context(), id, v, save)
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

// revisionOf reads a form: g0.name, g0.part and so on for each group.
func revisionOf(f url.Values) (Revision, error) {
	get := func(key string) string { return strings.Join(strings.Fields(f.Get(key)), " ") }
	v := Revision{Base: get("base"), NewJoint: get("joint.name"), JointFrom: get("joint.from"),
		NewClosure: get("closure.name"), Inside: get("closure.inside")}
	for i := 0; f.Has(fmt.Sprintf("g%d.was", i)); i++ {
		if i >= mostGroups {
			return v, fmt.Errorf("a form of more than %d groups is too long: change the file", mostGroups)
		}
		k := fmt.Sprintf("g%d.", i)
		v.Groups = append(v.Groups, GroupSketch{
			Was: get(k + "was"), Name: get(k + "name"), Part: get(k + "part"), Number: get(k + "number"), Ohms: get(k + "ohms"),
			Joint: get(k + "joint"), Closure: get(k + "closure"), See: get(k + "see"), Remove: f.Has(k + "remove"),
		})
	}
	return v, nil
}
