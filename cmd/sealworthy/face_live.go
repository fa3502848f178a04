package main

import (
	"fmt"
	"strings"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare/words"
)

// A terminal has room for big figures from bigRows on; below fewRows there is
// one live line only.
const (
	bigRows = 24
	fewRows = 16
)

// liveLines are the lines that are written over: what flows in big figures
// where somebody looks at it from the bench, the output, what to do.
func (f *face) liveLines() []string {
	if !f.screen.live || f.state.Step == nil {
		return nil
	}
	cols, rows := f.screen.size()
	cols = min(cols, width)
	var out []string
	flows := f.state.OutputOn && !f.state.Unsure // else what was read last isn't what flows
	big := f.keys != nil && rows >= bigRows && flows
	if big {
		for _, s := range bigFigures(f.amps, f.screen.block) {
			out = append(out, f.ink.loud(cut("  "+s, cols-1)))
		}
	}
	status := f.output()
	if !big && f.amps != "" && flows {
		status += "  " + f.ink.loud(f.amps)
	}
	if lit := f.state.LitFor; lit > 0 {
		status += "  " + f.ink.loud(wording.LitFor(lit))
	} else if left := f.state.Remaining; left > 0 {
		status += "  " + wording.TimeLeft(left)
	}
	if f.state.What != capture.StepEnds { // it names what is over
		status += "  " + wording.Title(f.state)
	}
	out = append(out, cut(status, cols-1))
	if rows < fewRows {
		return out
	}
	return append(out, cut("  "+f.doing(), cols-1))
}

// output says what the output is, first of all: off, sensing, on or not known, each with a word,
// a colour and a shape of its own.
func (f *face) output() string {
	off, sensing, on := "○ ", "◐ ", "● "
	if f.screen.block == "#" {
		off, sensing, on = "o ", "% ", "@ "
	}
	limit := " limit " + words.Milliamps(f.state.LimitA, 0.002)
	switch {
	case f.state.Unsure:
		return f.ink.bad("? "+wording.NotKnown+", it may be on") + limit
	case f.state.OutputOn && f.state.Sensing:
		return f.ink.open(sensing+fmt.Sprintf(wording.Sensing+" %5.2f V", f.state.SetVolts)) + limit
	case f.state.OutputOn && f.state.ByHand:
		return f.ink.bad(on + wording.OutputOn + " " + wording.SetByHand)
	case f.state.OutputOn:
		return f.ink.bad(on+fmt.Sprintf(wording.OutputOn+" %5.2f V", f.state.SetVolts)) + limit
	}
	return f.ink.good(off + wording.OutputOff)
}

// doing says in plain words what goes on and what hands may do.
func (f *face) doing() string { return wording.Doing(f.state, f.ask != nil, f.drops) }

// The figures, five rows of three.
var figures = map[rune][5]string{
	'0': {"###", "# #", "# #", "# #", "###"}, '1': {" # ", "## ", " # ", " # ", "###"},
	'2': {"###", "  #", "###", "#  ", "###"}, '3': {"###", "  #", "###", "  #", "###"},
	'4': {"# #", "# #", "###", "  #", "  #"}, '5': {"###", "#  ", "###", "  #", "###"},
	'6': {"###", "#  ", "###", "# #", "###"}, '7': {"###", "  #", "  #", "  #", "  #"},
	'8': {"###", "# #", "###", "# #", "###"}, '9': {"###", "# #", "###", "  #", "###"},
	'.': {" ", " ", " ", " ", "#"}, '-': {"   ", "   ", "###", "   ", "   "},
}

// bigFigures writes a number as five rows made of block, two columns a dot; the
// unit stands small beside the last row.
func bigFigures(s, block string) []string {
	number, unit, _ := strings.Cut(s, " ")
	rows := make([]string, 5)
	for _, r := range number {
		g, ok := figures[r]
		if !ok {
			continue
		}
		for i := range rows {
			rows[i] += strings.ReplaceAll(strings.ReplaceAll(g[i], " ", "  "), "#", block+block) + "  "
		}
	}
	rows[4] += unit
	return rows
}
