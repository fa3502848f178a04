package compare

import (
	"math"
	"testing"
)

// What is set on the way up has one place behind the point, which a knob has, whatever the
// voltage is that it leads to.
func TestAKnobCanBeTurnedToEachPoint(t *testing.T) {
	for top := 1.0; top <= 24; top += 0.05 {
		all := rampVolts(top)
		if all[len(all)-1] != top {
			t.Errorf("to %v V it ends at %v", top, all)
		}
		for _, v := range all[:len(all)-1] {
			if math.Abs(10*v-math.Round(10*v)) > 1e-9 || v >= top {
				t.Errorf("to %v V it goes by %v", top, v)
			}
		}
	}
}
