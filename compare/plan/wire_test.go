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
