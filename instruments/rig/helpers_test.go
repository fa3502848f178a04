package rig_test

import (
	"context"
	"errors"
	"strconv"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

var background = context.Background()

// start is an arbitrary moment.
var start = time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)

// line is what every instrument of these tests speaks.
var line = instruments.Line{Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1}

// testLoad is an invented model: a resistor behind each terminal, and a blinker
// on the last that is on for 300 ms of each second, or of half a second after a press.
type testLoad struct {
	names []string
	ohms  []float64
}

func bench2() *testLoad {
	return &testLoad{names: []string{"cabin", "mast", "beacon"}, ohms: []float64{1000, 470, 600}}
}

func (l *testLoad) Terminals() []string { return l.names }

func (l *testLoad) Current(s rig.State) float64 {
	i := 0.0
	for n, on := range s.On {
		if on && (l.names[n] != "beacon" || l.lit(s)) {
			i += s.Volts / l.ohms[n]
		}
	}
	return i
}

func period(s rig.State) time.Duration { return time.Second >> (s.Presses["beacon"] % 2) }

func (l *testLoad) lit(s rig.State) bool { return s.Since%period(s) < 300*time.Millisecond }

func (l *testLoad) NextChange(s rig.State) time.Duration {
	if s.On[len(s.On)-1] == false {
		return -1
	}
	p := period(s)
	in := s.Since % p
	if in < 300*time.Millisecond {
		return s.Since - in + 300*time.Millisecond
	}
	return s.Since - in + p
}

func (l *testLoad) StartsAtPower(t string) bool { return t == "beacon" }

// user is a driver at its barest: one command, one reply.
type user struct {
	t *testing.T
	c clock.Clock
	p instruments.Port
}

func open(t *testing.T, c clock.Clock, b *rig.Bench, name string) *user {
	t.Helper()
	p, err := b.Opener()(context.Background(), name, line)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Close() })
	return &user{t: t, c: c, p: p}
}

func (u *user) send(s string) {
	u.t.Helper()
	if err := u.p.Write(context.Background(), []byte(s+"\n")); err != nil {
		u.t.Fatal(err)
	}
}

// reply reads a line, or gives "" after two seconds.
func (u *user) reply() string {
	u.t.Helper()
	s, err := u.tryReply()
	if err != nil && !errors.Is(err, clock.ErrDeadline) {
		u.t.Fatal(err)
	}
	return s
}

func (u *user) tryReply() (string, error) {
	deadline := u.c.Now().Add(2 * time.Second)
	var got []byte
	buf := make([]byte, 256)
	for !strings.HasSuffix(string(got), "\n") {
		n, err := u.p.ReadUntil(context.Background(), buf, deadline)
		if err != nil {
			return "", err
		}
		got = append(got, buf[:n]...)
	}
	return strings.TrimSuffix(string(got), "\n"), nil
}

func (u *user) ask(s string) string {
	u.t.Helper()
	u.send(s)
	return u.reply()
}

func (u *user) number(s string) float64 {
	u.t.Helper()
	r := u.ask(s)
	v, err := strconv.ParseFloat(r, 64)
	if err != nil {
		u.t.Fatalf("%s answered %q", s, r)
	}
	return v
}

// do sends a setting and makes sure that it was taken.
func (u *user) do(s string) {
	u.t.Helper()
	u.send(s)
	if r := u.ask("SYST:ERR?"); !strings.HasPrefix(r, "+0,") {
		u.t.Fatalf("%s: %s", s, r)
	}
}

// pause lets time pass.
func (u *user) pause(d time.Duration) {
	if err := u.c.Wait(context.Background(), nil, u.c.Now().Add(d)); err != nil {
		u.t.Fatal(err)
	}
}

type setup struct {
	c                     *clock.Simulated
	b                     *rig.Bench
	supply, meter, relays *user
}

func up(t *testing.T, load rig.Load, o rig.Options) *setup {
	t.Helper()
	if !rig.PseudoTerminals {
		o.MemoryPorts = true
	}
	c := clock.NewSimulated(start)
	b, err := rig.New(context.Background(), c, load, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	p := b.Ports()
	return &setup{c: c, b: b, supply: open(t, c, b, p.Supply), meter: open(t, c, b, p.Meter),
		relays: open(t, c, b, p.Relays)}
}

// both runs a test over pseudo terminals and over memory.
func both(t *testing.T, f func(t *testing.T, memory bool)) {
	t.Run("memory", func(t *testing.T) { f(t, true) })
	if rig.PseudoTerminals {
		t.Run("pty", func(t *testing.T) { f(t, false) })
	}
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if d := got - want; d > within || d < -within || got != got {
		t.Errorf("%s: got %.9g, want %.9g within %.2g", what, got, want, within)
	}
}
