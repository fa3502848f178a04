package suite_test

import (
	"context"
	"errors"
	"slices"
	"sync"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/rig/linefault"
	"sealworthy/instruments/suite"
	"sealworthy/instruments/wire"
)

// language is one protocol from the instrument's side.
type language interface {
	// take finds one message at the start of what came: n bytes used up, 0 for
	// not complete yet.
	take(got []byte) (n int, message []byte)
	// answer carries a message out and gives the reply, nil for none.
	answer(f *fake, message []byte) []byte
	// spoil makes a reply that isn't well formed.
	spoil(reply []byte) []byte
}

// liner is a language of lines: half of one waits for the rest.
type liner interface {
	language
	lines()
}

// slow is a language whose instrument takes its time for each message.
type slow interface {
	language
	takes() time.Duration
}

// sender is a language whose instrument sends by itself.
type sender interface {
	language
	say(f *fake) []byte
	every() time.Duration
}

// fake is an instrument in memory, in simulated time. It answers in order.
type fake struct {
	c    *clock.Simulated
	p    *profile.Profile
	lang language

	mu          sync.Mutex
	line        *line // the present one
	inject      *injector
	faults      linefault.Options // of the next lines; without rates: none
	volts, amps float64           // set
	on          bool
	ovp, ocp    float64
	closed      []int
	trueV       float64
	trueA       float64
	function    instruments.Quantity
	over        bool
	ignore      bool
	silent      bool
	garbled     bool
	delay       time.Duration
	paced       bool // questions take their time on the line too; set before the first
	errors      []string
}

// line is the instrument's end from plugging in to hanging up.
type line struct {
	*fake
	port  *wire.Memory
	out   clock.Gate
	queue []outgoing
	gone  bool
}

type outgoing struct {
	at    time.Time
	bytes []byte
}

var _ suite.Control = (*fake)(nil)

func (f *fake) True(v, a float64)     { f.mu.Lock(); f.trueV, f.trueA = v, a; f.mu.Unlock() }
func (f *fake) Overload(on bool)      { f.mu.Lock(); f.over = on; f.mu.Unlock() }
func (f *fake) Ignore(on bool)        { f.mu.Lock(); f.ignore = on; f.mu.Unlock() }
func (f *fake) Silence(on bool)       { f.mu.Lock(); f.silent = on; f.mu.Unlock() }
func (f *fake) Garble(on bool)        { f.mu.Lock(); f.garbled = on; f.mu.Unlock() }
func (f *fake) Delay(d time.Duration) { f.mu.Lock(); f.delay = d; f.mu.Unlock() }
func (f *fake) HangUp()               { f.mu.Lock(); l := f.line; f.mu.Unlock(); l.hangUp() }

func (f *line) hangUp() { _ = f.port.HangUp() }

func (f *fake) Settings() (float64, float64, bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.volts, f.amps, f.on
}

func (f *fake) Closed() []int {
	f.mu.Lock()
	defer f.mu.Unlock()
	out := slices.Clone(f.closed)
	slices.Sort(out)
	return slices.Compact(out)
}

// serve runs until the line ends.
func (f *line) serve() {
	f.c.Go(f.send)
	if s, ok := f.lang.(sender); ok {
		f.c.Go(func() { f.stream(s) })
	}
	bg := context.Background()
	var got []byte
	buf := make([]byte, 256)
	for {
		until := time.Time{}
		if len(got) > 0 {
			until = f.c.Now().Add(40 * time.Millisecond)
		}
		n, err := f.port.ReadUntil(bg, buf, until)
		if errors.Is(err, clock.ErrDeadline) {
			if _, lines := f.lang.(liner); !lines {
				got = nil // half a message is given up after a silence
			} else if f.c.Wait(bg, nil, f.c.Now().Add(40*time.Millisecond)) != nil {
				return
			}
			continue
		}
		if err != nil {
			f.end()
			return
		}
		in := buf[:n]
		if f.paced && f.c.Wait(bg, nil, f.c.Now().Add(time.Duration(n)*f.p.SerialLine().CharTime())) != nil {
			return
		}
		if f.inject != nil {
			in = f.inject.request(in)
		}
		got = append(got, in...)
		for len(got) > 0 {
			n, message := f.lang.take(got)
			if n == 0 {
				break
			}
			message = slices.Clone(message)
			got = got[n:]
			if message != nil {
				if s, ok := f.lang.(slow); ok && s.takes() > 0 && f.c.Wait(bg, nil, f.c.Now().Add(s.takes())) != nil {
					return
				}
				f.reply(f.lang.answer(f.fake, message))
			}
		}
	}
}

