package compare

import (
	"math"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare/scene"
)

// A board that is never dark draws by itself what is left of the whole, and behind a
// converter that is no better known than what the converter takes.
func TestWhatABoardDrawsBehindAConverter(t *testing.T) {
	y := newYard(t, `
build = "Cutter"
[jack.main]
volts = 12.0
[closure.hull]
[joint.keel]
from = "main"
holds = [ { converter = "step-down", out_volts = 5, tolerance = 0.03, idle_mA = 4, max_amps = 1 } ]
[board.lantern]
joint = "keel"
closure = "hull"
standing_mA = 3
tolerance = 0.05
outputs = [ { max_mA = 60, ohms = 10 } ]
paces = [ { name = "steady", steady = true } ]
[[group]]
name = "light"
board = "lantern"
output = 1
lights = [ { part = "red 3 mm", ohms = 220, ohms_tolerance = 0.01 } ]
`)
	b, err := y.exp.At(scene.Scene{})
	if err != nil {
		t.Fatal(err)
	}
	s := step{j: y.j, b: b, r: capture.StepRecord{Step: capture.Step{Board: "lantern"}}}
	g, _ := b.GroupNamed("light")
	levels := b.Levels("lantern")
	all, base := levels[len(levels)-1].Draw, s.standing("lantern")
	if sum := math.Hypot(base.UA, g.Lit.UA); math.Abs(sum/all.UA-1) > 0.01 || base.UA < 2*0.05*3e-3/math.Sqrt(3) {
		t.Errorf("alone u %.3f mA and lit %.3f make %.3f, the whole has %.3f", base.UA*1e3, g.Lit.UA*1e3, sum*1e3,
			all.UA*1e3)
	}
}
