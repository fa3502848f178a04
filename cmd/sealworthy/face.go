package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"golang.org/x/term"

	"sealworthy/capture"
	"sealworthy/compare"
)

// face shows a test on a terminal and asks with whole lines: Enter alone is
// always the answer "go on", so that one key does it with an iron in hand.
type face struct {
	w     io.Writer
	ink   ink
	live  bool          // a line that is written over while readings come
	lines <-chan string // what the maker types; nil: nobody is there
	shown int           // length of the live line
	last  time.Time     // of the last live line
	now   func() time.Time
}

var _ capture.Face = (*face)(nil)

// colour says whether to paint: a terminal, and no NO_COLOR.
func colour(e env) ink { return ink{on: e.getenv("NO_COLOR") == "" && isTerminal(e.stdout)} }

func isTerminal(x any) bool {
	f, ok := x.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// newFace makes a face on stderr. attended reads answers from stdin.
func newFace(e env, attended bool) *face {
	live := isTerminal(e.stderr)
	f := &face{w: e.stderr, ink: ink{on: live && e.getenv("NO_COLOR") == ""}, live: live, now: time.Now}
	if attended {
		f.lines = lineReader(e.stdin)
	}
	return f
}

// lineReader hands out lines until the input ends. It can't be stopped while it
// waits for a key; the process ends with it.
func lineReader(r io.Reader) <-chan string {
	c := make(chan string)
	go func() {
		defer close(c)
		s := bufio.NewScanner(r)
		for s.Scan() {
			c <- strings.TrimSpace(s.Text())
		}
	}()
	return c
}

// Nobody is true where questions have nobody to go to.
func (f *face) Nobody() bool { return f.lines == nil }

// output says whether the output is on: on every line that is written over.
func (f *face) output(e capture.Event) string {
	if e.OutputOn {
		return f.ink.bad(fmt.Sprintf("OUTPUT ON  %5.2f V", e.SetVolts)) + fmt.Sprintf("  limit %s", compare.Milliamps(e.LimitA, 0.002))
	}
	return f.ink.good("output off")
}

// Show writes what happened.
func (f *face) Show(e capture.Event) {
	switch e.What {
	case capture.Starting:
		f.line("%s", e.Text)
	case capture.StepBegins:
		if f.lines != nil && e.Step != nil {
			f.line("%s", f.ink.loud(f.title(e)))
		}
	case capture.OutputOn, capture.OutputOff, capture.RampStep, capture.Settling, capture.Sampling:
		f.status(e)
	case capture.Trip:
		f.line("%s %s", f.ink.bad("! STOPPED, output off:"), e.Text)
	case capture.DropSeen:
		f.line("\a%s %s", f.ink.bad("! the draw dropped:"), e.Text)
	case capture.Warning:
		f.wrapped("  note: ", e.Text)
	case capture.Paused:
		f.line("%s %s", f.ink.open("? paused:"), e.Text)
	case capture.StepEnds:
		f.step(e)
	case capture.Ended:
		f.line("%s", e.Text)
	}
}

func (f *face) title(e capture.Event) string {
	s := e.Step
	t := fmt.Sprintf("[%d/%d] %s", e.Done+1, max(e.Total, e.Done+1), s.Feed)
	switch {
	case s.Kind == capture.Look:
		t += ": look"
	case s.Kind == capture.Wiggle:
		t += ": wiggle"
	case s.Pace != "":
		t += ", pace " + s.Pace
	}
	return t
}

// status rewrites the live line, a few times a second at most.
func (f *face) status(e capture.Event) {
	if !f.live || e.Step == nil {
		return
	}
	now := f.now()
	if now.Sub(f.last) < 80*time.Millisecond && e.What != capture.OutputOn && e.What != capture.OutputOff {
		return
	}
	f.last = now
	s := f.output(e) + "  " + f.title(e)
	if r := e.Reading; r != nil {
		if v, ok := r.Float(); ok && r.Unit == "A" {
			s = f.output(e) + "  " + f.ink.loud(compare.Milliamps(v, r.HalfWidth)) + "  " + f.title(e)
		}
	}
	if e.Remaining > 0 {
		s += fmt.Sprintf("  %s left", e.Remaining.Round(time.Second))
	}
	s = cut(s, width-1)
	fmt.Fprintf(f.w, "\r\x1b[K%s", s)
	f.shown = len(s)
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
				return s[:i] + "\x1b[0m"
			}
		}
	}
	return s
}

