package capture

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"sealworthy/instruments"
)

// anyReadings are invented: several instruments, jumps of range and time, no values.
func anyReadings(r *rand.Rand, n int) []instruments.Reading {
	at := time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC)
	var out []instruments.Reading
	for range n {
		at = at.Add(time.Duration(r.Int64N(1e8)))
		v := math.Round(r.NormFloat64()*1e4) / 1e6
		x := instruments.Reading{Instrument: "meter", Quantity: instruments.Current, Unit: "A", Status: instruments.OK,
			Range:   "200 mA",
			Latency: time.Duration(r.Int64N(300)) * time.Millisecond,
			At:      at, Window: 20 * time.Millisecond, HalfWidth: 0.002*math.Abs(v) + 5e-6, Value: &v}
		switch r.IntN(20) {
		case 0:
			x.Status, x.Value = instruments.Overload, nil
		case 1:
			v = math.Float64frombits(r.Uint64())
		case 2:
			v = math.Round(v*1e6*1e3) / 1e9
		case 3:
			x.Instrument, x.Range = "supply", string(rune('a'+r.IntN(26)))
		case 4:
			x.Window = time.Duration(r.Int64() - 1<<62)
		case 5:
			v, x.HalfWidth = math.Copysign(0, -1), math.Inf(1)
		case 6:
			x.At = time.Unix(0, r.Int64()).UTC()
		}
		out = append(out, x)
	}
	return out
}

// same compares readings bit by bit: NaN is itself.
func sameReading(a, b instruments.Reading) bool {
	if (a.Value == nil) != (b.Value == nil) || a.Value != nil && !same(*a.Value, *b.Value) ||
		!same(a.HalfWidth, b.HalfWidth) || !a.At.Equal(b.At) {
		return false
	}
	a.Value, b.Value, a.HalfWidth, b.HalfWidth, a.At, b.At = nil, nil, 0, 0, time.Time{}, time.Time{}
	return reflect.DeepEqual(a, b)
}

// TestSeries: what is packed comes back as it was, whenever it is asked for.
func TestSeries(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{0, 1, 7, 300, 20000} {
		want := anyReadings(r, n)
		s := &Series{}
		for i, x := range want {
			s.Add(x)
			if i == n/2 {
				s.End() // and goes on all the same
				want = slices.Concat(slices.SortedStableFunc(slices.Values(want[:i+1]),
					func(a, b instruments.Reading) int { return a.At.Compare(b.At) }), want[i+1:])
			}
		}
		if got := slices.Collect(s.All()); s.Len() != n || !slices.EqualFunc(got, want, sameReading) {
			t.Fatalf("%d readings: %d came back, or others", n, len(got))
		}
		s.End()
		slices.SortStableFunc(want, func(a, b instruments.Reading) int { return a.At.Compare(b.At) })
		if got := slices.Collect(s.All()); !slices.EqualFunc(got, want, sameReading) {
			t.Fatalf("%d readings in the order of time: %d came back, or others", n, len(got))
		}
	}
	if b, err := json.Marshal((&StepRecord{Kept: &Series{}}).Kept); err != nil || string(b) != "[]" {
		t.Errorf("none is %s, %v", b, err)
	}
	if (*Series)(nil).Len() != 0 || slices.Collect((*Series)(nil).All()) != nil {
		t.Error("no series is not empty")
	}
}

// TestSeriesIsSmall: a trace as a meter reads it takes some ten bytes a reading.
func TestSeriesIsSmall(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	s, at, n := &Series{}, time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC), mostWhole
	for i := range n {
		at = at.Add(50*time.Millisecond + time.Duration(r.Int64N(1e6)))
		v := 0.0381 + 0.02*float64(i/40%2) + math.Round(r.NormFloat64()*20)/1e6
		s.Add(instruments.Reading{Instrument: "meter", Quantity: instruments.Current, Unit: "A",
			Status: instruments.OK, Range: "200 mA",
			At: at, Window: 20 * time.Millisecond, HalfWidth: 0.002*math.Abs(v) + 5e-5, Value: &v})
	}
	bytes := 0
	for _, b := range s.blocks {
		bytes += cap(b)
	}
	if each := float64(bytes) / float64(n); each > 13 {
		t.Errorf("%.1f bytes a reading", each)
	} else {
		t.Logf("%.1f bytes a reading", each)
	}
}
