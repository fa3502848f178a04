package suite_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/rig"
)

// resistor is an invented load for speed: 20 mA at 12 V.
type resistor struct{}

func (resistor) Terminals() []string         { return []string{"cabin"} }
func (resistor) Current(s rig.State) float64 { return s.Volts / 600 }

// counted counts the bytes of a port in both directions.
type counted struct {
	instruments.Port
	out, in int
}

func (p *counted) Write(ctx context.Context, b []byte) error {
	p.out += len(b)
	return p.Port.Write(ctx, b)
}

func (p *counted) ReadUntil(ctx context.Context, b []byte, until time.Time) (int, error) {
	n, err := p.Port.ReadUntil(ctx, b, until)
	p.in += n
	return n, err
}

// desk is a driver over a port of the rig, and what the instrument needs.
type desk struct {
	c      clock.Clock
	port   *counted
	x      *bench.Connected
	window time.Duration
}

func (d *desk) read() error {
	ctx := context.Background()
	if d.x.Supply != nil {
		_, err := d.x.Supply.Read(ctx, instruments.Current)
		return err
	}
	_, err := d.x.Meter.Read(ctx, instruments.Current)
	return err
}

// window is the integration time of the instruments of these benchmarks: short,
// so that the line is what limits.
const window = time.Millisecond

func newDesk(b *testing.B, c clock.Clock, which string, baud int, memory bool) *desk {
	b.Helper()
	ctx := context.Background()
	p, err := profile.Load("scpi "+which, "")
	if err != nil {
		b.Fatal(err)
	}
	p.Line.Baud = baud
	lo := rig.LineOptions{Line: p.SerialLine(), Chunk: 64}
	r, err := rig.New(ctx, c, resistor{},
		rig.Options{MemoryPorts: memory, Supply: rig.SupplyOptions{LineOptions: lo, Window: window},
			Meter: rig.MeterOptions{LineOptions: lo, Window: window}})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { c.Outside(func() { r.Close() }) })
	d := &desk{c: c, window: window}
	name := map[string]string{"meter": r.Ports().Meter, "supply": r.Ports().Supply}[which]
	open := func(ctx context.Context, name string, l instruments.Line) (instruments.Port, error) {
		port, err := r.Opener()(ctx, name, l)
		if err == nil {
			d.port = &counted{Port: port}
			return d.port, nil
		}
		return nil, err
	}
	if d.x, err = bench.Connect(ctx, c, open, name, p); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { d.port.Close() })
	for range 3 { // it chooses its quantity at the first
		if err := d.read(); err != nil {
			b.Fatal(err)
		}
	}
	return d
}

// BenchmarkReadings reads over a paced line in simulated time. limit/s is what
// the line allows for the bytes exchanged, question and reply, with the
// instrument's own window in between; waste-% is what the driver adds to it. The
// rig paces both directions by the time of a character.
func BenchmarkReadings(b *testing.B) {
	for _, which := range []string{"meter", "supply"} {
		for _, baud := range []int{9600, 115200} {
			b.Run(fmt.Sprintf("%s/%d", which, baud), func(b *testing.B) {
				d := newDesk(b, clock.NewSimulated(time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC)), which, baud, true)
				d.port.in, d.port.out = 0, 0
				began, n := d.c.Now(), 0
				for b.Loop() {
					if err := d.read(); err != nil {
						b.Fatal(err)
					}
					n++
				}
				each := d.c.Now().Sub(began).Seconds() / float64(n)
				char := instruments.Line{Baud: baud, DataBits: 8, StopBits: 1}.CharTime().Seconds()
				limit := float64(d.port.in+d.port.out)/float64(n)*char + d.window.Seconds()
				b.ReportMetric(1/each, "readings/s(simulated)")
				b.ReportMetric(1/limit, "limit/s")
				b.ReportMetric(100*(each-limit)/each, "waste-%")
			})
		}
	}
}

// BenchmarkProtocols does the same for the protocols that the rig doesn't speak,
// over an instrument that thinks for 2 ms and needs the gaps of its protocol.
func BenchmarkProtocols(b *testing.B) {
	for _, which := range []string{"terse supply", "modbus supply"} {
		for _, baud := range []int{9600, 115200} {
			b.Run(fmt.Sprintf("%s/%d", which, baud), func(b *testing.B) {
				p := load(b, which)
				p.Line.Baud = baud
				f, x := putUp(b, p, drivers()[which](), nil)
				f.paced = true
				f.True(5, 0.02)
				// Modbus over Serial Line V1.02, 2.5.1.1: 3.5 characters between frames,
				// 1.75 ms above 19200 baud.
				char := p.SerialLine().CharTime()
				gap := time.Duration(p.Talk.GapMs) * time.Millisecond
				question := len("IOUT1?")
				reply := len("0.020")
				if p.Speaks == profile.Modbus {
					question, reply = 8, 0 // and counted below: 5 bytes and 2 for each register
					gap = max(gap, 1750*time.Microsecond)
					if baud <= 19200 {
						gap = max(gap, time.Duration(3.5*float64(char)))
					}
				}
				began, n := f.c.Now(), 0
				for b.Loop() {
					r, err := x.Supply.Read(context.Background(), instruments.Current)
					if err != nil {
						b.Fatal(err)
					}
					if p.Speaks == profile.Modbus {
						reply += len(strings.Fields(r.Raw))
					} else {
						reply = len(r.Raw) * (n + 1)
					}
					n++
				}
				each := f.c.Now().Sub(began).Seconds() / float64(n)
				limit := (float64(question)+float64(reply)/float64(n))*char.Seconds() + gap.Seconds() + 0.002
				b.ReportMetric(1/each, "readings/s(simulated)")
				b.ReportMetric(1/limit, "limit/s")
				b.ReportMetric(100*(each-limit)/each, "waste-%")
			})
		}
	}
}
