// Package exchange carries one question and its reply over a port: it takes
// turns, keeps the gap that an instrument needs, throws away what is stale,
// strips an echo, frames the reply, and ends at a deadline on the clock.
//
// Start with New. What a reply looks like is a Split, a pure function of bytes.
//
// After anything went wrong the line is out of step: a late reply could pass for
// the next answer. Then, before the next question, Options.Sync asks something
// whose answer can't be mistaken and throws away all that comes before it;
// without Sync the line is read until it is silent. Nothing is ever sent twice.
package exchange

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// Split finds one reply at the start of what came. n is how many bytes it took,
// 0 for "not complete yet". An error says that these bytes never become a reply.
type Split func(got []byte) (n int, reply []byte, err error)

// Sync brings question and answer into step again.
type Sync struct {
	Message []byte // the question
	// Split frames replies. With nil, all that comes up to a silence is one.
	Split Split
	Mine  func(reply []byte) bool // whether reply ends with the answer to Message
}

// Options says how an instrument wants to be spoken to.
type Options struct {
	Line instruments.Line // for the time of a character
	Echo bool             // the instrument sends back what it gets, before its reply
	Gap  time.Duration    // the least silence between a reply and the next command
	// Timeout of one exchange, all in all; more where an instrument has shown that
	// it is slow, and behind commands that it has to carry out first.
	Timeout time.Duration
	Quiet   time.Duration // silence that counts as the end of stale bytes
	Longest int           // bytes of a reply
	// Wake is sent before a command when the line is out of step, so that
	// half a command left in the instrument doesn't spoil it: a line end.
	Wake []byte
}

// Line is one instrument's end of a port. Its methods may be called from any goroutine.
type Line struct {
	name string
	port instruments.Port
	clk  clock.Clock
	opt  Options
	turn turn
	sync atomic.Pointer[Sync]

	users  atomic.Int32 // instruments that use it
	shared atomic.Bool  // more than one does, or did

	// The rest is guarded by turn.
	next      time.Time // when the gap is over
	asked     uint64    // questions sent
	pace      pace
	owed      int          // questions for coming into step whose answer didn't come
	shown     atomic.Int64 // pace.shown, for whoever doesn't hold the turn
	barged    atomic.Int32 // commands sent by whoever didn't hold the turn: not yet in pace
	outOfStep atomic.Bool
	gone      atomic.Bool
}

// Reply is a reply and its times.
type Reply struct {
	Bytes []byte    // as they came, the end among them
	Sent  time.Time // when the question had been handed to the port
	Start time.Time // when the instrument began to send: arrival less the time on the line
	End   time.Time // when the last byte was here
}

// New makes a Line over an open port. It begins out of step: a banner may be on
// its way.
func New(port instruments.Port, c clock.Clock, name string, o Options) *Line {
	if s, ok := port.(*Shared); ok {
		return s.join(c, name, o)
	}
	return newLine(port, c, name, o)
}

func newLine(port instruments.Port, c clock.Clock, name string, o Options) *Line {
	if o.Timeout <= 0 {
		o.Timeout = 300 * time.Millisecond
	}
	if o.Quiet <= 0 {
		o.Quiet = 50 * time.Millisecond
	}
	if o.Longest <= 0 {
		o.Longest = 256
	}
	l := &Line{name: name, port: port, clk: c, opt: o}
	l.outOfStep.Store(true)
	l.users.Store(1)
	return l
}

// Shared tells whether several instruments are on the port.
func (l *Line) Shared() bool { return l.shared.Load() }

// Synced tells whether the line is brought into step by a question.
func (l *Line) Synced() bool { return l.sync.Load() != nil }

// SetSync says how to come into step again. nil is by silence.
func (l *Line) SetSync(s *Sync) { l.sync.Store(s) }

// OutOfStep tells whether the next question will first bring the line into step.
func (l *Line) OutOfStep() bool { return l.outOfStep.Load() }

// Doubt puts the line out of step: a reply was well framed but can't have
// answered the question.
func (l *Line) Doubt() { l.outOfStep.Store(true) }

// Tell sends a command that is not answered. An urgent one goes before all that
// wait, waits for a pending exchange no longer than that exchange's deadline,
// and is sent even though ctx is cancelled.
func (l *Line) Tell(ctx context.Context, op string, message []byte, urgent bool) error {
	if urgent {
		ctx = context.WithoutCancel(ctx)
	}
	held, err := l.take(ctx, op, urgent)
	if err != nil {
		return err
	}
	if held {
		defer l.turn.give(l.clk)
	}
	deadline := l.deadline()
	if l.outOfStep.Load() && len(l.opt.Wake) > 0 {
		message = append(append([]byte{}, l.opt.Wake...), message...)
	}
	if err := l.write(ctx, op, message); err != nil {
		return err
	}
	if held {
		l.pace.told(commands(message, l.opt.Wake))
	} else {
		l.barged.Add(int32(commands(message, l.opt.Wake)))
	}
	if l.opt.Echo && held {
		if _, err := l.read(ctx, op, message, nil, deadline); err != nil {
			l.pace.waiting = 0 // they had their time
			if !urgent {
				return err
			}
		}
	}
	return nil
}

// Ask sends a question and waits for its reply.
func (l *Line) Ask(ctx context.Context, op string, message []byte, split Split, urgent bool) (Reply, error) {
	return l.AskNumbered(ctx, op, func(uint64) ([]byte, Split, error) { return message, split, nil }, urgent)
}

