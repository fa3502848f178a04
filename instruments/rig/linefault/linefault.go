// Package linefault spoils a serial line on purpose: bytes lost, doubled,
// flipped, late, split, replies stale or in the wrong order, bytes without end,
// silence, and a line that hangs up. Drivers are tested against it: none of it
// may ever become a reading.
//
// It sits between a driver and any instruments.Port, so it serves every
// protocol. All chance comes from a seed: the same exchanges meet the same
// faults.
package linefault

import (
	"context"
	"errors"
	"math/rand/v2"
	"sync"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// Kind is one kind of fault.
type Kind string

// The kinds. Those on bytes strike each byte with their rate, in both
// directions; the others strike each run of bytes that comes from the
// instrument, which is a reply or a part of it.
const (
	Drop    Kind = "drop"    // a byte is lost
	Double  Kind = "double"  // a byte comes twice
	Flip    Kind = "flip"    // one bit of a byte is wrong
	Delay   Kind = "delay"   // it comes later, by up to Options.Late
	Split   Kind = "split"   // it comes in two parts, the second later
	Stale   Kind = "stale"   // an earlier run comes before it
	Swap    Kind = "swap"    // it comes after the run that follows it
	Endless Kind = "endless" // bytes come without end until the line is opened anew or Options.Long is over
	Silence Kind = "silence" // nothing comes for Options.Long
	HangUp  Kind = "hang-up" // the port is gone
)

// Kinds lists all of them.
func Kinds() []Kind {
	return []Kind{Drop, Double, Flip, Delay, Split, Stale, Swap, Endless, Silence, HangUp}
}

// Options says how often which fault strikes.
type Options struct {
	Seed  uint64           // draws when which fault strikes
	Rates map[Kind]float64 // probability, 0 to 1
	Late  time.Duration    // longest delay: 300 ms
	Long  time.Duration    // of silence and of bytes without end: 2 s
	// Outward spoils what the driver sends too: Drop, Double and Flip.
	Outward bool
}

// Faulty returns an opener whose ports have faults. Each opening draws on.
func Faulty(c clock.Clock, open instruments.Opener, o Options) instruments.Opener {
	r := rand.New(rand.NewPCG(o.Seed, 0x6c696e65))
	var mu sync.Mutex
	return func(ctx context.Context, name string, l instruments.Line) (instruments.Port, error) {
		p, err := open(ctx, name, l)
		if err != nil {
			return nil, err
		}
		mu.Lock()
		o.Seed = r.Uint64()
		mine := o
		mu.Unlock()
		return New(c, p, mine), nil
	}
}

// Port is a port with faults. Like any port it has one reader and one writer at a time.
type Port struct {
	c clock.Clock
	p instruments.Port
	o Options

	mu      sync.Mutex
	rand    *rand.Rand
	queue   []run // what came and is not handed out, in order of coming out
	swapped []byte
	earlier [][]byte
	mute    time.Time // silent until
	endless time.Time // noise until
	gone    error
	counts  map[Kind]int
}

// run is bytes that come out together.
type run struct {
	at    time.Time
	bytes []byte
}

var _ instruments.Port = (*Port)(nil)

// New spoils p.
func New(c clock.Clock, p instruments.Port, o Options) *Port {
	if o.Late <= 0 {
		o.Late = 300 * time.Millisecond
	}
	if o.Long <= 0 {
		o.Long = 2 * time.Second
	}
	return &Port{c: c, p: p, o: o, rand: rand.New(rand.NewPCG(o.Seed, 1)), counts: map[Kind]int{}}
}

// Struck tells how often each fault has struck.
func (f *Port) Struck() map[Kind]int {
	f.mu.Lock()
	defer f.mu.Unlock()
	out := map[Kind]int{}
	for k, n := range f.counts {
		out[k] = n
	}
	return out
}

// strikes draws whether a fault strikes now. mu is held.
func (f *Port) strikes(k Kind) bool {
	rate := f.o.Rates[k]
	if rate <= 0 || f.rand.Float64() >= rate {
		return false
	}
	f.counts[k]++
	return true
}

// spoil goes through bytes one by one. mu is held.
func (f *Port) spoil(b []byte) []byte {
	out := make([]byte, 0, len(b)+2)
	for _, x := range b {
		if f.strikes(Drop) {
			continue
		}
		if f.strikes(Flip) {
			x ^= 1 << f.rand.IntN(8)
		}
		out = append(out, x)
		if f.strikes(Double) {
			out = append(out, x)
		}
	}
	return out
}

// Write sends b, spoiled if Options.Outward.
func (f *Port) Write(ctx context.Context, b []byte) error {
	f.mu.Lock()
	if f.gone != nil {
		defer f.mu.Unlock()
		return f.gone
	}
	if f.o.Outward {
		b = f.spoil(b)
	}
	f.mu.Unlock()
	if len(b) == 0 {
		return ctx.Err()
	}
	return f.p.Write(ctx, b)
}

// maxEarlier is how many runs are remembered to come again.
const maxEarlier = 4

// take draws the faults of one run that has come. mu is held.
func (f *Port) take(b []byte, now time.Time) {
	if f.strikes(HangUp) {
		f.gone = &instruments.PortError{Port: "faulty line", Op: "read", Err: instruments.ErrPortGone,
			Hint: "open it again"}
		return
	}
	if f.strikes(Silence) {
		f.mute = now.Add(f.o.Long)
	}
	if now.Before(f.mute) {
		return
	}
	if f.strikes(Endless) {
		f.endless = now.Add(f.o.Long)
	}
	fresh := append([]byte(nil), b...)
	at := now
	if len(f.earlier) > 0 && f.strikes(Stale) {
		f.put(at, f.earlier[f.rand.IntN(len(f.earlier))])
	}
	if f.earlier = append(f.earlier, fresh); len(f.earlier) > maxEarlier {
		f.earlier = f.earlier[1:]
	}
	b = f.spoil(fresh)
	if f.swapped == nil && f.strikes(Swap) {
		f.swapped = b
		return
	}
	if f.strikes(Delay) {
		at = at.Add(f.late())
	}
	if len(b) > 1 && f.strikes(Split) {
		n := 1 + f.rand.IntN(len(b)-1)
		f.put(at, b[:n])
		at, b = at.Add(f.late()), b[n:]
	}
	f.put(at, b)
	if f.swapped != nil {
		f.put(at, f.swapped)
		f.swapped = nil
	}
}

func (f *Port) late() time.Duration {
	return time.Duration(1 + f.rand.Int64N(int64(f.o.Late)))
}

// put queues bytes; what came before stays before.
func (f *Port) put(at time.Time, b []byte) {
	if len(b) == 0 {
		return
	}
	if n := len(f.queue); n > 0 && f.queue[n-1].at.After(at) {
		at = f.queue[n-1].at
	}
	f.queue = append(f.queue, run{at, b})
}

// noiseGap is how often endless bytes come: eight each millisecond, as at
// 76800 baud.
const noiseGap = time.Millisecond

// due hands out what is due at now. It also gives the time at which the next
// bytes are due; zero if none are known of. mu is held.
func (f *Port) due(p []byte, now time.Time) (int, time.Time) {
	if len(f.queue) > 0 {
		q := &f.queue[0]
		if q.at.After(now) {
			return 0, q.at
		}
		n := copy(p, q.bytes)
		if q.bytes = q.bytes[n:]; len(q.bytes) == 0 {
			f.queue = f.queue[1:]
		}
		return n, time.Time{}
	}
	if now.Before(f.endless) {
		n := min(len(p), 8)
		for i := range n {
			p[i] = byte(f.rand.IntN(256))
		}
		f.put(now.Add(noiseGap), []byte{byte(f.rand.IntN(256))})
		return n, time.Time{}
	}
	return 0, time.Time{}
}

// ReadUntil hands out what the faults have left over.
func (f *Port) ReadUntil(ctx context.Context, p []byte, deadline time.Time) (int, error) {
	buf := make([]byte, 4096)
	for {
		now := f.c.Now()
		f.mu.Lock()
		n, next := f.due(p, now)
		gone := f.gone
		f.mu.Unlock()
		if n > 0 {
			return n, nil
		}
		if gone != nil {
			return 0, gone
		}
		until := deadline
		if !next.IsZero() && (deadline.IsZero() || next.Before(deadline)) {
			until = next
		}
		n, err := f.p.ReadUntil(ctx, buf, until)
		switch {
		case n > 0:
			f.mu.Lock()
			f.take(buf[:n], f.c.Now())
			f.mu.Unlock()
		case errors.Is(err, clock.ErrDeadline) && until.Equal(next) && !next.IsZero():
		case err != nil:
			return 0, err
		}
	}
}

// Discard throws away what has come; what is delayed still comes.
func (f *Port) Discard() {
	now := f.c.Now()
	f.mu.Lock()
	for len(f.queue) > 0 && !f.queue[0].at.After(now) {
		f.queue = f.queue[1:]
	}
	f.mu.Unlock()
	f.p.Discard()
}

// Close closes the port below.
func (f *Port) Close() error { return f.p.Close() }