func (f *face) line(format string, a ...any) {
	if f.shown > 0 {
		fmt.Fprint(f.w, "\r\x1b[K")
		f.shown = 0
	}
	fmt.Fprintf(f.w, format+"\n", a...)
}

func (f *face) wrapped(lead, text string) {
	if f.shown > 0 {
		fmt.Fprint(f.w, "\r\x1b[K")
		f.shown = 0
	}
	wrap(f.w, lead, strings.Repeat(" ", len(lead)), text)
}

// step writes what a step gave, one line a group.
func (f *face) step(e capture.Event) {
	if e.Step == nil {
		return
	}
	if len(e.Said) == 0 {
		text := e.Text
		if text == "" {
			text = "done"
		}
		e.Done-- // the title counts on from what is done
		f.line("%-34s %s", f.title(e), text)
		return
	}
	for i, s := range e.Said {
		head := fmt.Sprintf("[%d/%d] ", e.Done, max(e.Total, e.Done))
		if i > 0 {
			head = strings.Repeat(" ", len(head))
		}
		name := s.Group
		if s.Pace != "" {
			name += ", " + s.Pace
		}
		f.line("%s%-30s %10s  %s", head, cut(name, 30), s.Measured, f.ink.verdict(compare.Verdict(s.Verdict)))
		if !s.Good && s.Expected != "" {
			f.line("        expected %s", s.Expected)
		}
		for j, c := range s.Causes {
			if s.Good || j > 1 {
				break
			}
			f.wrapped("        ", c)
		}
	}
}

// Ask writes a question and waits for a line.
func (f *face) Ask(ctx context.Context, q capture.Question) (capture.Answer, error) {
	if f.lines == nil {
		return capture.Answer{}, fmt.Errorf("%w: nobody to ask (%s)", capture.ErrUnattended, q.Kind)
	}
	f.wrapped("> ", q.Text)
	f.line("  %s", f.ink.open(keys(q.Kind)))
	select {
	case <-ctx.Done():
		return capture.Answer{}, context.Cause(ctx)
	case s, ok := <-f.lines:
		if !ok {
			return capture.Answer{Choice: "stop"}, errors.New("the input ended in the middle of a question")
		}
		return answer(q.Kind, s), nil
	}
}

// keys says what may be typed.
func keys(k capture.QuestionKind) string {
	switch k {
	case capture.AskLook:
		return "Enter: all right   or type which not   s: skip   q: stop"
	case capture.AskAgain:
		return "Enter: go on   r: redo   a REASON: accept as it is   q: stop"
	case capture.AskNumber:
		return "type what it shows, as 38.2 (mA) or 0.04 A or OL   q: stop"
	case capture.AskWiggle:
		return "Enter: done   q: stop"
	case capture.AskSupply, capture.AskPlug:
		return "Enter: done   q: stop"
	}
	return "Enter: done   s REASON: skip   q: stop"
}

// answer turns a typed line into an answer.
func answer(k capture.QuestionKind, s string) capture.Answer {
	word, rest, _ := strings.Cut(s, " ")
	rest = strings.TrimSpace(rest)
	if word == "q" {
		return capture.Answer{Choice: "stop"}
	}
	switch k {
	case capture.AskLook:
		switch word {
		case "":
			return capture.Answer{Choice: "right"}
		case "s":
			return capture.Answer{Choice: "skip", Text: rest}
		}
		return capture.Answer{Choice: "wrong", Text: s}
	case capture.AskAgain:
		switch word {
		case "r":
			return capture.Answer{Choice: "redo"}
		case "a":
			return capture.Answer{Choice: "accept", Text: rest}
		}
		return capture.Answer{Choice: "next"}
	case capture.AskNumber:
		return capture.Answer{Choice: "number", Text: s}
	}
	if word == "s" {
		return capture.Answer{Choice: "skip", Text: rest}
	}
	return capture.Answer{Choice: "done"}
}
