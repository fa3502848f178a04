package returns

import (
	"math"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// sweptBy is a sweep of 0.1 A at any voltage, by a supply that sets by a gain and an offset of its
// own and reads back in steps; out is by how much it falls short at one voltage.
func sweptBy(step float64, out map[int]float64) (r capture.StepRecord, trueV []float64) {
	at := time.Date(2026, 12, 1, 10, 0, 0, 0, time.UTC)
	r = capture.StepRecord{Settled: at, Instruments: map[string]instruments.Description{
		meterName: {Identity: "m", Ranges: []instruments.Range{{Name: "2 A", Quantity: instruments.Current, Max: 2,
			BurdenOhm: 0.1}}},
		supplyName: {Ranges: []instruments.Range{{Quantity: instruments.Voltage, Resolution: step}}}}}
	for i := range 21 {
		set := 2 + float64(i)/2
		is := set*1.0005 - 0.0003 - out[i]
		trueV = append(trueV, is)
		r.Step.Sweep = append(r.Step.Sweep, capture.SweepPoint{Volts: set, For: time.Second})
		r.Points = append(r.Points, capture.PointAt{Volts: set, At: at})
		for k := range 3 {
			now, amps, volts := at.Add(time.Duration(k+1)*100*time.Millisecond), 0.1, math.Round(is/step)*step
			r.Readings = append(r.Readings,
				instruments.Reading{Instrument: meterName, Quantity: instruments.Current, At: now, Value: &amps,
					Range: "2 A", Status: instruments.OK},
				instruments.Reading{Instrument: supplyName, Quantity: instruments.Voltage, At: now, Value: &volts,
					Status: instruments.OK})
		}
		at = at.Add(time.Second)
	}
	r.Ended = at
	return r, trueV
}

// A supply that reads back in steps of 10 mV rounds some voltages up and the next ones down:
// 5 mV too much below, as much too little above, and 0.5 mA of a model's draw between them.
func TestTheRoundingOfASupplyIsTakenOffASweep(t *testing.T) {
	r, is := sweptBy(0.01, nil)
	ps := pointsOf(r, Leads{Ohm: 0.1})
	if len(ps) != len(is) {
		t.Fatalf("%d points", len(ps))
	}
	worst, jump, rounded := 0.0, 0.0, 0.0
	off := func(i int) float64 { return ps[i].volts - is[i] + 0.02 } // leads and burden
	read := func(i int) float64 { return math.Round(is[i]/0.01)*0.01 - is[i] }
	for i := range ps {
		worst = math.Max(worst, math.Abs(off(i)))
		if i > 0 {
			jump, rounded = math.Max(jump, math.Abs(off(i)-off(i-1))), math.Max(rounded, math.Abs(read(i)-read(i-1)))
		}
	}
	t.Logf("off by %.1f mV at most; by %.1f between neighbours, as read by %.1f", 1e3*worst, 1e3*jump, 1e3*rounded)
	if worst > 0.004 || jump > 0.0005 || rounded < 0.009 {
		t.Errorf("%.4f V off, %.4f between neighbours", worst, jump)
	}
	// Where the supply was out of command it stays as read: that voltage was there.
	r, is = sweptBy(0.01, map[int]float64{20: 0.3})
	if ps := pointsOf(r, Leads{Ohm: 0.1}); math.Abs(ps[20].volts-is[20]+0.02) > 0.006 {
		t.Errorf("%.3f V, it was %.3f", ps[20].volts, is[20]-0.02)
	}
}
