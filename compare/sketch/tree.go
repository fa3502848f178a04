package sketch

import (
	"slices"

	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// Place is something of a plan that can be pointed at.
type Place struct {
	Kind string `json:"kind"` // jack, closure, joint, return, board, group
	Name string `json:"name"`
}

// Path is its path in the plan's file.
func (p Place) Path() string { return plan.PathOf(p.Kind, p.Name) }

// Node is a place of the feed tree with all that hangs on it. Everything is lit, in
// service, at the jack's own voltage.
type Node struct {
	Place
	Closure string `json:"closure,omitempty"`
	// Known: it has figures. Amps flow through it; of healthy models as many as the budget
	// says between LowA and HighA.
	Known bool    `json:"known"`
	Amps  float64 `json:"amps"` // A, see Known
	LowA  float64 `json:"low_a"`
	HighA float64 `json:"high_a"`
	Volts float64 `json:"volts"`  // there, against its own minus
	DropV float64 `json:"drop_v"` // on the way from the node that it hangs on
	// LowDropV and HighDropV are about DropV what LowA and HighA are about Amps.
	LowDropV  float64 `json:"low_drop_v"`
	HighDropV float64 `json:"high_drop_v"`

	Wire   string   `json:"wire,omitempty"`   // that leads to it, as a maker would say it
	Holds  []string `json:"holds,omitempty"`  // in series before it, in words
	Made   string   `json:"made,omitempty"`   // of what a group or board is, in words
	Output int      `json:"output,omitempty"` // of the board that it hangs on, from 1; 0: none
	Dark   []string `json:"dark,omitempty"`   // groups that go dark if it opens
	AllOf  bool     `json:"all_of"`           // those are all that there are
	Nodes  []Node   `json:"nodes,omitempty"`
}

// Tree is the feed tree of a plan, a node a jack, then those of its returns, each with
// what leads to it. b is its budget; nil where none could be made: then it has no figures.
func Tree(p *plan.Plan, b *budget.Budget) []Node {
	t := tree{p: p, joints: map[Place]budget.Joint{}}
	for _, g := range p.Groups {
		if !g.Sealed {
			t.lit++
		}
	}
	if b != nil {
		for _, j := range b.Joints {
			t.joints[Place{j.Kind, j.Name}] = j
		}
	}
	var out []Node
	for _, j := range p.Jacks {
		n := t.node(Place{"jack", j.Name}, "")
		n.Volts = j.Volts
		n.Nodes = t.fedBy(j.Name)
		out = append(out, n)
	}
	for _, j := range p.Jacks {
		out = append(out, t.returnsTo(j.Name)...)
	}
	return out
}

type tree struct {
	p      *plan.Plan
	joints map[Place]budget.Joint
	lit    int // groups that light
}

func (t tree) node(at Place, closure string) Node {
	n := Node{Place: at, Closure: closure}
	j, ok := t.joints[at]
	if !ok {
		return n
	}
	n.Known, n.Amps, n.LowA, n.HighA = true, j.Amps, j.LowA, j.HighA
	n.DropV, n.LowDropV, n.HighDropV = j.Drop, j.LowDrop, j.HighDrop
	n.Volts, n.Wire, n.Holds, n.Dark = j.Volts, j.Wire, j.Holds, j.Dark
	n.AllOf = len(n.Dark) > 1 && len(n.Dark) == t.lit
	return n
}

// fedBy are the places that a jack or joint feeds, in the order of the plan.
func (t tree) fedBy(name string) (out []Node) {
	for _, j := range t.p.Joints {
		if j.From == name {
			n := t.node(Place{"joint", j.Name}, j.Closure)
			n.Nodes = t.fedBy(j.Name)
			out = append(out, n)
		}
	}
	for _, b := range t.p.Boards {
		if b.Joint == name {
			n := t.node(Place{"board", b.Name}, b.Closure)
			n.Made = b.Part
			n.Nodes = t.groupsOf(func(g plan.Group) bool { return g.Board == b.Name })
			out = append(out, n)
		}
	}
	return append(out, t.groupsOf(func(g plan.Group) bool { return g.Board == "" && g.Joint == name })...)
}

func (t tree) groupsOf(is func(plan.Group) bool) (out []Node) {
	for _, g := range t.p.Groups {
		if is(g) {
			out = append(out, t.group(g))
		}
	}
	return out
}

func (t tree) group(g plan.Group) Node {
	n := t.node(Place{"group", g.Name}, g.Closure)
	n.Output = g.Output
	n.Known = n.Known && !g.AsFound
	var made []string
	for _, l := range g.Lights {
		made = append(made, words.Lights(l))
	}
	n.Made = words.List(made)
	if g.AsFound {
		n.Made = "as found: measured, not judged"
	}
	return n
}

// returnsTo are the returns that lead to a jack or return.
func (t tree) returnsTo(name string) (out []Node) {
	for _, r := range t.p.Returns {
		if r.To == name {
			n := t.node(Place{"return", r.Name}, r.Closure)
			n.Nodes = t.returnsTo(r.Name)
			out = append(out, n)
		}
	}
	return out
}

// Places are all that can be pointed at, closures first, in the order of the plan.
func Places(p *plan.Plan, said plan.Said) (out []Place) {
	for _, c := range p.Closures {
		if at := (Place{"closure", c.Name}); said.Has(at.Path()) {
			out = append(out, at)
		}
	}
	for _, j := range p.Jacks {
		out = append(out, Place{"jack", j.Name})
	}
	for _, j := range p.Joints {
		out = append(out, Place{"joint", j.Name})
	}
	for _, r := range p.Returns {
		out = append(out, Place{"return", r.Name})
	}
	for _, b := range p.Boards {
		out = append(out, Place{"board", b.Name})
	}
	for _, g := range p.Groups {
		out = append(out, Place{"group", g.Name})
	}
	return out
}

// Has tells whether a plan has a place.
func Has(p *plan.Plan, said plan.Said, at Place) bool { return slices.Contains(Places(p, said), at) }
