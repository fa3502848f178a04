package session

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// Desk stands between the engine and the faces: it numbers what is told and what
// is asked, and lets one answer to each question through. It is the engine's face.
type Desk struct {
	nobody bool
	run    instruments.Runner

	mu     sync.Mutex
	faces  []Face
	events uint64
	asked  int
	open   *pending
	// interrupt is what ends what is under way, where no question was open.
	interrupt error
	light     bool // more of it is wanted, at a look
}

// pending is a question that waits for its answer.
type pending struct {
	q      Question
	got    chan reply // holds one
	cancel context.CancelFunc
}

type reply struct {
	answer capture.Answer
	err    error
}

var (
	_ capture.Face    = (*Desk)(nil)
	_ capture.Lighter = (*Desk)(nil)
)

// NewDesk makes a desk. Where nobody is there to be asked, no question is open
// ever; run starts what waits for a face's answer.
func NewDesk(nobody bool, run instruments.Runner, faces ...Face) *Desk {
	return &Desk{nobody: nobody, run: run, faces: faces}
}

// Nobody is true where questions have nobody to go to.
func (d *Desk) Nobody() bool { return d.nobody }

// Watched tells whether somebody could see the test: at a face that doesn't know
// better somebody is.
func (d *Desk) Watched() bool {
	return len(d.faces) == 0 || slices.ContainsFunc(d.faces, func(f Face) bool {
		w, ok := f.(Watcher)
		return !ok || w.Watched()
	})
}

// Show tells what the engine shows.
func (d *Desk) Show(e capture.Event) { d.Tell(Event{What: Shown, Test: &e}) }

// Tell numbers an event and tells it to all faces.
func (d *Desk) Tell(e Event) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if e.What == Over && d.open != nil { // nothing comes after it
		d.open.cancel()
		d.withdraw(d.open)
	}
	d.tell(e)
}

// tell is Tell where mu is held.
func (d *Desk) tell(e Event) {
	d.events++
	e.N = d.events
	for _, f := range d.faces {
		f.Tell(e)
	}
}

// Ask opens a question and waits for its answer. A question that is open still is
// withdrawn by it: the engine wants no answer to that any more.
func (d *Desk) Ask(ctx context.Context, q capture.Question) (capture.Answer, error) {
	return d.ask(ctx, Question{Question: q})
}

func (d *Desk) ask(ctx context.Context, q Question) (capture.Answer, error) {
	if d.nobody {
		return capture.Answer{}, fmt.Errorf("%w: nobody to ask (%s)", capture.ErrUnattended, q.Kind)
	}
	if ctx.Err() != nil {
		return capture.Answer{}, context.Cause(ctx)
	}
	asking, cancel := context.WithCancel(ctx)
	defer cancel()
	p, err := d.put(q, cancel)
	if err != nil {
		return capture.Answer{}, err
	}
	for _, f := range d.faces {
		if a, ok := f.(Asker); ok {
			d.run(func() { d.askFace(asking, a, p.q) }, func(err error) { d.end(p.q.Number, reply{err: err}) })
		}
	}
	select {
	case r := <-p.got:
		return r.answer, r.err
	case <-asking.Done():
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	select {
	case r := <-p.got: // it came at the same moment
		return r.answer, r.err
	default:
	}
	d.withdraw(p)
	return capture.Answer{}, context.Cause(asking)
}

// put opens a question under the next number, but where the maker wants something else: one
// who said so a moment before would wait for ever.
func (d *Desk) put(q Question, cancel context.CancelFunc) (*pending, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.heard(); err != nil {
		return nil, err
	}
	if d.open != nil {
		d.open.cancel()
		d.withdraw(d.open)
	}
	d.asked++
	q.Number = d.asked
	p := &pending{q: q, got: make(chan reply, 1), cancel: cancel}
	d.open = p
	d.tell(Event{What: Asked, Ask: &p.q})
	return p, nil
}

// withdraw takes a question back, if it is still open. mu is held.
func (d *Desk) withdraw(p *pending) {
	if d.open == p {
		d.open = nil
		d.tell(Event{What: Withdrawn, Of: p.q.Number})
	}
}

// askFace waits for the answer of one face.
func (d *Desk) askFace(ctx context.Context, f Asker, q Question) {
	a, err := f.Ask(ctx, q)
	if err == nil {
		if err = d.Answer(Answer{q.Number, a}); late(err) {
			return // another face was faster, or none is wanted any more
		}
	}
	if err != nil && ctx.Err() == nil {
		d.end(q.Number, reply{err: err})
	}
}

// Answer gives the answer to the question that is open. Any other is refused with
// a *RefusedError, which the faces are told, too, and changes nothing.
func (d *Desk) Answer(a Answer) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.open != nil {
		a.Answer = valued(d.open.q, a.Answer)
	}
	if why := d.refuses(a); why != "" {
		d.tell(Event{What: Refused, Of: a.Question, Why: why})
		return &RefusedError{a.Question, why}
	}
	p := d.open
	d.open = nil
	p.got <- reply{answer: a.Answer}
	d.tell(Event{What: Answered, Of: a.Question, Answer: &a.Answer})
	return nil
}

