package compare

import (
	"strings"
	"testing"

	"sealworthy/capture"
)

// BehindConverter are two groups that are read loose at 5 V, and joined behind a converter at
// 12 V. Invented.
const BehindConverter = `
build = "Behind a converter"
[jack.main]
volts = 12
[closure.hull]
[joint.down]
from = "main"
wire = { awg = 28, length_mm = 100 }
closure = "hull"
holds = [ { converter = "step-down", out_volts = 5, tolerance = 0.02, idle_mA = 4, max_amps = 1 } ]
[[group]]
name = "lamps"
closure = "hull"
joint = "down"
lights = [ { part = "smd warm white 5 V", count = 12 } ]
[[group]]
name = "few"
closure = "hull"
joint = "down"
lights = [ { part = "smd warm white 5 V", count = 2 } ]
`

// TestFailedLooseAtAnotherVoltage: what failed loose, at what its converter gives, isn't passed
// by a good reading at the jack of the same sitting when nothing was told to be touched.
func TestFailedLooseAtAnotherVoltage(t *testing.T) {
	y := newYard(t, BehindConverter)
	measure := func(stage string, of float64) {
		r := y.measure("few", stage, of*y.expected("few", stage))
		if stage == Loose {
			r.Step.Volts = 5
			r.Step.Ramp = []capture.RampPoint{{Volts: 5, LimitA: 0.2, MaxA: 0.2}}
		} else {
			r.Step.Way = capture.Joined // what two lit in turn tells: not weighed with what was read before
		}
	}
	for _, c := range []struct {
		loose   float64
		touched bool
		left    bool
	}{{0.5, false, true}, {0.5, true, false}, {1, false, false}} {
		y.h = History{}
		measure(Loose, c.loose)
		if _, then := y.verdicts(); fails(then["few"].Verdict) != (c.loose < 1) {
			t.Errorf("%.2f of it loose: %s", c.loose, then["few"].Verdict)
		}
		if c.touched {
			y.rework("few")
		}
		measure(Fitted, 1)
		_, groups := y.verdicts()
		f := groups["few"]
		if left := f.Verdict == CantTell && strings.Contains(f.Why, "when it was "+Loose); left != c.left {
			t.Errorf("%.1f of it loose, touched %t: %s, %q", c.loose, c.touched, f.Verdict, f.Why)
		}
	}
}
