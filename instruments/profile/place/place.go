// Package place decodes a TOML file strictly and says where in it each thing
// stands, so that a mistake is reported with file, line, column, the text of the
// line and what to write instead.
//
// Start with Decode. Lines and columns count from 1; columns count bytes.
package place

import (
	"errors"
	"fmt"
	"reflect"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// Problem is one mistake in a file.
type Problem struct {
	File         string // as it was given to the reader
	Line, Column int    // from 1, columns in characters
	Text         string // the line as it stands in the file
	What         string // what is wrong
	Instead      string // what to write instead; may be empty
}

func (p Problem) Error() string {
	s := fmt.Sprintf("%s:%d:%d: %s", p.File, p.Line, p.Column, p.What)
	if p.Text != "" {
		s += "\n    " + p.Text
	}
	if p.Instead != "" {
		s += "\n  " + p.Instead
	}
	return s
}

// Problems is every mistake found in a file, in the order of its lines. It is an error.
type Problems []Problem

func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.Error()
	}
	return strings.Join(lines, "\n")
}

// Err gives nil for no problems.
func (ps Problems) Err() error {
	if len(ps) == 0 {
		return nil
	}
	return ps
}

// File is a decoded file: where its keys stand and what is wrong with it.
type File struct {
	name     string
	lines    []string
	starts   []int // where each line begins, bytes
	at       map[string]unstable.Position
	problems Problems
}

// Decode reads src into v, a pointer to a struct with toml tags. A key that v
// doesn't know is a problem that names the nearest one it does. The File is
// never nil; ask its Err once more after adding problems of your own.
func Decode(name string, src []byte, v any) *File {
	f := &File{
		name:   name,
		lines:  strings.Split(strings.ReplaceAll(string(src), "\r\n", "\n"), "\n"),
		starts: []int{0},
		at:     map[string]unstable.Position{},
	}
	for i, c := range src {
		if c == '\n' {
			f.starts = append(f.starts, i+1)
		}
	}
	dec := toml.NewDecoder(strings.NewReader(string(src))).DisallowUnknownFields()
	err := dec.Decode(v)
	var strict *toml.StrictMissingError
	var one *toml.DecodeError
	switch {
	case err == nil:
	case errors.As(err, &strict):
		known := keysOf(reflect.TypeOf(v))
		for i := range strict.Errors {
			e := &strict.Errors[i]
			line, column := e.Position()
			key := e.Key()
			last := ""
			if len(key) > 0 {
				last = key[len(key)-1]
			}
			f.add(line, column, fmt.Sprintf("unknown key %q", strings.Join(key, ".")), nearest(last, known))
		}
	case errors.As(err, &one):
		line, column := one.Position()
		f.add(line, column, strings.TrimPrefix(one.Error(), "toml: "), "")
	default:
		f.add(1, 1, err.Error(), "")
	}
	f.index(src)
	return f
}

// Add notes a problem at the key with this path, as "range.2.max": array items
// count from 0. A path that isn't in the file is reported where its nearest
// parent stands, or at the first line.
func (f *File) Add(path, what, instead string) {
	for p := path; ; {
		if at, ok := f.at[p]; ok {
			f.add(at.Line, at.Column, what, instead)
			return
		}
		i := strings.LastIndexByte(p, '.')
		if i < 0 {
			f.add(1, 1, what, instead)
			return
		}
		p = p[:i]
	}
}

// Has tells whether the file itself has this key.
func (f *File) Has(path string) bool {
	_, ok := f.at[path]
	return ok
}

// Err gives every problem so far, in the order of lines, or nil.
func (f *File) Err() error {
	sort.SliceStable(f.problems, func(i, j int) bool {
		a, b := f.problems[i], f.problems[j]
		return a.Line < b.Line || a.Line == b.Line && a.Column < b.Column
	})
	return f.problems.Err()
}

