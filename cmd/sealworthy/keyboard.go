package main

import (
	"bufio"
	"io"
	"strings"
	"sync"
	"time"

	"sealworthy/instruments"
)

// typedLine is a line that the maker entered, and when it came.
type typedLine struct {
	text string
	at   time.Time
}

// keyboard takes lines as they come, whether somebody waits for one or not: so
// it is known of each whether it was typed before its question.
type keyboard struct {
	now   func() time.Time
	clear func() // throws away what the terminal holds and nobody has read; nil: nothing does
	halt  func() // ends all, the output off: no question waits that could be answered so

	mu      sync.Mutex
	awaited bool // a question waits for a line
	lines   []typedLine
	ended   bool
	more    chan struct{} // holds one where there is something new
}

func newKeyboard(now func() time.Time) *keyboard {
	return &keyboard{now: now, more: make(chan struct{}, 1)}
}

// listen reads until the input ends. It can't be stopped while it waits for a
// key; the process ends with it.
func (k *keyboard) listen(r io.Reader, run instruments.Runner) {
	run(func() {
		defer k.end()
		s := bufio.NewScanner(r)
		for s.Scan() {
			k.enter(s.Text())
		}
	}, func(error) { k.end() })
}

func (k *keyboard) enter(text string) {
	text = strings.TrimSpace(text)
	if k.keep(text) {
		k.halt()
	}
}

// keep takes a line for whoever asks; true: it stops, and nobody asks.
func (k *keyboard) keep(text string) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	if stops(text) && !k.awaited && k.halt != nil {
		return true
	}
	k.lines = append(k.lines, typedLine{text, k.now()})
	k.wake()
	return false
}

// await says whether a question waits for a line.
func (k *keyboard) await(yes bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.awaited = yes
}

func (k *keyboard) end() {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.ended = true
	k.wake()
}

func (k *keyboard) wake() {
	select {
	case k.more <- struct{}{}:
	default:
	}
}

// take gives the lines that came, and whether no more will.
func (k *keyboard) take() (lines []typedLine, ended bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	lines, k.lines = k.lines, nil
	return lines, k.ended
}

// putBack leaves lines for whoever asks next.
func (k *keyboard) putBack(lines []typedLine) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.lines = append(append([]typedLine(nil), lines...), k.lines...)
	if len(lines) > 0 {
		k.wake()
	}
}

// flush forgets what was typed and not entered yet.
func (k *keyboard) flush() {
	if k.clear != nil {
		k.clear()
	}
}

// stops: these words end a test whenever they were typed.
func stops(text string) bool {
	word := strings.ToLower(text)
	return word == "q" || word == "stop" || word == "quit"
}

// clearOf is what throws away what a terminal holds; nil where x is none.
func clearOf(x any) func() {
	f, ok := fileOf(x)
	if !ok || !isTerminal(x) {
		return nil
	}
	return func() { flushInput(f.Fd()) }
}
