package plan

import (
	"fmt"
	"slices"
)

// childOf is what a step of a path leads to; nil: nothing.
func childOf(n *node, st step) *node {
	switch {
	case st.index >= 0 && n.shape == arrayShape:
		if st.index < len(n.items) {
			return n.items[st.index]
		}
	case n.shape == tableShape && st.index < 0:
		if x := n.get(st.key); x != nil {
			return x.val
		}
	case n.shape == arrayShape:
		if i := namedItem(n, st.key); i >= 0 {
			return n.items[i]
		}
	}
	return nil
}

// namedItem is the place in a list of tables of the one that has a name; -1: none.
func namedItem(n *node, name string) int {
	return slices.IndexFunc(n.items, func(it *node) bool {
		x := it.get("name")
		return x != nil && x.val.shape == textShape && x.val.text == name
	})
}

// replaceChild puts another node in the place of one.
func replaceChild(n *node, st step, by *node) {
	if n.shape == arrayShape {
		i := st.index
		if i < 0 {
			i = namedItem(n, st.key)
		}
		n.items[i] = by
		return
	}
	n.get(st.key).val = by
}

// drop takes something out.
func (e *editing) drop(path string, steps []step) error {
	above := []*node{e.root}
	for _, st := range steps {
		n := above[len(above)-1]
		next := childOf(n, st)
		if next == nil {
			return notThere(path, n, st)
		}
		above = append(above, next)
	}
	n, in, last := above[len(above)-1], above[len(above)-2], steps[len(steps)-1]
	switch {
	case in.shape == arrayShape && !in.headed:
		i := slices.Index(in.items, n)
		e.outOfList(in, i)
	case in.inline:
		e.outOfInline(in, last.key)
	default:
		if err := e.outOfLines(n, in, last); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
	}
	if in.shape == arrayShape {
		in.items = slices.DeleteFunc(in.items, func(it *node) bool { return it == n })
	} else {
		in.drop(last.key)
	}
	e.prune(above[:len(above)-1], steps)
	return nil
}

// prune takes tables away that nothing but what they held wrote down.
func (e *editing) prune(above []*node, steps []step) {
	for i := len(above) - 1; i > 0; i-- {
		n := above[i]
		kept := n.inline || n.shape == arrayShape && !n.headed || e.isHead(n)
		if kept || len(n.entries) > 0 || len(n.items) > 0 || steps[i-1].index >= 0 {
			return
		}
		above[i-1].drop(steps[i-1].key)
	}
}

// outOfList takes a value out of a list on lines of its own or on one.
func (e *editing) outOfList(in *node, i int) {
	k := len(in.items)
	switch {
	case i < k-1:
		e.splice(in.items[i].at, in.items[i+1].at, "")
	case i > 0:
		e.splice(in.items[i-1].end, in.items[i].end, "")
	default:
		e.splice(in.items[i].at, in.items[i].end, "")
	}
}

// outOfInline takes a key out of a table in braces.
func (e *editing) outOfInline(in *node, key string) {
	i := in.index[key]
	at, end := in.entries[i].keyAt, leafEnd(in.entries[i].val)
	switch {
	case i < len(in.entries)-1:
		e.splice(at, in.entries[i+1].keyAt, "")
	case i > 0:
		e.splice(leafEnd(in.entries[i-1].val), end, "")
	default:
		e.splice(at, end, "")
	}
}

// outOfLines takes out a key with its lines, or a table with its line in brackets and
// its keys.
func (e *editing) outOfLines(n, in *node, last step) error {
	within := map[*node]bool{}
	var mark func(*node)
	mark = func(x *node) {
		within[x] = true
		for _, y := range x.entries {
			mark(y.val)
		}
		for _, y := range x.items {
			mark(y)
		}
	}
	mark(n)
	var out []span
	for i, h := range e.heads {
		if within[h.table] {
			s := e.section(i)
			if e.blankBefore(s.at) && s.end < len(e.text) && e.lineOf(s.end) == "" {
				s.end = e.nextLine(s.end)
			}
			out = append(out, s)
		}
	}
	for _, t := range e.tokens {
		x := t.in.get(t.name)
		own := within[t.in] || t.in == in && t.name == last.key
		if x == nil || !own || x.val.end <= t.at || t.in.inline {
			continue
		}
		if !slices.ContainsFunc(out, func(s span) bool { return s.at <= t.at && t.at < s.end }) {
			out = append(out, span{e.lineStart(t.at), e.nextLine(x.val.end)})
		}
	}
	if len(out) == 0 {
		return errBeside
	}
	for _, s := range out {
		e.splice(s.at, s.end, "")
	}
	return nil
}
