package wire

import (
	"context"
	"errors"
	"io"
	"net"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// echoing listens on this machine, sends back what it gets, and hangs up at an "x".
func echoing(t *testing.T) (name string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go func() {
				defer c.Close()
				buf := make([]byte, 64)
				for {
					n, err := c.Read(buf)
					if err != nil || buf[0] == 'x' {
						return
					}
					if _, err := c.Write(buf[:n]); err != nil {
						return
					}
				}
			}()
		}
	}()
	return "tcp://" + l.Addr().String()
}

func TestPortOverTheNetwork(t *testing.T) {
	ctx, c := context.Background(), clock.Wall{}
	name := echoing(t)
	open := Serial(c, nil, nil)
	p, err := open(ctx, name, instruments.Line{Baud: 9600})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := open(ctx, name, instruments.Line{}); !errors.Is(err, ErrBusy) {
		t.Errorf("opened twice: %v", err)
	}
	read := func() (string, error) {
		buf := make([]byte, 16)
		n, err := p.ReadUntil(ctx, buf, c.Now().Add(5*time.Second))
		return string(buf[:n]), err
	}
	if err := p.Write(ctx, []byte("*IDN?\n")); err != nil {
		t.Fatal(err)
	}
	if got, err := read(); got != "*IDN?\n" || err != nil {
		t.Errorf("%q, %v", got, err)
	}
	if err := p.Write(ctx, []byte("x")); err != nil {
		t.Fatal(err)
	}
	if got, err := read(); !errors.Is(err, instruments.ErrPortGone) {
		t.Errorf("hung up: %q, %v", got, err)
	}
	if err := p.Close(); err != nil {
		t.Error(err)
	}
	again, err := open(ctx, name, instruments.Line{})
	if err != nil {
		t.Fatalf("opened again: %v", err)
	}
	if err := again.(io.Closer).Close(); err != nil {
		t.Error(err)
	}
	for _, bad := range []string{"tcp://", "tcp://host", "tcp://127.0.0.1:1", "tcp://:5025"} {
		if p, err := open(ctx, bad, instruments.Line{}); !errors.Is(err, ErrNoSuchPort) {
			t.Errorf("%s: %v, %v", bad, p, err)
		}
	}
}
