package rig

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig/odd"
)

// end is the rig's end of a line.
type end interface {
	instruments.Port
	ReadStamped(ctx context.Context, p []byte, deadline time.Time) (int, time.Time, error)
	HangUp() error
}

// maxMessage is the input buffer of an instrument; what goes over is lost.
const maxMessage = 512

// device is one instrument: a party that reads commands off its line, in the
// line's own time, and answers.
type device struct {
	c    clock.Clock
	name string
	opt  LineOptions
	tree tree
	// opened is called in any goroutine when a driver has opened the port; nil
	// for instruments that don't mind.
	opened func()
	before func() // is called before each message, by the party; may be nil

	queue []scpiError
	esr   int // standard event status register (IEEE 488.2, 11.5.1)

	lastPty string // name of its latest pseudo terminal, by who plugs

	rxFree, txFree time.Time // when the line has carried what was put on it

	mu       sync.Mutex
	port     end
	attached clock.Gate
}

// attach gives the device a line; the old one must have hung up.
func (d *device) attach(p end) {
	d.mu.Lock()
	d.port = p
	d.mu.Unlock()
	d.c.Open(&d.attached)
}

// detach hangs the line up.
func (d *device) detach() error {
	d.mu.Lock()
	p := d.port
	d.port = nil
	d.mu.Unlock()
	if p == nil {
		return nil
	}
	return p.HangUp()
}

func (d *device) current() end {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.port
}

// run serves one line after another until ctx ends.
func (d *device) run(ctx context.Context) {
	for ctx.Err() == nil {
		p := d.current()
		if p == nil {
			if d.c.Wait(ctx, &d.attached, time.Time{}) != nil {
				return
			}
			continue
		}
		d.serve(ctx, p)
		if ctx.Err() != nil {
			return // who detaches hangs up
		}
		d.mu.Lock()
		if d.port == p {
			d.port = nil
		}
		d.mu.Unlock()
		_ = p.Close() // it is gone already; this frees what it holds
	}
}

// serve reads and answers until the line is gone or ctx ends.
func (d *device) serve(ctx context.Context, p end) {
	char := d.opt.Line.CharTime()
	buf := make([]byte, 1024)
	var line []byte
	var last byte
	overrun := false
	for {
		// Bytes take their time from when they were sent, even if the instrument
		// was busy with a command meanwhile.
		n, at, err := p.ReadStamped(ctx, buf, time.Time{})
		if err != nil {
			return
		}
		start := later(at, d.rxFree)
		d.rxFree = start.Add(time.Duration(n) * char)
		for i, b := range buf[:n] {
			if b != '\n' && b != '\r' {
				if len(line) == maxMessage {
					overrun = true
					continue
				}
				line, last = append(line, b), b
				continue
			}
			// Carried out at the moment at which its last bit is here.
			if d.c.Wait(ctx, nil, start.Add(time.Duration(i+1)*char)) != nil {
				return
			}
			text := string(line)
			line = line[:0]
			if d.opt.Echo && d.send(ctx, p, text+string(b)) != nil {
				return
			}
			sameEnd := b == '\n' && last == '\r' && text == ""
			if last = b; sameEnd {
				continue
			}
			if overrun {
				overrun = false
				d.fail(errInputOverrun)
				continue
			}
			if d.carryOut(ctx, p, text) != nil {
				return
			}
		}
	}
}

// carryOut does what a program message says and answers it.
func (d *device) carryOut(ctx context.Context, p end, text string) error {
	if takes := d.opt.Odd.Takes(); takes > 0 && text != "" {
		if err := d.c.Wait(ctx, nil, d.c.Now().Add(takes)); err != nil {
			return err
		}
	}
	if d.before != nil {
		d.before()
	}
	reply, err := d.tree.run(ctx, text, d.fail)
	if err != nil {
		return err
	}
	if reply != "" {
		reply += d.opt.End
	}
	if reply += d.opt.Odd.Behind(); reply == "" {
		return nil
	}
	return d.send(ctx, p, reply)
}

