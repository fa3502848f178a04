package belief

import (
	"testing"

	"sealworthy/compare/look"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

// TestWhatWasTakenOffEachReadingIsOffAlike: 1 mA of doubt that two readings have in common is as much
// doubt as in one of them, not less; where nothing is lit a reading tells it.
func TestWhatWasTakenOffEachReadingIsOffAlike(t *testing.T) {
	p := onJack(light("white", 3, 3, 330, 0.5))
	e := ensemble(t, p, []float64{12, 11.5, 4}, scene.Scene{}, Options{})
	far := func(common bool, at ...int) float64 {
		t.Helper()
		var rs []Reading
		for _, k := range at {
			r := Reading{Volts: e.Volts[k], Amps: e.HealthyA[k], U: 1e-5}
			if common {
				r.CommonU = 1e-3
			} else {
				r.U = 1e-3
			}
			rs = append(rs, r)
		}
		d, err := e.Decide(rs, look.Look{}, rule.Default())
		if err != nil {
			t.Fatal(err)
		}
		return d.DPrime
	}
	one, alike, apart := far(true, 0), far(true, 0, 1), far(false, 0, 1)
	if !(one < alike+0.2 && alike < apart-0.3) {
		t.Errorf("d' by one reading %.2f, by two that are off alike %.2f, each by itself %.2f", one, alike, apart)
	}
	if dark := far(true, 0, 2); dark < one+0.3 {
		t.Errorf("d' %.2f with a reading where nothing is lit, %.2f without", dark, one)
	}
}
