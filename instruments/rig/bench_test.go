package rig_test

import (
	"strings"
	"testing"
	"time"

	"sealworthy/instruments/rig"
)

func TestReadingsAndTimesAreTheSameOverPtyAndMemory(t *testing.T) {
	var traces []string
	both(t, func(t *testing.T, memory bool) {
		s := up(t, bench2(), rig.Options{Seed: 7, MemoryPorts: memory})
		s.relays.do("ROUT:CLOS (@1,3)")
		s.supply.do("VOLT 12;CURR 0.1")
		s.supply.do("OUTP ON")
		var out strings.Builder
		for range 40 {
			r := s.meter.ask("READ?")
			out.WriteString(s.c.Now().Sub(start).String() + " " + r + "\n")
		}
		traces = append(traces, out.String())
	})
	if len(traces) == 2 && traces[0] != traces[1] {
		t.Errorf("they differ:\n%s\n%s", traces[0], traces[1])
	}
}

func TestSeedDecidesTheReadings(t *testing.T) {
	trace := func(seed uint64) string {
		s := up(t, bench2(), rig.Options{Seed: seed, MemoryPorts: true})
		s.relays.do("ROUT:CLOS (@2)")
		s.supply.do("VOLT 12;CURR 0.1;:OUTP ON")
		s.meter.do("CURR:DC:RANG 0.2")
		var out []string
		for range 20 {
			out = append(out, s.meter.ask("READ?"))
		}
		return strings.Join(out, " ")
	}
	one, again, other := trace(1), trace(1), trace(2)
	if one != again {
		t.Errorf("the same seed gave\n%s\n%s", one, again)
	}
	if one == other {
		t.Error("two seeds gave the same readings")
	}
}

func TestBytesTakeTheirTimeOnTheLine(t *testing.T) {
	both(t, func(t *testing.T, memory bool) {
		s := up(t, bench2(), rig.Options{MemoryPorts: memory})
		began := s.c.Now()
		r := s.meter.ask("*IDN?")
		// 6 characters there, the reply and its line end back, 10 bits each.
		want := time.Duration(6+len(r)+1) * line.CharTime()
		if got := s.c.Now().Sub(began); got != want {
			t.Errorf("the exchange took %v, the line needs %v", got, want)
		}
		began = s.c.Now()
		r = s.meter.ask("READ?") // the largest range, then two smaller: three windows
		want = time.Duration(6+len(r)+1)*line.CharTime() + 300*time.Millisecond
		if got := s.c.Now().Sub(began); got != want {
			t.Errorf("a reading took %v, line and windows need %v", got, want)
		}
	})
}

func TestSupplyHoldsItsLimit(t *testing.T) {
	both(t, func(t *testing.T, memory bool) {
		s := up(t, bench2(), rig.Options{MemoryPorts: memory, Exact: true})
		if err := s.b.Connect("mast"); err != nil {
			t.Fatal(err)
		}
		s.meter.do("CURR:DC:RANG 0.2")
		s.supply.do("VOLT 12;CURR 0.1")
		s.supply.do("OUTP ON")
		s.supply.pause(200 * time.Millisecond)
		series := 0.1 + 1.0
		near(t, "current", s.meter.number("READ?"), 12/(470+series), 6e-6)
		if r := s.supply.ask("STAT:QUES:COND?"); r != "0" {
			t.Errorf("below its limit it answers %s", r)
		}
		s.supply.do("CURR 10 mA")
		s.supply.pause(200 * time.Millisecond)
		near(t, "limited current", s.meter.number("READ?"), 0.01, 6e-6)
		near(t, "volts at the limit", s.supply.number("MEAS:VOLT?"), 0.01*(470+series), 0.006)
		near(t, "volts at the jack", s.meter.number("MEAS:VOLT:DC?"), 4.7, 2e-3)
		if r := s.supply.ask("STAT:QUES:COND?"); r != "2" {
			t.Errorf("at its limit it answers %s", r)
		}
		if o := s.b.Output(); !o.On || !o.Limiting || o.LimitA != 0.01 {
			t.Errorf("output: %+v", o)
		}
		s.supply.do("OUTP OFF")
		if o := s.b.Output(); o.On || o.Amps != 0 || o.JackVolts != 0 {
			t.Errorf("output after off: %+v", o)
		}
		ev := s.b.Outputs()
		if len(ev) != 2 || !ev[0].On || ev[1].On || ev[0].LimitA != 0.1 || !ev[1].At.After(ev[0].At) {
			t.Errorf("log of the output: %+v", ev)
		}
	})
}

