package capture

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
)

func TestSettlesWhenTheDrawDoes(t *testing.T) {
	// A draw that creeps to 20 mA with a time constant of 0.5 s after 12 V.
	const tau = 0.5
	b := newBench(t, func(v float64, _ []int, since time.Duration) float64 {
		if v < 12 {
			return 0.001
		}
		return 0.020 - 0.005*math.Exp(-since.Seconds()/tau)
	})
	s := ledStep("1", "nav lights")
	s.Settle = Settle{Min: 100 * time.Millisecond, Max: 10 * time.Second, Window: 500 * time.Millisecond, Rel: 0.005,
		AbsA: 0.0001}
	rec, _ := runOne(t, b, b.Bench(), s, &face{})
	if rec.Settled.IsZero() || len(rec.Warnings) != 0 {
		t.Fatalf("settled %v, %q", rec.Settled, rec.Warnings)
	}
	// The means of two neighbouring windows w differ by 5 mA (tau/w) (e^(w/tau)-1)^2 e^(-t/tau) (computed);
	// with w = tau they agree within 0.2 mA from t = tau ln(5/0.2 (e-1)^2) = 2.15 s on.
	if d := rec.Settled.Sub(rec.On).Seconds(); d < 2.1 || d > 2.4 {
		t.Errorf("settled after %.2f s, want 2.15 s and a reading", d)
	}
	if v, _ := rec.Trace("meter", instruments.Current)[0].Float(); math.Abs(v-0.020) > 0.0003 {
		t.Errorf("first reading of the trace %v", v)
	}
}

func TestSettleGivesUpAtMaxAndSaysSo(t *testing.T) {
	b := newBench(t, func(v float64, _ []int, since time.Duration) float64 {
		if v < 12 {
			return 0.001
		}
		return 0.005 + 0.004*since.Seconds()
	})
	s := ledStep("1", "nav lights")
	s.For = time.Second
	rec, _ := runOne(t, b, b.Bench(), s, &face{})
	if rec.Outcome != Measured || !strings.Contains(strings.Join(rec.Warnings, " "), "not settled") {
		t.Errorf("%s %s, warnings %q", rec.Outcome, rec.Reason, rec.Warnings)
	}
}