// Interrupt ends what is under way with an error: the question that is open, else the
// step, at the engine's next look.
func (d *Desk) Interrupt(err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if p := d.open; p != nil {
		p.got <- reply{err: err}
		d.withdraw(p)
		return
	}
	d.interrupt = err
}

// Interrupted gives, once, what is to end the step under way; nil: nothing. It is a
// capture.Interrupter's.
func (d *Desk) Interrupted() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.heard()
}

// heard is Interrupted where mu is held.
func (d *Desk) heard() error {
	err := d.interrupt
	d.interrupt = nil
	return err
}

// Light has a look stay lit longer, or lit again. Where none is asked about it does nothing.
func (d *Desk) Light() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.light = true
}

// Lights tells, once, whether more light is wanted, at whatever face. It is a capture.Lighter's.
func (d *Desk) Lights() bool {
	d.mu.Lock()
	wanted := d.light
	d.light = false
	d.mu.Unlock()
	for _, f := range d.faces { // each forgets it
		if l, ok := f.(capture.Lighter); ok && l.Lights() {
			wanted = true
		}
	}
	return wanted
}

// end gives a question up: whoever was to answer it can't.
func (d *Desk) end(number int, r reply) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if p := d.open; p != nil && p.q.Number == number {
		p.got <- r
		d.withdraw(p)
	}
}

// Refusal says why an answer changes nothing.
type Refusal string

// Why an answer is refused.
const (
	NotUnderstood Refusal = "not understood" // the line is no answer
	Foreign       Refusal = "foreign"        // no question had this number
	Late          Refusal = "late"           // its question is answered or withdrawn
	NoChoice      Refusal = "no choice"      // it isn't among the question's choices
	OutOfRange    Refusal = "out of range"   // it is no number between the question's least and most
	NeedsText     Refusal = "needs text"     // the choice stands for words, and there are none
)

// RefusedError is an answer that changed nothing.
type RefusedError struct {
	Question int     // the number that the answer named
	Why      Refusal // in one word
}

func (e *RefusedError) Error() string {
	return fmt.Sprintf("the answer to question %d is refused: %s", e.Question, e.Why)
}

// late: the question was over when its answer came.
func late(err error) bool {
	r, ok := err.(*RefusedError)
	return ok && r.Why == Late
}

// refuses says why an answer isn't let through; "": it is. mu is held.
func (d *Desk) refuses(a Answer) Refusal {
	switch {
	case a.Question < 1 || a.Question > d.asked:
		return Foreign
	case d.open == nil || d.open.q.Number != a.Question:
		return Late
	}
	return Fits(d.open.q, a.Answer)
}

// Fits says why an answer is none to a question; "": it is one.
func Fits(q Question, a capture.Answer) Refusal {
	switch {
	case !slices.Contains(q.Choices, a.Choice):
		return NoChoice
	case a.Choice == "number" && q.About != nil && !q.About.holds(a.Number):
		return OutOfRange
	case a.Choice == "number" && a.Number != nil:
		return ""
	case wantsText(q.Kind, a.Choice) && strings.TrimSpace(a.Text) == "":
		return NeedsText
	}
	return ""
}

// wantsText: the choice is words, or is against what the program says and needs a
// reason. A look is left out without one.
func wantsText(k capture.QuestionKind, choice string) bool {
	switch choice {
	case Seen, Said, "wrong", "touched", "pick", "reason", "allow", "number", "accept":
		return true
	case "skip":
		return k == capture.AskClip || k == capture.AskSense || k == capture.AskPress || k == capture.AskWiggle
	}
	return false
}
