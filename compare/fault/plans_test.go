package fault_test

import (
	"os"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// reversible is an invented plan with parts that block and parts that conduct
// when they are turned round.
const reversible = `build = "invented"
[jack.main]
volts = 12.0
[closure.hull]
[joint.keel]
from = "main"
[return.mast]
to = "main"
[part."white with diode"]
like = "warm white 0603"
conducts_reversed = true
[part."lamp with diode"]
like = "smd warm white 12 V"
led = "white with diode"
[part."strip with diodes"]
like = "strip warm white 12 V"
led = "white with diode"
[board.beacon]
part = "single blinker"
joint = "keel"
[[group]]
name = "blocks"
closure = "hull"
joint = "keel"
lights = [ { part = "red 1.8 mm", in_series = 3, ohms = 470, count = 2 } ]
[[group]]
name = "conducts"
closure = "hull"
joint = "keel"
return = "mast"
lights = [ { part = "white with diode", in_series = 3, ohms = 150, count = 2 } ]
[[group]]
name = "lamps"
closure = "hull"
joint = "keel"
lights = [ { part = "lamp with diode", count = 3 } ]
[[group]]
name = "strips"
closure = "hull"
joint = "main"
lights = [ { part = "strip with diodes", segments = 4, count = 2 } ]
[[group]]
name = "mixed"
closure = "hull"
joint = "keel"
lights = [ { part = "lamp with diode" }, { part = "red 1.8 mm", ohms = 1000 } ]
[[group]]
name = "lone"
closure = "hull"
joint = "keel"
lights = [ { part = "lamp with diode" } ]
[[group]]
name = "fire"
closure = "hull"
joint = "keel"
lights = [ { behaves = "flicker", low_mA = 5, mean_mA = 10, high_mA = 20 } ]
[[group]]
name = "port light"
closure = "hull"
board = "beacon"
output = 1
lights = [ { leds = ["red 1.8 mm", "amber 1.8 mm"], ohms = 470 } ]
`

func parsed(t testing.TB, src string) *plan.Plan {
	t.Helper()
	p, problems := plan.Parse("plan.toml", []byte(src))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	return p
}

func wired(t testing.TB, p *plan.Plan) *wiring.Wired {
	t.Helper()
	w, err := wiring.Build(p, p.Jacks[0].Name, wiring.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func group(t testing.TB, p *plan.Plan, name string) plan.Group {
	t.Helper()
	for _, g := range p.Groups {
		if g.Name == name {
			return g
		}
	}
	t.Fatalf("no group %q", name)
	return plan.Group{}
}

func brackwaterPlan(t testing.TB) ([]byte, *plan.Plan) {
	t.Helper()
	src, err := os.ReadFile("../../testdata/brackwater/plan.toml")
	if err != nil {
		t.Fatal(err)
	}
	return src, parsed(t, string(src))
}
