package together_test

import (
	"fmt"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/together"
)

// Two groups behind one joint draw nothing, a third one on the way draws as planned.
func ExampleFind() {
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
	seen := func(group string, measuredA, expectedA float64) together.Seen {
		return together.Seen{Group: group, Volts: 12, MeasuredA: measuredA, MeasuredU: 1e-4, ExpectedA: expectedA, ExpectedU: 0.08 * expectedA}
	}
	r, err := together.Find(p, []together.Seen{
		seen("saloon", 0.0391, 0.038), seen("top light", 0, 0.0098), seen("gallery", 0, 0.058),
	}, fault.DefaultPriors().Common)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(r.Alarm)
	fmt.Println(r.Causes[0].Text)
	fmt.Println(r.Causes[0].Look)
	// Output:
	// true
	// Nothing gets past joint "mast". "top light" and "gallery" show it.
	// With "top light" on, measure volts before and after joint "mast"; with the output off, solder it anew.
}
