package capture

import (
	"context"
	"strings"
	"testing"
	"time"
)

func runOne(t *testing.T, b *bench, bb Bench, s Step, f Face) (StepRecord, *record) {
	t.Helper()
	r := &record{}
	recs, err := Run(context.Background(), bb, &guide{steps: []Step{s}}, f, r, seeded())
	if err != nil {
		t.Fatal(err)
	}
	if len(recs) != 1 {
		t.Fatalf("%d records", len(recs))
	}
	b.mustOff()
	return recs[0], r
}

func TestRampTrips(t *testing.T) {
	for _, c := range []struct {
		name  string
		load  func(v float64, _ []int, since time.Duration) float64
		volts float64
		want  string
	}{
		{"a short", func(v float64, _ []int, _ time.Duration) float64 { return v / 0.5 }, 1, "a short: no LED"},
		{"an LED without its resistor", func(v float64, _ []int, _ time.Duration) float64 { return max(0, (v-2)/10) },
			3, "a missing resistor"},
		// 9 mA at 3 V: above what is allowed there, below the limit, and no more at 12 V.
		{"too much early", func(v float64, _ []int, _ time.Duration) float64 { return min(0.009, max(0, v-2)) }, 3,
			"a missing resistor"},
		{"too many branches", func(v float64, _ []int, _ time.Duration) float64 { return max(0, (v-2)*0.0031) }, 12,
			"more hangs on it"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, c.load)
			f := &face{}
			s := ledStep("1", "nav lights")
			s.Ramp[1].MaxA, s.Ramp[1].LimitA = 0.008, 0.010
			rec, r := runOne(t, b, b.Bench(), s, f)
			if rec.Outcome != Tripped || rec.TripVolts != c.volts || !strings.Contains(rec.Reason, c.want) {
				t.Errorf("%s at %v V: %q, want %q at %v V", rec.Outcome, rec.TripVolts, rec.Reason, c.want, c.volts)
			}
			limited := strings.Contains(rec.Reason, "at its limit")
			if !strings.Contains(rec.Reason, "mA is allowed;") ||
				limited != strings.Contains(rec.Reason, "(the meter last read ") {
				t.Errorf("%q doesn't say what was read and what is allowed", rec.Reason)
			}
			if len(rec.Readings) == 0 || len(r.readings) != len(rec.Readings) {
				t.Error("the trace was not kept")
			}
			if !strings.Contains(r.kinds(), "tripped end") {
				t.Errorf("marks %q", r.kinds())
			}
			for _, l := range b.lines() {
				if c.volts < 12 && strings.HasPrefix(l, "set 12") {
					t.Error("went on to 12 V")
				}
			}
		})
	}
}

// A board's capacitor may hold the supply at its limit for the inrush time.
func TestInrushIsNoTrip(t *testing.T) {
	charging := func(d time.Duration) func(float64, []int, time.Duration) float64 {
		return func(v float64, _ []int, since time.Duration) float64 {
			if since < d {
				return 1
			}
			return 0.020
		}
	}
	s := ledStep("1", "beacon")
	s.Ramp = []RampPoint{{12, 0.05, 0.02, 0.03}}
	s.Inrush = 600 * time.Millisecond
	b := newBench(t, charging(500*time.Millisecond))
	if rec, _ := runOne(t, b, b.Bench(), s, &face{}); rec.Outcome != Measured {
		t.Errorf("%s: %s", rec.Outcome, rec.Reason)
	}
	b = newBench(t, charging(2*time.Second))
	rec, _ := runOne(t, b, b.Bench(), s, &face{})
	if rec.Outcome != Tripped {
		t.Fatalf("%s: %s", rec.Outcome, rec.Reason)
	}
	if d := rec.Ended.Sub(rec.On); d > 800*time.Millisecond {
		t.Errorf("tripped after %v", d)
	}
}

// From the moment of over-current to the end of the off command: one reading
// with its watch, and one command.
func TestOverCurrentToOff(t *testing.T) {
	for _, c := range []struct {
		name string
		amps float64 // the limit is 33 mA, the most allowed 30 mA
	}{{"below the limit", 0.032}, {"at the limit", 0.5}} {
		t.Run(c.name, func(t *testing.T) {
			var at time.Time
			b := newBench(t, nil)
			b.load = func(v float64, _ []int, since time.Duration) float64 {
				if since > 1800*time.Millisecond+7*time.Millisecond {
					if at.IsZero() {
						at = b.since.Add(1807 * time.Millisecond)
					}
					return c.amps
				}
				return led(v, nil, since)
			}
			rec, _ := runOne(t, b, b.Bench(), ledStep("1", "nav lights"), &face{})
			if rec.Outcome != Tripped {
				t.Fatalf("%s: %s", rec.Outcome, rec.Reason)
			}
			var off time.Time
			for i, l := range b.log {
				if l == "off" && b.times[i].After(at) {
					off = b.times[i]
					break
				}
			}
			// Spacing 100 ms + 30 % jitter, a reading of 50 ms, the watch and both
			// read-backs of 10 ms each, one command of 10 ms.
			most := 130*time.Millisecond + 50*time.Millisecond + 4*exchange
			if d := off.Sub(at); d <= 0 || d > most {
				t.Errorf("off %v after the over-current, at most %v", d, most)
			}
		})
	}
}

