package rig_test

import (
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

func TestLineEndsEchoAndLongMessages(t *testing.T) {
	s := up(t, bench2(), rig.Options{MemoryPorts: true,
		Supply: rig.SupplyOptions{LineOptions: rig.LineOptions{End: "\r\n", Echo: true}}})
	for _, end := range []string{"\n", "\r", "\r\n"} {
		s.supply.p.Write(background, []byte("*OPC?"+end))
		s.supply.pause(time.Second)
		buf := make([]byte, 100)
		n := 0
		for {
			k, err := s.supply.p.ReadUntil(background, buf[n:], s.c.Now())
			if err != nil {
				break
			}
			n += k
		}
		want := "*OPC?" + end + "1\r\n"
		if end == "\r\n" {
			want = "*OPC?\r1\r\n\n" // the line feed that follows is an empty message
		}
		if got := string(buf[:n]); got != want {
			t.Errorf("end %q: got %q, want %q", end, got, want)
		}
	}
	s.meter.send(strings.Repeat("X", 5000))
	s.meter.pause(6 * time.Second) // 5000 bytes need 5.2 s
	if r := s.meter.ask("SYST:ERR?"); !strings.HasPrefix(r, "-363,") {
		t.Errorf("an endless message: %q", r)
	}
	if r := s.meter.ask("SYST:ERR?"); !strings.HasPrefix(r, "+0,") {
		t.Errorf("after it: %q", r)
	}
}

func TestWrongSpeedIsNotUnderstood(t *testing.T) {
	both(t, func(t *testing.T, memory bool) {
		c := clock.NewSimulated(start)
		b, err := rig.New(background, c, bench2(), rig.Options{MemoryPorts: memory, StrictLine: true})
		if err != nil {
			t.Fatal(err)
		}
		defer b.Close()
		for _, baud := range []int{9600, 19200, 9600} {
			p, err := b.Opener()(background, b.Ports().Meter, instruments.Line{Baud: baud})
			if err != nil {
				t.Fatal(err)
			}
			u := &user{t: t, c: c, p: p}
			// What came at the wrong speed lies in the instrument until a line ends.
			p.Write(background, []byte("\n"))
			c.Wait(background, nil, c.Now().Add(time.Second))
			u.send("*IDN?")
			if r, _ := u.tryReply(); strings.HasPrefix(r, "SIMULATED") != (baud == 9600) {
				t.Errorf("at %d baud: %q", baud, r)
			}
			p.Close()
			c.Wait(background, nil, c.Now().Add(time.Second))
		}
	})
}

func TestClipsOpenTogetherAndOnAResistor(t *testing.T) {
	s := up(t, bench2(), rig.Options{MemoryPorts: true, Exact: true, LeadsOhm: 0.25})
	s.meter.do("CURR:DC:RANG 0.2")
	s.supply.do("VOLT 3;CURR 0.1;:OUTP ON")
	s.supply.pause(time.Second)
	near(t, "open", s.meter.number("READ?"), 0, 0)
	s.b.Across(0.001)
	near(t, "together, amps", s.meter.number("READ?"), 0.1, 6e-6)
	near(t, "together, volts at the supply", s.supply.number("MEAS:VOLT?"), 0.1*(0.001+0.25+1), 0.006)
	s.b.Across(100)
	near(t, "100 ohm", s.meter.number("READ?"), 3/101.25, 6e-6)
	s.b.Across(0)
	s.b.Connect("cabin")
	near(t, "back on the model", s.meter.number("READ?"), 3/1001.25, 6e-6)
}

// stepless is testLoad without its own account of its changes.
type stepless struct{ l *testLoad }

func (s stepless) Terminals() []string         { return s.l.Terminals() }
func (s stepless) Current(x rig.State) float64 { return s.l.Current(x) }

func TestWindowsAreExactWithEdgesAndNearWithout(t *testing.T) {
	exact := up(t, bench2(), rig.Options{MemoryPorts: true, Exact: true})
	near1 := up(t, stepless{bench2()}, rig.Options{MemoryPorts: true, Exact: true})
	for _, s := range []*setup{exact, near1} {
		s.b.Connect("beacon")
		s.meter.do("CURR:DC:RANG 0.02")
		s.supply.do("VOLT 10;CURR 0.1;:OUTP ON")
	}
	began := exact.b.Outputs()[0].At
	lit := 10.0 / (600 + 5.1)
	for range 50 {
		i := exact.meter.number("READ?")
		j := near1.meter.number("READ?")
		// The window ended when the reply began to be sent.
		end := exact.c.Now().Add(-14 * line.CharTime()).Sub(began)
		want := 0.0
		for at := end - 100*time.Millisecond; at < end; at += 10 * time.Microsecond {
			if at >= 0 && at%time.Second < 300*time.Millisecond {
				want += 1e-4 * lit
			}
		}
		if end > 300*time.Millisecond { // the output has risen
			near(t, "with edges", i, want, 3e-6)
		}
		near(t, "sampled", j, i, lit/100+2e-6)
	}
}

func TestInitiatedReadingIsOfItsOwnWindow(t *testing.T) {
	s := up(t, bench2(), rig.Options{MemoryPorts: true, Exact: true,
		Meter: rig.MeterOptions{Interval: 400 * time.Millisecond}})
	s.b.Connect("cabin")
	s.supply.do("VOLT 12;CURR 0.1;:OUTP ON")
	s.meter.do("CURR:DC:RANG 0.02")
	s.supply.pause(time.Second)
	s.meter.do("INIT")
	s.supply.pause(time.Second)
	s.b.Connect("cabin", "mast") // long after the window
	near(t, "FETC?", s.meter.number("FETC?"), 12/1005.1, 1e-6)
	near(t, "FETC? again", s.meter.number("FETC?"), 12/1005.1, 1e-6)
	s.meter.do("INIT")
	if r := s.meter.ask("*OPC?"); r != "1" {
		t.Errorf("in mid-window it answers %q", r)
	}
	began := s.c.Now()
	for range 5 {
		s.meter.ask("READ?")
	}
	// Each begins 400 ms after the one before.
	if got := s.c.Now().Sub(began); got < 1900*time.Millisecond || got > 2100*time.Millisecond {
		t.Errorf("five readings 400 ms apart took %v", got)
	}
}

// capLoad is 100 ohm beside 1000 µF.
type capLoad struct{}

func (capLoad) Terminals() []string                { return []string{"board"} }
func (capLoad) Current(s rig.State) float64        { return s.Volts / 100 }
func (capLoad) Farads(s rig.State) float64         { return 1e-3 }
func (capLoad) NextChange(rig.State) time.Duration { return -1 }

func TestCapacitorChargesAtTheLimit(t *testing.T) {
	s := up(t, capLoad{}, rig.Options{MemoryPorts: true, Exact: true, Supply: rig.SupplyOptions{Slew: -1}})
	s.b.Connect("board")
	s.meter.do("VOLT:DC:RANG 20;APER 1 mS;:CONF:VOLT:DC 20")
	s.supply.do("VOLT 10;CURR 0.2")
	s.supply.send("OUTP ON")
	s.supply.pause(10 * line.CharTime())
	on := s.b.Outputs()[0].At
	// Charging a capacitor beside a resistor from a constant current:
	// v = I R (1 - exp(-t / R C)), until the set voltage is reached.
	// I R = 20 V, R C = 100 ms: 10 V after 69.3 ms.
	s.supply.c.Wait(background, nil, on.Add(30*time.Millisecond))
	if o := s.b.Output(); !o.Limiting || o.Amps != 0.2 {
		t.Errorf("while it charges: %+v", o)
	}
	near(t, "volts after 30 ms", s.b.Output().JackVolts, 20*(1-0.74081822), 0.05)
	s.supply.c.Wait(background, nil, on.Add(75*time.Millisecond))
	if o := s.b.Output(); o.Limiting {
		t.Errorf("when it is full: %+v", o)
	}
	near(t, "amps when full", s.b.Output().Amps, 10/(100.1+0.1), 1e-4)
}
