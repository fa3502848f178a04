package plan

import (
	"fmt"
	"slices"
	"strings"
)

// nodeOf is what a value reads as once it's written.
func nodeOf(value any) (*node, string, error) {
	text, err := encodeValue(value)
	if err != nil {
		return nil, "", err
	}
	s := newSource("plan.toml", []byte("v = "+text))
	root, ok := s.read()
	if !ok || len(s.problems) > 0 || root.get("v") == nil {
		return nil, "", fmt.Errorf("%s is no value of a plan", text)
	}
	return root.get("v").val, text, nil
}

// put sets a value, or adds it.
func (e *editing) put(path string, steps []step, value any) error {
	n := e.root
	for i, st := range steps {
		next := childOf(n, st)
		if next == nil {
			return e.grow(path, n, steps[:i], steps[i:], value)
		}
		if i < len(steps)-1 {
			n = next
			continue
		}
		made, text, err := nodeOf(value)
		switch {
		case err != nil:
			return err
		case next.end == 0:
			return fmt.Errorf("it's %s of lines; name a value in it", next.shape)
		}
		e.splice(next.at, next.end, text)
		replaceChild(n, st, made)
	}
	return nil
}

// grow adds what isn't there yet of a path.
func (e *editing) grow(path string, n *node, before, missing []step, value any) error {
	for _, st := range missing[1:] {
		if st.index >= 0 {
			return fmt.Errorf("the plan has no list of that many")
		}
	}
	for _, st := range slices.Backward(missing[1:]) {
		value = Table{{st.key, value}}
	}
	made, text, err := nodeOf(value)
	if err != nil {
		return err
	}
	st := missing[0]
	switch {
	case st.index >= 0 && n.shape == arrayShape && !n.headed && st.index == len(n.items):
		e.appendItem(n, text)
		n.items = append(n.items, made)
		return nil
	case st.index >= 0 || n.shape != tableShape:
		return notThere(path, n, st)
	}
	if err := e.insert(n, before, st.key, text); err != nil {
		return err
	}
	n.add(st.key, 0, made)
	return nil
}

// appendItem writes a value behind the last of a list.
func (e *editing) appendItem(n *node, text string) {
	if k := len(n.items); k > 0 {
		e.splice(n.items[k-1].end, n.items[k-1].end, ", "+text)
		return
	}
	e.splice(n.at+1, n.at+1, " "+text+" ")
}

// insert writes a key into a table.
func (e *editing) insert(n *node, path []step, key, text string) error {
	line := bareOrQuoted(key) + " = " + text
	last, lastEnd := -1, -1
	for i, x := range n.entries {
		if end := leafEnd(x.val); end > lastEnd && !e.hasHead(x.val) {
			last, lastEnd = i, end
		}
	}
	switch {
	case n.inline && last >= 0:
		e.splice(lastEnd, lastEnd, ", "+line)
	case n.inline:
		e.splice(n.at+1, n.at+1, " "+line+" ")
	case last >= 0:
		at := n.entries[last].keyAt
		before := string(e.text[e.lineStart(at):at])
		e.splice(e.lineEnd(lastEnd), e.lineEnd(lastEnd), e.newline+before+line)
	case e.isHead(n):
		i := slices.IndexFunc(e.heads, func(h head) bool { return h.table == n })
		end := e.lineEnd(e.heads[i].at)
		e.splice(end, end, e.newline+line)
	case n == e.root:
		e.splice(0, 0, line+e.newline)
	default:
		var names []string
		for _, st := range path {
			names = append(names, bareOrQuoted(st.key))
		}
		e.block(len(e.text), "["+strings.Join(names, ".")+"]", []string{line})
	}
	return nil
}

// block writes a table with its line in brackets at the start of a line.
func (e *editing) block(at int, heading string, lines []string) {
	text := heading + e.newline
	for _, l := range lines {
		text += l + e.newline
	}
	if at > 0 && e.text[at-1] != '\n' {
		text = e.newline + text
	}
	if at > 0 && (at == len(e.text) || e.lineOf(at) != "") && !e.blankBefore(at) && e.spaced() {
		text = e.newline + text
	}
	e.splice(at, at, text)
}