// What charges may be beyond the meter's range while it charges.
func TestOverloadWhileChargingIsNoTrip(t *testing.T) {
	b := newBench(t, func(v float64, _ []int, since time.Duration) float64 {
		if since < 500*time.Millisecond {
			return 0.045
		}
		return 0.020
	})
	b.overAt = 0.041
	s := ledStep("1", "beacon")
	s.Ramp = []RampPoint{{12, 0.05, 0.02, 0.03}}
	s.Inrush = 600 * time.Millisecond
	if rec, _ := runOne(t, b, b.Bench(), s, &face{}); rec.Outcome != Measured {
		t.Errorf("%s: %s", rec.Outcome, rec.Reason)
	}
}

func TestOverloadWithoutALargerRangeTrips(t *testing.T) {
	b := newBench(t, led)
	b.overAt = 0.015
	rec, r := runOne(t, b, b.Bench(), ledStep("1", "nav lights"), &face{})
	if rec.Outcome != Tripped || !strings.Contains(rec.Reason, "overload") {
		t.Errorf("%s: %s", rec.Outcome, rec.Reason)
	}
	kept := false
	for _, x := range r.readings {
		if x.Status == "overload" {
			kept = kept || x.Value == nil
		}
	}
	if !kept {
		t.Error("the overload was not kept")
	}
}

func TestLimitStaysBelowTheMetersFuse(t *testing.T) {
	b := newBench(t, led)
	bb := b.Bench()
	bb.MeterFuseAmps = 0.025
	s := ledStep("1", "nav lights")
	if rec, _ := runOne(t, b, bb, s, &face{}); rec.Outcome != Measured {
		t.Fatalf("%s: %s", rec.Outcome, rec.Reason)
	}
	for _, l := range b.lines() {
		if l == "set 12.00 0.0330" {
			t.Error("the limit lies above the fuse of 25 mA")
		}
	}
	s.Ramp[2].ExpectA = 0.030 // more than the fuse
	b = newBench(t, led)
	rec, _ := runOne(t, b, bb2(b, 0.025), s, &face{answer: func(q Question) (Answer, error) {
		if q.Kind == AskAgain {
			return Answer{Choice: "next"}, nil
		}
		return Answer{Choice: "done"}, nil
	}})
	if rec.Outcome != Failed || !strings.Contains(rec.Reason, "fuse") ||
		strings.Contains(strings.Join(b.lines(), " "), "on") {
		t.Errorf("%s: %s, %v", rec.Outcome, rec.Reason, b.lines())
	}
}

func bb2(b *bench, fuse float64) Bench {
	x := b.Bench()
	x.MeterFuseAmps = fuse
	return x
}

func TestDarkMeterIsNamed(t *testing.T) {
	b := newBench(t, led)
	b.scale = 1e-9
	rec, _ := runOne(t, b, b.Bench(), ledStep("1", "nav lights"), &face{})
	if rec.Outcome != Measured || !strings.Contains(strings.Join(rec.Warnings, " "), "meter's leads, jack and fuse") {
		t.Errorf("%s, warnings %q", rec.Outcome, rec.Warnings)
	}
}

func TestDisagreementIsShown(t *testing.T) {
	b := newBench(t, led)
	b.scale = 0.8 // 16 mA against 20 mA ± 3 mA
	f := &face{}
	rec, _ := runOne(t, b, b.Bench(), ledStep("1", "nav lights"), f)
	if !strings.Contains(strings.Join(rec.Warnings, " "), "disagree") || len(f.kinds(Warning)) == 0 {
		t.Errorf("warnings %q", rec.Warnings)
	}
	b = newBench(t, led)
	b.scale = 0.9 // within both
	rec, _ = runOne(t, b, b.Bench(), ledStep("1", "nav lights"), &face{})
	if len(rec.Warnings) != 0 {
		t.Errorf("warnings %q", rec.Warnings)
	}
}

// A blinker's pairs scatter since both instruments read one after the other.
func TestBlinkerIsNoDisagreement(t *testing.T) {
	b := newBench(t, func(v float64, _ []int, since time.Duration) float64 {
		if v < 11 || since%(800*time.Millisecond) < 300*time.Millisecond {
			return 0.001
		}
		return 0.020
	})
	s := ledStep("1", "beacon")
	s.Board, s.For = "beacon", 20*time.Second
	rec, _ := runOne(t, b, b.Bench(), s, &face{})
	for _, w := range rec.Warnings {
		if strings.Contains(w, "supply") {
			t.Errorf("warning %q", w)
		}
	}
}
