package modbus

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"math"
	"testing"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/driver"
	"sealworthy/instruments/exchange"
	"sealworthy/instruments/outside"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/wire"
)

// The example of the guide's own section 3.1.3 and of the application protocol's
// 6.3, put together by hand: read three registers from 107 of unit 255.
func TestFramesOverTCP(t *testing.T) {
	r := Request{Address: 0xFF, Function: ReadHolding, Start: 0x6B, Quantity: 3}
	got, err := r.EncodeTCP(0x1501)
	want := []byte{0x15, 0x01, 0, 0, 0, 6, 0xFF, 3, 0, 0x6B, 0, 3}
	if err != nil || !bytes.Equal(got, want) {
		t.Errorf("% x, %v, want % x", got, err, want)
	}
	answer := []byte{0x15, 0x01, 0, 0, 0, 9, 0xFF, 3, 6, 0x02, 0x2B, 0, 0, 0, 0x64}
	stale := []byte{0x15, 0x00, 0, 0, 0, 9, 0xFF, 3, 6, 1, 2, 3, 4, 5, 6}
	split := r.SplitTCP(0x1501)
	both := append(append([]byte{}, stale...), answer...)
	for cut := range len(both) {
		if n, frame, err := split(both[:cut]); n != 0 || frame != nil || err != nil {
			t.Fatalf("%d bytes are %d, % x, %v", cut, n, frame, err)
		}
	}
	n, frame, err := split(both)
	if err != nil || n != len(both) {
		t.Fatalf("%d, %v", n, err)
	}
	resp, err := r.Decode(frame)
	if err != nil || len(resp.Registers) != 3 || resp.Registers[0] != 555 || resp.Registers[2] != 100 {
		t.Errorf("%+v, %v", resp, err)
	}
	refusal := []byte{0x15, 0x01, 0, 0, 0, 3, 0xFF, 0x83, 2}
	_, frame, err = split(refusal)
	if err != nil {
		t.Fatal(err)
	}
	var e Exception
	if _, err := r.Decode(frame); !errors.As(err, &e) || e.Code != 2 {
		t.Errorf("a refusal: %v", err)
	}
	for name, bad := range map[string][]byte{
		"another protocol":  {0x15, 0x01, 0, 1, 0, 3, 0xFF, 0x83, 2},
		"another unit":      {0x15, 0x01, 0, 0, 0, 3, 1, 0x83, 2},
		"another function":  {0x15, 0x01, 0, 0, 0, 9, 0xFF, 4, 6, 0x02, 0x2B, 0, 0, 0, 0x64},
		"fewer registers":   {0x15, 0x01, 0, 0, 0, 7, 0xFF, 3, 4, 0x02, 0x2B, 0, 0},
		"a serial response": sealed([]byte{0xFF, 3, 6, 0x02, 0x2B, 0, 0, 0, 0x64}),
	} {
		if n, frame, err := split(bad); n != 0 || frame != nil || err == nil {
			t.Errorf("%s became % x, %v", name, frame, err)
		}
	}
}

// What is taken for a response bears the transaction, has the request's shape and
// decodes; no bytes break it.
func FuzzSplitTCP(f *testing.F) {
	f.Add([]byte{0, 5, 0, 0, 0, 5, 1, 3, 2, 0, 7}, uint16(5))
	f.Add([]byte{0, 4, 0, 0, 0, 3, 1, 0x83, 2, 0, 5, 0, 0, 0, 3, 1, 0x83, 2}, uint16(5))
	f.Fuzz(func(t *testing.T, got []byte, transaction uint16) {
		r := Request{Address: 1, Function: ReadHolding, Quantity: 1}
		n, frame, err := r.SplitTCP(transaction)(got)
		if n < 0 || n > len(got) || err != nil && n != 0 {
			t.Fatalf("took %d of % x, %v", n, got, err)
		}
		if n == 0 {
			return
		}
		body := len(frame) - 2
		if binary.BigEndian.Uint16(got[n-body-6:]) != transaction {
			t.Errorf("% x is of another transaction than %d", got, transaction)
		}
		var said Exception // busy, say: that is an answer, too
		if _, err := r.Decode(frame); err != nil && !errors.As(err, &said) {
			t.Errorf("% x: %v", frame, err)
		}
	})
}

// Supply and shunt as two units behind one connection, against a server that others
// wrote (python3-pymodbus), over a real socket.
func TestIndependentServerOverTCP(t *testing.T) {
	t.Parallel()
	outside.Need(t, outside.Debian, "pymodbus", "python3-pymodbus")
	name := "tcp://127.0.0.1:" + outside.Start(t, false, outside.Debian, "testdata/tcp_server.py").Line(t)
	ctx, c := context.Background(), clock.Wall{}
	port, err := wire.Serial(c, nil, nil)(ctx, name, instruments.Line{})
	if err != nil {
		t.Fatal(err)
	}
	shared := exchange.Share(port)
	load := func(name string, address int) *profile.Profile {
		p, err := profile.Load(name, "")
		if err != nil {
			t.Fatal(err)
		}
		p.Bus.Address = address
		return p
	}
	s, err := made[*driver.Supply](t)(driven(shared, name, c, load("modbus supply", 1)))
	if err != nil {
		t.Fatal(err)
	}
	m, err := made[*driver.Meter](t)(driven(shared, name, c, load("modbus shunt", 2)))
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []instruments.Identifier{s, m} {
		if id, err := x.Identify(ctx); err != nil || id == "" {
			t.Fatalf("%q, %v", id, err)
		}
	}
	for what, do := range map[string]func() error{
		"set": func() error { return s.Set(ctx, 12, 0.1) }, "on": func() error { return s.On(ctx) },
		"off":    func() error { return s.Off(ctx) },
		"supply": func() error { return reads(ctx, s, 0.038) },
		"shunt":  func() error { return reads(ctx, m, -0.04096) },
	} {
		if err := do(); err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
	if err := m.Close(); err != nil || reads(ctx, s, 0.038) != nil {
		t.Errorf("one of two was closed, and the other is gone: %v", err)
	}
	if err := s.Close(); err != nil || !errors.Is(reads(ctx, s, 0.038), instruments.ErrPortGone) {
		t.Errorf("both were closed: %v", err)
	}
}

func reads(ctx context.Context, m instruments.Meter, want float64) error {
	r, err := m.Read(ctx, instruments.Current)
	if v, ok := r.Float(); err == nil && (!ok || math.Abs(v-want) > 1e-9) {
		return errors.New("it reads " + r.Raw)
	}
	return err
}
