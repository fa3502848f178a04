package page

import (
	"cmp"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/sketch"
)

// sketchHelpers are what the templates of a plan call.
var sketchHelpers = template.FuncMap{
	"figuresof": func(n nodeView) string { return figuresOf(n.Node) },
	"dropof":    func(n nodeView) string { return dropOf(n.Node) },
	"opensof":   func(n nodeView) string { return opensOf(n.Node) },
	"colour":    colourClass,
	"shape":     shapeID,
	"cards": func(name, value string, groups []cardGroup) cardsView {
		return cardsView{name, value, groups, slices.ContainsFunc(groups, func(g cardGroup) bool { return !g.Fits })}
	},
	"cardgroup": func(name, value string, g cardGroup) cardGroupView { return cardGroupView{name, value, g} },
	"addkind": func(kind string) string {
		return map[string]string{"group": "Add the group", "joint": "Add the joint", "board": "Add the board",
			"closure": "Add the closure"}[kind]
	},
}

// planView is the page of a plan.
type planView struct {
	ID, Name, Where string
	Draft           int
	Steps           []string
	Refused         []string  // why what was asked for wasn't done
	Parted          *versions // the file was changed meanwhile
	Awaited         awaited
	Offers          []offerView
	Roots           []nodeView
	Closures        []nodeView
	Chosen          *chosenView
	At              string
	Reckoned        reckonedView
}

// nodeView is a place of the tree.
type nodeView struct {
	sketch.Node
	At     string
	URL    string
	Chosen bool
	Nodes  []nodeView
}

// chosenView is the form of the chosen place.
type chosenView struct {
	ID     string
	Draft  int
	At     string
	Place  sketch.Place
	Node   nodeView
	Fields []fieldView
	Items  []sketch.Item // that can be taken out
	Others []otherView
	Kept   string // what becomes of its readings under another name; "": it has none
	Adds   []addView
}

// fieldView is one field with its cards.
type fieldView struct {
	sketch.Field
	Cards  []cardGroup
	Head   string // of the item that it's the first one of
	prefix string
}

// otherView is a form that adds to a list of the chosen place.
type otherView struct {
	List, Says string
	Open       bool
	Cards      []cardGroup
	Fields     []fieldView
}

// Name is that of the field in a form.
func (f fieldView) Name() string { return f.prefix + f.Path }

// cardGroup is parts that look alike.
type cardGroup struct {
	Looks, Told string
	Fits        bool
	Cards       []sketch.Card
}

// cardsView is the cards of one field, cardGroupView some that look alike.
type cardsView struct {
	Name, Value string
	Groups      []cardGroup
	Others      bool // some are made for another voltage
}

type cardGroupView struct {
	Name, Value string
	Group       cardGroup
}

// addView is a form that adds a place to the chosen one.
type addView struct {
	ID       string
	Draft    int
	At       string
	Kind, On string
	Says     string
	Cards    []cardGroup
	Closures []string // of a group, where there's a choice
	Closure  string   // that of its neighbour; empty: it goes without saying
	// Open: it was filled in and refused; what was typed stays.
	Open              bool
	Name, Count, Part string
}

// versions are the lines in which a draft and the file differ.
type versions struct{ File, Yours string }

// planPage shows the plan of a build.
func (s *Server) planPage(w http.ResponseWriter, r *http.Request) {
	d, letGo, ok := s.onTheDraft(w, r)
	if !ok {
		return
	}
	defer letGo()
	s.showPlan(w, r, d, atOf(r.URL.Query().Get("at")), nil, nil)
}

