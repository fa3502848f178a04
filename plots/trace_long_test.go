package plots

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// TestLongTraceKeepsEverySpike: of a day of readings a picture shows the one dip, the one
// spike and the pause, at the size of a short one. Invented data.
func TestLongTraceKeepsEverySpike(t *testing.T) {
	began := time.Date(2027, 1, 4, 8, 0, 0, 0, time.UTC)
	r := capture.StepRecord{Step: capture.Step{Kind: capture.Power, Feed: "cabin windows", Volts: 12}, Began: began,
		Settled: began,
		Outcome: capture.Measured, Kept: &capture.Series{}}
	r.Kept.SettledAt(began)
	const n = 300000
	at := began
	for i := range n {
		at = at.Add(200 * time.Millisecond)
		v := 0.038 + 1e-5*math.Sin(float64(i))
		x := instruments.Reading{Instrument: "meter", Quantity: instruments.Current, Status: instruments.OK, At: at,
			Value: &v}
		switch i {
		case 123456:
			v = 0.001
		case 200001:
			v = 0.09
		case 250000:
			at = at.Add(time.Hour)
			x.At = at
		case 270000:
			x.Status, x.Value = instruments.Overload, nil
		}
		r.Kept.Add(x)
	}
	d, err := TraceOf(r, "", nil)
	if err != nil || !d.Thinned || d.Read != n-1 || len(d.Samples) > 4*(stretches+2) || len(d.Samples) < stretches/2 {
		t.Fatalf("%d samples of %d, thinned %v: %v", len(d.Samples), d.Read, d.Thinned, err)
	}
	low, high := 1.0, 0.0
	for i, x := range d.Samples {
		low, high = min(low, x.A), max(high, x.A)
		if i > 0 && x.S < d.Samples[i-1].S {
			t.Fatalf("sample %d goes back in time", i)
		}
	}
	if low != 0.001 || high != 0.09 || len(d.Pauses) != 1 || len(d.Overloads) != 1 || len(d.segments()) != 3 {
		t.Errorf("from %g to %g A, pauses %v, overloads %v, %d pieces", low, high, d.Pauses, d.Overloads,
			len(d.segments()))
	}
	if say := d.say(); !strings.Contains(say, "299999 readings") || !strings.Contains(say, "90.0 mA") {
		t.Error(say)
	}
	var b bytes.Buffer
	if err := Trace(&b, SVG, DefaultStyle(), d); err != nil || b.Len() > 100_000 {
		t.Errorf("%d bytes, %v", b.Len(), err)
	}
}
