package plan

import (
	"slices"
	"testing"
)

// A plan is asked by name: what hangs on what, up to the jack.
func TestPlacesAreFoundByName(t *testing.T) {
	p, problems := Parse("plan.toml", []byte(`build = "Dinghy"
[jack.main]
volts = 12
[closure.hull]
[joint.keel]
from = "main"
closure = "hull"
[joint.mast]
from = "keel"
closure = "hull"
[return.stay]
to = "main"
closure = "hull"
[board.beacon]
part = "single blinker"
joint = "mast"
closure = "hull"
[[group]]
name = "lamp"
closure = "hull"
board = "beacon"
lights = [ { part = "red 1.8 mm", ohms = 470 } ]
[[group]]
name = "anchor"
closure = "hull"
joint = "keel"
return = "stay"
lights = [ { part = "smd warm white 12 V" } ]
`))
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	lamp, ok := p.Group("lamp")
	if !ok || p.GroupAt("anchor") != 1 || p.JointOf(lamp) != "mast" {
		t.Errorf("lamp: %v, anchor at %d, fed by %q", ok, p.GroupAt("anchor"), p.JointOf(lamp))
	}
	if up := p.UpFrom("mast"); !slices.Equal(up, []string{"mast", "keel", "main"}) {
		t.Errorf("the mast hangs on %q", up)
	}
	anchor, _ := p.Group("anchor")
	if back := p.BackFrom(p.ReturnOf(anchor)); !slices.Equal(back, []string{"stay", "main"}) {
		t.Errorf("the anchor light's minus goes by %q", back)
	}
	if back := p.BackFrom(p.ReturnOf(lamp)); len(back) > 0 {
		t.Errorf("the lamp's minus, twin of its plus, goes by %q", back)
	}
	if p.JackOf("mast") != "main" || p.JackOf("main") != "main" || p.JackOf("bowsprit") != "" {
		t.Errorf("jacks %q, %q, %q", p.JackOf("mast"), p.JackOf("main"), p.JackOf("bowsprit"))
	}
	_, group := p.Group("bowsprit")
	_, board := p.Board("")
	if group || board || p.JointAt("stay") >= 0 || p.ReturnAt("keel") >= 0 {
		t.Error("found what isn't there")
	}
	beacon, _ := p.Board("beacon")
	if _, ok := beacon.Pace(beacon.Paces[0].Name); !ok {
		t.Error("the board has no pace by its own name")
	}
}
