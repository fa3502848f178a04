package main

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/instruments"
)

// terminal is a small one: it understands what screen sends, and nothing else.
type terminal struct {
	rows     [][]rune
	row, col int
	saved    [2]int
	bells    int
	cols     int
	t        *testing.T
}

func (x *terminal) Write(p []byte) (int, error) {
	s := string(p)
	for s != "" {
		switch {
		case strings.HasPrefix(s, "\x1b7"):
			x.saved, s = [2]int{x.row, x.col}, s[2:]
		case strings.HasPrefix(s, "\x1b8"):
			x.row, x.col, s = x.saved[0], x.saved[1], s[2:]
		case strings.HasPrefix(s, "\x1b["):
			i := strings.IndexAny(s, "ABJKm")
			x.control(s[2:i], s[i])
			s = s[i+1:]
		default:
			r := []rune(s)[0]
			x.put(r)
			s = s[len(string(r)):]
		}
	}
	return len(p), nil
}

func (x *terminal) control(arg string, what byte) {
	n := 0
	for _, c := range arg {
		if c >= '0' && c <= '9' {
			n = 10*n + int(c-'0')
		}
	}
	switch what {
	case 'A':
		if x.row -= n; x.row < 0 {
			x.t.Errorf("the cursor went above the first line")
			x.row = 0
		}
	case 'B':
		x.row += n
	case 'J':
		x.rows = x.rows[:min(len(x.rows), x.row+1)]
		x.line()
		x.rows[x.row] = x.rows[x.row][:min(x.col, len(x.rows[x.row]))]
	case 'K':
		x.line()
		x.rows[x.row] = x.rows[x.row][:min(x.col, len(x.rows[x.row]))]
	}
}

func (x *terminal) line() {
	for len(x.rows) <= x.row {
		x.rows = append(x.rows, nil)
	}
}

func (x *terminal) put(r rune) {
	switch r {
	case '\n':
		x.row, x.col = x.row+1, 0
	case '\r':
		x.col = 0
	case '\a':
		x.bells++
	default:
		x.line()
		for len(x.rows[x.row]) <= x.col {
			x.rows[x.row] = append(x.rows[x.row], ' ')
		}
		x.rows[x.row][x.col] = r
		if x.col++; x.col > x.cols {
			x.t.Errorf("line %d is wider than the terminal: %s", x.row, string(x.rows[x.row]))
		}
	}
}

func (x *terminal) String() string {
	var b strings.Builder
	for _, r := range x.rows {
		b.WriteString(strings.TrimRight(string(r), " ") + "\n")
	}
	return b.String()
}

// atTerminal is a face on a terminal of 80 columns and so many rows, and its keyboard.
func atTerminal(t *testing.T, rows int) (*face, *terminal, *keyboard) { return atWidth(t, 80, rows) }

// atWidth is the same on a terminal of any width.
func atWidth(t *testing.T, cols, rows int) (*face, *terminal, *keyboard) {
	x, keys := &terminal{t: t, cols: cols}, newKeyboard(time.Now)
	f := &face{keys: keys, now: time.Now, screen: screen{w: outletOf(x), live: true, block: "#",
		size: func() (int, int) { return cols, rows }}}
	f.bell = &ringer{strike: f.ring}
	return f, x, keys
}

func reading(amps float64) *instruments.Reading {
	return &instruments.Reading{Instrument: compare.MeterName, Quantity: instruments.Current, Unit: "A",
		Status: instruments.OK, Value: &amps, HalfWidth: 1e-4}
}

func powered(what capture.EventKind, kind capture.Kind, amps float64) capture.Event {
	return capture.Event{What: what, Step: &capture.Step{Kind: kind, Feed: "cabin windows"}, OutputOn: true,
		SetVolts: 12, LimitA: 0.087,
		Done: 2, Total: 21, Remaining: 30 * time.Second, Reading: reading(amps)}
}

