package budget_test

import (
	"fmt"
	"log"

	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

// A tender of the lightship (invented): a strip behind windows and one lamp.
const tender = `
build = "Brackwater's tender"

[jack.main]
volts = 12.0
volts_range = [11.4, 12.6]
source = "adapter"
adapter_amps = 0.5

[closure.hull]

[joint.keel]
from = "main"
wire = { awg = 28, length_mm = 150 }
holds = [ { fuse = "glass", amps = 0.16 } ]

[[group]]
name = "windows"
closure = "hull"
joint = "keel"
wire = { mm = 0.2, length_mm = 80 }
lights = [ { part = "strip warm white 12 V", segments = 4 } ]

[[group]]
name = "stern lamp"
closure = "hull"
joint = "keel"
wire = { mm = 0.2, length_mm = 120 }
lights = [ { part = "red 1.8 mm", in_series = 1, ohms = 1000 } ]
`

func ExampleOf() {
	p, problems := plan.Parse("plan.toml", []byte(tender))
	if p == nil {
		log.Fatal(problems)
	}
	// A hand-held meter on its mA range, clipped to one group after the other.
	b, err := budget.Of(p, budget.At{Scene: scene.Scene{BurdenOhm: 2, LeadsOhm: 0.2, LeadsHalfOhm: 0.1,
		Accuracy: &scene.Accuracy{OfReading: 0.01, FloorA: 3e-5, ResolutionA: 1e-5}}}, 1)
	if err != nil {
		log.Fatal(err)
	}
	// b.Text writes the whole table; here is what is worth knowing before any solder.
	for _, g := range b.Groups {
		fmt.Printf("%s (branches: %d): a dead one can be seen on the plan: %v\n", g.Group, g.Branches,
			g.Visible.OnPlan)
	}
	// The ramp of the power-on test: three LEDs in series are dark below their knee.
	ramp, err := b.Curve("windows", 3, 6)
	if err != nil {
		log.Fatal(err)
	}
	for _, at := range ramp {
		fmt.Printf("windows at %.0f V: at most %.0f mA\n", at.Volts, at.HighA*1e3)
	}
	// Output:
	// windows (branches: 4): a dead one can be seen on the plan: false
	// stern lamp (branches: 1): a dead one can be seen on the plan: true
	// windows at 3 V: at most 0 mA
	// windows at 6 V: at most 1 mA
}
