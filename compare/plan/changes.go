package plan

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Change is one change to a plan's file; Put, Drop, Add and Rename make them.
type Change struct {
	Do    Doing  `json:"do"`              // what is done: Put, Drop, Add or Rename made it
	Path  string `json:"path"`            // of what is changed, as Edit takes it; of Add the kind of table
	Name  string `json:"name,omitempty"`  // the new name; of Add that of the table, empty for a group
	Value any    `json:"value,omitempty"` // of Put a value, of Add a Table
}

// Doing is what a change does.
type Doing string

// What a change does.
const (
	DoPut    Doing = "put"
	DoDrop   Doing = "drop"
	DoAdd    Doing = "add"
	DoRename Doing = "rename"
)

// Table is a table as a value, its keys in order.
type Table []KeyValue

// KeyValue is one key of a Table. Value is what Edit takes, a Table, or a slice of them.
type KeyValue struct {
	Key   string // as it stands in the file
	Value any
}

// Put sets a value, or adds it where it isn't said: tables on the way that aren't
// there, too. The place just behind the last of a list is a new one.
func Put(path string, value any) Change { return Change{Do: DoPut, Path: path, Value: value} }

// Drop takes a key, a table or one of a list out. Remarks among a table's lines go with
// it, those above and below it stay.
func Drop(path string) Change { return Change{Do: DoDrop, Path: path} }

// Add adds a table of a kind (joint, closure, group) behind the last of its kind.
func Add(kind, name string, keys Table) Change {
	return Change{Do: DoAdd, Path: kind, Name: name, Value: keys}
}

// Rename gives a jack, joint, return, closure, board, group or part another name, and
// that to all that name it.
func Rename(path, name string) Change { return Change{Do: DoRename, Path: path, Name: name} }

func (c Change) String() string {
	switch c.Do {
	case DoPut:
		if text, err := encodeValue(c.Value); err == nil {
			return c.Path + " = " + text
		}
	case DoAdd:
		if c.Name == "" {
			if t, ok := c.Value.(Table); ok {
				for _, kv := range t {
					if kv.Key == "name" {
						return fmt.Sprintf("add %s %q", c.Path, kv.Value)
					}
				}
			}
		}
		return fmt.Sprintf("add %s %q", c.Path, c.Name)
	case DoRename:
		return fmt.Sprintf("rename %s to %q", c.Path, c.Name)
	}
	return string(c.Do) + " " + c.Path
}

// PathOf writes a path: texts are names, whole numbers places in a list.
func PathOf(parts ...any) string {
	var b strings.Builder
	for i, p := range parts {
		if n, ok := p.(int); ok {
			fmt.Fprintf(&b, "[%d]", n)
			continue
		}
		if i > 0 {
			b.WriteByte('.')
		}
		b.WriteString(bareOrQuoted(fmt.Sprint(p)))
	}
	return b.String()
}

// EditAll makes several changes as one: all, or none. Every byte that they don't ask
// for stays. After each the file is read anew and holds what was asked for and nothing
// else; the last result is a plan without a problem. The error says which change can't
// be made, or holds the plan's own Problem that all of them lead to.
func EditAll(src []byte, changes []Change, o Options) ([]byte, error) {
	out := slices.Clone(src)
	for i, c := range changes {
		next, err := change(out, c)
		if err != nil {
			if len(changes) > 1 {
				return nil, fmt.Errorf("change %d of %d, %s: %w", i+1, len(changes), c, err)
			}
			return nil, fmt.Errorf("%s: %w", c, err)
		}
		out = next
	}
	if _, problems := ParseWith("plan.toml", out, o); len(problems) > 0 {
		return nil, &WrongError{Problems: problems, Text: out}
	}
	return out, nil
}

// WrongError is a change that would make a plan wrong: the problems it would have.
type WrongError struct {
	Problems []Problem // at least one
	Text     []byte    // the plan as it would be
}

func (e *WrongError) Error() string { return "this makes the plan wrong: " + e.Problems[0].Error() }

// Unwrap gives the first problem.
func (e *WrongError) Unwrap() error { return e.Problems[0] }

// errBeside is a change that can't be made alone.
var errBeside = errors.New("it can't be made without changing something beside it; make it in an editor")

// change makes one change. What comes out reads as what was asked for, whether it's a
// sound plan or not.
func change(src []byte, c Change) ([]byte, error) {
	mark := 0
	if bytes.HasPrefix(src, byteOrderMark) {
		mark = len(byteOrderMark)
	}
	e, err := newEditing(src[mark:])
	if err != nil {
		return nil, err
	}
	if err := e.make(c); err != nil {
		return nil, err
	}
	out := e.spliced()
	s := newSource("plan.toml", out)
	now, ok := s.read()
	if !ok || len(s.problems) > 0 || !sameTree(e.root, now) {
		return nil, errBeside
	}
	return slices.Concat(src[:mark], out), nil
}

func (e *editing) make(c Change) error {
	if c.Do == DoAdd {
		keys, ok := c.Value.(Table)
		if !ok {
			return fmt.Errorf("a %T is no table of a plan", c.Value)
		}
		return e.add(c.Path, c.Name, keys)
	}
	steps, err := splitPath(c.Path)
	if err != nil {
		return err
	}
	switch c.Do {
	case DoPut:
		return e.put(c.Path, steps, c.Value)
	case DoDrop:
		return e.drop(c.Path, steps)
	case DoRename:
		return e.rename(c.Path, steps, c.Name)
	}
	return fmt.Errorf("%q is no change", c.Do)
}

// sameTree compares what two files say, whatever the order of their keys.
func sameTree(a, b *node) bool {
	if a.shape != b.shape || a.text != b.text || a.number != b.number || a.whole != b.whole || a.yes != b.yes ||
		len(a.entries) != len(b.entries) || len(a.items) != len(b.items) {
		return false
	}
	for _, x := range a.entries {
		y := b.get(x.key)
		if y == nil || !sameTree(x.val, y.val) {
			return false
		}
	}
	for i := range a.items {
		if !sameTree(a.items[i], b.items[i]) {
			return false
		}
	}
	return true
}
