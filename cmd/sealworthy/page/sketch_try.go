package page

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/sketch"
	"sealworthy/compare/words"
)

// reckonedView is what comes of a plan.
type reckonedView struct {
	From     string // the address of it all, once it's there; "": this is it
	Why      string // it can't be computed
	Jacks    []string
	Checks   []checkGroup
	Coverage []string
}

// checkGroup is checks that matter alike.
type checkGroup struct {
	Severity budget.Severity
	Texts    []string
}

// reckonedOf lays out what comes of a plan.
func reckonedOf(p *plan.Plan, r Reckoned, why error) reckonedView {
	v := reckonedView{Coverage: r.Coverage}
	if why != nil {
		v.Why = why.Error()
		return v
	}
	for _, j := range r.Budget.Jacks {
		text := fmt.Sprintf("Jack %s, all lit: %s, %s", j.Jack, words.Milliamps(j.AllLit.NominalA, j.AllLit.UA),
			words.MilliampBand(j.AllLit.LowA, j.AllLit.HighA))
		for _, x := range p.Jacks {
			if x.Name == j.Jack && x.AdapterAmps > 0 {
				text += fmt.Sprintf("; the adapter gives %s", words.Milliamps(x.AdapterAmps, 0))
			}
		}
		v.Jacks = append(v.Jacks, text)
	}
	for _, s := range []budget.Severity{budget.Wrong, budget.Risky, budget.Caution, budget.Advice} {
		g := checkGroup{Severity: s}
		for _, c := range r.Budget.Checks {
			if c.Severity == s {
				g.Texts = append(g.Texts, capital(c.Text))
			}
		}
		if g.Texts != nil {
			v.Checks = append(v.Checks, g)
		}
	}
	return v
}

// tryPlan says what would come of a form as it is filled in so far; nothing is changed.
func (s *Server) tryPlan(w http.ResponseWriter, r *http.Request) {
	d, letGo, ok := s.formOnDraft(w, r)
	if !ok {
		return
	}
	var out tried
	answer := func(says ...string) { out.Answer = s.filled("answer", says) }
	st, err := step{}, errOtherDraft
	if d.isAt(r.PostForm.Get("draft")) {
		form := r.PostForm
		form.Set("sure", "1") // it is asked once the change is made
		st, err = stepOf(d, changed, form)
	}
	src := st.src
	if errors.Is(err, errNothingDiffers) {
		src, err = d.now(), nil
	}
	answer()
	if err != nil {
		src = d.now()
		answer(append(whyNot(err), "The figures are those without it.")...)
	}
	p, problems := plan.ParseWith(d.file.Where, src, d.file.Options)
	letGo()
	if len(problems) == 0 {
		d.asks.Lock()
		defer d.asks.Unlock()
		reckoned, why := s.o.Plans.Reckon(r.Context(), r.PathValue("id"), p)
		s.reckoned(&out, p, reckoned, why)
	}
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(out) // whoever asked may be gone
}

// filled is a template filled in; where it can't be, it says so.
func (s *Server) filled(name string, data any) string {
	src, err := s.fill(name, data)
	if err != nil {
		return s.clean(err.Error())
	}
	return string(src)
}

func (s *Server) figures(into map[string]string, ns []sketch.Node) {
	for _, n := range ns {
		into[atText(n.Place)] = s.filled("figures", nodeView{Node: n})
		s.figures(into, n.Nodes)
	}
}

// whyNot is what to say of an error: the plan's own words, without the place in a
// file that nobody sees.
func whyNot(err error) []string {
	var wrong *plan.WrongError
	if !errors.As(err, &wrong) {
		return []string{capital(err.Error()) + "."}
	}
	var out []string
	for i, p := range wrong.Problems {
		if i == mostProblems {
			break
		}
		out = append(out, capital(p.What)+". "+capital(p.Instead)+".")
	}
	return out
}
