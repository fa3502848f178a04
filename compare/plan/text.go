package plan

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// textFault says why a text can't stand in a plan, with what to write instead;
// "" when it can. What a plan says is shown on terminals, drawn and printed: a
// sign that a terminal obeys, that hides, or that turns the line round is a
// slip or worse. A backslash is what is left of such a sign written wrongly,
// and the record of readings can't hold it.
func textFault(s string) (what, instead string) {
	hidden := strings.IndexFunc(s, func(r rune) bool { return !visible(r) })
	switch {
	case hidden >= 0:
		what = fmt.Sprintf("has an invisible character (%U)", []rune(s[hidden:])[0])
	case heaped(s):
		return fmt.Sprintf("has more than %d accents on one letter", mostAccents),
			"write fewer: they would stand over other lines"
	case strings.Contains(s, `\`):
		what = "has a backslash"
	default:
		return "", ""
	}
	better := strings.Join(strings.FieldsFunc(s, func(r rune) bool {
		return r == '\\' || unicode.IsSpace(r) || !visible(r)
	}), " ")
	if better == "" {
		return what, "leave it out"
	}
	return what, fmt.Sprintf("write %q", better)
}

// visible: letters, marks, digits, punctuation, symbols and blanks of any width.
// Source: The Unicode Standard, 4.5, general categories.
func visible(r rune) bool { return unicode.IsGraphic(r) }

// mostAccents is what a letter of any script may bear; no language is known to
// need more than half of it (from memory).
const mostAccents = 8

func heaped(s string) bool {
	n := 0
	for _, r := range s {
		if n++; !unicode.Is(unicode.M, r) {
			n = 0
		}
		if n > mostAccents {
			return true
		}
	}
	return false
}

// checkTexts reports each text below a node that can't stand in a plan, a name
// of a key or table too. A place of which something was said already is left.
func (s *source) checkTexts(n *node) {
	if n.shape == textShape {
		s.checkText(n.at, "this text", n.text)
	}
	for _, e := range n.entries {
		s.checkText(e.keyAt, "this name", e.key)
		s.checkTexts(e.val)
	}
	for _, x := range n.items {
		s.checkTexts(x)
	}
}

func (s *source) checkText(at int, kind, text string) {
	what, instead := textFault(text)
	if what == "" {
		return
	}
	pos := s.place(at)
	if !slices.ContainsFunc(s.problems, func(p Problem) bool { return p.Pos == pos }) {
		s.fail(at, instead, "%s %s", kind, what)
	}
}
