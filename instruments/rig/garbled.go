package rig

import (
	"context"
	"time"

	"sealworthy/instruments"
)

// differs tells whether two ends of a line don't understand each other.
func differs(a, b instruments.Line) bool {
	full := func(l instruments.Line) instruments.Line {
		if l.DataBits == 0 {
			l.DataBits = 8
		}
		if l.Parity == "" {
			l.Parity = "none"
		}
		return l
	}
	a, b = full(a), full(b)
	// One stop bit more or less goes unnoticed at this end.
	return a.Baud != b.Baud || a.DataBits != b.DataBits || a.Parity != b.Parity
}

// garbled is a port at the wrong speed: bytes come, but not those that were
// sent. What they turn into is invented; a real receiver's depends on its phase.
type garbled struct{ instruments.Port }

func garble(b []byte) {
	for i, x := range b {
		b[i] = x<<1 ^ x>>3 | 0x80
	}
}

// Write sends other bytes.
func (g *garbled) Write(ctx context.Context, b []byte) error {
	b = append([]byte(nil), b...)
	garble(b)
	return g.Port.Write(ctx, b)
}

// ReadUntil gets other bytes.
func (g *garbled) ReadUntil(ctx context.Context, b []byte, deadline time.Time) (int, error) {
	n, err := g.Port.ReadUntil(ctx, b, deadline)
	garble(b[:n])
	return n, err
}
