package wire

import (
	"sync"

	"sealworthy/instruments/clock"
)

// Flight counts the bytes that one end has written and the other has not got
// yet, in one direction. While there are any, simulated time stands still. It
// counts only while a reader is there: what is sent to nobody holds nothing. A
// nil Flight, as on a real bench, counts nothing.
type Flight struct {
	c clock.Clock

	mu      sync.Mutex
	readers int
	n       int
	idles   int  // read timeouts in a row with bytes under way
	hangup  bool // the other end goes away: held until the reader has noticed
	letGo   func()
}

// NewFlight returns the count for one direction of a line on clock c.
func NewFlight(c clock.Clock) *Flight { return &Flight{c: c} }

// settle takes or gives back the hold, as the count demands. mu is held.
func (f *Flight) settle() {
	need := f.n > 0 || f.hangup
	if need && f.letGo == nil {
		f.letGo = f.c.Hold()
	}
	if !need && f.letGo != nil {
		f.letGo()
		f.letGo = nil
	}
}

// attach says that a reader is there from now on.
func (f *Flight) attach() {
	if f == nil {
		return
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.readers++
}

// detach says that a reader is gone; with the last one, what is under way is lost.
func (f *Flight) detach() {
	if f == nil {
		return
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.readers--
	if f.readers <= 0 {
		f.readers, f.n, f.hangup = 0, 0, false
	}
	f.settle()
}

// sent is called before n bytes are written.
func (f *Flight) sent(n int) {
	if f == nil {
		return
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.readers > 0 {
		f.n += n
	}
	f.idles = 0
	f.settle()
}

// got is called after the one who waits for n bytes was woken, and for bytes
// that could not be written.
func (f *Flight) got(n int) {
	if f == nil {
		return
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	// More than was counted comes when the reader attached after the writing.
	f.n = max(0, f.n-n)
	f.idles = 0
	f.settle()
}

// maxIdles is how many read timeouts in a row it takes to call bytes lost: one
// second of the machine's time. A busy machine may well write late.
const maxIdles = 20

// idle is called when a reader's time was up and nothing was there. Bytes that
// were lost between the ends must not hold the clock for ever.
func (f *Flight) idle() {
	if f == nil {
		return
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.n == 0 {
		return
	}
	if f.idles++; f.idles >= maxIdles {
		f.n, f.idles = 0, 0
		f.settle()
	}
}

// hangingUp is called before the writing end closes.
func (f *Flight) hangingUp() {
	if f == nil {
		return
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.hangup = f.readers > 0
	f.settle()
}

// UnderWay tells how many bytes are counted at this moment.
func (f *Flight) UnderWay() int {
	if f == nil {
		return 0
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.n
}
