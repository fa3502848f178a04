package main

import (
	"context"
	"errors"
	"slices"
	"strings"

	"sealworthy/cmd/sealworthy/page"
	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/sketch"
	"sealworthy/compare/words"
)

// Plan shows a build's plan to be changed.
func (p *pageWork) Plan(_ context.Context, id string) (page.Sketch, error) {
	b, err := p.open(id)
	if err != nil {
		return page.Sketch{}, err
	}
	p.remember(b)
	said, err := plan.ReadSaid(b.src)
	if err != nil {
		return page.Sketch{}, err
	}
	bud, err := p.budgetOf(b, b.plan)
	if err != nil {
		return page.Sketch{}, err
	}
	k := page.Sketch{Build: page.Build{ID: id, Name: b.plan.Build, Where: b.file, Simulated: p.simulated(id) != nil},
		Revision: b.plan.Revision, Kinds: []string{"group", "joint", "closure", "board"}, On: sketch.Feeds(b.plan), Trial: trialOf(bud)}
	for _, c := range b.plan.Closures {
		k.On = append(k.On, sketch.Option{Value: c.Name, Says: "closure " + c.Name})
	}
	k.Tree = flat(sketch.Tree(b.plan, bud), 0)
	for _, at := range sketch.Places(b.plan, said) {
		f, err := sketch.Fields(b.plan, said, at)
		if err != nil {
			return k, err
		}
		x := page.PlaceForm{Place: at, Fields: f}
		if g, ok := bud.GroupNamed(at.Name); at.Kind == "group" && ok && !g.AsFound {
			x.Says = words.MilliampBand(g.Lit.LowA, g.Lit.HighA)
		}
		k.Places = append(k.Places, x)
	}
	volts := 0.0
	if len(b.plan.Jacks) == 1 {
		volts = b.plan.Jacks[0].Volts
	}
	k.Cards = sketch.Cards(bookOf(b), volts, plan.PartStrip, plan.PartSMD, plan.PartLED, plan.PartBoard)
	return k, nil
}

func bookOf(b build) *plan.Book {
	if b.book != nil {
		return b.book
	}
	return plan.BuiltIn()
}

// flat writes a tree as a list.
func flat(nodes []sketch.Node, depth int) (out []page.Node) {
	for _, n := range nodes {
		x := page.Node{Node: n, Depth: min(depth, 5)}
		if n.Known {
			x.Flows = words.MilliampBand(n.LowA, n.HighA)
			if n.DropV >= 1e-3 {
				x.Drops = words.Number(1e3*n.DropV, 1) + " mV"
			}
		}
		out = append(append(out, x), flat(n.Nodes, depth+1)...)
	}
	return out
}

// budgetOf is what a plan draws on the build's bench.
func (p *pageWork) budgetOf(b build, of *plan.Plan) (*budget.Budget, error) {
	leads, err := b.leads()
	if err != nil {
		return nil, err
	}
	return compare.NewExpected(of).At(compare.Conditions{LeadsOhm: leads.Ohm, LeadsHalfOhm: leads.HalfOhm})
}

// trialOf is what a plan comes to.
func trialOf(bud *budget.Budget) (t page.Trial) {
	for _, c := range bud.Checks {
		if c.Severity == budget.Wrong {
			t.Wrong = append(t.Wrong, c.Text)
		} else {
			t.Notes = append(t.Notes, c.Text)
		}
	}
	for _, g := range bud.Groups {
		x := page.Drawn{Group: g.Group, Draw: words.MilliampBand(g.Lit.LowA, g.Lit.HighA)}
		if g.AsFound {
			x.Draw = "as found"
		}
		t.Draws = append(t.Draws, x)
	}
	var all []string
	for _, j := range bud.Joints {
		if j.Kind == "jack" {
			all = append(all, j.Name+" "+words.Milliamps(j.Amps, j.Amps/50))
		}
	}
	t.Total = strings.Join(all, ", ")
	return t
}