// showPlan shows a draft with the form of a place, filled in as it came where it was
// refused.
func (s *Server) showPlan(w http.ResponseWriter, r *http.Request, d *draft, at sketch.Place, refused error,
	form url.Values) {
	p, said, err := d.plan()
	if err == nil {
		d.known, err = s.o.Plans.PlanKnown(r.Context(), r.PathValue("id"))
	}
	if err != nil {
		s.failed(w, err)
		return
	}
	v := planView{ID: r.PathValue("id"), Name: d.file.Name, Where: d.file.Where, Draft: d.version, Steps: d.says(),
		At: atText(at), Offers: offersOf(d, p, said)}
	v.Awaited = s.awaited(v.ID, d.known.Findings, planOf, url.Values{"draft": {strconv.Itoa(d.version)}})
	if d.parted() {
		v.Parted = differ(d.file.Src, d.now())
	}
	own, _, err := d.plan() // it's read while this goes on
	if err != nil {
		s.failed(w, err)
		return
	}
	var bud *budget.Budget // its figures come later
	if x := s.reckonings.begin(v.ID, d.version, own); x.within(r.Context(), cmp.Or(s.o.ReckonedWith, reckonedWith)) {
		v.Reckoned, bud = reckonedOf(p, x.what, x.why), x.what.Budget
	} else {
		v.Reckoned.From = reckonedFrom(v.ID, x)
	}
	for _, n := range sketch.Tree(p, bud) {
		v.Roots = append(v.Roots, v.node(n, at))
	}
	for _, x := range sketch.Places(p, said) {
		if x.Kind == "closure" {
			v.Closures = append(v.Closures, v.node(sketch.Node{Place: x, Made: closureSays(p, x.Name)}, at))
		}
	}
	if sketch.Has(p, said, at) {
		v.Chosen = s.chosen(&v, d, p, said, at, form)
	}
	if refused != nil {
		v.Refused = whyNot(refused)
	}
	status := http.StatusOK
	if refused != nil {
		status = http.StatusUnprocessableEntity
	}
	frame := s.frame(v.Name+", the plan", v)
	frame.Simulated = d.file.Simulated
	s.show(w, status, "plan", frame)
}

func (v *planView) node(n sketch.Node, at sketch.Place) nodeView {
	out := nodeView{Node: n, At: atText(n.Place), URL: planURL(v.ID, n.Place), Chosen: n.Place == at}
	for _, x := range n.Nodes {
		out.Nodes = append(out.Nodes, v.node(x, at))
	}
	return out
}

// nodeAt is the place of a tree; the zero nodeView: it isn't in it.
func nodeAt(ns []nodeView, at sketch.Place) nodeView {
	for _, n := range ns {
		if n.Place == at {
			return n
		}
		if x := nodeAt(n.Nodes, at); x.Place == at {
			return x
		}
	}
	return nodeView{}
}

// closureSays says what a closure closes inside of.
func closureSays(p *plan.Plan, name string) string {
	for _, c := range p.Closures {
		if c.Name == name && c.Inside != "" {
			return "closes inside " + c.Inside
		}
	}
	return ""
}

func (s *Server) chosen(v *planView, d *draft, p *plan.Plan, said plan.Said, at sketch.Place,
	form url.Values) *chosenView {
	fields, err := sketch.Fields(p, said, at)
	if err != nil {
		return nil
	}
	c := &chosenView{ID: v.ID, Draft: d.version, At: atText(at), Place: at, Node: nodeAt(v.Roots, at)}
	if n := d.known.Measured[at.Name]; n > 0 && isFeed(at) {
		c.Kept = capital(readingsUnder(at.Name, n)) + " " + staysUnder(at.Name)
	}
	volts, book := voltsOf(p), said.Book(d.file.Options)
	for i, f := range fields {
		x := fieldView{Field: f, prefix: "f "}
		if i == 0 || fields[i-1].Of != f.Of {
			x.Head = f.Of
		}
		if len(f.Kinds) > 0 {
			x.Cards = cardsOf(sketch.Cards(book, volts, f.Kinds...))
		}
		if typed := form["f "+f.Path]; len(typed) > 0 {
			x.Value = typed[0]
		}
		c.Fields = append(c.Fields, x)
	}
	c.Items, c.Others = sketch.Items(p, said, at), othersOf(p, said, at, book, form)
	add := func(kind, on, says string, kinds ...plan.PartKind) {
		a := addView{ID: v.ID, Draft: d.version, At: c.At, Kind: kind, On: on, Says: says}
		if len(kinds) > 0 {
			a.Cards = cardsOf(sketch.Cards(book, volts, kinds...))
		}
		if kind == "group" && len(v.Closures) > 1 {
			a.Closure = sketch.ClosureFor(p, said, on)
			for _, n := range v.Closures {
				a.Closures = append(a.Closures, n.Name)
			}
		}
		if form.Get("kind") == kind && form.Get("on") == on {
			a.Open, a.Name, a.Count, a.Part = true, form.Get("name"), form.Get("count"), form.Get("part")
			a.Closure = form.Get("closure")
		}
		c.Adds = append(c.Adds, a)
	}
	lights := []plan.PartKind{plan.PartStrip, plan.PartSMD, plan.PartLED}
	switch at.Kind {
	case "jack", "joint":
		add("group", "joint "+at.Name, "a group on "+at.Name, lights...)
		add("joint", at.Name, "a joint behind "+at.Name)
		add("board", at.Name, "a board on "+at.Name, plan.PartBoard)
	case "board":
		if o := freeOutput(p, at.Name); o > 0 {
			add("group", fmt.Sprintf("%d of %s", o, at.Name), fmt.Sprintf("a group on output %d of %s", o, at.Name),
				lights...)
		}
	case "closure":
		add("closure", at.Name, "a closure that closes inside "+at.Name)
		add("closure", "", "a closure beside it")
	}
	return c
}

