package capture

import (
	"context"
	"math"
	"slices"
	"testing"
	"time"

	"sealworthy/instruments"
)

// swept is a step with three voltages of a sweep, downwards.
func swept() Step {
	s := ledStep("1", "nav lights")
	for _, v := range []float64{12, 8, 4} {
		s.Sweep = append(s.Sweep, SweepPoint{Volts: v, LimitA: 0.03, MaxA: 0.025, Settle: 200 * time.Millisecond,
			For: 500 * time.Millisecond})
	}
	return s
}

func TestASweepFollowsTheTrace(t *testing.T) {
	b := newBench(t, led)
	r := &record{}
	f := &face{}
	recs, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{swept()}}, f, r, seeded())
	if err != nil {
		t.Fatal(err)
	}
	b.mustOff()
	points := 0
	for _, e := range f.events { // whoever shows it says that it's the curve, at its own voltage
		if e.Sweeping && e.What == RampStep {
			points++
		}
		curve := points > 0 && e.What != OutputOff && e.What != StepEnds && e.What != Ended
		if e.Sweeping != curve || e.Sweeping && !e.OutputOn {
			t.Errorf("%s at %.0f V: sweeping %v, on %v", e.What, e.SetVolts, e.Sweeping, e.OutputOn)
		}
	}
	if points != 3 {
		t.Errorf("%d points of the curve are shown", points)
	}
	if got, want := r.kinds(), "begin on settled point point point end"; got != want {
		t.Fatalf("marks %q, want %q", got, want)
	}
	rec := recs[0]
	if rec.Outcome != Measured || len(rec.Points) != 3 {
		t.Fatalf("%s, %d points", rec.Outcome, len(rec.Points))
	}
	if n := len(rec.Trace("meter", instruments.Current)); n < 15 || n > 25 {
		t.Errorf("the trace has %d readings: those of the sweep don't belong to it", n)
	}
	for i, v := range []float64{12, 8, 4} {
		rs := rec.AtPoint(i, "meter", instruments.Current)
		if len(rs) < 3 || len(rec.AtPoint(i, "supply", instruments.Voltage)) == 0 {
			t.Fatalf("%d readings at %.0f V, %d of the voltage", len(rs), v,
				len(rec.AtPoint(i, "supply", instruments.Voltage)))
		}
		for _, x := range rs {
			if a, _ := x.Float(); math.Abs(a-led(v, nil, 0)) > 1e-4 {
				t.Errorf("%g A at %.0f V", a, v)
			}
			if x.At.Add(-x.Window).Before(rec.Points[i].At.Add(200 * time.Millisecond)) {
				t.Errorf("a reading of before the voltage had settled")
			}
		}
	}
	if !slices.Contains(b.lines(), "set 8.00 0.0300") {
		t.Errorf("no limit with its own voltage: %v", b.lines())
	}
}

func TestASweepTripsAtWhatIsTooMuch(t *testing.T) {
	s := swept()
	s.Sweep[1].MaxA = 0.001
	b := newBench(t, led)
	recs, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{s}}, &face{}, &record{}, seeded())
	if err != nil {
		t.Fatal(err)
	}
	b.mustOff()
	if recs[0].Outcome != Tripped || recs[0].TripVolts != 8 {
		t.Errorf("%s at %g V", recs[0].Outcome, recs[0].TripVolts)
	}
	if len(recs[0].AtPoint(0, "meter", instruments.Current)) == 0 {
		t.Error("what was read before the trip is lost")
	}
}

func TestASweepAboveTheStepOrWithoutALimitIsRefused(t *testing.T) {
	for name, p := range map[string]SweepPoint{"above": {Volts: 13, LimitA: 0.03}, "no limit": {Volts: 5}} {
		s := swept()
		s.Sweep = []SweepPoint{p}
		b := newBench(t, led)
		recs, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{s}}, &face{}, &record{}, seeded())
		if err != nil {
			t.Fatal(err)
		}
		b.mustOff()
		if recs[0].Outcome != Failed {
			t.Errorf("%s: %s", name, recs[0].Outcome)
		}
	}
}
