package main

import (
	"fmt"
	"io"
	"strings"
)

// screen keeps a few lines at the bottom that are written over, on a terminal
// that is live; below them a question, with the cursor behind it. Elsewhere it
// writes lines one after another.
type screen struct {
	w     io.Writer
	live  bool
	size  func() (cols, rows int)
	block string // what big figures are made of

	shown int // lines that are written over, question and all
	over  int // of those above the question
}

// draw writes lines that stay, then those that are written over, then the
// question.
func (s *screen) draw(stay, over, question []string) {
	var b strings.Builder
	if s.shown > 0 {
		b.WriteString(s.up(s.shown-1) + "\r\x1b[J")
	}
	for _, x := range stay {
		b.WriteString(x + "\n")
	}
	if !s.live {
		io.WriteString(s.w, b.String()) // nothing can be done about a terminal that is gone
		return
	}
	below := append(append([]string(nil), over...), question...)
	b.WriteString(strings.Join(below, "\n"))
	s.shown, s.over = len(below), len(over)
	io.WriteString(s.w, b.String())
}

// refresh renews the lines above a question and leaves alone what is being
// typed there.
func (s *screen) refresh(over []string) {
	if len(over) != s.over || s.shown == 0 {
		return // its height would change: the next draw does it
	}
	var b strings.Builder
	b.WriteString("\x1b7" + s.up(s.shown-1))
	for _, x := range over {
		b.WriteString("\r\x1b[K" + x + "\x1b[1B")
	}
	b.WriteString("\x1b8")
	io.WriteString(s.w, b.String())
}

// typed: Enter has moved the cursor below the line that was typed, which may
// have taken several.
func (s *screen) typed(line string) {
	if s.shown == 0 {
		return
	}
	cols, _ := s.size()
	s.shown += 1 + max(0, columns(line)-1)/max(1, cols)
}

func (s *screen) up(n int) string {
	if n <= 0 {
		return ""
	}
	return fmt.Sprintf("\x1b[%dA", n)
}

// cut shortens a line to n columns, colours not counted.
func cut(s string, n int) string {
	cols, esc := 0, false
	for i, r := range s {
		switch {
		case r == '\x1b':
			esc = true
		case esc:
			esc = r != 'm'
		default:
			if cols++; cols > n {
				if strings.Contains(s[:i], "\x1b") {
					return s[:i] + "\x1b[0m"
				}
				return s[:i]
			}
		}
	}
	return s
}
