package plan

import (
	"fmt"
	"strings"
)

// Said is what a plan's file says, value by value, and nothing assumed.
type Said struct{ e *editing }

// ReadSaid reads a plan's file. The error is the file's first problem.
func ReadSaid(src []byte) (Said, error) {
	e, err := newEditing([]byte(strings.TrimPrefix(string(src), string(byteOrderMark))))
	return Said{e}, err
}

// At is what stands at a path, as Edit takes it: text without its quotes, numbers as
// they're written, lists of those with commas between. False: nothing is said there, or
// it's a table.
func (s Said) At(path string) (string, bool) {
	n := s.node(path)
	if n == nil {
		return "", false
	}
	return s.text(n)
}

func (s Said) text(n *node) (string, bool) {
	switch n.shape {
	case textShape, dateShape:
		return n.text, true
	case boolShape:
		return n.show(), true
	case numberShape:
		if n.at < n.end && n.end <= len(s.e.text) {
			return string(s.e.text[n.at:n.end]), true
		}
		return n.show(), true
	case arrayShape:
		var out []string
		for _, it := range n.items {
			t, ok := s.text(it)
			if !ok {
				return "", false
			}
			out = append(out, t)
		}
		return strings.Join(out, ", "), true
	}
	return "", false
}

// Len is how many there are of a list; 0 where there is none.
func (s Said) Len(path string) int {
	if n := s.node(path); n != nil {
		return len(n.items)
	}
	return 0
}

// Has tells whether anything is said at a path.
func (s Said) Has(path string) bool { return s.node(path) != nil }

func (s Said) node(path string) *node {
	steps, err := splitPath(path)
	if err != nil {
		return nil
	}
	n := s.e.root
	for _, st := range steps {
		if n = childOf(n, st); n == nil {
			return nil
		}
	}
	return n
}

// Book is the parts that the plan can name: those of the options, and its own. Of its
// own those that aren't whole are left out.
func (s Said) Book(o Options) *Book {
	book := o.Book
	if book == nil {
		book = builtIn()
	}
	src := newSource("plan.toml", s.e.text)
	p := &parser{source: src, plan: &Plan{}, terminals: newNameBook(src), unsure: map[string]bool{}}
	return p.parts(p.table(s.e.root, "the plan", keysIn("plan")...), book)
}

// KeyOf is what may be said of a key in a kind of table ("joint", "wire", "led").
func KeyOf(table, name string) (Key, error) {
	for _, k := range Keys() {
		if k.Name == name && contains(strings.Fields(k.In), table) {
			return k, nil
		}
	}
	return Key{}, fmt.Errorf("a %s has no key %q", table, name)
}