// The lines that are written over always say whether the output is on, the
// volts, the limit, what flows, what to do and how long it takes.
func TestLiveLines(t *testing.T) {
	f, x, _ := atTerminal(t, 24)
	f.show(powered(capture.RampStep, capture.Power, 0.0123))
	for _, w := range []string{"OUTPUT ON 12.00 V limit 87 mA", "[3/21] cabin windows", "30 s left", "hands off",
		"##  ##", "mA"} {
		if !strings.Contains(x.String(), w) {
			t.Errorf("%q isn't on the screen:\n%s", w, x)
		}
	}
	lost := powered(capture.Settling, capture.Power, 0.0123)
	lost.Unsure, lost.Reading = true, nil
	f.show(lost)
	f.paint(true)
	if s := x.String(); !strings.Contains(s, "NOT KNOWN, it may be on limit 87 mA") ||
		strings.Contains(s, "OUTPUT ON") ||
		strings.Contains(s, "##  ##") {
		t.Errorf("the supply doesn't answer:\n%s", s)
	}
	off := powered(capture.OutputOff, capture.Power, 0.0123)
	off.OutputOn, off.Reading = false, nil
	f.show(off)
	if s := x.String(); strings.Contains(s, "ON") || !strings.Contains(s, "output off") || strings.Contains(s, "##") {
		t.Errorf("after off:\n%s", s)
	}
	f.show(capture.Event{What: capture.Ended})
	if s := strings.TrimSpace(x.String()); s != "" {
		t.Errorf("something stays half written:\n%s", s)
	}
}

// At any width a test leaves its own lines and nothing half written: no live line, no
// question, no row that was meant to be written over.
func TestNothingIsLeftOverAtAnyWidth(t *testing.T) {
	for _, cols := range []int{40, 60, 80, 120} {
		f, x, keys := atWidth(t, cols, 24)
		off := powered(capture.StepBegins, capture.Power, 0)
		off.OutputOn, off.Reading = false, nil
		f.show(off)
		got := make(chan capture.Answer)
		go func() {
			a, err := f.Ask(context.Background(), session.Question{Question: capture.Question{Kind: capture.AskClip,
				Text: "Clip the plus lead to \"cabin windows\". Any other that is left will do. The output is off.",
				Help: strings.Repeat("Where it lies bare. ", 12), Choices: []string{"done", "skip", "undo", "stop"}}})
			if err != nil {
				t.Error(err)
			}
			got <- a
		}()
		for _, typed := range []string{"?", "perhaps", ""} {
			for strings.Count(locked(f, x), "Enter:") != 1 {
				time.Sleep(time.Millisecond)
			}
			f.mu.Lock()
			x.Write([]byte(typed + "\n")) // the terminal's own echo
			f.mu.Unlock()
			keys.enter(typed)
			time.Sleep(20 * time.Millisecond) // it's taken
		}
		<-got
		for _, what := range []capture.EventKind{capture.OutputOn, capture.RampStep, capture.Settling,
			capture.Sampling} {
			f.show(powered(what, capture.Power, 0.0123))
		}
		ends := powered(capture.StepEnds, capture.Power, 0)
		ends.OutputOn, ends.Reading = false, nil
		ends.Said = []capture.Said{{Group: "cabin windows", Verdict: string(compare.Low), Measured: "12.3 mA",
			Expected: "35 to 43 mA", Causes: []string{strings.Repeat("one segment is dark ", 8)}}}
		f.show(ends)
		f.show(capture.Event{What: capture.Ended})
		s := x.String()
		for _, w := range []string{"OUTPUT ON", "Enter:", "##", "hands off", "Clip the plus lead"} {
			if strings.Contains(s, w) {
				t.Errorf("%d columns: %q is left over:\n%s", cols, w, s)
			}
		}
		for _, w := range []string{"Where it lies bare.", "is no answer here", "12.3 mA", "35 to 43 mA", "is dark"} {
			if !strings.Contains(s, w) {
				t.Errorf("%d columns: %q isn't there any more:\n%s", cols, w, s)
			}
		}
	}
}

// A terminal with few lines gets the figure in the line itself.
func TestLiveLinesOfALowTerminal(t *testing.T) {
	f, x, _ := atTerminal(t, 10)
	f.show(powered(capture.Sampling, capture.Power, 0.0123))
	if s := strings.TrimRight(x.String(), "\n"); strings.Count(s, "\n") != 0 || !strings.Contains(s, "12.30 mA") {
		t.Errorf("screen:\n%s", s)
	}
}

