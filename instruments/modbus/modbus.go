// Package modbus drives supplies, relay boards and shunt meters that speak
// Modbus RTU over serial, or Modbus over TCP: functions 01 to 06, 15 and 16, registers with scale,
// sign and word order from the profile.
//
// Start with New over an open port and a profile that speaks modbus. Frames are
// pure functions of bytes (Request.Encode, Split, Decode): told by address,
// function, length and CRC, never by silence.
//
// Sources: Modbus over Serial Line V1.02; Modbus Application Protocol V1.1b3; Modbus
// Messaging on TCP/IP Implementation Guide V1.0b for frames over a network. A
// response doesn't repeat the register it belongs to. So consecutive reads differ
// in length where the profile has spare registers, and after a late reply the
// line is brought into step by a read of a length that is used for nothing else.
//
// Line settings: the standard wants 19200 baud and even parity (serial line
// V1.02, 2.5.1); nearly all cheap boards come with 9600 and none (common practice,
// no source), so that is what the built-in profiles have. It also wants a frame
// with a gap of 1.5 characters thrown away (2.5.1.1): through USB adapters gaps
// mean nothing, so silence here only bounds a frame. Manuals count registers from
// 1 or from 40001; a profile counts as the wire does, from 0.
package modbus

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync/atomic"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/driver"
	"sealworthy/instruments/exchange"
	"sealworthy/instruments/profile"
)

type protocol struct {
	line    *exchange.Line
	p       *profile.Profile
	name    string
	tcp     bool          // frames with the header of Modbus TCP
	tells   atomic.Uint32 // transactions of urgent settings
	unknown unknown
	spare   atomic.Int32 // registers behind each point that may be read along
}

// New speaks Modbus with the instrument of a profile on an open port, for driver.New.
// portName is for messages.
func New(port instruments.Port, portName string, c clock.Clock, p *profile.Profile) (driver.Protocol, error) {
	if p.Speaks != profile.Modbus || p.Bus == nil {
		return nil, fmt.Errorf("profile %q speaks %s, not modbus", p.Name, p.Speaks)
	}
	_, network := instruments.Network(portName)
	pr := &protocol{p: p, name: portName, tcp: network && p.Bus.Frames != "rtu"}
	gap := FrameGap(p.Line.Baud)
	if network {
		gap = 0
	}
	if !pr.tcp && p.Bus.Address > mostAddress {
		return nil, fmt.Errorf("profile %q: address %d is outside 1 to %d", p.Name, p.Bus.Address, mostAddress)
	}
	if !pr.tcp { // there the transaction tells late answers
		pr.spare.Store(int32(p.Bus.Spare))
	}
	o := driver.LineOptions(p, portName, nil)
	o.Gap, o.Longest = max(o.Gap, gap), 2*longestFrame
	pr.line = exchange.New(port, c, portName, o)
	return pr, nil
}

// frame makes the frame of a request and how its response is found. n numbers it.
func (pr *protocol) frame(r Request, n uint64) ([]byte, exchange.Split, error) {
	if !pr.tcp {
		m, err := r.Encode()
		return m, r.Split, err
	}
	// Urgent settings and what brings the line into step have numbers of their own.
	transaction := uint16(n) &^ othersTransactions
	m, err := r.EncodeTCP(transaction)
	return m, r.SplitTCP(transaction), err
}

const (
	othersTransactions = 0x8000 // a bit of the transaction number
	syncTransaction    = 0xFFFF
)

func (pr *protocol) fail(op string, err error) error {
	return &instruments.PortError{Port: pr.name, Op: op, Err: err}
}

// quantityOf is how many registers the nth question asks for, words of which are
// meant. With spare ones the questions go through as many lengths, the same for
// every point, so that a reply to one of the latest is never as long as this one.
func quantityOf(words, spare int, n uint64) int {
	if spare < 2 {
		return words + int(n%uint64(spare+1))
	}
	return mostWords + int(n%uint64(spare))
}

// mostWords is how many registers one number has at most.
const mostWords = 2

