package sketch

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sealworthy/compare/plan"
)

// Changes are what a filled-in form asks for: what differs from what the plan says, by
// the path of each field. Fields that aren't in it stay. A number may have a unit; what
// is none (see Unread) goes on to the plan as it is, which says so. after is the place, by its
// new name.
func Changes(fields []Field, book *plan.Book, at Place, filled map[string]string) (changes []plan.Change,
	after Place) {
	after = at
	var rename []plan.Change
	for _, f := range fields {
		v, ok := f.Filled(filled)
		if !ok {
			continue
		}
		switch {
		case f.Path == at.Path(): // its name
			rename = append(rename, plan.Rename(at.Path(), v))
			after.Name = v
		case f.Key == fedBy:
			changes = append(changes, moved(at, f.Value, v)...)
		case f.Input == Part && f.Light > 0:
			changes = append(changes, another(f, book, v))
		case v == "" && f.Value != "":
			changes = append(changes, plan.Drop(f.Path))
		default:
			changes = append(changes, plan.Put(f.Path, valueOf(f, v)))
		}
	}
	return append(changes, rename...), after
}

// Filled gives what a form says of a field; ok: it's another value than the plan's.
func (f Field) Filled(filled map[string]string) (value string, ok bool) {
	raw, ok := filled[f.Path]
	value = strings.Join(strings.Fields(raw), " ")
	return value, ok && raw != f.Value && value != f.Value // raw: what the plan says may have two blanks
}

// Unread says of each number that was filled in and is none what is asked for.
func Unread(fields []Field, filled map[string]string) (out []string) {
	for _, f := range fields {
		raw := filled[f.Path]
		v := strings.TrimSpace(raw)
		if v == "" || v == f.Value || raw == f.Value {
			continue
		}
		_, whole := strconv.ParseInt(v, 10, 64)
		_, number := plan.NumberOf(f.Key, v)
		switch {
		case f.Input == Whole && whole != nil:
			out = append(out, fmt.Sprintf("%s: %q isn't understood: a whole number, as %s", f.Label, v, f.Example))
		case f.Input == Number && !number:
			out = append(out, fmt.Sprintf("%s: %q isn't understood: a number, as %s", f.Label, v, f.Example))
		}
	}
	return out
}

// valueOf is what a plan says for what was typed.
func valueOf(f Field, text string) any {
	switch f.Input {
	case Whole:
		if n, err := strconv.ParseInt(text, 10, 64); err == nil {
			return n
		}
	case Number:
		if x, ok := plan.NumberOf(f.Key, text); ok {
			if n := int64(x); float64(n) == x && !strings.ContainsAny(text, ".,") {
				return n // as a maker writes it
			}
			return x
		}
	case List:
		return listed(text)
	}
	if n, err := strconv.ParseInt(text, 10, 64); f.Key == "pin" && err == nil && n >= 0 {
		return n
	}
	return text
}