func (f *line) reply(p []byte) {
	f.mu.Lock()
	if p == nil || f.silent {
		f.mu.Unlock()
		return
	}
	if f.garbled {
		p = f.lang.spoil(p)
	}
	at := f.c.Now().Add(2*time.Millisecond + f.delay)
	if n := len(f.queue); n > 0 && f.queue[n-1].at.After(at) {
		at = f.queue[n-1].at
	}
	f.queue = append(f.queue, outgoing{at, p})
	f.mu.Unlock()
	f.c.Open(&f.out)
}

// send puts replies on the line in order, at its speed.
func (f *line) send() {
	bg := context.Background()
	char := f.p.SerialLine().CharTime()
	for {
		f.mu.Lock()
		gone, empty := f.gone, len(f.queue) == 0
		var o outgoing
		if !empty {
			o = f.queue[0]
		}
		f.mu.Unlock()
		if gone {
			return
		}
		if empty {
			_ = f.c.Wait(bg, &f.out, time.Time{})
			continue
		}
		if f.c.Now().Before(o.at) {
			if f.c.Wait(bg, nil, o.at) != nil {
				return
			}
		}
		pieces := []piece{{bytes: o.bytes}}
		if f.inject != nil {
			pieces = f.inject.reply(o.bytes)
		}
		for _, x := range pieces {
			if x.hangUp {
				f.hangUp()
				f.end()
				return
			}
			wait := x.after + time.Duration(len(x.bytes))*char
			if f.c.Wait(bg, nil, f.c.Now().Add(wait)) != nil || f.port.Write(bg, x.bytes) != nil {
				return
			}
		}
		f.mu.Lock()
		f.queue = f.queue[1:]
		f.mu.Unlock()
	}
}

func (f *line) stream(s sender) {
	bg := context.Background()
	next := f.c.Now()
	for {
		next = next.Add(s.every())
		if f.c.Wait(bg, nil, next) != nil {
			return
		}
		f.mu.Lock()
		gone := f.gone
		f.mu.Unlock()
		if gone {
			return
		}
		f.reply(s.say(f.fake))
	}
}

func (f *line) end() {
	f.mu.Lock()
	f.gone = true
	f.mu.Unlock()
	f.c.Open(&f.out)
}

// put up makes a fake of a profile and the driver for it.
func putUp(t testing.TB, p *profile.Profile, lang language, inject *injector) (*fake, *bench.Connected) {
	t.Helper()
	c := clock.NewSimulated(time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC))
	f := &fake{c: c, p: p, lang: lang, function: instruments.Current, ocp: 99, ovp: 99}
	x := f.plugIn(t)
	f.inject = inject
	return f, x
}

// portName of a fake; one that is reached over a network has another.
func (f *fake) portName() string {
	if n, ok := f.lang.(interface{ port() string }); ok {
		return n.port()
	}
	return "memory"
}

// plugIn opens a new line to the same instrument.
func (f *fake) plugIn(t testing.TB) *bench.Connected {
	t.Helper()
	mine, theirs := wire.Pair(f.c, "memory")
	l := &line{fake: f, port: theirs}
	f.mu.Lock()
	f.line = l
	f.mu.Unlock()
	near := &switched{Port: mine, faulty: linefault.New(f.c, mine, f.faults)}
	f.faults.Seed++
	open := func(context.Context, string, instruments.Line) (instruments.Port, error) {
		if f.faults.Rates == nil {
			return mine, nil
		}
		return near, nil
	}
	f.c.Go(l.serve)
	x, err := bench.Connect(context.Background(), f.c, open, f.portName(), f.p)
	if err != nil {
		t.Fatal(err)
	}
	near.on.Store(true)
	t.Cleanup(func() { _ = mine.Close() })
	return x
}
