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
	// Known: it has figures. Amps flow through it, from LowA to HighA: of a group the
	// band of the budget; of a place that feeds several, as wide as if all of them were
	// at one end at once, so never narrower than theirs.
	Known bool    `json:"known"`
	Amps  float64 `json:"amps"` // A, see Known
	LowA  float64 `json:"low_a"`
	HighA float64 `json:"high_a"`
	Volts float64 `json:"volts"`  // there, against its own minus
	DropV float64 `json:"drop_v"` // on the way from the node that it hangs on

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
	t := tree{p: p, joints: map[Place]budget.Joint{}, groups: map[string]budget.Group{}}
	for _, g := range p.Groups {
		if !g.Sealed {
			t.lit++
		}
	}
	if b != nil {
		for _, j := range b.Joints {
			t.joints[Place{j.Kind, j.Name}] = j
		}
		for _, g := range b.Groups {
			t.groups[g.Group] = g
		}
	}
	var out []Node
	for _, j := range p.Jacks {
		n := t.node(Place{"jack", j.Name}, "")
		n.Volts = j.Volts
		n.Nodes = t.fedBy(j.Name)
		out = append(out, t.widened(n))
	}
	for _, j := range p.Jacks {
		out = append(out, t.returnsTo(j.Name)...)
	}
	return out
}

type tree struct {
	p      *plan.Plan
	joints map[Place]budget.Joint
	groups map[string]budget.Group
	lit    int // groups that light
}

func (t tree) node(at Place, closure string) Node {
	n := Node{Place: at, Closure: closure}
	j, ok := t.joints[at]
	if !ok {
		return n
	}
	n.Known, n.Amps, n.LowA, n.HighA = true, j.Amps, j.Amps, j.Amps
	n.Volts, n.DropV, n.Wire, n.Holds, n.Dark = j.Volts, j.Drop, j.Wire, j.Holds, j.Dark
	n.AllOf = len(n.Dark) > 1 && len(n.Dark) == t.lit
	return n
}

// fedBy are the places that a jack or joint feeds, in the order of the plan.
func (t tree) fedBy(name string) (out []Node) {
	for _, j := range t.p.Joints {
		if j.From == name {
			n := t.node(Place{"joint", j.Name}, j.Closure)
			n.Nodes = t.fedBy(j.Name)
			out = append(out, t.widened(n))
		}
	}
	for _, b := range t.p.Boards {
		if b.Joint == name {
			n := t.node(Place{"board", b.Name}, b.Closure)
			n.Made = b.Part
			n.Nodes = t.groupsOf(func(g plan.Group) bool { return g.Board == b.Name })
			out = append(out, t.board(n, b))
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
	if b, ok := t.groups[g.Name]; ok && !b.AsFound {
		n.Amps, n.LowA, n.HighA = b.Service.NominalA, b.Service.LowA, b.Service.HighA
	}
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

// board widens a board's current by that of its groups and by its own draw.
func (t tree) board(n Node, b plan.Board) Node {
	own := b.Standing
	n = t.widened(n)
	if n.Known {
		n.LowA, n.HighA = max(0, n.LowA-own.HalfWidth), n.HighA+own.HalfWidth
	}
	return n
}

// widened gives a place a band: the share of its current by which all that it feeds may
// differ at once. A converter changes the current and not that share.
func (t tree) widened(n Node) Node {
	var amps, low, high float64
	for _, x := range n.Nodes {
		if !x.Known {
			continue
		}
		amps, low, high = amps+x.Amps, low+x.Amps-x.LowA, high+x.HighA-x.Amps
	}
	if amps > 0 && n.Known {
		n.LowA, n.HighA = n.Amps*(1-low/amps), n.Amps*(1+high/amps)
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
