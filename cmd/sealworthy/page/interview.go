package page

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"strings"
)

// Asker is Work that asks for a new build's plan, one thing at a time. Its questions are
// those of the command line, and an interview that was begun on one is gone on with on the
// other.
type Asker interface {
	// Unfinished lists the interviews that can be gone on with.
	Unfinished(ctx context.Context) ([]Build, error)
	// BeginAsking begins one for a build of that name and gives its ID.
	BeginAsking(ctx context.Context, name string) (id string, err error)
	// Asked tells where one stands.
	Asked(ctx context.Context, id string) (Interview, error)
	// Reply answers its question. nth is how many answers it has: another number is of a
	// question that stands no more, and changes nothing.
	Reply(ctx context.Context, id string, nth int, answer string) (Interview, error)
	// Back takes the last answer back.
	Back(ctx context.Context, id string, nth int) (Interview, error)
	// BeginAnew asks from the beginning where the answers of before can't be gone on with:
	// they are moved beside, never deleted. Else it changes nothing.
	BeginAnew(ctx context.Context, id string) (Interview, error)
}

// Interview is where an interview stands.
type Interview struct {
	ID, Name string
	Build    string   // it's through: the ID of the build; "": it isn't
	Nth      int      // answers so far
	Said     string   // what was said of the last answer: what a group draws, what won't work
	Question string   // that is open
	Help     string   // what is meant by it
	Choices  []Choice // to be answered by their number; none: it's typed
	Usual    string   // what an empty answer stands for
	Empty    bool     // an empty answer is one
	Typed    bool     // beside the choices something may be typed
	Else     string   // the answer that has each thing asked anew; "": there is none
	Refused  string   // why the last answer won't do
	Was      string   // that answer
	Strange  string   // why its answers can't be gone on with; "": they can
}

// Choice is one of several answers.
type Choice struct {
	Head string // what stands over it and those behind it
	Says string // what it is, in words
}

// Number is that of a choice by its place.
func (Interview) Number(i int) string { return strconv.Itoa(i + 1) }

// askRoutes are those of interviews.
func (s *Server) askRoutes(m *http.ServeMux, a Asker) {
	m.HandleFunc("GET /new/{id}", func(w http.ResponseWriter, r *http.Request) {
		x, err := a.Asked(r.Context(), r.PathValue("id"))
		s.interviewed(w, r, x, err)
	})
	m.HandleFunc("POST /new/{id}/answer", func(w http.ResponseWriter, r *http.Request) {
		if !s.form(w, r) {
			return
		}
		answer := r.PostForm.Get("answer")
		if typed := strings.TrimSpace(r.PostForm.Get("typed")); typed != "" && !r.PostForm.Has("answer") {
			answer = typed
		}
		nth, err := strconv.Atoi(r.PostForm.Get("nth"))
		if err != nil {
			nth = -1
		}
		x, err := a.Reply(r.Context(), r.PathValue("id"), nth, answer)
		s.interviewed(w, r, x, err)
	})
	m.HandleFunc("POST /new/{id}/back", func(w http.ResponseWriter, r *http.Request) {
		if !s.form(w, r) {
			return
		}
		nth, err := strconv.Atoi(r.PostForm.Get("nth"))
		if err != nil {
			nth = -1
		}
		x, err := a.Back(r.Context(), r.PathValue("id"), nth)
		s.interviewed(w, r, x, err)
	})
	m.HandleFunc("POST /new/{id}/anew", func(w http.ResponseWriter, r *http.Request) {
		if !s.form(w, r) {
			return
		}
		x, err := a.BeginAnew(r.Context(), r.PathValue("id"))
		s.interviewed(w, r, x, err)
	})
}

// interviewed shows where an interview stands, or the build that it has come to.
func (s *Server) interviewed(w http.ResponseWriter, r *http.Request, x Interview, err error) {
	switch {
	case err != nil:
		s.failed(w, err)
	case x.Build != "":
		http.Redirect(w, r, planURL(x.Build, atOf("")), http.StatusSeeOther)
	case x.Refused != "":
		s.show(w, http.StatusUnprocessableEntity, "interview", s.frame(x.Name+", a new build", x))
	case r.Method == http.MethodPost: // so that loading it again answers nothing
		http.Redirect(w, r, "/new/"+url.PathEscape(x.ID), http.StatusSeeOther)
	default:
		s.show(w, http.StatusOK, "interview", s.frame(x.Name+", a new build", x))
	}
}
