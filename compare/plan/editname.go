package plan

import (
	"fmt"
	"strings"
)

// saidIn is where the names of a kind are said. A path with lights in it goes through the
// lists of each group.
var saidIn = map[string][]string{
	"jack":    {"joint.from", "return.to", "board.joint", "group.joint", "board.return", "group.return"},
	"joint":   {"joint.from", "board.joint", "group.joint"},
	"return":  {"return.to", "board.return", "group.return"},
	"closure": {"closure.inside", "joint.closure", "return.closure", "board.closure", "group.closure"},
	"board":   {"group.board"},
	"part":    {"board.part", "group.lights.part", "group.lights.leds", "group.lights.led", "part.like", "part.led"},
}

// rename changes a name wherever it's said.
func (e *editing) rename(path string, steps []step, name string) error {
	n, err := find(e.root, path, steps)
	if err != nil {
		return err
	}
	kind := steps[0].key
	if len(steps) != 2 || kind != "group" && saidIn[kind] == nil {
		return fmt.Errorf("%s has no name that could be changed", path)
	}
	in, old := e.root.get(kind).val, steps[1].key
	if name == old {
		return nil
	}
	if kind == "group" {
		x := n.get("name")
		if x == nil || x.val.end == 0 {
			return errBeside
		}
		e.retext(x.val, name)
		return nil
	}
	if steps[1].index >= 0 || in.shape != tableShape {
		return fmt.Errorf("%s has no name that could be changed", path)
	}
	if in.get(name) != nil {
		return fmt.Errorf("there is a %s %q already", kind, name)
	}
	for _, t := range e.tokens {
		if t.in == in && t.name == old {
			e.splice(t.at, t.end, bareOrQuoted(name))
		}
	}
	for _, where := range saidIn[kind] {
		keys := strings.Split(where, ".")
		if of := e.root.get(keys[0]); of != nil {
			e.resay(each(of.val), keys[1:], old, name)
		}
	}
	i := in.index[old]
	in.entries[i].key = name
	delete(in.index, old)
	in.index[name] = i
	return nil
}

// each are the tables of a kind, whether they have a name in their heading or stand in a list.
func each(n *node) []*node {
	if n.shape == arrayShape {
		return n.items
	}
	var out []*node
	for _, x := range n.entries {
		out = append(out, x.val)
	}
	return out
}

// resay changes a text where a path of keys leads to it, in lists to each of them.
func (e *editing) resay(ns []*node, keys []string, old, name string) {
	for _, n := range ns {
		switch {
		case n.shape == arrayShape:
			e.resay(n.items, keys, old, name)
		case len(keys) == 0 && n.shape == textShape && n.text == old:
			e.retext(n, name)
		case len(keys) > 0 && n.shape == tableShape:
			if x := n.get(keys[0]); x != nil {
				e.resay([]*node{x.val}, keys[1:], old, name)
			}
		}
	}
}

// retext changes a text.
func (e *editing) retext(n *node, text string) {
	e.splice(n.at, n.end, tomlText(text))
	n.text = strings.ToValidUTF8(text, "?")
}
