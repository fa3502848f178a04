package belief_test

import (
	"fmt"

	"sealworthy/compare/belief"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/compare/words"
)

// Two groups behind one joint draw nothing, a third one on the way draws as planned.
func ExampleTogether() {
	p, _ := plan.Parse("plan.toml", []byte(`build = "invented"
[jack.main]
volts = 12.0
[closure.hull]
[joint.keel]
from = "main"
[joint.mast]
from = "keel"
[[group]]
name = "saloon"
closure = "hull"
joint = "keel"
lights = [ { part = "smd warm white 12 V", count = 4 } ]
[[group]]
name = "top light"
closure = "hull"
joint = "mast"
lights = [ { part = "smd red 12 V" } ]
[[group]]
name = "gallery"
closure = "hull"
joint = "mast"
lights = [ { part = "smd amber 12 V", count = 6 } ]
`))
	var ms []belief.Measured
	for i, amps := range []float64{0.0391, 0, 0} {
		e, err := belief.New(p, []string{p.Groups[i].Name}, []float64{12}, scene.Scene{}, belief.Options{})
		if err != nil {
			fmt.Println(err)
			return
		}
		ms = append(ms, belief.Measured{Ensemble: e, Readings: []belief.Reading{{Volts: 12, Amps: amps, U: 1e-4}}})
	}
	all, err := belief.Together(p, ms, fault.DefaultPriors().Common)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(all.Alarm)
	text, look := words.InCommon(all.Causes[0].Common)
	fmt.Println(text)
	fmt.Println(look)
	// Output:
	// true
	// Nothing gets past joint "mast". "top light" and "gallery" show it.
	// With "top light" on, measure volts before and after joint "mast"; with the output off, solder it anew.
}
