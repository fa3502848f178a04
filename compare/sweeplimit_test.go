package compare_test

import (
	"context"
	"testing"

	"sealworthy/compare/load"
)

// Behind a converter more flows at a lower voltage than at the service voltage. What a fault makes of
// the draw there is held at the limit that was in force there, not at that of the service voltage:
// else a lack of a fiftieth seems excluded, and P(healthy) is surer than anybody can be who knows all
// that the pieces were drawn from.
func TestEachVoltageOfASweepHasItsOwnLimit(t *testing.T) {
	if raceEnabled {
		t.Skip("statistics run without the race detector")
	}
	const src = `build = "Lightship"
[jack.main]
volts = 12
[part."reel of warm white 3 mm"]
like = "warm white 3 mm"
spread_volts = 0.05
share = 0.25
[part."reel of strip warm white 5 V"]
like = "strip warm white 5 V"
segment_mA = 17.6
tolerance = 0.05
share = 0.8
[closure.hull]
[joint."cabin"]
from = "main"
wire = { mm2 = 0.14, stranded = true, length_mm = 251 }
closure = "hull"
holds = [ { converter = "step-down", out_volts = 5, tolerance = 0.03, idle_mA = 4, max_amps = 1 } ]
[[group]]
name = "cabin"
closure = "hull"
joint = "cabin"
lights = [ { part = "reel of warm white 3 mm", in_series = 1, ohms = 820, ohms_tolerance = 0.01, count = 4 },
	{ part = "reel of strip warm white 5 V", segments = 6 } ]
`
	for seed := range uint64(4) {
		m, err := measured(context.Background(), seed+1, src, nil, how{law: load.PlanLaw, sweep: true})
		if err == nil {
			m, err = m.judged(1)
		}
		if err != nil {
			t.Fatal(err)
		}
		f := m.closures[0].Groups[0]
		above := false // the service voltage's own limit: without it the test tells nothing
		for _, r := range m.records {
			for _, x := range f.Also {
				above = above || r.Step.ID == f.StepID && x.MeasuredA > r.Step.LimitA()
			}
		}
		if !above {
			t.Errorf("build %d: nothing read above the limit of the service voltage", seed+1)
		}
		o, err := newUntoldOracle(m, "cabin", 120)
		if err != nil {
			t.Fatal(err)
		}
		healthy, excluded, chi2, err := o.judge()
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("build %d: %s, healthy %.3f; an oracle %.3f, excludes each loss %v, chi2 %.1f of %d", seed+1,
			f.Verdict, f.PHealthy, healthy, excluded, chi2, o.own)
		if f.PHealthy > healthy+0.02 {
			t.Errorf("build %d: %s, healthy %.3f; an oracle says %.3f", seed+1, f.Verdict, f.PHealthy, healthy)
		}
	}
}
