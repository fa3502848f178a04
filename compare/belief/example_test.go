package belief_test

import (
	"fmt"

	"sealworthy/compare/belief"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

// Six chains of two white LEDs: at 12 V one of them seems to be missing. Current
// alone says which kind of fault it is; a look confirms it.
func Example() {
	led := plan.LED{Part: "white", TempcoVPerK: -0.003, Volts: plan.Value{Nominal: 3, HalfWidth: 0.1, Share: 0.5},
		Points: []plan.VoltsAtAmps{{Volts: 2.75, Amps: 0.001}, {Volts: 3.0, Amps: 0.010}, {Volts: 3.15, Amps: 0.020}}}
	p := &plan.Plan{
		Jacks: []plan.Jack{{Name: "main", Volts: 12}},
		Groups: []plan.Group{{Name: "cabin windows", Joint: "main", Lights: []plan.Light{{
			Part: "white", Kind: plan.LEDs, Count: 6, Series: []plan.LED{led, led}, Reel: "bag 3",
			Ohms: plan.Value{Nominal: 680, HalfWidth: 34, Share: 0.5}, BranchSpread: plan.Value{Nominal: 1}}}}},
	}
	e, err := belief.New(p, []string{"cabin windows"}, []float64{12}, scene.Scene{}, belief.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	seen := []belief.Reading{{Volts: 12, Amps: 0.0437, U: 0.00005, GainU: 0.002}}
	d, _ := e.Decide(seen, look.Look{}, rule.Default())
	r, _ := e.Posterior(seen, look.Look{Saw: look.SomeDark, Dark: 2, Of: 12})
	c := r.Classes[0]
	fmt.Printf("%s; %s, any of %d, darkens %d of %d: %.1f\n", d.Verdict, c.Fault.Kind,
		e.Hypotheses[c.Members[0]].Places, c.Dark, e.Lights, c.P)
	// Output: fail low; open branch, any of 6, darkens 2 of 12: 1.0
}
