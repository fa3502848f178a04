package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// namedTables are those whose name stands in their heading, with a name for examples.
var namedTables = map[string]string{"jack": "main", "joint": "keel", "return": "mast", "closure": "hull",
	"board": "beacon", "part": "my strip"}

// headingSlip is a heading with the wrong brackets, or without its name: what it
// should be, so that it is reported once and what stands below it is read as meant.
type headingSlip struct {
	table   string // group, joint
	name    string // "": it stands below as name = "…"
	what    string
	instead string
}

// bracketSlip sees whether a heading has the brackets of the other kind. Nil: no.
func (s *source) bracketSlip(e *unstable.Node, list bool) *headingSlip {
	var keys []string
	for it := e.Key(); it.Next(); {
		keys = append(keys, string(it.Node().Data))
	}
	table := keys[0]
	if len(keys) > 2 {
		return nil
	}
	if one := strings.TrimSuffix(table, "s"); one != table && (one == "group" || namedTables[one] != "") {
		slip := headingSlip{table: one, what: fmt.Sprintf("the word is %q", one), instead: "write [[group]]"}
		if len(keys) == 2 {
			slip.name = keys[1]
		}
		if one != "group" {
			slip.instead = fmt.Sprintf("write [%s.%s]", one, bareOrQuoted(cmp.Or(slip.name, namedTables[one])))
		}
		return &slip
	}
	if table == "group" && !(list && len(keys) == 1) {
		slip := headingSlip{table: table, what: "a group has two brackets on each side", instead: "write [[group]]"}
		if len(keys) == 2 {
			slip.name, slip.what = keys[1], "a group's name doesn't stand in its heading"
			slip.instead = fmt.Sprintf("write [[group]], and name = %q on the next line", keys[1])
		}
		return &slip
	}
	example, named := namedTables[table]
	switch {
	case !named || len(keys) == 2 && !list:
		return nil
	case len(keys) == 2:
		return &headingSlip{table, keys[1], fmt.Sprintf("a %s has one bracket on each side", table),
			fmt.Sprintf("write [%s.%s]", table, bareOrQuoted(keys[1]))}
	}
	return &headingSlip{table, "", fmt.Sprintf("a %s has its name in its heading", table),
		fmt.Sprintf("write [%s.%s], with your name for it", table, bareOrQuoted(example))}
}

// bareOrQuoted is a name as it stands in a heading.
func bareOrQuoted(name string) string {
	if name != "" && !strings.ContainsFunc(name, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' || r == '-')
	}) {
		return name
	}
	return tomlText(name)
}

// slipped reports a heading, once for each kind of slip, and makes the table that was
// meant.
func (s *source) slipped(root *node, e *unstable.Node, slip headingSlip) *node {
	it := e.Key()
	it.Next()
	at := int(it.Node().Raw.Offset)
	for it.Next() {
		at = int(it.Node().Raw.Offset)
	}
	s.slips = append(s.slips, placedSlip{at, slip})
	n := &node{shape: tableShape, at: at}
	if slip.table == "group" {
		if slip.name != "" {
			n.add("name", at, &node{shape: textShape, at: at, text: slip.name})
		}
		old := root.get("group")
		if old == nil {
			root.add("group", at, &node{shape: arrayShape, at: at, headed: true})
			old = root.get("group")
		}
		old.val.items = append(old.val.items, n)
		return n
	}
	old := root.get(slip.table)
	if old == nil {
		root.add(slip.table, at, &node{shape: tableShape, at: at, open: true})
		old = root.get(slip.table)
	}
	if slip.name == "" {
		s.unnamed = append(s.unnamed, unnamedTable{old.val, n, namedTables[slip.table]})
		return n
	}
	if was := old.val.get(slip.name); was != nil {
		s.again(slip.name, at, was)
		return n
	}
	old.val.add(slip.name, at, n)
	return n
}

// placedSlip is a slip of a heading with its place.
type placedSlip struct {
	at int
	headingSlip
}

// unnamedTable waits for the name that stands below its heading.
type unnamedTable struct {
	in, table *node
	example   string
}

// settleHeadings gives tables without a name in the heading the one below it, or an
// example's, and says each kind of slip once, with the lines where it stands.
func (s *source) settleHeadings() {
	for _, u := range s.unnamed {
		name := u.example
		if e := u.table.get("name"); e != nil && e.val.shape == textShape {
			name = e.val.text
			u.table.drop("name")
		}
		if u.in.get(name) == nil {
			u.in.add(name, u.table.at, u.table)
		}
	}
	said := map[string]bool{}
	for i, p := range s.slips {
		if said[p.what] {
			continue
		}
		said[p.what] = true
		var also []string
		for _, q := range s.slips[i+1:] {
			if q.what == p.what {
				also = append(also, fmt.Sprint(s.place(q.at).Line))
			}
		}
		instead := p.instead
		if len(also) > 0 {
			instead += "; likewise on line " + strings.Join(also, ", ")
		}
		s.fail(p.at, instead, "%s", p.what)
	}
}

// drop takes a key out of a table.
func (n *node) drop(key string) {
	i, ok := n.index[key]
	if !ok {
		return
	}
	n.entries = slices.Delete(n.entries, i, i+1)
	delete(n.index, key)
	for k, at := range n.index {
		if at > i {
			n.index[k] = at - 1
		}
	}
}