// listed parts texts by their commas.
func listed(text string) []string {
	var out []string
	for _, s := range strings.Split(text, ",") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// moved are the changes that hang a group on something else.
func moved(at Place, was, to string) (out []plan.Change) {
	path := at.Path()
	onBoard := func(v string) bool { return !strings.HasPrefix(v, "joint ") }
	joint, _ := strings.CutPrefix(to, "joint ")
	output, board, _ := strings.Cut(to, " of ")
	n, _ := strconv.Atoi(output) // what is none, the plan refuses
	switch {
	case onBoard(was) && onBoard(to):
		return []plan.Change{plan.Put(path+".board", board), plan.Put(path+".output", n)}
	case onBoard(was):
		return []plan.Change{plan.Drop(path + ".board"), plan.Put(path+".output", 1), plan.Drop(path + ".output"),
			plan.Put(path+".joint", joint)}
	case onBoard(to):
		return []plan.Change{plan.Put(path+".joint", joint), plan.Drop(path + ".joint"),
			plan.Put(path+".board", board), plan.Put(path+".output", n)}
	}
	return []plan.Change{plan.Put(path+".joint", joint)}
}

// another is the change to another part: one of its own kind goes in its place, one of
// another kind begins anew with what such a light must have.
func another(f Field, book *plan.Book, name string) plan.Change {
	if name == "as found" {
		path, _, _ := strings.Cut(f.Path, ".lights")
		return plan.Put(path+".lights", name)
	}
	light, err := lightOf(book, name)
	if err != nil {
		return plan.Put(f.Path, name) // the plan says which are nearest
	}
	if f.Key == "lights" {
		return plan.Put(f.Path, []plan.Table{light})
	}
	if old, err := book.Find(f.Value); err == nil && sameKind(book, old.Kind, name) {
		return plan.Put(f.Path, name)
	}
	return plan.Put(strings.TrimSuffix(f.Path, ".part"), light)
}

func sameKind(book *plan.Book, kind plan.PartKind, name string) bool {
	p, err := book.Find(name)
	return err == nil && p.Kind == kind
}

// usualOhms is put beside a bare LED that has just been chosen: some 15 mA at 12 V for
// a red one, less at less. It stands in the form to be changed. Common practice, no source.
const usualOhms = 680

// lightOf is a light of a part with what it must have, to begin with. The error is
// that of the book.
func lightOf(book *plan.Book, name string) (plan.Table, error) {
	p, err := book.Find(name)
	if err != nil {
		return nil, err
	}
	t := plan.Table{{Key: "part", Value: p.Name}}
	switch p.Kind {
	case plan.PartStrip:
		t = append(t, plan.KeyValue{Key: "segments", Value: 1})
	case plan.PartLED:
		t = append(t, plan.KeyValue{Key: "ohms", Value: usualOhms})
	}
	return t, nil
}

// New is what is known of a place that is to be added.
type New struct {
	Place
	// what it hangs on: a jack, joint or return; of a group as Feeds writes it; of a closure what it closes inside of
	On   string
	Part string // of a board or a group

	Closure string // what closes over a board or a group; empty: as goes without saying, else as its neighbour
	Count   string // of a group: segments of a strip, pieces of what isn't one; empty: one
}

// Added is the change that adds a place. Where closures are several and what it hangs
// on names none, it closes under the one of its neighbour there, else the outermost.
func Added(p *plan.Plan, said plan.Said, book *plan.Book, n New) (plan.Change, error) {
	var keys plan.Table
	say := func(key string, v any) { keys = append(keys, plan.KeyValue{Key: key, Value: v}) }
	switch n.Kind {
	case "closure":
		if n.On != "" {
			say("inside", n.On)
		}
	case "joint":
		say("from", n.On)
	case "return":
		say("to", n.On)
	case "board":
		say("part", n.Part)
		say("joint", n.On)
		if c := cmp.Or(n.Closure, closureFor(p, said, n.On, "")); c != "" {
			say("closure", c)
		}
	case "group":
		light, err := lightOf(book, n.Part)
		if err == nil {
			light, err = counted(light, n.Count)
		}
		if err != nil {
			return plan.Change{}, err
		}
		say("name", n.Name)
		joint, isJoint := strings.CutPrefix(n.On, "joint ")
		output, board, _ := strings.Cut(n.On, " of ")
		if isJoint {
			board = ""
		}
		if c := cmp.Or(n.Closure, closureFor(p, said, joint, board)); c != "" {
			say("closure", c)
		}
		if isJoint {
			say("joint", joint)
		} else {
			number, _ := strconv.Atoi(output) // what is none, the plan refuses
			say("board", board)
			say("output", number)
		}
		say("lights", []plan.Table{light})
		return plan.Add("group", "", keys), nil
	default:
		return plan.Change{}, fmt.Errorf("a %s isn't added here; write it in an editor", n.Kind)
	}
	return plan.Add(n.Kind, n.Name, keys), nil
}

// counted is a light with so many segments, or pieces.
func counted(light plan.Table, count string) (plan.Table, error) {
	if count == "" {
		return light, nil
	}
	n, err := strconv.ParseInt(count, 10, 64)
	if err != nil {
		return nil, fmt.Errorf("how many: %q isn't understood: a whole number, as 6", count)
	}
	for i := range light {
		if light[i].Key == "segments" {
			light[i].Value = n
			return light, nil
		}
	}
	if n == 1 {
		return light, nil
	}
	return append(light, plan.KeyValue{Key: "count", Value: n}), nil
}

// ClosureFor is what closes over a group that is added to what Feeds writes; "": it goes
// without saying.
func ClosureFor(p *plan.Plan, said plan.Said, on string) string {
	joint, isJoint := strings.CutPrefix(on, "joint ")
	if isJoint {
		return closureFor(p, said, joint, "")
	}
	_, board, _ := strings.Cut(on, " of ")
	return closureFor(p, said, "", board)
}

// closureFor is what closes over something that is added; "": it goes without saying.
func closureFor(p *plan.Plan, said plan.Said, joint, board string) string {
	var closures []string
	for _, c := range p.Closures {
		if said.Has(plan.PathOf("closure", c.Name)) {
			closures = append(closures, c.Name)
		}
	}
	if len(closures) < 2 {
		return ""
	}
	if b, ok := p.Board(board); ok {
		if b.Closure != "" {
			return ""
		}
		joint = b.Joint
	}
	for _, g := range slices.Backward(p.Groups) {
		beside := board != "" && g.Board == board || board == "" && g.Board == "" && g.Joint == joint
		if beside && slices.Contains(closures, g.Closure) {
			return g.Closure
		}
	}
	if j, _ := p.Joint(joint); j.Closure != "" {
		return ""
	}
	return closures[len(closures)-1] // inner ones stand before those that they close inside of
}
