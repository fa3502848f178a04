package wire

import (
	"context"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// Direction tells which way bytes went.
type Direction string

// The two ways, as seen from this program.
const (
	Sent Direction = "sent"
	Got  Direction = "got"
)

// Tap is shown bytes as they go and come. It is called in the goroutine that
// writes or reads; the bytes are not to be kept.
type Tap func(at time.Time, port string, d Direction, b []byte)

// Tapped returns an opener whose ports show each byte to tap.
func Tapped(c clock.Clock, open instruments.Opener, tap Tap) instruments.Opener {
	return func(ctx context.Context, name string, l instruments.Line) (instruments.Port, error) {
		p, err := open(ctx, name, l)
		if err != nil {
			return nil, err
		}
		return &tapped{Port: p, c: c, name: name, tap: tap}, nil
	}
}

type tapped struct {
	instruments.Port
	c    clock.Clock
	name string
	tap  Tap
}

// Write shows b, then writes it.
func (t *tapped) Write(ctx context.Context, b []byte) error {
	t.tap(t.c.Now(), t.name, Sent, b)
	return t.Port.Write(ctx, b)
}

// ReadUntil reads, then shows what came.
func (t *tapped) ReadUntil(ctx context.Context, b []byte, deadline time.Time) (int, error) {
	n, err := t.Port.ReadUntil(ctx, b, deadline)
	if n > 0 {
		t.tap(t.c.Now(), t.name, Got, b[:n])
	}
	return n, err
}
