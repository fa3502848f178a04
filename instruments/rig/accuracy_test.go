package rig_test

import (
	"math"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/rig"
)

// Whatever the seed, every instrument errs, and no more than it says.
func TestInstrumentsStayWithinTheirAccuracy(t *testing.T) {
	ranges := rig.DefaultRanges()
	worst, sum := 0.0, 0.0
	for seed := range uint64(60) {
		ohm := 80 + 40*float64(seed)
		s := up(t, &testLoad{names: []string{"lamp"}, ohms: []float64{ohm}},
			rig.Options{Seed: seed, MemoryPorts: true})
		s.b.Connect("lamp")
		s.meter.do("CURR:DC:RANG 0.2")
		s.supply.do("VOLT 12;CURR 0.3;:OUTP ON")
		s.supply.pause(time.Second)
		o := s.b.Output()
		within := func(what string, got, truth float64, a instruments.Accuracy) float64 {
			part := (got - truth) / a.HalfWidth(truth)
			if math.Abs(part) > 1+1e-9 {
				t.Errorf("seed %d: %s: %g of %g, off by %.2f of its accuracy", seed, what, got, truth, part)
			}
			return math.Abs(part)
		}
		within("set voltage", s.supply.number("MEAS:VOLT?"), o.JackVolts+0.1*o.Amps+1*o.Amps,
			instruments.Accuracy{OfReading: 0.0005, Floor: 0.01})
		within("supply current", s.supply.number("MEAS:CURR?"), o.Amps,
			instruments.Accuracy{OfReading: 0.002, Floor: 0.003})
		within("jack voltage", s.meter.number("MEAS:VOLT:DC? 20"), o.JackVolts, ranges[4].Accuracy)
		s.meter.do("CONF:CURR:DC 0.2")
		for range 5 {
			part := within("current", s.meter.number("READ?"), o.Amps, ranges[1].Accuracy)
			worst = math.Max(worst, part)
			sum += part
		}
	}
	// Drawn over the whole of the accuracy, or the budget is tested against too
	// good a bench.
	if worst < 0.7 || sum/300 < 0.25 {
		t.Errorf("largest error %.2f of the accuracy, mean %.2f", worst, sum/300)
	}
}

// ledLoad is one LED of an invented exponential curve with 220 ohm in series,
// solved by halving: I(V) with 2 V at 10 mA and 60 mV for each factor e.
type ledLoad struct{ calls *int }

func (ledLoad) Terminals() []string { return []string{"lamp"} }
func (l ledLoad) Current(s rig.State) float64 {
	*l.calls++
	lo, hi := 0.0, s.Volts/220
	for range 60 {
		i := (lo + hi) / 2
		if 2+0.06*math.Log(i/0.01)+220*i > s.Volts {
			hi = i
		} else {
			lo = i
		}
	}
	return lo
}
func (ledLoad) NextChange(rig.State) time.Duration { return -1 }

func TestCurvedLoadIsSolvedExactlyAndCheaply(t *testing.T) {
	calls := 0
	s := up(t, ledLoad{&calls}, rig.Options{MemoryPorts: true, Exact: true, LeadsOhm: 2})
	s.b.Connect("lamp")
	s.meter.do("CURR:DC:RANG 0.02")
	for _, volts := range []string{"1.5", "3", "5", "12"} {
		s.supply.do("VOLT " + volts + ";CURR 0.5;:OUTP ON")
		s.supply.pause(time.Second)
		calls = 0
		o := s.b.Output()
		if calls > 14 {
			t.Errorf("%s V: %d calls of the load to solve the bench once", volts, calls)
		}
		// The loop closes: what the source gives is what leads, shunt and load take.
		n := 0
		near(t, volts+" V: load's curve", ledLoad{&n}.Current(rig.State{Volts: o.JackVolts}), o.Amps, 1e-9)
		near(t, volts+" V: loop", o.JackVolts+(2+5)*o.Amps, o.Volts, 1e-6)
	}
	s.supply.do("CURR 0.012")
	s.supply.pause(time.Second)
	o := s.b.Output()
	near(t, "limited", o.Amps, 0.012, 0)
	near(t, "volts at the limit", o.JackVolts, 2+0.06*math.Log(1.2)+220*0.012, 1e-5)
}

func TestOverCurrentProtectionSwitchesOff(t *testing.T) {
	s := up(t, bench2(), rig.Options{MemoryPorts: true})
	s.b.Connect("cabin")
	s.supply.do("VOLT 12;CURR 0.1;CURR:PROT 0.02;:OUTP ON")
	s.supply.pause(time.Second)
	if r := s.supply.ask("OUTP?"); r != "1" {
		t.Fatalf("12 mA tripped 20 mA: %s", r)
	}
	s.b.Connect("cabin", "mast")
	if r := s.supply.ask("OUTP?;:CURR:PROT:TRIP?"); r != "0;1" {
		t.Errorf("37 mA did not trip 20 mA: %s", r)
	}
	ev := s.b.Outputs()
	if last := ev[len(ev)-1]; last.On || last.Why == "command" {
		t.Errorf("%+v", last)
	}
}

func TestBoardThatResetsWhenItsPortOpens(t *testing.T) {
	both(t, func(t *testing.T, memory bool) {
		s := up(t, bench2(), rig.Options{MemoryPorts: memory, Relays: rig.RelayOptions{ResetOnOpen: true}})
		s.relays.do("ROUT:CLOS (@1,2)")
		s.relays.p.Close()
		if n := len(s.b.Connected()); n != 2 {
			t.Errorf("%d connected after closing the port", n)
		}
		again := open(t, s.c, s.b, s.b.Ports().Relays)
		if n := len(s.b.Connected()); n != 0 {
			t.Errorf("%d connected after opening it", n)
		}
		if r := again.ask("ROUT:CLOS:STAT?"); r != "(@)" {
			t.Errorf("and it says %s", r)
		}
	})
}
