package compare_test

import (
	"context"
	"math"
	"testing"

	"sealworthy/compare/load"
)

// The printed band goes with what is expected once other groups were read: a healthy draw that is
// within what it's expected to vary lies in it, too where the others make it less sure than the plan.
func TestTheBandGoesWithWhatIsExpected(t *testing.T) {
	if raceEnabled {
		t.Skip("statistics run without the race detector")
	}
	for _, seed := range []uint64{2, 13} {
		m, err := measureModel(context.Background(), seed, how{law: load.OtherLaw, sweep: true})
		if err != nil {
			t.Fatal(err)
		}
		if m, err = m.judged(2); err != nil {
			t.Fatal(err)
		}
		for _, c := range m.closures {
			for _, f := range c.Groups {
				if !(f.Band.Coverage > 0 && f.Band.Coverage < 1) || !(f.ExpectedU > 0) || m.fault != nil &&
					f.Group == m.fault.Group {
					continue
				}
				off := math.Abs(f.MeasuredA-f.ExpectedA) / math.Hypot(f.ExpectedU, f.MeasuredU)
				if out := f.MeasuredA < f.Band.LowA || f.MeasuredA > f.Band.HighA; out && off < 1.5 {
					t.Errorf("model %d, %s %s: %.2f mA is %.2f standard deviations off %.2f, and outside of %.2f to %.2f",
						seed, f.Group, f.Pace, 1e3*f.MeasuredA, off, 1e3*f.ExpectedA, 1e3*f.Band.LowA, 1e3*f.Band.HighA)
				}
			}
		}
	}
}
