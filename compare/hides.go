package compare

import (
	"slices"

	"sealworthy/compare/plan"
)

// ItemKind says what an item of a closure's list is.
type ItemKind string

// What a closure can hide, and with it can't be reached any more.
const (
	ItemGroup  ItemKind = "group"
	ItemBoard  ItemKind = "board"
	ItemJoint  ItemKind = "joint"
	ItemReturn ItemKind = "return"
	ItemWire   ItemKind = "wire"  // sealed in for a part still to come
	ItemThing  ItemKind = "thing" // what the plan names beside, as ballast
)

// TickedBy says how an item of a closure's list was ticked.
type TickedBy string

// How an item is ticked. The zero TickedBy is "not yet".
const (
	ByTest   TickedBy = "test"   // measured and looked at, with all that hangs on it
	ByHand   TickedBy = "hand"   // by the maker: no test can tell
	ByChoice TickedBy = "choice" // accepted as it is
)

// Words says how it's known of a thing that it's as it should be.
func (by TickedBy) Words() string {
	switch by {
	case ByTest:
		return "tested"
	case ByHand:
		return "checked by hand"
	case ByChoice:
		return "accepted as it is"
	}
	return "not yet"
}

// Item is one thing that must be in a closure before it closes.
type Item struct {
	Name string   `json:"name"`
	Kind ItemKind `json:"kind"`
	By   TickedBy `json:"ticked_by,omitempty"`
	// Feeds are the groups that hang on it, where it isn't one.
	Feeds []string `json:"feeds,omitempty"`
}

// itemsOf lists what a closure hides by itself, without what closes inside it.
func itemsOf(p *plan.Plan, closure string) []Item {
	var out []Item
	add := func(name, at string, kind ItemKind) {
		if at != closure {
			return
		}
		x := Item{Name: name, Kind: kind}
		if !x.isGroup() {
			x.Feeds = Behind(p, name)
		}
		out = append(out, x)
	}
	for _, x := range p.Joints {
		add(x.Name, x.Closure, ItemJoint)
	}
	for _, x := range p.Returns {
		add(x.Name, x.Closure, ItemReturn)
	}
	for _, x := range p.Boards {
		add(x.Name, x.Closure, ItemBoard)
	}
	for _, x := range p.Groups {
		kind := ItemGroup
		if x.Sealed {
			kind = ItemWire
		}
		add(x.Name, x.Closure, kind)
	}
	c, _ := p.Closure(closure)
	for _, thing := range c.Holds {
		out = append(out, Item{Name: thing, Kind: ItemThing})
	}
	if out == nil && !slices.ContainsFunc(p.Closures, func(c plan.Closure) bool { return c.Inside == closure }) {
		// The plan says of nothing that it is in there: that isn't ready by silence.
		out = append(out, Item{Name: AllOfIt, Kind: ItemThing})
	}
	return out
}

// AllOfIt is what is ticked by hand of a closure of which the plan says nothing.
const AllOfIt = "all of it"

// isGroup: it is measured itself.
func (x Item) isGroup() bool { return x.Kind == ItemGroup || x.Kind == ItemWire }

// byHandOnly: no test tells of it.
func (x Item) byHandOnly() bool { return !x.isGroup() && len(x.Feeds) == 0 }

// hidden is all that is out of reach once a closure is glued: its own items and
// those of what closes inside it.
type hidden struct {
	items  []Item
	groups []string // hidden themselves
	// through are groups elsewhere that are fed through something hidden, and by what.
	through []fed
}

// fed is a group that is fed through hidden places, the nearest to it last.
type fed struct {
	group string
	by    []string
}

func hides(p *plan.Plan, closure string) hidden {
	var h hidden
	for _, c := range inside(p, closure) {
		h.items = append(h.items, itemsOf(p, c)...)
	}
	for _, x := range h.items {
		if x.isGroup() {
			h.groups = append(h.groups, x.Name)
		}
	}
	for _, g := range p.Groups {
		if slices.Contains(h.groups, g.Name) {
			continue
		}
		var by []string
		for _, x := range h.items {
			if slices.Contains(x.Feeds, g.Name) {
				by = append(by, x.Name)
			}
		}
		if len(by) > 0 {
			h.through = append(h.through, fed{g.Name, by})
		}
	}
	return h
}

// holds reports whether a place is hidden.
func (h hidden) holds(place string) bool {
	return slices.ContainsFunc(h.items, func(x Item) bool { return x.Kind != ItemThing && x.Name == place })
}
