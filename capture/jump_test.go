package capture

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
)

// gentle is a step whose limit hardly rises over most of its ramp: 4 mA are
// expected, from 9 V on.
func gentle() Step {
	s := ledStep("1", "nav lights")
	s.Ramp = nil
	for _, v := range []float64{1.5, 3, 4.5, 6, 7.5, 9, 10.5, 12} {
		most := 0.004 + max(0, v-9)*0.0015
		s.Ramp = append(s.Ramp, RampPoint{Volts: v, LimitA: most + 0.002, MaxA: most})
	}
	return s
}

// voltages are those that the supply was set to, in order.
func voltages(b *bench) (out []string) {
	for _, l := range b.lines() {
		if f := strings.Fields(l); f[0] == "set" {
			out = append(out, f[1])
		}
	}
	return out
}

// Points are left out where the limit holds all that they would have stopped. What
// stops it there is met again point by point, so that it trips where it always did.
func TestARampLeavesOutPointsThatTheLimitStandsFor(t *testing.T) {
	few := func(v float64, _ []int, _ time.Duration) float64 { return max(0, (v-9)*0.001) }
	for _, c := range []struct {
		name string
		load func(v float64, _ []int, _ time.Duration) float64
		step func(*Step)
		walk []string
		trip float64 // V; 0: none
		want string
	}{
		{"healthy", few, nil, []string{"1.50", "12.00"}, 0, ""},
		{"a short", short, nil, []string{"1.50"}, 1.5, "a short: no LED"},
		{"an LED without its resistor", func(v float64, _ []int, _ time.Duration) float64 {
			return max(0, (v-2.8)/20)
		}, nil,
			[]string{"1.50", "12.00", "3.00"}, 3, "a missing resistor"},
		{"too many near the top", func(v float64, _ []int, _ time.Duration) float64 {
			return max(0, (v-9)*0.0036)
		}, nil,
			[]string{"1.50", "12.00", "3.00", "4.50", "6.00", "7.50", "9.00", "10.50", "12.00"}, 12,
			"more hangs on it"},
		// A part bears 3 mA: the limit may not rise by more in one go.
		{"a part that bears little", few, func(s *Step) { s.BearsA = 0.003 }, []string{"1.50", "10.50", "12.00"},
			0, ""},
		{"a board", few, func(s *Step) { s.Board = "beacon" }, []string{"1.50", "3.00", "4.50", "6.00", "7.50", "9.00",
			"10.50", "12.00"}, 0, ""},
		{"joined wires", few, func(s *Step) { s.Way = Joined }, []string{"1.50", "3.00", "4.50", "6.00", "7.50",
			"9.00", "10.50", "12.00"}, 0, ""},
		{"much more at the top", few, func(s *Step) { s.Ramp[7].LimitA, s.Ramp[7].MaxA = 0.2, 0.15 },
			[]string{"1.50", "10.50", "12.00"}, 0, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, c.load)
			s := gentle()
			if c.step != nil {
				c.step(&s)
			}
			rec, r := runOne(t, b, b.Bench(), s, &face{})
			if got := voltages(b); !slices.Equal(got, c.walk) {
				t.Errorf("went over %v, want %v", got, c.walk)
			}
			switch {
			case c.trip == 0 && rec.Outcome != Measured:
				t.Errorf("%s: %s", rec.Outcome, rec.Reason)
			case c.trip > 0 && (rec.Outcome != Tripped || rec.TripVolts != c.trip ||
				!strings.Contains(rec.Reason, c.want)):
				t.Errorf("%s at %v V: %q, want %q at %v V", rec.Outcome, rec.TripVolts, rec.Reason, c.want, c.trip)
			}
			if len(r.readings) != len(rec.Readings) || len(rec.Readings) == 0 {
				t.Error("the trace was not kept")
			}
			if c.trip == 0 && s.RampPoints() != len(c.walk) {
				t.Errorf("%d points are foreseen, %d were walked", s.RampPoints(), len(c.walk))
			}
			for _, l := range b.lines() {
				if strings.HasPrefix(l, "set ") && !slices.ContainsFunc(s.Ramp, func(p RampPoint) bool {
					return l == fmt.Sprintf("set %.2f %.4f", p.Volts, p.LimitA)
				}) {
					t.Errorf("%q is no point of the ramp with its own limit", l)
				}
			}
		})
	}
}

// A supply whose limit is in force far above what it's asked for protects by its ramp
// alone: every point is walked.
func TestCoarseLimitsGetEveryPoint(t *testing.T) {
	b := newBench(t, func(v float64, _ []int, _ time.Duration) float64 { return max(0, (v-9)*0.001) })
	x := b.Bench()
	x.Supply = steps{x.Supply.(*fakeSupply), 0.1}
	rec, _ := runOne(t, b, x, gentle(), &face{})
	if got := voltages(b); rec.Outcome != Measured || len(got) != len(gentle().Ramp) {
		t.Errorf("%s: went over %v", rec.Outcome, got)
	}
}

// What charges at the end of a jump and draws little then is no fault.
func TestChargingAtAJumpIsNoTrip(t *testing.T) {
	charged := 0.0
	var last time.Duration
	b := newBench(t, nil)
	b.load = func(v float64, _ []int, since time.Duration) float64 {
		// 900 uF behind 10 ohm, charged by what the supply's limit lets through.
		if since < last {
			last = since
		}
		a := max(0, (v-charged)/10)
		charged += min(a, b.limit) / 900e-6 * (since - last).Seconds()
		charged = min(charged, v)
		last = since
		return a
	}
	s := gentle()
	s.Inrush = 300 * time.Millisecond
	rec, _ := runOne(t, b, b.Bench(), s, &face{})
	if rec.Outcome != Measured || len(voltages(b)) < 3 {
		t.Errorf("%s: %s; it went over %v", rec.Outcome, rec.Reason, voltages(b))
	}
}

// A supply that takes its time is waited for, one that comes at once isn't.
func TestARampGoesOnWhenTheOutputStands(t *testing.T) {
	took := func(slow time.Duration) time.Duration {
		b := newBench(t, led)
		b.slow = slow
		rec, _ := runOne(t, b, b.Bench(), ledStep("1", "nav lights"), &face{})
		if rec.Outcome != Measured {
			t.Fatalf("%s: %s", rec.Outcome, rec.Reason)
		}
		for i, x := range rec.Readings { // each voltage stood before its draw was judged
			if x.Instrument == "meter" && x.At.Before(rec.Settled) && i > 0 &&
				rec.Readings[i-1].Quantity == instruments.Voltage &&
				math.Abs(*rec.Readings[i-1].Value-rec.Step.Volts) > 0.1 && *x.Value > 0.019 {
				t.Errorf("%v A where the output said %v V", *x.Value, *rec.Readings[i-1].Value)
			}
		}
		return rec.Settled.Sub(rec.On)
	}
	fast, slow := took(0), took(120*time.Millisecond)
	if fast > 1200*time.Millisecond || slow < fast+300*time.Millisecond {
		t.Errorf("to rest within %v, and %v with a slow supply", fast, slow)
	}
}
