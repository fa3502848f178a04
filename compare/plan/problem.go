package plan

import (
	"bytes"
	"fmt"
	"sort"
	"strings"
	"unicode"
	"unicode/utf8"
)

// String prints the problem with its line and a mark under the place:
//
//	plan.toml:12:9: unknown key "segmnts"
//	    lights = [ { part = "strip warm white 12 V", segmnts = 6 } ]
//	                                                 ^
//	  write "segments"
func (p Problem) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s:%d:%d: %s", p.File, p.Pos.Line, p.Pos.Column, p.What)
	if strings.TrimSpace(p.Text) != "" {
		line, pad := printable(p.Text, p.Pos.Column)
		fmt.Fprintf(&b, "\n    %s\n    %s^", line, pad)
	}
	if p.Instead != "" {
		fmt.Fprintf(&b, "\n  %s", p.Instead)
	}
	return b.String()
}

// Error makes a Problem an error, with the text of String.
func (p Problem) Error() string { return p.String() }

// printable replaces what would disturb a terminal, and returns the blanks that
// lead to the column. Tabs stay tabs in both, so that the mark stands right.
func printable(text string, column int) (line, pad string) {
	var l, b strings.Builder
	n := 1
	for _, r := range text {
		if r != '\t' && !unicode.IsPrint(r) {
			r = '?'
		}
		l.WriteRune(r)
		if n < column {
			if r == '\t' {
				b.WriteRune('\t')
			} else {
				b.WriteRune(' ')
			}
		}
		n++
	}
	for ; n < column; n++ {
		b.WriteRune(' ')
	}
	return l.String(), b.String()
}

// source is one file: it turns byte offsets into places and collects problems.
type source struct {
	file     string
	text     []byte
	starts   []int // offset of each line
	problems []Problem
	warnings []Problem
	slips    []placedSlip
	unnamed  []unnamedTable
	heads    []head     // in the order of the file
	tokens   []keyToken // in the order of the file
}

func newSource(file string, text []byte) *source {
	s := &source{file: file, text: text, starts: []int{0}}
	for i, c := range text {
		if c == '\n' && i+1 < len(text) {
			s.starts = append(s.starts, i+1)
		}
	}
	return s
}

// place gives the line and column, in characters, of a byte offset.
func (s *source) place(at int) Pos {
	at = max(0, min(at, len(s.text)))
	i := sort.SearchInts(s.starts, at+1) - 1
	return Pos{Line: i + 1, Column: utf8.RuneCount(s.text[s.starts[i]:at]) + 1}
}

// line is the text of a line that counts from 1, without its end.
func (s *source) line(n int) string {
	if n < 1 || n > len(s.starts) {
		return ""
	}
	rest := s.text[s.starts[n-1]:]
	if i := bytes.IndexByte(rest, '\n'); i >= 0 {
		rest = rest[:i]
	}
	return strings.TrimSuffix(string(rest), "\r")
}

func (s *source) problem(at int, what, instead string) Problem {
	pos := s.place(at)
	return Problem{File: s.file, Pos: pos, Text: s.line(pos.Line), What: what, Instead: instead}
}

func (s *source) fail(at int, instead, format string, args ...any) {
	s.problems = append(s.problems, s.problem(at, fmt.Sprintf(format, args...), instead))
}

func (s *source) failAt(pos Pos, instead, format string, args ...any) {
	s.problems = append(s.problems, Problem{File: s.file, Pos: pos, Text: s.line(pos.Line),
		What: fmt.Sprintf(format, args...), Instead: instead})
}

func (s *source) warn(at int, instead, format string, args ...any) {
	s.warnAt(s.place(at), instead, format, args...)
}

func (s *source) warnAt(pos Pos, instead, format string, args ...any) {
	s.warnings = append(s.warnings, Problem{File: s.file, Pos: pos, Text: s.line(pos.Line),
		What: fmt.Sprintf(format, args...), Instead: instead})
}

// inOrder sorts problems by place and drops exact repeats.
func inOrder(ps []Problem) []Problem {
	sort.SliceStable(ps, func(i, j int) bool {
		a, b := ps[i].Pos, ps[j].Pos
		return a.Line < b.Line || a.Line == b.Line && a.Column < b.Column
	})
	out := ps[:0]
	for i, p := range ps {
		if i == 0 || p != ps[i-1] {
			out = append(out, p)
		}
	}
	return out
}
