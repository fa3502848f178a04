package plan

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// Edit changes one value of a plan and leaves every other byte as it is. Path
// names the value with points between, names with blanks in quotes, places in
// lists in brackets from 0; a group goes by its name:
//
//	jack.main.volts
//	group."cabin windows".wire.length_mm
//	group."cabin windows".lights[0].segments
//
// Value is a string, bool, whole or decimal number, or a slice of those. The
// result has been parsed again: if the change makes the plan wrong, or would
// change anything else, the error says so and nothing is returned.
func Edit(src []byte, path string, value any) ([]byte, error) {
	return EditWith(src, path, value, Options{})
}

// EditWith is Edit for a plan that needs options to be read.
func EditWith(src []byte, path string, value any, o Options) ([]byte, error) {
	s := newSource("plan.toml", bytes.TrimPrefix(src, byteOrderMark))
	root, ok := s.read()
	if !ok || len(s.problems) > 0 {
		return nil, fmt.Errorf("can't change %s: the plan can't be read: %w", path, s.problems[0])
	}
	steps, err := splitPath(path)
	if err != nil {
		return nil, err
	}
	n, err := find(root, path, steps)
	if err != nil {
		return nil, err
	}
	if n.end == 0 || n.shape == tableShape {
		return nil, fmt.Errorf("can't change %s: it's %s; name a single value in it", path, n.shape)
	}
	text, err := encodeValue(value)
	if err != nil {
		return nil, fmt.Errorf("can't change %s: %w", path, err)
	}
	out, err := EditAll(src, []Change{Put(path, value)}, o)
	var wrong *WrongError
	if errors.As(err, &wrong) {
		return nil, fmt.Errorf("%s = %s makes the plan wrong: %w", path, text, wrong.Problems[0])
	}
	return out, err
}

// step is one part of a path: a key, or a place in a list.
type step struct {
	key   string
	index int // -1: a key
}

func splitPath(path string) ([]step, error) {
	bad := func(what string) error {
		return fmt.Errorf(`the path %q %s; write it like group."cabin windows".lights[0].segments`, path, what)
	}
	var out []step
	rest := path
	for rest != "" {
		switch {
		case rest[0] == '"':
			end := textEnd([]byte(rest), 0)
			if end < 2 || rest[end-1] != '"' || strings.HasPrefix(rest, `"""`) {
				return nil, bad("has an open quote")
			}
			out = append(out, step{strings.ReplaceAll(rest[1:end-1], `\"`, `"`), -1})
			rest = rest[end:]
		case rest[0] == '[':
			i := strings.IndexByte(rest, ']')
			if i < 0 {
				return nil, bad("has an open bracket")
			}
			k, err := strconv.Atoi(rest[1:i])
			if err != nil || k < 0 {
				return nil, bad("has no number in its brackets")
			}
			out = append(out, step{"", k})
			rest = rest[i+1:]
		default:
			i := strings.IndexAny(rest, `.["`)
			if i < 0 {
				i = len(rest)
			}
			if i == 0 {
				return nil, bad("has an empty name")
			}
			out = append(out, step{rest[:i], -1})
			rest = rest[i:]
		}
		if rest != "" && rest[0] == '.' {
			if rest = rest[1:]; rest == "" {
				return nil, bad("ends with a point")
			}
		} else if rest != "" && rest[0] != '[' {
			return nil, bad("lacks a point between names")
		}
	}
	if len(out) == 0 {
		return nil, bad("is empty")
	}
	return out, nil
}

// find walks a path. A list of tables is walked by name.
func find(n *node, path string, steps []step) (*node, error) {
	for _, st := range steps {
		next := childOf(n, st)
		if next == nil {
			return nil, notThere(path, n, st)
		}
		n = next
	}
	return n, nil
}

// notThere says that a step of a path leads nowhere, and what there is.
func notThere(path string, n *node, st step) error {
	what := st.key
	var known []string
	switch {
	case st.index >= 0:
		what = fmt.Sprintf("[%d]", st.index)
		for i := range n.items {
			known = append(known, fmt.Sprintf("[%d]", i))
		}
	case n.shape == tableShape:
		for _, e := range n.entries {
			known = append(known, e.key)
		}
	default:
		for _, it := range n.items {
			if name := it.get("name"); name != nil {
				known = append(known, name.val.text)
			}
		}
	}
	return fmt.Errorf("the plan has no %q in %s: %s", what, path, suggest(what, known, "names there"))
}

// encodeValue writes a value as TOML, lists on one line.
func encodeValue(value any) (string, error) {
	if t, ok := value.(Table); ok {
		return encodeTable(t)
	}
	v := reflect.ValueOf(value)
	switch v.Kind() {
	case reflect.String, reflect.Bool, reflect.Int, reflect.Int64, reflect.Int32, reflect.Float64, reflect.Float32:
	case reflect.Slice:
		var parts []string
		for i := range v.Len() {
			p, err := encodeValue(v.Index(i).Interface())
			if err != nil {
				return "", err
			}
			parts = append(parts, p)
		}
		return "[" + strings.Join(parts, ", ") + "]", nil
	default:
		return "", fmt.Errorf("a %T is no value of a plan", value)
	}
	if v.Kind() == reflect.String {
		return tomlText(v.String()), nil
	}
	b, err := toml.Marshal(map[string]any{"v": value})
	if err != nil {
		return "", err
	}
	return strings.TrimSpace(strings.TrimPrefix(string(b), "v = ")), nil
}

// encodeTable writes a table in braces.
func encodeTable(t Table) (string, error) {
	var parts []string
	for _, kv := range t {
		p, err := encodeValue(kv.Value)
		if err != nil {
			return "", err
		}
		parts = append(parts, bareOrQuoted(kv.Key)+" = "+p)
	}
	if parts == nil {
		return "{}", nil
	}
	return "{ " + strings.Join(parts, ", ") + " }", nil
}

// tomlText quotes a text for TOML, on one line.
func tomlText(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range strings.ToValidUTF8(s, "?") {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < 0x20 || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