func TestMeterOverloadBurdenAndFuse(t *testing.T) {
	s := up(t, &testLoad{names: []string{"strip"}, ohms: []float64{100}}, rig.Options{MemoryPorts: true, Exact: true,
		LeadsOhm: -1})
	s.b.Connect("strip")
	s.supply.do("VOLT 5;CURR 3;:OUTP ON")
	s.supply.pause(time.Second)
	for rng, burden := range map[string]float64{"0.2": 1, "2": 0.1} {
		s.meter.do("CURR:DC:RANG " + rng)
		near(t, "range "+rng, s.meter.number("READ?"), 5/(100+burden), 60e-6)
	}
	s.meter.do("CURR:DC:RANG 20 mA")
	if v := s.meter.number("READ?"); v != 9.9e37 {
		t.Errorf("48 mA in the 20 mA range reads %g", v)
	}
	s.meter.do("CURR:DC:RANG:AUTO ON")
	near(t, "automatic range", s.meter.number("READ?"), 5.0/101, 6e-6)
	s.b.BlowMeterFuse()
	near(t, "fuse blown", s.meter.number("READ?"), 0, 0)
	if !s.b.MeterFuseBlown() {
		t.Error("the fuse is whole")
	}
	s.b.ReplaceMeterFuse()
	near(t, "fuse replaced", s.meter.number("READ?"), 5.0/101, 6e-6)
}

func TestFuseBlowsOnAShort(t *testing.T) {
	s := up(t, &testLoad{names: []string{"short"}, ohms: []float64{0.05}},
		rig.Options{MemoryPorts: true, Supply: rig.SupplyOptions{MaxAmps: 5}})
	s.b.Connect("short")
	s.supply.do("VOLT 12;CURR 5;:OUTP ON")
	s.meter.ask("READ?")
	if !s.b.MeterFuseBlown() {
		t.Error("5 A through a 2 A fuse, and it is whole")
	}
}

func TestRelaysConnectAndPress(t *testing.T) {
	both(t, func(t *testing.T, memory bool) {
		s := up(t, bench2(), rig.Options{MemoryPorts: memory, Buttons: []string{"beacon"}, Exact: true})
		s.relays.do("ROUT:CLOS (@1:3)")
		if got := strings.Join(s.b.Connected(), " "); got != "cabin mast beacon" {
			t.Errorf("connected: %s", got)
		}
		s.relays.do("ROUT:OPEN (@1,2)")
		if r := s.relays.ask("ROUT:CLOS? (@1:4)"); r != "0,0,1,0" {
			t.Errorf("closed: %s", r)
		}
		if r := s.relays.ask("ROUT:CLOS:STAT?"); r != "(@3)" {
			t.Errorf("closed: %s", r)
		}
		s.meter.do("CURR:DC:RANG 0.2;:CURR:NPLC 50")
		s.supply.do("VOLT 6;CURR 0.1;:OUTP ON")
		s.supply.pause(time.Second)
		lit := 6 / (600 + 1.1)
		near(t, "slow: 0.3 of each second", s.meter.number("READ?"), 0.3*lit, 6e-6)
		press := func(d time.Duration) {
			s.relays.do("ROUT:CLOS (@4)")
			s.relays.pause(d)
			s.relays.do("ROUT:OPEN (@4)")
		}
		press(100 * time.Millisecond)
		near(t, "fast: 0.3 of each half second", s.meter.number("READ?"), 0.6*lit, 6e-6)
		s.b.Press("beacon")
		near(t, "slow again", s.meter.number("READ?"), 0.3*lit, 6e-6)
		s.b.Press("beacon")
		s.relays.do("ROUT:OPEN:ALL")
		near(t, "open", s.meter.number("READ?"), 0, 0)
		s.relays.do("ROUT:CLOS (@3)")
		near(t, "power lost, pace forgotten", s.meter.number("READ?"), 0.3*lit, 6e-6)
	})
}

func TestTwoInstrumentsAtOnce(t *testing.T) {
	both(t, func(t *testing.T, memory bool) {
		s := up(t, bench2(), rig.Options{MemoryPorts: memory, Exact: true})
		s.b.Connect("mast")
		s.supply.do("VOLT 12;CURR 0.1;:OUTP ON")
		s.meter.do("CURR:DC:RANG 0.2")
		s.supply.pause(time.Second)
		began := s.c.Now()
		for range 20 {
			s.meter.send("READ?")
			s.supply.send("MEAS:CURR?")
			i, j := s.supply.reply(), s.meter.reply()
			if i != "0.0250" && i != "0.0260" || !strings.HasPrefix(j, "+2.547") {
				t.Fatalf("supply %s, meter %s", i, j)
			}
		}
		// The supply's answers fit into the meter's windows.
		want := 20 * (time.Duration(6+14)*line.CharTime() + 100*time.Millisecond)
		if got := s.c.Now().Sub(began); got != want {
			t.Errorf("20 pairs took %v, the meter alone needs %v", got, want)
		}
	})
}
