package returns

import (
	"testing"

	"sealworthy/capture"
)

// What may burn in the whole model may burn in each step of a guided return.
func TestGuidedKeepsHazards(t *testing.T) {
	s := capture.Step{ID: "whole/main/", Kind: capture.Whole, Feed: "main", Volts: 12,
		Hazards: []capture.Hazard{{Check: "LED current: stern light", Text: "it burns"}},
		Ramp:    []capture.RampPoint{{Volts: 3, LimitA: 0.01}, {Volts: 12, LimitA: 0.2}, {Volts: 12, LimitA: 0.1}},
		Sweep:   []capture.SweepPoint{{Volts: 12, LimitA: 0.1}, {Volts: 9, LimitA: 0.1}, {Volts: 6, LimitA: 0.1}}}
	g, err := NewGuided([]capture.Step{s}, capture.Settle{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	all := append(append([]capture.Step{g.Limit, g.Warm, g.Again(2)}, g.Probes...), g.Whole...)
	if len(all) != 6 {
		t.Errorf("%d steps", len(all))
	}
	for _, x := range all {
		if len(x.Hazards) != 1 {
			t.Errorf("%s: hazards %v", x.ID, x.Hazards)
		}
	}
}
