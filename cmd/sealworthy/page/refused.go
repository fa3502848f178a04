package page

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"unicode/utf8"

	"sealworthy/compare/plan"
)

// refused is what stands on the page of a refusal: what wasn't done as its heading, then why, and what to do.
type refused struct {
	What    string
	Detail  []string
	Lines   []plan.Problem // of a plan that can't be read
	Todo    string
	Testing bool   // a test that is under way here stands in the way
	Better  string // a name that would do for a build; "": it's no matter of a name
	Asks    bool   // such a build can be asked for
}

// PlanError says that the plan of a build can't be read.
type PlanError struct {
	Where    string         // the file
	Problems []plan.Problem // at least one
}

// Error says how many problems there are, and where the first is.
func (e *PlanError) Error() string {
	n, first := len(e.Problems), e.Problems[0].Pos.Line
	if n == 1 {
		return fmt.Sprintf("its plan can't be read: line %d is wrong", first)
	}
	return fmt.Sprintf("its plan can't be read: %d things are wrong, the first in line %d", n, first)
}

// NameError says why a build can't be called so.
type NameError struct {
	Name   string // that was asked for; "": none was
	Why    string // behind the name; a sentence of its own where there is none
	Better string // one that would do
}

// Error says so.
func (e *NameError) Error() string {
	if e.Name == "" {
		return e.Why
	}
	return fmt.Sprintf("%q %s", e.Name, e.Why)
}

// longHeading is from how many characters on an error is no heading any more (our own choice: two lines of a tablet).
const longHeading = 60

// refusedOf lays an error out.
func refusedOf(err error) refused {
	x := refused{Testing: errors.Is(err, errBusy)}
	if wrong := (*PlanError)(nil); errors.As(err, &wrong) {
		x.What, x.Lines = "The plan can't be read", wrong.Problems
		x.Todo = "Mend it in an editor, then load this page again. The file: " + wrong.Where
		return x
	}
	if name := (*NameError)(nil); errors.As(err, &name) {
		if x.What, x.Better = "It needs another name", name.Better; name.Name == "" {
			x.What = name.Why
			return x
		}
		x.Detail = []string{name.Error() + "."}
		return x
	}
	text := strings.TrimSpace(err.Error())
	if utf8.RuneCountInString(text) <= longHeading && !strings.Contains(text, "\n") {
		x.What = capital(text)
		return x
	}
	x.What = "That wasn't done"
	for l := range strings.Lines(text) {
		if l = strings.TrimSpace(l); l != "" {
			x.Detail = append(x.Detail, capital(l))
		}
	}
	return x
}

// notNamed is failed for a build that can't be begun; another name is offered where that was the matter.
func (s *Server) notNamed(w http.ResponseWriter, err error) {
	x := refusedOf(err)
	if x.Better == "" {
		s.failed(w, err)
		return
	}
	_, x.Asks = s.o.Work.(Asker)
	s.show(w, http.StatusUnprocessableEntity, "notdone", s.frame("Not done", x))
}