// What is written over during a question leaves alone what is being typed, and
// a drop in the wiggle sounds a tone.
func TestQuestionUnderLiveLines(t *testing.T) {
	f, x, keys := atTerminal(t, 24)
	f.show(powered(capture.Sampling, capture.Wiggle, 0.0123))
	got := make(chan capture.Answer)
	go func() {
		a, err := f.Ask(context.Background(), session.Question{Question: capture.Question{Kind: capture.AskWiggle,
			Text: "Move each wire.", Choices: []string{"done", "skip", "stop"}}})
		if err != nil {
			t.Error(err)
		}
		got <- a
	}()
	for !strings.Contains(locked(f, x), "Enter: done") {
		time.Sleep(time.Millisecond)
	}
	f.mu.Lock()
	x.Write([]byte("s my fi")) // the terminal's own echo
	f.mu.Unlock()
	time.Sleep(100 * time.Millisecond) // so that the next one is painted
	f.show(powered(capture.Sampling, capture.Wiggle, 0.0456))
	if s := locked(f, x); !strings.Contains(s, "> s my fi\n") || strings.Count(s, "OUTPUT ON") != 1 {
		t.Errorf("screen:\n%s", s)
	}
	drop := powered(capture.DropSeen, capture.Wiggle, 0.001)
	f.Tell(session.Event{What: session.Shown, Test: &drop})
	if s := locked(f, x); x.bells != 1 || !strings.Contains(s, "! the draw dropped (1)") ||
		!strings.Contains(s, "drops so far: 1") {
		t.Errorf("%d tones, screen:\n%s", x.bells, s)
	}
	f.mu.Lock()
	x.Write([]byte("s my finger\n"))
	f.mu.Unlock()
	keys.enter("s my finger")
	if a := <-got; a.Choice != "skip" || a.Text != "my finger" {
		t.Errorf("answer %+v", a)
	}
	f.show(capture.Event{What: capture.Ended})
	if s := x.String(); strings.Contains(s, "OUTPUT ON") || strings.Contains(s, "Enter: done") ||
		!strings.Contains(s, "> s my finger") {
		t.Errorf("at the end:\n%s", s)
	}
}

func locked(f *face, x *terminal) string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return x.String()
}

// A reason longer than a line takes nothing with it that should go.
func TestLongAnswer(t *testing.T) {
	f, x, keys := atTerminal(t, 24)
	off := powered(capture.StepBegins, capture.Power, 0)
	off.OutputOn, off.Reading = false, nil
	f.show(off)
	done := make(chan capture.Answer)
	go func() {
		a, _ := f.Ask(context.Background(), session.Question{Question: capture.Question{Kind: capture.AskClip,
			Text: "Clip.", Choices: []string{"done", "skip", "stop"}}})
		done <- a
	}()
	for !strings.Contains(locked(f, x), "Enter: done") {
		time.Sleep(time.Millisecond)
	}
	answer := "s " + strings.Repeat("long ", 24) + "story"
	f.mu.Lock()
	x.row, x.col = x.row+2, 0 // a terminal of 80 columns shows it on two lines
	f.mu.Unlock()
	keys.enter(answer)
	if a := <-done; a.Choice != "skip" {
		t.Errorf("%+v", a)
	}
	f.show(capture.Event{What: capture.Ended})
	if s := x.String(); strings.Contains(s, "output off") || strings.Contains(s, "Enter: done") {
		t.Errorf("left on the screen:\n%s", s)
	}
}

// Without a terminal there are lines, no codes, no figures.
func TestFaceWithoutTerminal(t *testing.T) {
	var b bytes.Buffer
	f := newFace(env{stderr: &b, getenv: func(string) string { return "" }}, false, instruments.Go, nil)
	f.show(powered(capture.Sampling, capture.Power, 0.0123))
	end := powered(capture.StepEnds, capture.Power, 0.0123)
	end.Done = 3
	end.Said = []capture.Said{{Group: "cabin windows", Verdict: "low", Measured: "71.5 mA", Expected: "80 to 89 mA",
		Causes: []string{"one segment is dark"}}}
	f.show(end)
	want := "[3/21] cabin windows                    71.5 mA  ! low\n        expected 80 to 89 mA\n        one " +
		"segment is dark\n"
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}
