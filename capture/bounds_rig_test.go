package capture_test

import (
	"context"
	"strings"
	"testing"

	"sealworthy/capture"
)

// Through the drivers, too: what the bench never goes above isn't even set, and
// what may burn never switches the output on.
func TestBoundsOnASimulatedBench(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*bed, *capture.Step)
		want   capture.Outcome
		says   string
	}{
		{"within", func(b *bed, s *capture.Step) { b.b.MostVolts, b.b.MostAmps = 12, 0.028 }, capture.Measured, ""},
		{"volts", func(b *bed, s *capture.Step) { b.b.MostVolts = 11.9 }, capture.Failed, "never goes above 11.90 V"},
		{"amps", func(b *bed, s *capture.Step) { b.b.MostAmps = 0.015 }, capture.Failed, "never goes above 15.0 mA"},
		{"hazard", func(b *bed, s *capture.Step) {
			s.Hazards = []capture.Hazard{{Check: "no resistor: cabin", Text: "it burns"}}
		},
			capture.Skipped, capture.NotPowered + "it burns"},
	} {
		b := newBed(t, &model{})
		on := false
		s := cabin()
		c.change(b, &s)
		most := 0.0
		f := capture.Unattended{OnEvent: func(e capture.Event) {
			on = on || e.OutputOn || b.r.Output().On
			most = max(most, e.LimitA)
		}}
		recs, err := capture.Run(context.Background(), b.b, list{s}, f, &lines{}, b.o)
		if err != nil {
			t.Fatal(err)
		}
		b.mustOff(t)
		if recs[0].Outcome != c.want || !strings.Contains(recs[0].Reason, c.says) {
			t.Errorf("%s: %s %q", c.name, recs[0].Outcome, recs[0].Reason)
		}
		if on != (c.want == capture.Measured) || c.name == "within" && most != 0.028 {
			t.Errorf("%s: output on %v, limit up to %g A", c.name, on, most)
		}
	}
}
