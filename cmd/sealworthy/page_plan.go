package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sealworthy/cmd/sealworthy/page"
	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// Plan shows a build's plan to be changed.
func (p *pageWork) Plan(_ context.Context, id string) (page.Sketch, error) {
	b, err := p.open(id)
	if err != nil {
		return page.Sketch{}, err
	}
	p.remember(b)
	bud, err := p.budgetOf(b, b.plan)
	if err != nil {
		return page.Sketch{}, err
	}
	k := page.Sketch{Build: page.Build{ID: id, Name: b.plan.Build, Where: b.file, Simulated: p.simulated(id) != nil},
		Revision: b.plan.Revision, Tree: treeOf(bud), Cards: p.cards(b), Trial: trialOf(bud)}
	for _, c := range b.plan.Closures {
		k.Closures = append(k.Closures, c.Name)
	}
	k.Feeds = feedsOf(b.plan)
	for _, g := range b.plan.Groups {
		k.Groups = append(k.Groups, sketchOf(g, bud))
	}
	return k, nil
}

// feedsOf names what a group can hang on.
func feedsOf(p *plan.Plan) (out []string) {
	for _, j := range p.Jacks {
		out = append(out, j.Name)
	}
	for _, j := range p.Joints {
		out = append(out, j.Name)
	}
	return out
}

// sketchOf is a group as the form has it.
func sketchOf(g plan.Group, bud *budget.Budget) page.GroupSketch {
	s := page.GroupSketch{Was: g.Name, Name: g.Name, Joint: g.Joint, Closure: g.Closure, See: g.See, Board: g.Board}
	var lights []string
	for _, l := range g.Lights {
		lights = append(lights, words.Lights(l))
	}
	s.Lights = strings.Join(lights, ", ")
	if g.AsFound {
		s.Lights = "as found: nothing is expected of it"
	}
	if len(g.Lights) == 1 && !g.Sealed && !g.AsFound && g.Lights[0].Envelope == nil && g.Lights[0].Part != "" {
		l := g.Lights[0]
		s.Simple, s.Part, s.Strip, s.Resistor = true, l.Part, l.Kind == plan.Strip, l.Ohms.Nominal > 0
		s.Number = strconv.Itoa(l.Count)
		if s.Strip {
			s.Number = strconv.Itoa(l.Segments)
		}
		if s.Resistor {
			s.Ohms = strconv.FormatFloat(l.Ohms.Nominal, 'g', 6, 64)
		}
	}
	if x, ok := bud.GroupNamed(g.Name); ok && !x.AsFound {
		s.Draw = words.MilliampBand(x.Lit.LowA, x.Lit.HighA)
	}
	return s
}

// treeOf is the feed tree, each node below the one that feeds it.
func treeOf(bud *budget.Budget) (out []page.Node) {
	var below func(from string, depth int)
	below = func(from string, depth int) {
		for _, j := range bud.Joints {
			if j.From != from || j.Kind == "return" || depth > len(bud.Joints) {
				continue
			}
			n := page.Node{Depth: min(depth, 5), Kind: j.Kind, Name: j.Name, Amps: words.Milliamps(j.Amps, j.Amps/50), Dark: j.Dark}
			if j.Drop >= 1e-3 {
				n.Drop = words.Number(1e3*j.Drop, 1) + " mV"
			}
			out = append(out, n)
			if j.Kind != "group" {
				below(j.Name, depth+1)
			}
		}
	}
	below("", 0)
	return out
}

