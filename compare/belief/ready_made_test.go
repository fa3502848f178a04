package belief

import (
	"testing"

	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

// TestNobodyTurnsAnLEDInAStrip: of a strip that is bought ready-made the maker joins the ends; the
// LEDs in it nobody solders one by one. Fifteen segments of six are as probably healthy as their
// joints and cuts let them be, not as ninety hand-soldered LEDs would be.
func TestNobodyTurnsAnLEDInAStrip(t *testing.T) {
	strip := light("white", 6, 1, 300, 0.5)
	strip.Kind, strip.Segments = plan.Strip, 15
	e := ensemble(t, onJack(strip), []float64{24}, scene.Scene{}, Options{})
	r, err := e.Posterior(nil, look.Look{})
	if err != nil {
		t.Fatal(err)
	}
	// .85 + .01, 15 x .010 dark, 90 x .001 shorted, 15 x .002 joints, and what is of the group.
	if r.None < 0.7 {
		t.Errorf("before anything is read the strip is healthy with %.3f", r.None)
	}
	dark, reversed := 0.0, 0.0
	for _, h := range e.Hypotheses {
		for k, share := range h.Shares(e.plan, e.priors) {
			switch k {
			case "dark segment":
				dark += share * h.Prior
			case "reversed LED":
				reversed += share * h.Prior
			}
		}
	}
	if !(reversed > 0 && reversed < dark/10) {
		t.Errorf("a dark segment weighs %.3f, one with an LED turned round %.3f", dark, reversed)
	}
}