func TestAtRest(t *testing.T) {
	t0 := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	at := func(values ...float64) (out []instruments.Reading) { // each 100 ms
		for i, v := range values {
			r := instruments.Reading{Status: instruments.OK, Value: &v,
				At: t0.Add(time.Duration(i+1) * 100 * time.Millisecond)}
			if math.IsNaN(v) {
				r.Status, r.Value = instruments.Overload, nil
			}
			out = append(out, r)
		}
		return out
	}
	s := Settle{Window: 200 * time.Millisecond, Rel: 0.01, AbsA: 0.1}
	for _, c := range []struct {
		name string
		seen []instruments.Reading
		want bool
	}{
		{"nothing", nil, false},
		{"one window only", at(10, 10, 10), false},
		{"level", at(10, 10, 10, 10), true},
		{"step between the windows", at(10, 10, 11, 11), false},
		{"within Rel and Abs", at(10, 10, 10.15, 10.2), true},
		{"blinks within each window", at(0, 10, 0, 10), true},
		{"older readings don't count", at(99, 99, 10, 10, 10, 10), true},
		{"overload only", at(10, 10, math.NaN(), math.NaN()), false},
	} {
		if got := atRest(c.seen, t0, s); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

func TestRangeChangeIsNoted(t *testing.T) {
	b := newBench(t, led)
	n := 0
	m := &ranging{fakeMeter: fakeMeter{b, "meter A"}, name: func() string {
		if n++; n > 20 {
			return "400 mA"
		}
		return "40 mA"
	}}
	bb := b.Bench()
	bb.Meter = m
	rec, _ := runOne(t, b, bb, ledStep("1", "nav lights"), &face{})
	if !strings.Contains(strings.Join(rec.Warnings, " "), "from 40 mA to 400 mA") {
		t.Errorf("warnings %q", rec.Warnings)
	}
	if len(m.fixed) != 1 || m.fixed[0] != 0.030 {
		t.Errorf("range fixed for %v, want the peak of 30 mA once", m.fixed)
	}
}

// ranging is a meter with ranges.
type ranging struct {
	fakeMeter
	name  func() string
	fixed []float64
}

func (m *ranging) Describe() instruments.Description {
	d := m.fakeMeter.Describe()
	for _, r := range []struct {
		n string
		m float64
	}{{"400 mA", 0.4}, {"40 mA", 0.04}, {"15 mA", 0.015}} {
		d.Ranges = append(d.Ranges, instruments.Range{Name: r.n, Quantity: instruments.Current, Max: r.m})
	}
	return d
}

func (m *ranging) FixRange(_ context.Context, _ instruments.Quantity, peak float64) (instruments.Range, error) {
	m.fixed = append(m.fixed, peak)
	if peak >= 0.04 {
		m.b.overAt = 0
	}
	return instruments.Range{}, nil
}

func (m *ranging) Read(ctx context.Context, q instruments.Quantity) (instruments.Reading, error) {
	r, err := m.fakeMeter.Read(ctx, q)
	r.Range = m.name()
	return r, err
}

// An overload that a larger range helps is kept as overload and read on.
func TestOverloadTakesALargerRange(t *testing.T) {
	b := newBench(t, led)
	b.overAt = 0.015
	m := &ranging{fakeMeter: fakeMeter{b, "meter A"}}
	m.name = func() string {
		if len(m.fixed) > 1 {
			return "40 mA"
		}
		return "15 mA"
	}
	bb := b.Bench()
	bb.Meter = m
	rec, _ := runOne(t, b, bb, ledStep("1", "nav lights"), &face{})
	if rec.Outcome != Measured || len(m.fixed) != 2 || m.fixed[1] != 0.04 {
		t.Errorf("%s: %s; ranges fixed for %v", rec.Outcome, rec.Reason, m.fixed)
	}
	if !strings.Contains(strings.Join(rec.Warnings, " "), "changed to 40 mA") {
		t.Errorf("warnings %q", rec.Warnings)
	}
}

// An overload of a range that holds all that is allowed is too much for sure.
func TestOverloadOfTheWholeRangeTripsAtOnce(t *testing.T) {
	b := newBench(t, led)
	b.overAt = 0.015
	bb := b.Bench()
	bb.Meter = &ranging{fakeMeter: fakeMeter{b, "meter A"}, name: func() string { return "40 mA" }}
	rec, r := runOne(t, b, bb, ledStep("1", "nav lights"), &face{})
	over := 0
	for _, x := range r.readings {
		if x.Status == instruments.Overload {
			over++
		}
	}
	if rec.Outcome != Tripped || !strings.Contains(rec.Reason, "more than 40.0 mA") || over != 1 {
		t.Errorf("%s: %s, after %d overloads", rec.Outcome, rec.Reason, over)
	}
}

// keyedMeter has ranges that only its key can fix.
type keyedMeter struct{ ranging }

func (m *keyedMeter) FixRange(_ context.Context, _ instruments.Quantity, peak float64) (instruments.Range, error) {
	return instruments.Range{Name: "40 mA"}, instruments.ErrNotSet
}

func TestRangeByTheMetersKey(t *testing.T) {
	b := newBench(t, led)
	bb := b.Bench()
	bb.Meter = &keyedMeter{ranging{fakeMeter: fakeMeter{b, "meter A"}, name: func() string { return "40 mA" }}}
	f := &face{}
	f.answer = func(q Question) (Answer, error) {
		if b.outputOn() {
			t.Error("asked with the output on")
		}
		return plainest(q), nil
	}
	recs, err := Run(context.Background(), bb, &guide{steps: []Step{ledStep("1", "nav lights"), ledStep("2", "mast")}},
		f, &record{}, seeded())
	if err != nil {
		t.Fatal(err)
	}
	asked := 0
	for _, q := range f.questions(AskClip) {
		if strings.Contains(q.Text, "range 40 mA") {
			asked++
		}
	}
	if asked != 1 || recs[1].Outcome != Measured {
		t.Errorf("asked for the key %d times, %v", asked, outcomes(recs))
	}
	b.mustOff()
}

// Readings that come farther apart than the windows are long come to rest by the last
// two; close ones don't.
func TestRestOfASlowBench(t *testing.T) {
	began := time.Date(2026, 11, 27, 9, 0, 0, 0, time.UTC)
	at := func(ms int, a float64) instruments.Reading {
		return instruments.Reading{Status: instruments.OK, Value: &a,
			At: began.Add(time.Duration(ms) * time.Millisecond)}
	}
	s := Settle{Window: 300 * time.Millisecond, Rel: 0.01}
	for name, x := range map[string]struct {
		seen []instruments.Reading
		want bool
	}{
		"rare and alike":      {[]instruments.Reading{at(900, 0.02), at(1800, 0.02)}, true},
		"rare and moving":     {[]instruments.Reading{at(900, 0.03), at(1800, 0.02)}, false},
		"one":                 {[]instruments.Reading{at(900, 0.02)}, false},
		"close, after a rest": {[]instruments.Reading{at(900, 0.02), at(950, 0.02)}, false},
		"often": {[]instruments.Reading{at(300, 0.02), at(500, 0.02), at(700, 0.02), at(900, 0.02)},
			true},
	} {
		if got := atRest(x.seen, began, s); got != x.want {
			t.Errorf("%s: at rest %v", name, got)
		}
	}
	if restAfter(began, began.Add(40*time.Millisecond)) != began.Add(40*time.Millisecond) ||
		restAfter(began, began.Add(500*time.Millisecond)) != began.Add(2*time.Second) {
		t.Error("a quick supply is asked each time, a slow one a quarter of the time")
	}
}