// send puts bytes on the line in chunks, each at the instant of its last bit.
// Instants are absolute, so a late timer doesn't slow the line down.
func (d *device) send(ctx context.Context, p end, s string) error {
	char := d.opt.Line.CharTime()
	d.txFree = later(d.c.Now(), d.txFree)
	for s != "" {
		n := min(len(s), d.opt.Chunk)
		d.txFree = d.txFree.Add(time.Duration(n) * char)
		if err := d.c.Wait(ctx, nil, d.txFree); err != nil {
			return err
		}
		if err := p.Write(ctx, []byte(s[:n])); err != nil {
			return err
		}
		s = s[n:]
	}
	return nil
}

// maxQueue is the length of the error queue; the newest of too many is replaced
// by -350 (SCPI-1999 volume 2, 21.8.1).
const maxQueue = 20

func (d *device) fail(e scpiError) {
	switch {
	case e <= -100 && e > -200:
		d.esr |= 1 << 5
	case e <= -200 && e > -300:
		d.esr |= 1 << 4
	case e <= -300 && e > -400:
		d.esr |= 1 << 3
	}
	if len(d.queue) >= maxQueue {
		d.queue[maxQueue-1] = errQueueOverflow
		return
	}
	d.queue = append(d.queue, e)
}

func (d *device) nextError() string {
	var e scpiError
	if len(d.queue) > 0 {
		e, d.queue = d.queue[0], d.queue[1:]
	}
	return fmt.Sprintf("%+d,%q", int(e), e.Error())
}

// add puts commands into the tree. set and query may be nil.
func (d *device) add(header string, set func(ctx context.Context, args []string) error,
	query func(ctx context.Context, args []string) (string, error)) {
	d.tree.entries = append(d.tree.entries, entry{pattern: pattern(header), set: set, query: query})
}

// addCommon puts in what IEEE 488.2 and SCPI ask of every instrument.
func (d *device) addCommon(identity string, reset func()) {
	d.esr = 1 << 7 // power on
	d.tree.written = d.opt.Odd.Reply
	d.opt.Echo = d.opt.Echo || d.opt.Odd.Has(odd.Echo)
	text := func(f func() string) func(context.Context, []string) (string, error) {
		return func(_ context.Context, args []string) (string, error) {
			if err := none(args); err != nil {
				return "", err
			}
			return f(), nil
		}
	}
	do := func(f func()) func(context.Context, []string) error {
		return func(_ context.Context, args []string) error {
			if err := none(args); err != nil {
				return err
			}
			f()
			return nil
		}
	}
	d.add("*IDN", nil, text(func() string { return identity }))
	d.add("*RST", do(reset), nil)
	d.add("*CLS", do(func() { d.queue, d.esr = nil, 0 }), nil)
	d.add("*OPC", do(func() { d.esr |= 1 }), text(func() string { return "1" }))
	d.add("*WAI", do(func() {}), nil)
	d.add("*TST", nil, text(func() string { return "0" }))
	d.add("*ESR", nil, text(func() string {
		v := d.esr
		d.esr = 0
		return fmt.Sprint(v)
	}))
	d.add("*STB", nil, text(func() string {
		v := 0
		if len(d.queue) > 0 {
			v |= 1 << 2
		}
		return fmt.Sprint(v)
	}))
	d.add("SYSTem:ERRor[:NEXT]", nil, text(d.nextError))
	d.add("SYSTem:ERRor:COUNt", nil, text(func() string { return fmt.Sprint(len(d.queue)) }))
	d.add("SYSTem:ERRor:ALL", nil, text(func() string {
		var all []string
		for ok := true; ok; ok = len(d.queue) > 0 {
			all = append(all, d.nextError())
		}
		return strings.Join(all, ",")
	}))
	d.add("SYSTem:VERSion", nil, text(func() string { return "1999.0" }))
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// onOff is a boolean reply.
func onOff(b bool) string {
	if b {
		return "1"
	}
	return "0"
}
