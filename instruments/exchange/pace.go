package exchange

import (
	"bytes"
	"time"
)

// pace is how quick an instrument has shown itself to be. Commands that aren't
// answered are carried out one after another: the reply to a question behind them
// comes later by as much as they take.
type pace struct {
	latest  [3]time.Duration // what each command took, of the latest that were answered
	waiting int              // commands sent since the last reply
}

// mostWaiting bounds what is granted for commands that are never answered.
const mostWaiting = 8

// mostOwed bounds what is granted for answers that may still come from before.
const mostOwed = 2

// spare is what is granted above what an instrument has shown that it takes.
const spare = 2

// told counts commands that have no answer.
func (p *pace) told(n int) { p.waiting = min(p.waiting+n, mostWaiting) }

// answered takes over how long a reply took, with the commands before it.
func (p *pace) answered(took time.Duration) {
	copy(p.latest[:], p.latest[1:])
	p.latest[len(p.latest)-1] = took / time.Duration(1+p.waiting)
	p.waiting = 0
}

// shown is what each command takes; 0 before it has shown it. One late reply
// makes no slow instrument: it is the quickest of the latest.
func (p *pace) shown() time.Duration {
	least := time.Duration(0)
	for _, d := range p.latest {
		if d > 0 && (least == 0 || d < least) {
			least = d
		}
	}
	return least
}

// allowed is how long a reply may take. timeout is for one command of which nothing
// is known; of what an instrument has shown, commands that it may carry out more
// slowly than it answers get a quarter of it at least.
func (p *pace) allowed(timeout time.Duration) time.Duration {
	each, shown := timeout, p.shown()
	if shown > 0 {
		each = min(timeout, max(spare*shown, timeout/4))
	}
	return max(timeout, spare*shown) + time.Duration(p.waiting)*each
}

// commands counts the commands in a message that end with end; without ends it
// is one.
func commands(message, end []byte) int {
	if len(end) == 0 {
		return 1
	}
	return max(1, bytes.Count(message, end))
}

// Shown is how long the instrument takes for a command, 0 before it has shown it.
func (l *Line) Shown() time.Duration { return time.Duration(l.shown.Load()) }

// deadline of an exchange that begins now. The turn is held. Commands that barged in
// behind the question before this one are carried out ahead of it, like those told.
func (l *Line) deadline() time.Time {
	l.pace.told(int(l.barged.Swap(0)))
	return l.clk.Now().Add(l.pace.allowed(l.opt.Timeout))
}

// offWait is the longest that an urgent command waits for a pending exchange,
// whatever that exchange may take.
const offWait = 300 * time.Millisecond
