package reel

import (
	"math"
	"testing"
)

// A reading at 0 degC was made in the cold, not in a room of 25.
func TestAReadingAtZeroDegreesIsCold(t *testing.T) {
	p := groupsOf(1, smd(10, 3, 2.9, 150, 0.3, 0.5))
	amps := func(c *float64) float64 {
		s, err := newSenses(p).of(Observation{Group: p.Groups[0].Name, Volts: 12, AmbientC: c}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return s.amps
	}
	zero, hair, room := 0.0, 1e-6, 25.0
	if cold, next := amps(&zero), amps(&hair); math.Abs(cold-next) > 1e-7 || math.Abs(cold-amps(&room)) < 1e-5 {
		t.Errorf("%.4f mA at 0 degC, %.4f mA a hair above, %.4f mA at 25 degC", cold*1e3, next*1e3, amps(&room)*1e3)
	}
	if unknown := amps(nil); unknown != amps(&room) {
		t.Errorf("not known: %.4f mA, at 25 degC %.4f mA", unknown*1e3, amps(&room)*1e3)
	}
}
