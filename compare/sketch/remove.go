package sketch

import (
	"fmt"
	"strconv"
	"strings"

	"sealworthy/compare/plan"
)

// hangsBy are the keys by which a place is named by what hangs on it.
var hangsBy = map[string][]string{"joint": {"joint", "from"}, "return": {"return", "to"}, "closure": {"closure",
	"inside"}}

// Remove are the changes that take a place out. What hangs on a joint or return then
// hangs on what that hung on; what closed under or inside a closure, on what that closes
// inside of. The error says what must go first.
func Remove(p *plan.Plan, said plan.Said, at Place) ([]plan.Change, error) {
	if at.Kind == "board" {
		var groups []string
		for _, g := range p.Groups {
			if g.Board == at.Name {
				groups = append(groups, strconv.Quote(g.Name))
			}
		}
		if groups != nil {
			return nil, fmt.Errorf("board %q feeds %s: hang them on something else first, or take them out", at.Name,
				strings.Join(groups, " and "))
		}
	}
	all := allNamed(p)
	on := "" // what it hung on itself
	for _, x := range all {
		if x.Place == at {
			on = x.on
		}
	}
	var out []plan.Change
	for _, x := range all {
		for _, key := range hangsBy[at.Kind] {
			path := plan.PathOf(x.Kind, x.Name, key)
			switch v, ok := said.At(path); {
			case !ok || v != at.Name:
			case on == "":
				out = append(out, plan.Drop(path))
			default:
				out = append(out, plan.Put(path, on))
			}
		}
	}
	return append(out, plan.Drop(at.Path())), nil
}

// named is a place with what it hangs on, or closes inside of.
type named struct {
	Place
	on string
}

// allNamed are all tables of a plan with a name, jacks aside.
func allNamed(p *plan.Plan) (out []named) {
	for _, c := range p.Closures {
		out = append(out, named{Place{"closure", c.Name}, c.Inside})
	}
	for _, j := range p.Joints {
		out = append(out, named{Place{"joint", j.Name}, j.From})
	}
	for _, r := range p.Returns {
		out = append(out, named{Place{"return", r.Name}, r.To})
	}
	for _, b := range p.Boards {
		out = append(out, named{Place: Place{"board", b.Name}})
	}
	for _, g := range p.Groups {
		out = append(out, named{Place: Place{"group", g.Name}})
	}
	return out
}
