package modbus

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/driver"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/wire"
)

// fewFunctions is a supply module that knows reads up to a length and says nothing to
// others. What comes while it is busy is lost. Invented.
type fewFunctions struct {
	c    clock.Clock
	port instruments.Port

	mu   sync.Mutex
	most int // registers of a read
	regs map[uint16]uint16
	slow time.Duration // its next reading of the current takes so long
	busy int           // so many reads of more than one register it refuses, being busy
	stop bool
}

const (
	currentRegister = 3
	outputRegister  = 9
	answerTakes     = 10 * time.Millisecond
	deviceBusy      = 6
)

// newFewFunctions starts one, and opens the supply's driver on it.
func newFewFunctions(t *testing.T, most, spare int) (*fewFunctions, func(do func(s supply))) {
	t.Helper()
	c := clock.NewSimulated(time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC))
	mine, theirs := wire.Pair(c, "x")
	p, err := profile.Load("modbus supply", "")
	if err != nil {
		t.Fatal(err)
	}
	p.Bus.Spare = spare
	m := &fewFunctions{c: c, port: theirs, most: most, regs: map[uint16]uint16{}}
	return m, func(do func(supply)) {
		c.Go(m.serve)
		done := make(chan struct{})
		c.Go(func() {
			defer close(done)
			s, err := made[*driver.Supply](t)(driven(mine, "x", c, p))
			if err != nil {
				t.Error(err)
				return
			}
			do(s)
			m.mu.Lock()
			m.stop = true
			m.mu.Unlock()
		})
		c.Outside(func() { <-done })
		_ = mine.Close()
	}
}

type supply interface {
	instruments.Supply
	instruments.Identifier
}

func (m *fewFunctions) on() bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.regs[outputRegister] != 0
}

func (m *fewFunctions) serve() {
	buf := make([]byte, 256)
	for {
		n, err := m.port.ReadUntil(context.Background(), buf, m.c.Now().Add(time.Second))
		m.mu.Lock()
		if m.stop {
			m.mu.Unlock()
			return
		}
		if err != nil {
			m.mu.Unlock()
			continue
		}
		out, takes := m.answer(buf[:n])
		m.mu.Unlock()
		if out == nil {
			continue
		}
		_ = m.c.Wait(context.Background(), nil, m.c.Now().Add(takes))
		m.port.Discard()
		_ = m.port.Write(context.Background(), out)
	}
}

func (m *fewFunctions) answer(q []byte) (out []byte, takes time.Duration) {
	reg, x := uint16(q[2])<<8|uint16(q[3]), uint16(q[4])<<8|uint16(q[5])
	takes = answerTakes
	switch Function(q[1]) {
	case ReadHolding:
		if int(x) > m.most {
			return nil, 0
		}
		if x > 1 && m.busy > 0 {
			m.busy--
			return sealed([]byte{q[0], q[1] | 0x80, deviceBusy}), takes
		}
		out = []byte{q[0], q[1], byte(2 * x)}
		for i := range x {
			out = append(out, byte(m.regs[reg+i]>>8), byte(m.regs[reg+i]))
		}
		if reg == currentRegister && m.slow > 0 {
			takes, m.slow = m.slow, 0
		}
		return sealed(out), takes
	case WriteRegister:
		m.regs[reg] = x
		return sealed(q[:6]), takes
	}
	return nil, 0
}

// A reading that comes late never passes for the answer to "is the output off?", where
// the command itself was lost: the module was busy with the reading.
func TestALateReadingIsNoAnswerToOff(t *testing.T) {
	for late := 310 * time.Millisecond; late < 1500*time.Millisecond; late += 10 * time.Millisecond {
		t.Run(fmt.Sprint(late), func(t *testing.T) {
			m, run := newFewFunctions(t, 1, 0)
			run(func(s supply) {
				bg := context.Background()
				_, err := s.Identify(bg)
				if err == nil {
					err = s.Set(bg, 3, 0.007)
				}
				if err == nil {
					err = s.On(bg)
				}
				if err != nil || !m.on() {
					t.Errorf("not on: %v", err)
					return
				}
				m.mu.Lock()
				m.slow = late
				m.mu.Unlock()
				if _, err := s.Read(bg, instruments.Current); err == nil {
					t.Error("the reading wasn't late")
				}
				if err := s.Off(bg); err == nil && m.on() {
					t.Error("off is confirmed, and the output is on")
				}
				// Once it isn't busy any more it is off.
				if err := s.Off(bg); err != nil || m.on() {
					t.Errorf("off later: %v, on %v", err, m.on())
				}
			})
		})
	}
}

// A module that is busy once reads registers along all the same: without them late
// answers are told by silence alone.
func TestBusyIsNoRefusal(t *testing.T) {
	for _, when := range []string{"identify", "later"} {
		t.Run(when, func(t *testing.T) {
			m, run := newFewFunctions(t, 10, 4)
			run(func(s supply) {
				bg := context.Background()
				busy := func() {
					m.mu.Lock()
					m.busy = 1
					m.mu.Unlock()
				}
				if when == "identify" {
					busy()
				}
				if _, err := s.Identify(bg); err != nil {
					t.Error(err)
				}
				if when == "later" {
					busy()
					if _, err := s.Read(bg, instruments.Current); err == nil {
						t.Error("it isn't busy")
					}
				}
				r, err := s.Read(bg, instruments.Current)
				const one = len("01 03 02 00 00 b8 44") // register
				if err != nil || len(r.Raw) <= one {
					t.Errorf("no registers are read along: %q, %v", r.Raw, err)
				}
			})
		})
	}
}