func (f *File) add(line, column int, what, instead string) {
	text := ""
	if line >= 1 && line <= len(f.lines) {
		text = strings.TrimRight(f.lines[line-1], " \t")
	}
	f.problems = append(f.problems, Problem{f.name, line, column, text, what, instead})
}

// place tells where something stands. The library's own way counts all lines before it
// each time, which takes minutes for a bench of some ten thousand relays.
func (f *File) place(r unstable.Range) unstable.Position {
	at := int(r.Offset)
	line := sort.SearchInts(f.starts, at+1) // how many lines begin up to here
	return unstable.Position{Offset: at, Line: line, Column: at - f.starts[line-1] + 1}
}

// index notes where each key stands. It stops at the first line that is no
// TOML: Decode has reported that already.
func (f *File) index(src []byte) {
	var p unstable.Parser
	p.Reset(src)
	prefix := ""
	count := map[string]int{}
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table:
			prefix = f.key(e, "", count)
		case unstable.ArrayTable:
			name := f.key(e, "", count)
			prefix = fmt.Sprintf("%s.%d", name, count[name])
			count[name]++
			for it := e.Key(); it.Next(); {
				f.at[prefix] = f.place(it.Node().Raw)
			}
		case unstable.KeyValue:
			f.pair(&p, e, prefix)
		}
	}
}

// key joins the parts of a key and notes where its first part stands. count
// puts a table below the array item that was opened last.
func (f *File) key(e *unstable.Node, prefix string, count map[string]int) string {
	path := prefix
	for it := e.Key(); it.Next(); {
		n := it.Node()
		if path != "" {
			path += "."
		}
		path += string(n.Data)
		if _, seen := f.at[path]; !seen {
			f.at[path] = f.place(n.Raw)
		}
		if n := count[path]; n > 0 && !it.IsLast() {
			path = fmt.Sprintf("%s.%d", path, n-1)
		}
	}
	return path
}

func (f *File) pair(p *unstable.Parser, e *unstable.Node, prefix string) {
	f.value(p, e.Value(), f.key(e, prefix, nil))
}

func (f *File) value(p *unstable.Parser, v *unstable.Node, path string) {
	switch v.Kind {
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			if n := it.Node(); n.Kind == unstable.KeyValue {
				f.pair(p, n, path)
			}
		}
	case unstable.Array:
		i := 0
		for it := v.Children(); it.Next(); {
			n := it.Node()
			if n.Kind == unstable.Comment {
				continue
			}
			item := fmt.Sprintf("%s.%d", path, i)
			if n.Raw.Length > 0 {
				f.at[item] = f.place(n.Raw)
			}
			f.value(p, n, item)
			i++
		}
	}
}

// keysOf collects every toml key that a type knows, at any depth.
func keysOf(t reflect.Type) []string {
	seen := map[reflect.Type]bool{}
	keys := map[string]bool{}
	var walk func(reflect.Type)
	walk = func(t reflect.Type) {
		switch t.Kind() {
		case reflect.Pointer, reflect.Slice, reflect.Array, reflect.Map:
			walk(t.Elem())
		case reflect.Struct:
			if seen[t] {
				return
			}
			seen[t] = true
			for i := 0; i < t.NumField(); i++ {
				tag, _, _ := strings.Cut(t.Field(i).Tag.Get("toml"), ",")
				if tag != "" && tag != "-" {
					keys[tag] = true
				}
				walk(t.Field(i).Type)
			}
		}
	}
	walk(t)
	out := make([]string, 0, len(keys))
	for k := range keys {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}

func nearest(word string, known []string) string {
	best, at := 4, ""
	for _, k := range known {
		if d := distance(word, k); d < best && d < len(word) {
			best, at = d, k
		}
	}
	if at == "" {
		return "take it out, or check its spelling"
	}
	return fmt.Sprintf("did you mean %q?", at)
}

// distance is the Levenshtein distance in bytes.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diag := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			diag, row[j] = row[j], min(row[j]+1, row[j-1]+1, diag+cost)
		}
	}
	return row[len(b)]
}
