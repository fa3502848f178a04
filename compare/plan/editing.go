package plan

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
)

// editing is a change in the making: the text and what it says. Both are changed, the
// text by splices, so that the one can be held against the other.
type editing struct {
	text    []byte
	root    *node
	heads   []head
	tokens  []keyToken
	newline string
	splices []splice
}

// splice puts a text in the place of bytes.
type splice struct {
	at, end int
	text    string
}

func newEditing(text []byte) (*editing, error) {
	s := newSource("plan.toml", text)
	root, ok := s.read()
	if !ok || len(s.problems) > 0 {
		return nil, fmt.Errorf("the plan can't be read: %w", s.problems[0])
	}
	e := &editing{text: text, root: root, heads: s.heads, tokens: s.tokens, newline: "\n"}
	if bytes.Contains(text, []byte("\r\n")) {
		e.newline = "\r\n"
	}
	e.settle(root)
	return e, nil
}

// settle gives the values in lists their places, which the reader doesn't know.
func (e *editing) settle(n *node) {
	for _, x := range n.entries {
		e.settle(x.val)
	}
	if n.shape == arrayShape && !n.headed && n.at < len(e.text) && e.text[n.at] == '[' {
		spans := itemSpans(e.text, n.at)
		for i, it := range n.items {
			if i < len(spans) {
				it.at, it.end = spans[i].at, spans[i].end
			}
		}
	}
	for _, it := range n.items {
		e.settle(it)
	}
}

// spliced is the text with all splices, none of which overlap.
func (e *editing) spliced() []byte {
	slices.SortStableFunc(e.splices, func(a, b splice) int { return a.at - b.at })
	var out []byte
	at := 0
	for _, s := range e.splices {
		if s.at < at {
			continue // within what was taken out already
		}
		out = append(out, e.text[at:s.at]...)
		out = append(out, s.text...)
		at = s.end
	}
	return append(out, e.text[at:]...)
}

func (e *editing) splice(at, end int, text string) {
	e.splices = append(e.splices, splice{at, end, text})
}

// lineStart is where the line of a place begins.
func (e *editing) lineStart(at int) int { return bytes.LastIndexByte(e.text[:at], '\n') + 1 }

// lineEnd is where the line of a place ends, before its newline.
func (e *editing) lineEnd(at int) int {
	i := bytes.IndexByte(e.text[at:], '\n')
	switch {
	case i < 0:
		return len(e.text)
	case i > 0 && e.text[at+i-1] == '\r':
		return at + i - 1
	}
	return at + i
}

// nextLine is where the line after that of a place begins.
func (e *editing) nextLine(at int) int {
	if i := bytes.IndexByte(e.text[at:], '\n'); i >= 0 {
		return at + i + 1
	}
	return len(e.text)
}

// lineOf is the line that begins at a place, without blanks around it.
func (e *editing) lineOf(at int) string { return strings.TrimSpace(string(e.text[at:e.lineEnd(at)])) }

// isHead: a table has a line in brackets of its own.
func (e *editing) isHead(n *node) bool {
	return slices.ContainsFunc(e.heads, func(h head) bool { return h.table == n })
}

// hasHead: a table, or one in it, has a line in brackets.
func (e *editing) hasHead(n *node) bool {
	if n.headed || e.isHead(n) {
		return true
	}
	return slices.ContainsFunc(n.entries, func(x entry) bool {
		return x.val.shape == tableShape && e.hasHead(x.val) ||
			x.val.headed
	})
}

// leafEnd is where the last value of a node ends that stands behind a key; -1: none does.
func leafEnd(n *node) int {
	if n.end > 0 {
		return n.end
	}
	end := -1
	for _, x := range n.entries {
		end = max(end, leafEnd(x.val))
	}
	return end
}

// span is a piece of the text.
type span struct{ at, end int }

// section is what a line in brackets opens: the line, and the keys below it up to the
// last one's line.
func (e *editing) section(i int) span {
	at := e.lineStart(e.heads[i].at)
	until := len(e.text)
	if i+1 < len(e.heads) {
		until = e.lineStart(e.heads[i+1].at)
	}
	end := e.nextLine(e.heads[i].at)
	for _, t := range e.tokens {
		x := t.in.get(t.name)
		if t.at < end || t.at >= until || x == nil || x.val.end <= t.at || x.val.end > until {
			continue
		}
		end = max(end, e.nextLine(x.val.end))
	}
	return span{at, end}
}

// itemSpans finds the values of a list that begins at a place.
func itemSpans(text []byte, at int) (out []span) {
	for i := at + 1; i < len(text); {
		switch c := text[i]; {
		case c == ']':
			return out
		case c == '#':
			i = lineAfter(text, i)
		case c == ',' || c == ' ' || c == '\t' || c == '\n' || c == '\r':
			i++
		default:
			end := valueEnd(text, i)
			out = append(out, span{i, end})
			i = end
		}
	}
	return out
}

func lineAfter(text []byte, i int) int {
	if n := bytes.IndexByte(text[i:], '\n'); n >= 0 {
		return i + n + 1
	}
	return len(text)
}

// valueEnd is where a value ends that begins at a place; the text is sound TOML.
func valueEnd(text []byte, i int) int {
	switch c := text[i]; c {
	case '"', '\'':
		return textEnd(text, i)
	case '[', '{':
		for depth := 0; i < len(text); {
			switch text[i] {
			case '"', '\'':
				i = textEnd(text, i)
				continue
			case '#':
				i = lineAfter(text, i)
				continue
			case '[', '{':
				depth++
			case ']', '}':
				if depth--; depth == 0 {
					return i + 1
				}
			}
			i++
		}
		return len(text)
	}
	if n := bytes.IndexAny(text[i:], ",]}#\n\r \t"); n > 0 {
		return i + n
	}
	return len(text)
}

// textEnd is where a text in quotes ends.
func textEnd(text []byte, i int) int {
	quote := text[i : i+1]
	if three := bytes.Repeat(quote, 3); bytes.HasPrefix(text[i:], three) {
		for j := i + 3; j < len(text); j++ {
			if quote[0] == '"' && text[j] == '\\' {
				j++
				continue
			}
			if bytes.HasPrefix(text[j:], three) {
				j += 3
				for j < len(text) && text[j] == quote[0] { // one or two more belong to the text
					j++
				}
				return j
			}
		}
		return len(text)
	}
	for j := i + 1; j < len(text); j++ {
		if quote[0] == '"' && text[j] == '\\' {
			j++
			continue
		}
		if text[j] == quote[0] {
			return j + 1
		}
	}
	return len(text)
}
