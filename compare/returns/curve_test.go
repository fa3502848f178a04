package returns

import (
	"math"
	"testing"
)

// A curve goes straight on beyond its last point by how it went before, not by two
// points that lie a hair apart: a sweep's last voltage and that of the trace.
func TestBeyondTheLastPointACurveGoesOn(t *testing.T) {
	for _, c := range []struct {
		of      Curve
		at, amp float64
	}{
		{Curve{Volts: []float64{7.69, 9.84, 11.9826, 11.9828}, Amps: []float64{.0105, .0146, .01872, .01869}}, 12,
			.01872},
		{Curve{Volts: []float64{11.9826, 11.9828}, Amps: []float64{.01872, .01869}}, 11.983, .01866},
		{Curve{Volts: []float64{6, 12}, Amps: []float64{.01, .02}}, 13, .0217},
		{Curve{Volts: []float64{12}, Amps: []float64{.02}}, 13, .02},
	} {
		if got := c.of.At(c.at); math.Abs(got-c.amp) > 5e-5 {
			t.Errorf("%v at %.3f V: %.5f A, want %.5f", c.of, c.at, got, c.amp)
		}
	}
}
