package returns

import (
	"math"
	"testing"
)

// A signature taken at 0 degC was taken in the cold, not in a room of 25.
func TestASignatureOfZeroDegreesIsCold(t *testing.T) {
	volts := grid(2, 12.5, 0.5)
	r := testRand(4)
	ls := built(r)
	s := asBuilt(ls, volts, r)
	at := func(c float64) float64 {
		s.AmbientC = &c
		m, err := newModel(referencePlan(ls), s, "", volts)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, b := range m.groups {
			for _, x := range b.nominal {
				sum += x
			}
		}
		return sum
	}
	cold, hair, warm := at(0), at(1e-6), at(25)
	if math.Abs(cold-hair) > 1e-6*hair {
		t.Errorf("nominal draws add up to %.4f A at 0 degC, %.4f A a hair above, %.4f A at 25 degC", cold, hair, warm)
	}
	if math.Abs(warm-hair) < 1e-3*hair {
		t.Errorf("25 degC more are worth %.2g: this test can't tell them apart", warm/hair-1)
	}
}