// AskNumbered is Ask with a question made at the moment it is sent. n counts the
// questions that were sent before on this line; with it a question can be made
// to differ from the one before.
func (l *Line) AskNumbered(ctx context.Context, op string, question func(n uint64) ([]byte, Split, error),
	urgent bool) (Reply, error) {
	if err := l.intoStep(ctx, op, urgent); err != nil {
		return Reply{}, err
	}
	held, err := l.takeToAsk(ctx, op, urgent)
	if err != nil {
		return Reply{}, err
	}
	if !held {
		return Reply{}, l.fail(op, "another exchange hangs", instruments.ErrNoReply)
	}
	defer l.turn.give(l.clk)
	if l.outOfStep.Load() {
		return Reply{}, l.fail(op, "the exchange before it failed", instruments.ErrNoReply)
	}
	stale, err := l.stale(ctx, op)
	if err != nil {
		return Reply{}, err
	}
	if stale {
		l.outOfStep.Store(true)
		return Reply{}, l.fail(op, "bytes came that nobody asked for", instruments.ErrGarbled)
	}
	message, split, err := question(l.asked)
	if err != nil {
		return Reply{}, l.fail(op, "", err)
	}
	l.asked++
	return l.answer(ctx, op, message, split)
}

// answer sends a message and reads its reply. The turn is held, the line in step.
func (l *Line) answer(ctx context.Context, op string, message []byte, split Split) (Reply, error) {
	l.pace.told(commands(message, l.opt.Wake) - 1)
	deadline := l.deadline()
	if err := l.write(ctx, op, message); err != nil {
		return Reply{}, err
	}
	r, err := l.read(ctx, op, message, split, deadline)
	if err != nil {
		l.pace.waiting = 0 // they had their time
		return Reply{}, err
	}
	l.pace.answered(r.End.Sub(r.Sent))
	l.shown.Store(int64(l.pace.shown()))
	return r, nil
}

// Push sends an urgent command that is answered. It goes before all that wait,
// and is sent even though ctx is cancelled or the line is out of step; then its
// answer is not waited for: the Reply is empty, and no error says only that it was
// sent.
func (l *Line) Push(ctx context.Context, op string, message []byte, split Split) (Reply, error) {
	ctx = context.WithoutCancel(ctx)
	held, err := l.take(ctx, op, true)
	if err != nil {
		return Reply{}, err
	}
	if held {
		defer l.turn.give(l.clk)
	}
	if !held || l.outOfStep.Load() {
		l.outOfStep.Store(true) // its answer comes when nobody asks
		l.barged.Add(1)
		return Reply{}, l.write(ctx, op, append(append([]byte{}, l.opt.Wake...), message...))
	}
	return l.answer(ctx, op, message, split)
}

// Close closes the port, if no other instrument uses it.
func (l *Line) Close() error {
	if l.users.Add(-1) > 0 {
		return nil
	}
	l.gone.Store(true)
	return l.port.Close()
}

// take waits for the turn and the gap. held is false for an urgent caller who
// barges in because the exchange before it hangs beyond its deadline.
func (l *Line) take(ctx context.Context, op string, urgent bool) (held bool, err error) {
	return l.takeWithin(ctx, op, urgent, min(l.opt.Timeout, offWait))
}

// takeToAsk is take for an urgent question, which is of no use while another
// exchange is under way: it waits as long as that may take.
func (l *Line) takeToAsk(ctx context.Context, op string, urgent bool) (held bool, err error) {
	each := l.Shown()
	if each == 0 {
		each = l.opt.Timeout // as pace grants where nothing is known
	}
	return l.takeWithin(ctx, op, urgent, l.opt.Timeout+mostWaiting*each)
}

func (l *Line) takeWithin(ctx context.Context, op string, urgent bool, longest time.Duration) (held bool, err error) {
	until := time.Time{}
	if urgent {
		until = l.clk.Now().Add(longest + 50*time.Millisecond)
	}
	err = l.turn.take(ctx, l.clk, urgent, until)
	switch {
	case err == nil:
	case errors.Is(err, clock.ErrDeadline):
		return false, nil
	default:
		return false, l.fail(op, "", err)
	}
	if l.gone.Load() {
		l.turn.give(l.clk)
		return false, l.fail(op, "plug it in and open it again", instruments.ErrPortGone)
	}
	if l.clk.Now().Before(l.next) {
		if err := l.clk.Wait(ctx, nil, l.next); err != nil {
			l.turn.give(l.clk)
			return false, l.fail(op, "", err)
		}
	}
	return true, nil
}

func (l *Line) write(ctx context.Context, op string, message []byte) error {
	err := l.port.Write(ctx, message)
	l.next = l.clk.Now().Add(l.opt.Gap)
	if err != nil {
		l.outOfStep.Store(true) // part of it may have gone out
		return l.lost(ctx, op, err)
	}
	return nil
}

// fail names port and operation.
func (l *Line) fail(op, hint string, err error) error {
	return &instruments.PortError{Port: l.name, Op: op, Hint: hint, Err: err}
}

// lost tells a cancelled context from a port that is gone: any other error of a
// port means that its handle is of no more use.
func (l *Line) lost(ctx context.Context, op string, err error) error {
	if c := ctx.Err(); c != nil {
		return l.fail(op, "", c)
	}
	l.gone.Store(true)
	if !errors.Is(err, instruments.ErrPortGone) {
		err = fmt.Errorf("%w: %w", instruments.ErrPortGone, err)
	}
	return l.fail(op, "plug it in and open it again", err)
}

func clip(b []byte) []byte {
	const most = 60
	if len(b) > most {
		return b[:most]
	}
	return b
}