// mostRemembered plans are kept as they were shown, to set against a file that was
// changed meanwhile.
const mostRemembered = 32

func (p *pageWork) remember(b build) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.shown == nil || len(p.shown) >= mostRemembered {
		p.shown = map[string][]byte{}
	}
	p.shown[b.plan.Revision] = b.src
}

// Revise tries changes to a plan, and writes them.
func (p *pageWork) Revise(_ context.Context, id string, r page.Revision, save bool) (page.Trial, error) {
	t, err := p.revise(id, r, save)
	t.Simulated = p.simulated(id) != nil
	return t, err
}

func (p *pageWork) revise(id string, r page.Revision, save bool) (page.Trial, error) {
	b, err := p.open(id)
	if err != nil {
		return page.Trial{}, err
	}
	src := b.src
	changed := r.Base != b.plan.Revision
	if changed {
		p.mu.Lock()
		src = p.shown[r.Base]
		p.mu.Unlock()
		if src == nil {
			return page.Trial{}, errors.New("the plan was changed meanwhile: load its page again")
		}
	}
	changes, err := changesOf(b, src, r)
	if err != nil {
		return page.Trial{Problems: problemsOf(err), Changed: changed}, nil
	}
	out, err := plan.EditAll(src, changes, plan.Options{Book: b.book})
	switch {
	case err != nil:
		return page.Trial{Changed: changed, Problems: problemsOf(err)}, nil
	case changed:
		return page.Trial{Changed: true, Mine: string(out), Theirs: string(b.src)}, nil
	}
	now, problems := plan.ParseWith(b.file, out, plan.Options{Book: b.book})
	if len(problems) > 0 {
		return page.Trial{}, planError(b.file, problems)
	}
	bud, err := p.budgetOf(b, now)
	if err != nil {
		return page.Trial{Problems: []string{err.Error()}}, nil
	}
	t := trialOf(bud)
	t.Nothing = len(changes) == 0
	if save && !t.Nothing {
		if err := writeEdited(b.file, src, out); err != nil {
			return page.Trial{}, err
		}
		t.Saved = true
	}
	return t, nil
}

// problemsOf are the command line's own words for why changes can't be made.
func problemsOf(err error) (out []string) {
	var wrong *plan.WrongError
	if !errors.As(err, &wrong) {
		return []string{err.Error()}
	}
	for _, x := range wrong.Problems {
		var s strings.Builder
		sayProblem(&s, "", x)
		out = append(out, strings.TrimRight(s.String(), "\n"))
	}
	return out
}

// changesOf are the changes that make of a plan's file what a maker wants: what is added
// first, for others may hang on it; new names last, for paths go by the old ones.
func changesOf(b build, src []byte, r page.Revision) (out []plan.Change, err error) {
	p, problems := plan.ParseWith(b.file, src, plan.Options{Book: b.book})
	if len(problems) > 0 {
		return nil, &plan.WrongError{Problems: problems, Text: src}
	}
	said, err := plan.ReadSaid(src)
	if err != nil {
		return nil, err
	}
	if r.New.Name != "" {
		c, err := sketch.Added(p, said, bookOf(b), r.New)
		if err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	var renames, removes []plan.Change
	for _, at := range sketch.Places(p, said) {
		if slices.Contains(r.Remove, at) {
			c, err := sketch.Remove(p, said, at)
			if err != nil {
				return nil, err
			}
			removes = append(removes, c...)
			continue
		}
		fields, err := sketch.Fields(p, said, at)
		if err != nil {
			return nil, err
		}
		cs, _ := sketch.Changes(fields, bookOf(b), at, r.Filled)
		for _, c := range cs {
			if c.Do == plan.DoRename {
				renames = append(renames, c)
			} else {
				out = append(out, c)
			}
		}
	}
	return slices.Concat(out, removes, renames), nil
}
