package main

import (
	"io"
	"slices"
	"strings"
)

// screen keeps a few lines at the bottom that are written over, on a terminal
// that is live; below them a question, with the cursor behind it. Elsewhere it
// writes lines one after another.
type screen struct {
	w     *outlet
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
		b.WriteString(s.w.up(s.shown-1) + s.w.own(lineStart) + s.w.own(clearBelow))
	}
	for _, x := range stay {
		b.WriteString(x + "\n")
	}
	if !s.live {
		io.WriteString(s.w, b.String()) // nothing can be done about a terminal that is gone
		return
	}
	below := s.fitting(append(slices.Clone(over), question...))
	b.WriteString(strings.Join(below, "\n"))
	s.shown, s.over = len(below), len(over)
	io.WriteString(s.w, b.String())
}

// fitting makes sure that each line takes one line of the terminal, whatever
// stands in it: else the cursor would go back to a wrong one.
func (s *screen) fitting(lines []string) []string {
	cols, _ := s.size()
	out := make([]string, len(lines))
	for i, x := range lines {
		out[i] = s.w.cut(strings.ReplaceAll(x, "\n", " "), cols)
	}
	return out
}

// refresh renews the lines above a question and leaves alone what is being
// typed there.
func (s *screen) refresh(over []string) {
	if len(over) != s.over || s.shown == 0 {
		return // its height would change: the next draw does it
	}
	var b strings.Builder
	b.WriteString(s.w.own(saveCursor) + s.w.up(s.shown-1))
	for _, x := range s.fitting(over) {
		b.WriteString(s.w.own(lineStart) + s.w.own(clearLine) + x + s.w.own(oneDown))
	}
	b.WriteString(s.w.own(toSaved))
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
