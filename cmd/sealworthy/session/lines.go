package session

import (
	"bufio"
	"bytes"
	_ "embed" // EVENTS.md
	"encoding/json"
	"errors"
	"io"
	"sync"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// Version is that of the lines. It goes up when a line that was right is no more,
// or means something else; new keys and new events leave it as it is.
const Version = 2

// EventsDoc describes the lines.
//
//go:embed EVENTS.md
var EventsDoc string

// Lines is a face that writes each event as a line of JSON and reads answers as
// lines (ParseLine). EVENTS.md describes both.
type Lines struct {
	mu     sync.Mutex
	queue  []byte // whole lines that are to be written
	closed bool
	err    error         // why nothing is written any more
	more   chan struct{} // holds one where there is something new
	done   chan struct{} // closed after the last line
	lost   func(error)   // ends the test
	run    instruments.Runner
}

// Nobody who follows a test may be so far behind, in bytes: some thousand events.
const mostBehind = 16 << 20

// How long the last lines may take once all is over.
const lastLines = 5 * time.Second

// Why a test ends whose face is gone.
var (
	ErrBehind     = errors.New("the reader of the events doesn't read them")
	ErrInputEnded = errors.New("the input ended in the middle of a test")
)

// NewLines writes events to w, in a goroutine that run starts. stop ends the test
// where nobody reads them: what isn't seen isn't powered.
func NewLines(w io.Writer, run instruments.Runner, stop func(error)) *Lines {
	l := &Lines{more: make(chan struct{}, 1), done: make(chan struct{}), lost: stop, run: run}
	run(func() { l.write(w) }, func(err error) { l.fail(err); close(l.done) })
	return l
}

// Tell writes an event. It doesn't wait for the reader.
func (l *Lines) Tell(e Event) {
	b, err := json.Marshal(Full(lean(e)))
	if err != nil {
		l.fail(err)
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	switch {
	case l.err != nil || l.closed:
	case len(l.queue)+len(b) > mostBehind:
		l.end(ErrBehind)
	default:
		l.queue = append(append(l.queue, b...), '\n')
		l.wake()
	}
}

// lean is an event as it's written: a step stands whole where it begins, and in
// what follows by its ID alone.
func lean(e Event) Event {
	if e.Test == nil || e.Test.Step == nil || e.Test.What == capture.StepBegins {
		return e
	}
	t := *e.Test
	e.StepID, t.Step = t.Step.ID, nil
	e.Test = &t
	return e
}

// fail gives the writing up.
func (l *Lines) fail(err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.end(err)
}

// end is fail where mu is held.
func (l *Lines) end(err error) {
	if l.err == nil {
		l.err, l.queue = err, nil
		l.wake()
		if !l.closed {
			l.run(func() { l.lost(err) }, nil) // whoever tells mustn't wait for the supply
		}
	}
}

func (l *Lines) wake() {
	select {
	case l.more <- struct{}{}:
	default:
	}
}

// write writes what is queued until it's closed.
func (l *Lines) write(w io.Writer) {
	for range l.more {
		l.mu.Lock()
		b, closed, err := l.queue, l.closed, l.err
		l.queue = nil
		l.mu.Unlock()
		if len(b) > 0 {
			if _, werr := w.Write(b); werr != nil {
				l.fail(werr)
			}
			l.wake() // more may have come meanwhile
			continue
		}
		if closed || err != nil {
			close(l.done)
			return
		}
	}
}

// Close writes what is left, as long as its reader takes it in time.
func (l *Lines) Close() error {
	l.mu.Lock()
	l.closed = true
	l.wake()
	l.mu.Unlock()
	select {
	case <-l.done:
	case <-time.After(lastLines):
		return ErrBehind
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.err
}

// Listen takes answers to a desk's questions from r, until it ends; then the test
// ends, too: nobody could stop it any more. It can't be stopped while it waits for
// a line; the process ends with it.
func (l *Lines) Listen(r io.Reader, d *Desk) {
	l.run(func() {
		in := bufio.NewReaderSize(r, MostLine+2)
		for {
			src, err := in.ReadSlice('\n')
			for errors.Is(err, bufio.ErrBufferFull) { // too long: up to its end
				_, err = in.ReadSlice('\n')
				src = make([]byte, MostLine+1)
			}
			if src = bytes.TrimSpace(src); len(src) > 0 {
				l.heed(src, d)
			}
			if err != nil {
				l.lost(ErrInputEnded)
				return
			}
		}
	}, nil)
}

// heed does what a line says.
func (l *Lines) heed(src []byte, d *Desk) {
	line, err := ParseLine(src)
	switch {
	case err != nil:
		d.Tell(Event{What: Refused, Why: NotUnderstood, Text: err.Error()})
	case line.Stop:
		l.lost(capture.ErrStopped)
	case line.Meter:
		d.Interrupt(capture.AnotherMeter())
	case line.Light:
		d.Light()
	default:
		_ = d.Answer(line.Answer) // a refusal was told
	}
}