// exchange sends a request and reads its response. spare is how many registers
// more may be read.
func (pr *protocol) exchange(ctx context.Context, op string, r Request, spare int, urgent bool) (Response,
	exchange.Reply, error) {
	quantity := r.Quantity
	reply, err := pr.line.AskNumbered(ctx, op, func(n uint64) ([]byte, exchange.Split, error) {
		if spare > 0 {
			r.Quantity = quantityOf(quantity, spare, n)
		}
		return pr.frame(r, n)
	}, urgent)
	if err != nil {
		return Response{}, exchange.Reply{}, err
	}
	resp, err := r.Decode(reply.Bytes)
	if err != nil {
		return Response{}, exchange.Reply{}, pr.fail(op, err)
	}
	return resp, reply, nil
}

func (pr *protocol) Tell(ctx context.Context, op string, pt *profile.Point, a profile.Args, urgent bool) error {
	r, err := pr.setting(pt, a)
	if err != nil {
		return pr.fail(op, err)
	}
	requests := []Request{r}
	if pr.unknown.has(r.Function) {
		requests = r.instead()
	}
	err = pr.send(ctx, op, requests, urgent)
	if other := r.instead(); unknownFunction(err) && !pr.unknown.has(r.Function) && other != nil {
		pr.unknown.add(r.Function) // nothing was set: it's set by a function that it may know
		err = pr.send(ctx, op, other, urgent)
	}
	return err
}

// send sends settings one after another, up to the first that fails.
func (pr *protocol) send(ctx context.Context, op string, requests []Request, urgent bool) error {
	for _, r := range requests {
		if !urgent {
			if _, _, err := pr.exchange(ctx, op, r, 0, false); err != nil {
				return err
			}
			continue
		}
		m, split, err := pr.urgent(r)
		if err != nil {
			return pr.fail(op, err)
		}
		reply, err := pr.line.Push(ctx, op, m, split)
		if err != nil {
			return err
		}
		if len(reply.Bytes) == 0 {
			continue // it was sent, and its answer not waited for
		}
		if _, err := r.Decode(reply.Bytes); err != nil {
			return pr.fail(op, err)
		}
	}
	return nil
}

// urgent makes the frame of a request that goes before all others.
func (pr *protocol) urgent(r Request) ([]byte, exchange.Split, error) {
	if !pr.tcp {
		return pr.frame(r, 0)
	}
	transaction := uint16(pr.tells.Add(1)%(syncTransaction&^othersTransactions)) | othersTransactions
	m, err := r.EncodeTCP(transaction)
	return m, r.SplitTCP(transaction), err
}

// setting makes the request that carries a setting.
func (pr *protocol) setting(pt *profile.Point, a profile.Args) (Request, error) {
	r := Request{Address: byte(pr.p.Bus.Address), Function: Function(pt.Function), Start: uint16(*pt.Register)}
	coils := r.Function == WriteCoil || r.Function == WriteCoils
	switch {
	case pt.Of == "channels" && r.Function == WriteCoils:
		r.Coils = make([]bool, pt.Count)
		for _, c := range a.Channels {
			if i := c - pr.p.Relays.First; i >= 0 && i < len(r.Coils) {
				r.Coils[i] = true
			}
		}
	case pt.Of == "channels" && coils:
		r.Start += uint16(a.Channel)
		r.Coils = []bool{pt.Value == nil || *pt.Value != 0}
	case pt.Of == "channels":
		r.Start += uint16(a.Channel)
		r.Registers = []uint16{1}
		if pt.Value != nil {
			r.Registers[0] = uint16(*pt.Value)
		}
	case pt.Of == "volts" || pt.Of == "amps" || pt.Of == "seconds":
		x := map[string]float64{"volts": a.Volts, "amps": a.Amps, "seconds": a.Seconds}[pt.Of]
		var err error
		if r.Registers, err = words(pt, x); err != nil {
			return Request{}, err
		}
	case pt.Value == nil:
		return Request{}, errors.New("the profile doesn't say which value to write")
	case r.Function == WriteCoil:
		r.Coils = []bool{*pt.Value != 0}
	case coils:
		r.Coils = make([]bool, max(pt.Count, 1))
		for i := range r.Coils {
			r.Coils[i] = *pt.Value != 0
		}
	default:
		r.Registers = []uint16{uint16(*pt.Value)}
	}
	return r, nil
}