// cards are the parts that a light can be made of, those of the plan first.
func (p *pageWork) cards(b build) (out []page.Card) {
	book := b.book
	if book == nil {
		book = plan.BuiltIn()
	}
	for _, g := range b.plan.Groups {
		for _, l := range g.Lights {
			if _, err := book.Find(l.Part); err != nil && l.Part != "" && l.Envelope == nil &&
				!slices.ContainsFunc(out, func(c page.Card) bool { return c.Name == l.Part }) {
				out = append(out, page.Card{Name: l.Part, Kind: string(l.Kind), Draws: "of this plan"})
			}
		}
	}
	for _, x := range book.Parts() {
		if x.Kind == plan.PartStrip || x.Kind == plan.PartSMD || x.Kind == plan.PartLED {
			looks, told := words.PartLooks(x.Name)
			out = append(out, page.Card{Name: x.Name, Kind: string(x.Kind), Draws: words.PartFigures(x), Looks: looks, Told: told})
		}
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
	was, problems := plan.ParseWith(b.file, src, plan.Options{Book: b.book})
	if len(problems) > 0 {
		return page.Trial{}, planError(b.file, problems)
	}
	changes, wrong := changesOf(was, r, stripsOf(b, was))
	if wrong != nil {
		return page.Trial{Problems: wrong, Changed: changed}, nil
	}
	if len(changes) == 0 {
		bud, err := p.budgetOf(b, was)
		if err != nil {
			return page.Trial{}, err
		}
		t := trialOf(bud)
		t.Nothing, t.Changed = true, changed
		return t, nil
	}
	out, err := plan.EditAll(src, changes, plan.Options{Book: b.book})
	if err != nil {
		return page.Trial{Changed: changed, Problems: problemsOf(err)}, nil
	}
	if changed {
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
	if save {
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

// changesOf are the changes that make a plan what a maker wants; wrong says what
// isn't understood.
func changesOf(p *plan.Plan, r page.Revision, strip func(part string) bool) (out []plan.Change, wrong []string) {
	if r.NewClosure != "" {
		keys := plan.Table{}
		if r.Inside != "" {
			keys = append(keys, plan.KeyValue{Key: "inside", Value: r.Inside})
		}
		out = append(out, plan.Add("closure", r.NewClosure, keys))
	}
	if r.NewJoint != "" {
		out = append(out, plan.Add("joint", r.NewJoint, plan.Table{{Key: "from", Value: r.JointFrom}}))
	}
	for _, g := range r.Groups {
		if g.Was == "" {
			if g.Name == "" && g.Part == "" {
				continue // the blank one
			}
			c, why := newGroup(g, strip)
			if why != "" {
				wrong = append(wrong, why)
				continue
			}
			out = append(out, c)
			continue
		}
		i := slices.IndexFunc(p.Groups, func(x plan.Group) bool { return x.Name == g.Was })
		switch {
		case i < 0:
			wrong = append(wrong, fmt.Sprintf("the plan has no group %q any more", g.Was))
		case g.Remove:
			out = append(out, plan.Drop(plan.PathOf("group", g.Was)))
		default:
			c, why := groupChanges(p.Groups[i], g, strip)
			out, wrong = append(out, c...), append(wrong, why...)
		}
	}
	return out, wrong
}

// stripsOf tells which parts are strips: those of the book, and those of the plan that
// its groups name.
func stripsOf(b build, p *plan.Plan) func(part string) bool {
	book := b.book
	if book == nil {
		book = plan.BuiltIn()
	}
	return func(part string) bool {
		for _, g := range p.Groups {
			for _, l := range g.Lights {
				if l.Part == part {
					return l.Kind == plan.Strip
				}
			}
		}
		x, err := book.Find(part)
		return err == nil && x.Kind == plan.PartStrip
	}
}

// groupChanges are the values in which a group differs; its name comes last, for the
// paths go by it.
func groupChanges(was plan.Group, g page.GroupSketch, strip func(part string) bool) (out []plan.Change, wrong []string) {
	path := plan.PathOf("group", was.Name)
	set := func(key string, value any) { out = append(out, plan.Put(path+"."+key, value)) }
	if g.Joint != "" && was.Board == "" && g.Joint != was.Joint {
		set("joint", g.Joint)
	}
	if g.Closure != "" && g.Closure != was.Closure {
		set("closure", g.Closure)
	}
	if g.See != was.See {
		set("see", g.See)
	}
	if g.Part != "" && len(was.Lights) == 1 {
		l := was.Lights[0]
		number, key := l.Count, "count"
		if l.Kind == plan.Strip {
			number, key = l.Segments, "segments"
		}
		if g.Part != l.Part && strip(g.Part) != (l.Kind == plan.Strip) {
			return nil, []string{fmt.Sprintf("%s: a strip has segments, other lights have pieces: take the group out and add it anew", was.Name)}
		}
		if g.Part != l.Part {
			set("lights[0].part", g.Part)
		}
		n, err := strconv.Atoi(g.Number)
		switch {
		case err != nil || n < 1:
			wrong = append(wrong, fmt.Sprintf("%s: %q is no number of pieces", was.Name, g.Number))
		case n != number:
			set("lights[0]."+key, n)
		}
		if g.Ohms != "" {
			ohms, ok := plan.OhmsOf(g.Ohms)
			switch {
			case !ok:
				wrong = append(wrong, fmt.Sprintf("%s: %q is no resistance; write ohms, as 150", was.Name, g.Ohms))
			case ohms != l.Ohms.Nominal:
				set("lights[0].ohms", written(ohms))
			}
		}
	}
	if g.Name != "" && g.Name != was.Name {
		out = append(out, plan.Rename(path, g.Name))
	}
	return out, wrong
}

// written is a number as a maker writes it: whole ones without a point.
func written(v float64) any {
	if v == math.Trunc(v) {
		return int(v)
	}
	return v
}

// newGroup adds a group of one kind of light.
func newGroup(g page.GroupSketch, strip func(part string) bool) (c plan.Change, wrong string) {
	n, err := strconv.Atoi(g.Number)
	switch {
	case g.Name == "":
		return c, "the new group has no name yet"
	case g.Part == "":
		return c, fmt.Sprintf("%s: no part is chosen yet", g.Name)
	case err != nil || n < 1:
		return c, fmt.Sprintf("%s: %q is no number of pieces", g.Name, g.Number)
	}
	light := plan.Table{{Key: "part", Value: g.Part}}
	if g.Ohms != "" {
		ohms, ok := plan.OhmsOf(g.Ohms)
		if !ok {
			return c, fmt.Sprintf("%s: %q is no resistance; write ohms, as 150", g.Name, g.Ohms)
		}
		light = append(light, plan.KeyValue{Key: "ohms", Value: written(ohms)})
	}
	switch {
	case strip(g.Part):
		light = append(light, plan.KeyValue{Key: "segments", Value: n})
	case n > 1:
		light = append(light, plan.KeyValue{Key: "count", Value: n})
	}
	keys := plan.Table{{Key: "name", Value: g.Name}, {Key: "closure", Value: g.Closure}, {Key: "joint", Value: g.Joint},
		{Key: "lights", Value: []plan.Table{light}}}
	if g.See != "" {
		keys = append(keys, plan.KeyValue{Key: "see", Value: g.See})
	}
	return plan.Add("group", "", keys), ""
}