// othersOf are the forms that add to the lists of a place.
func othersOf(p *plan.Plan, said plan.Said, at sketch.Place, book *plan.Book,
	form url.Values) (out []otherView) {
	for _, o := range sketch.Others(p, said, at) {
		v := otherView{List: o.List, Says: o.Says, Cards: cardsOf(o.Cards), Open: form.Get("list") == o.List}
		if len(o.Kinds) > 0 {
			v.Cards = cardsOf(sketch.Cards(book, voltsOf(p), o.Kinds...))
		}
		for _, f := range o.Fields {
			if v.Open { // it was refused
				f.Value = form.Get("i " + f.Path)
			}
			v.Fields = append(v.Fields, fieldView{Field: f, prefix: "i "})
		}
		out = append(out, v)
	}
	return out
}

// freeOutput is the first output of a board on which no group hangs; 0: none.
func freeOutput(p *plan.Plan, board string) int {
	taken := map[int]bool{}
	for _, g := range p.Groups {
		if g.Board == board {
			taken[g.Output] = true
		}
	}
	for _, b := range p.Boards {
		for _, o := range b.Outputs {
			if b.Name == board && !taken[o.Number] {
				return o.Number
			}
		}
	}
	return 0
}

// voltsOf is what parts of a plan should be made for: the volts of its first jack.
func voltsOf(p *plan.Plan) float64 {
	if len(p.Jacks) == 0 {
		return 0
	}
	return p.Jacks[0].Volts
}

// cardsOf puts cards that look alike together, in their order.
func cardsOf(cards []sketch.Card) (out []cardGroup) {
	for _, c := range cards {
		n := len(out) - 1
		if n < 0 || out[n].Looks != c.Looks || out[n].Fits != c.Fits {
			out = append(out, cardGroup{Looks: c.Looks, Told: c.Told, Fits: c.Fits})
			n++
		}
		out[n].Cards = append(out[n].Cards, c)
	}
	return out
}

// mostProblems are told of what can't be.
const mostProblems = 3

// differ gives the lines in which two texts differ, between the first and the last that do.
func differ(file, yours []byte) *versions {
	a, b := strings.Split(string(file), "\n"), strings.Split(string(yours), "\n")
	from := 0
	for from < len(a) && from < len(b) && a[from] == b[from] {
		from++
	}
	endA, endB := len(a), len(b)
	for endA > from && endB > from && a[endA-1] == b[endB-1] {
		endA, endB = endA-1, endB-1
	}
	return &versions{numbered(a[from:endA], from), numbered(b[from:endB], from)}
}

func numbered(lines []string, from int) string {
	var b strings.Builder
	for i, l := range lines {
		fmt.Fprintf(&b, "%s  %s\n", strconv.Itoa(from+i+1), strings.TrimRight(l, "\r"))
	}
	return b.String()
}

// colourClass is the class of a colour of light.
func colourClass(c string) string {
	switch c {
	case "red", "amber", "yellow", "green", "blue", "warm white", "cold white":
		return "c-" + strings.ReplaceAll(c, " ", "-")
	}
	return "c-none"
}