// blankBefore: the line before that of a place is blank, or there is none.
func (e *editing) blankBefore(at int) bool {
	start := e.lineStart(at)
	return start == 0 || e.lineOf(e.lineStart(start-1)) == ""
}

// spaced: the maker parts tables by blank lines.
func (e *editing) spaced() bool {
	blank := 0
	for _, h := range e.heads {
		if e.blankBefore(e.aboveRemarks(e.lineStart(h.at))) {
			blank++
		}
	}
	return 2*blank > len(e.heads)
}

// aboveRemarks is where the remarks begin that stand right above a line.
func (e *editing) aboveRemarks(at int) int {
	for at > 0 {
		above := e.lineStart(at - 1)
		if !strings.HasPrefix(e.lineOf(above), "#") {
			break
		}
		at = above
	}
	return at
}

// belowRemarks is where the remarks end that stand right below a section, unless they
// run into the next one's heading and belong to that.
func (e *editing) belowRemarks(at int) int {
	end := at
	for end < len(e.text) && strings.HasPrefix(e.lineOf(end), "#") {
		end = e.nextLine(end)
	}
	if end < len(e.text) && strings.HasPrefix(e.lineOf(end), "[") {
		return at
	}
	return end
}

// tableOrder is the order in which kinds of table are usually written.
var tableOrder = []string{"part", "jack", "closure", "joint", "return", "board", "group"}

// add adds a table behind the last of its kind; the first of a kind comes before those
// that are usually written later.
func (e *editing) add(kind, name string, keys Table) error {
	if !slices.Contains(tableOrder, kind) {
		return fmt.Errorf("a plan has no tables of kind %q: %s", kind, suggest(kind, tableOrder, "kinds"))
	}
	made, text, err := nodeOf(keys)
	if err != nil {
		return err
	}
	of := e.root.get(kind)
	if of != nil && kind != "group" && of.val.get(name) != nil {
		return fmt.Errorf("there is a %s %q already", kind, name)
	}
	switch {
	case of != nil && of.val.inline:
		if err := e.insert(of.val, nil, name, text); err != nil {
			return err
		}
	case of != nil && of.val.shape == arrayShape && !of.val.headed:
		e.appendItem(of.val, text)
	case kind == "group":
		e.block(e.placeFor(kind), "[[group]]", tableLines(keys))
	default:
		e.block(e.placeFor(kind), "["+kind+"."+bareOrQuoted(name)+"]", tableLines(keys))
	}
	return e.added(kind, name, made)
}

// added makes the tree say what the text says then.
func (e *editing) added(kind, name string, made *node) error {
	if e.root.get(kind) == nil {
		n := &node{shape: tableShape}
		if kind == "group" {
			n.shape = arrayShape
		}
		e.root.add(kind, 0, n)
	}
	of := e.root.get(kind).val
	switch {
	case kind == "group" && of.shape == arrayShape:
		of.items = append(of.items, made)
	case kind != "group" && of.shape == tableShape:
		of.add(name, 0, made)
	default:
		return fmt.Errorf("%s is %s in this plan", kind, of.shape)
	}
	return nil
}

func tableLines(keys Table) (out []string) {
	for _, kv := range keys {
		text, _ := encodeValue(kv.Value) // encoded as a whole already
		out = append(out, bareOrQuoted(kv.Key)+" = "+text)
	}
	return out
}

// placeFor is where a table of a kind goes.
func (e *editing) placeFor(kind string) int {
	rank := slices.Index(tableOrder, kind)
	before, after := -1, -1
	for i, h := range e.heads {
		k := e.kindAt(h.at)
		if k == kind {
			after = e.belowRemarks(e.section(i).end)
		}
		if before < 0 && slices.Index(tableOrder, k) > rank {
			before = e.aboveRemarks(e.lineStart(h.at))
		}
	}
	switch {
	case after >= 0:
		return after
	case before >= 0:
		return before
	}
	return len(e.text)
}

// kindAt is the first name of the line in brackets at a place.
func (e *editing) kindAt(at int) string {
	for _, t := range e.tokens {
		if t.at == at {
			return t.name
		}
	}
	return ""
}
