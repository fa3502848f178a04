package circuit

import (
	"math"
	"testing"
)

// bisected is the current of LEDs, a resistor and a regulator in series by the
// plainest way there is.
func bisected(volts, ohms float64, leds []Diode, r Regulator) float64 {
	low, high := 0.0, r.Amps
	for range 200 {
		i := (low + high) / 2
		v := ohms*i + r.VoltsAt(i)
		for _, d := range leds {
			v += d.VoltsAt(i)
		}
		if v > volts {
			high = i
		} else {
			low = i
		}
	}
	return low
}

func TestARegulatedBranch(t *testing.T) {
	led := FromDrop(2.95, 0.016, 2*ThermalVolts(25), 8)
	for _, c := range []struct {
		leds int
		hold float64
		ohms float64
	}{{3, 1.4, 0}, {3, 1.4, 20}, {6, 2.3, 0}, {1, 0.5, 100}, {0, 2, 10}} {
		reg := Regulator{Amps: 0.016, HoldV: c.hold}
		n := New()
		node := n.AddResistor(0, 0.5)
		b := Branch{Ohms: c.ohms, Regulator: reg}
		var ds []Diode
		for range c.leds {
			b.LEDs, ds = append(b.LEDs, LED{Diode: led}), append(ds, led)
		}
		id := n.AddBranch(node, 0, b)
		s, p := NewSolver(n), n.NewPoint()
		last := -1.0
		for v := 0.1; v <= 26; v += 0.1 {
			if err := s.Solve(Source{EmfV: v}, p); err != nil {
				t.Fatalf("%+v at %.1f V: %v", c, v, err)
			}
			got, want := p.BranchA[id], bisected(v, c.ohms+0.5, ds, reg)
			if math.Abs(got-want) > 1e-12+1e-6*want {
				t.Errorf("%+v at %.1f V: %.6g A, want %.6g", c, v, got, want)
			}
			if got < last-1e-12 || got > reg.Amps {
				t.Errorf("%+v at %.1f V: %.6g A after %.6g", c, v, got, last)
			}
			last = got
		}
		// Held: above its voltage the draw doesn't move any more.
		if last < 0.999*reg.Amps {
			t.Errorf("%+v: %.4g A at 26 V", c, last)
		}
	}
}

// 98 % of the current flows where it holds, by the definition of HoldV.
func TestWhereARegulatorHolds(t *testing.T) {
	r := Regulator{Amps: 0.02, HoldV: 1.4}
	if i, _ := r.AmpsAt(1.4); math.Abs(i/0.02-0.98) > 0.005 {
		t.Errorf("%.4f of its current at the volts from which it holds", i/0.02)
	}
	if v := r.VoltsAt(0.01); math.Abs(v-0.2426) > 0.0005 { // 1.4/4 ln 2, by hand
		t.Errorf("%.4f V at half of its current", v)
	}
}

func TestFaultsOfARegulatedBranch(t *testing.T) {
	led := FromDrop(2.95, 0.016, 2*ThermalVolts(25), 8)
	n := New()
	b := Branch{Regulator: Regulator{Amps: 0.016, HoldV: 1.4}, LEDs: []LED{{Diode: led}, {Diode: led}, {Diode: led}}}
	id := n.AddBranch(0, 0, b)
	s, p := NewSolver(n), n.NewPoint()
	draw := func(v float64) float64 {
		if err := s.Solve(Source{EmfV: v}, p); err != nil {
			t.Fatal(err)
		}
		return p.BranchA[id]
	}
	healthy := draw(12)
	n.SetLEDState(id, 1, Shorted)
	if x := draw(12); math.Abs(x/healthy-1) > 0.001 {
		t.Errorf("a bridged LED moves a held current: %.4g of %.4g A", x, healthy)
	}
	if x := draw(7.5); x < 0.5*healthy {
		t.Errorf("with an LED bridged the knee falls by its voltage: %.4g A at 7.5 V", x)
	}
	n.SetLEDState(id, 1, Reversed)
	if x := draw(12); x != 0 {
		t.Errorf("reversed: %.4g A", x)
	}
	n.SetLEDState(id, 1, OK)
	n.SetBranchFactor(id, 1.1)
	if x := draw(12); math.Abs(x/healthy-1.1) > 0.001 {
		t.Errorf("a part of a tenth more: %.4g of %.4g A", x, healthy)
	}
	n.SetBranchOpen(id, true)
	if x := draw(12); x != 0 {
		t.Errorf("open: %.4g A", x)
	}
}
