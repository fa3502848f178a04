package stages_test

import (
	"os"
	"testing"

	"sealworthy/compare/blink"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
)

// What outputs do in the trace of a whole model, over simulated models: never
// called wrongly in more than one of 200, as for the paces of single boards.
func TestStatesOfOutputs(t *testing.T) {
	if raceOn {
		t.Skip("statistics run without the race detector")
	}
	n := 3
	if os.Getenv("SEALWORTHY_LONG") != "" {
		n = 100
	}
	p := brackwaterPlan(t)
	c := comparer(t, p)
	for _, x := range []struct {
		fault, name string
		want        blink.State
	}{
		{"", "", blink.Running},
		{"lantern=stuck dark", "lantern", blink.StaysDark},
		{"starboard beacon=stuck dark", "starboard beacon", blink.StaysDark},
		{"port beacon=overloaded output", "port beacon", blink.StaysLit},
	} {
		wrong, open, all := 0, 0, 0
		for i := range n {
			seed := uint64(700 + i)
			built, err := c.Apart(reading(t, p, nil, seed, 2*seed, "delivered", home(), load.Options{}), nil)
			if err != nil {
				t.Fatal(err)
			}
			var fs []fault.Fault
			if x.fault != "" {
				fs = append(fs, faultOf(t, p, x.fault, seed))
			}
			a, err := c.Apart(reading(t, p, fs, seed, 2*seed+1, "returned", home(), load.Options{Years: 2}), &built)
			if err != nil {
				t.Fatal(err)
			}
			for _, k := range a.Beats {
				for _, b := range k.Outputs {
					want := blink.Running
					if b.Name == x.name {
						want = x.want
					}
					all++
					switch b.State {
					case want:
					case blink.Unsettled, blink.NotRunning:
						open++
					default:
						wrong++
						t.Logf("%s, seed %d: %s %s (step %.2f of %.2f mA, base %.2f mA)", x.fault, seed, b.Name,
							b.State, 1e3*b.StepA, 1e3*b.BuiltA, 1e3*a.BaseA)
					}
				}
			}
		}
		t.Logf("%-32q: %d outputs, %d wrong, %d can't tell", x.fault, all, wrong, open)
		if wrong > all/200 || open > all/10 {
			t.Errorf("%q: %d wrong, %d can't tell, of %d", x.fault, wrong, open, all)
		}
	}
}