// words makes registers of x (SI).
func words(pt *profile.Point, x float64) ([]uint16, error) {
	n := math.Round(x / pt.Scale)
	low, high := 0.0, math.Exp2(float64(16*pt.Words))-1
	if pt.Signed {
		low, high = -math.Exp2(float64(16*pt.Words-1)), math.Exp2(float64(16*pt.Words-1))-1
	}
	if !(n >= low && n <= high) {
		return nil, fmt.Errorf("%v doesn't fit into %d registers at scale %v", x, pt.Words, pt.Scale)
	}
	u := uint32(int64(n))
	switch {
	case pt.Words == 1:
		return []uint16{uint16(u)}, nil
	case pt.Order == "low first":
		return []uint16{uint16(u), uint16(u >> 16)}, nil
	}
	return []uint16{uint16(u >> 16), uint16(u)}, nil
}

// number makes a number (SI) of registers.
func number(pt *profile.Point, regs []uint16) driver.Number {
	u := uint32(regs[0])
	if pt.Words == 2 {
		u = u<<16 | uint32(regs[1])
		if pt.Order == "low first" {
			u = uint32(regs[1])<<16 | uint32(regs[0])
		}
	}
	if pt.Over != nil && u == uint32(*pt.Over) {
		return driver.Number{Mark: driver.Over}
	}
	n := int64(u)
	if bits := 16 * pt.Words; pt.Signed && n>>(bits-1)&1 == 1 {
		n -= 1 << bits
	}
	return driver.Number{Value: float64(n) * pt.Scale, Mark: driver.Finite}
}

func (pr *protocol) Ask(ctx context.Context, op string, pt *profile.Point, _ profile.Args, urgent bool) (driver.Answer,
	error) {
	r := Request{Address: byte(pr.p.Bus.Address), Function: Function(pt.Function), Start: uint16(*pt.Register),
		Quantity: pt.Words}
	registers := r.Function == ReadHolding || r.Function == ReadInputRegs
	spare := int(pr.spare.Load())
	if !registers {
		r.Quantity, spare = 1, 0
	}
	if err := pr.stale(ctx, op, r, urgent); err != nil {
		return driver.Answer{}, err
	}
	resp, reply, err := pr.exchange(ctx, op, r, spare, urgent)
	if spare > 0 && refused(err) {
		pr.spare.Store(0) // it doesn't let registers be read along there
		resp, reply, err = pr.exchange(ctx, op, r, 0, urgent)
	}
	if err != nil {
		return driver.Answer{}, err
	}
	a := driver.Answer{Raw: fmt.Sprintf("% x", reply.Bytes), Sent: reply.Sent, Start: reply.Start, End: reply.End}
	if registers {
		a.Number = number(pt, resp.Registers)
		return a, nil
	}
	a.Number = driver.Number{Mark: driver.Finite}
	if resp.Coils[0] {
		a.Number.Value = pt.Scale
	}
	return a, nil
}

// stale asks once more than needed where what is answered now may answer the question
// before: it isn't used. For Off less than for any other: a late "0 A" would pass for
// "the output is off".
func (pr *protocol) stale(ctx context.Context, op string, r Request, urgent bool) error {
	if !pr.plain() || !pr.line.OutOfStep() {
		return nil
	}
	_, _, err := pr.exchange(ctx, op, r, 0, urgent)
	return err
}

// AskChannels reads one coil, input or register for each relay.
func (pr *protocol) AskChannels(ctx context.Context, op string, pt *profile.Point, r *profile.Relays) ([]int, error) {
	q := Request{Address: byte(pr.p.Bus.Address), Function: Function(pt.Function), Start: uint16(*pt.Register),
		Quantity: r.Channels}
	if err := pr.stale(ctx, op, q, false); err != nil {
		return nil, err
	}
	resp, _, err := pr.exchange(ctx, op, q, 0, false)
	if err != nil {
		return nil, err
	}
	var out []int
	for i := range r.Channels {
		if len(resp.Coils) > i && resp.Coils[i] || len(resp.Registers) > i && resp.Registers[i] != 0 {
			out = append(out, r.First+i)
		}
	}
	return out, nil
}

// Check knows no more than the responses said: a refusal is an exception.
func (pr *protocol) Check(context.Context, string) error { return nil }

// Shown is how long the instrument takes for a command, 0 before it has shown it.
func (pr *protocol) Shown() time.Duration { return pr.line.Shown() }

// Doubt puts the line out of step.
func (pr *protocol) Doubt() { pr.line.Doubt() }

func (pr *protocol) Close() error { return pr.line.Close() }
