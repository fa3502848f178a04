package plan

import (
	"math"
	"testing"
)

// Common practice, no source: figures that makers go by.
func TestWireAgainstPractice(t *testing.T) {
	for _, c := range []struct{ mm, ohmPerM, amps float64 }{{0.2, 0.55, 0.2}, {0.1, 2.2, 0.05}, {0.25464, 0.34, 0.5}} {
		w := newWire(areaM2(c.mm*1e-3), 1, 0, false)
		if math.Abs(w.Ohms.Nominal/c.ohmPerM-1) > 0.02 || math.Abs(w.WorkAmps/c.amps-1) > 0.01 {
			t.Errorf("%v mm: %v ohm/m, %v A; want %v, %v", c.mm, w.Ohms.Nominal, w.WorkAmps, c.ohmPerM, c.amps)
		}
	}
	last := 0.0
	for mm := 0.02; mm < 3; mm *= 1.05 {
		w := newWire(areaM2(mm*1e-3), 1, 0, false)
		if w.WorkAmps <= last || w.WorkAmps >= w.FuseAmps {
			t.Errorf("%v mm works to %v A and melts at %v A", mm, w.WorkAmps, w.FuseAmps)
		}
		last = w.WorkAmps
	}
}

// Preece's law for copper gives 80 A at 1 mm (from memory).
func TestWireMelts(t *testing.T) {
	if got := meltAmps(areaM2(1e-3)); math.Abs(got-80) > 1e-9 {
		t.Errorf("1 mm melts at %v A, want 80", got)
	}
}

// k of the adiabatic equation for copper as standards print it: 115 for PVC from 70
// to 160 degC, 143 for cross-linked polyethylene from 90 to 250 degC (IEC 60364-5-54
// and 4-43, from memory).
func TestTheAdiabaticEquation(t *testing.T) {
	for _, c := range []struct{ from, to, k float64 }{{70, 160, 115}, {90, 250, 143}} {
		if k := copperK(c.from, c.to); math.Abs(k-c.k) > 0.5 {
			t.Errorf("from %g to %g degC: %.1f, want %g", c.from, c.to, k, c.k)
		}
	}
	// A square millimetre for a second, by hand: 226 sqrt(ln(314.5/274.5)) = 83.3 A.
	w := Wire{AreaM2: 1e-6}
	if a := w.AmpsFor(1); math.Abs(a-83.35) > 0.2 {
		t.Errorf("1 mm2 for 1 s: %.2f A", a)
	}
	if a := w.AmpsFor(100); math.Abs(a-8.335) > 0.02 {
		t.Errorf("1 mm2 for 100 s: %.3f A", a)
	}
	w.WorkAmps = 20
	if a := w.AmpsFor(100); a != 20 {
		t.Errorf("what it carries for hours it carries for seconds: %.3f A", a)
	}
	w.SizeAssumed = true
	if a := w.AmpsFor(1); a != 0 {
		t.Errorf("a wire that nobody stated limits to %.3f A", a)
	}
}

// A wire in still air for the seconds of a test, against the equation of heat solved step
// by step: rings of air about it, each twentieth of a radius further out by the logarithm,
// and its own copper, which the formula leaves out. Its way back lies beside it: the
// heat that it adds is taken at two radii.
func TestAThinWireInStillAir(t *testing.T) {
	const ringsPerE, rings, steps = 20, 220, 3000
	for _, c := range []struct{ mm, seconds float64 }{{0.1, 30}, {0.1, 300}, {0.2, 30}, {0.2, 300}, {0.05, 30}} {
		r := c.mm / 2e3
		w := newWire(areaM2(c.mm*1e-3), 1, 0, false)
		amps := w.AmpsFor(c.seconds)
		heat := amps * amps * copperOhmM / w.AreaM2 * (1 + 0.00393*60) // W/m at 80 degC
		// By the logarithm of the radius each ring leads as well as the next.
		lead := 2 * math.Pi * airWPerMK * ringsPerE
		store := func(k int) float64 { // J/(m K): copper has 3.45e6 J/(m3 K) (from memory)
			if k == 0 {
				return 3.45e6 * w.AreaM2
			}
			in, out := r*math.Exp(float64(k-1)/ringsPerE), r*math.Exp(float64(k)/ringsPerE)
			return math.Pi * (out*out - in*in) * airWPerMK / airM2PerS
		}
		warmer, by := make([]float64, rings), c.seconds/steps
		for range steps {
			below, right := make([]float64, rings), make([]float64, rings)
			for k := range rings {
				diagonal, known, before := store(k)/by+lead, store(k)/by*warmer[k], 0.0
				if k == 0 {
					known += heat
				} else {
					diagonal, before = diagonal+lead, lead
				}
				if k > 0 {
					diagonal -= before * below[k-1]
					known += before * right[k-1]
				}
				below[k], right[k] = lead/diagonal, known/diagonal
			}
			for k := rings - 1; k >= 0; k-- {
				warmer[k] = right[k]
				if k < rings-1 {
					warmer[k] += below[k] * warmer[k+1]
				}
			}
		}
		got := warmer[0] + warmer[int(math.Round(ringsPerE*math.Ln2))]
		if got > 41 || got < 36 {
			t.Errorf("%g mm, %g s: %.3f A warm it by %.1f K, want 40 or a little less", c.mm, c.seconds, amps, got)
		}
		if amps > w.FuseAmps/3 {
			t.Errorf("%g mm, %g s: %.3f A, it melts at %.3f", c.mm, c.seconds, amps, w.FuseAmps)
		}
	}
	thin := newWire(areaM2(1e-4), 1, 0, false)
	if a, b := thin.AmpsFor(30), thin.AmpsFor(300); a <= b || b < 0.3 {
		t.Errorf("0.1 mm: %.3f A for 30 s, %.3f A for 300 s", a, b)
	}
}

func TestOnlyASizeThatIsSaidIsKnown(t *testing.T) {
	for wire, assumed := range map[string]bool{"": true, "wire = { length_mm = 100 }": true,
		"wire = { mm = 0.2 }": false, "wire = { awg = 30, length_mm = 100 }": false} {
		p, problems := Parse("plan.toml", []byte("build = \"W\"\n[jack.main]\nvolts = 12\n[[group]]\nname = \"g\"\n"+
			wire+"\nlights = [ { part = \"smd red 12 V\" } ]\n"))
		if len(problems) > 0 {
			t.Fatal(problemsText(problems))
		}
		if got := p.Groups[0].Wire.SizeAssumed; got != assumed {
			t.Errorf("%q: size assumed %v", wire, got)
		}
	}
}
