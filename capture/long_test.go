package capture

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	"sealworthy/instruments"
)

// soakOf is an invented soak: the meter's current twice a second, the supply's volts now
// and then, one dip, one spike, one overload.
func soakOf(n int, each func(instruments.Reading)) {
	r := rand.New(rand.NewPCG(3, 4))
	at := time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC)
	for i := range n {
		at = at.Add(490*time.Millisecond + time.Duration(r.Int64N(2e7)))
		v := 0.0381 + 0.02*float64(i/20%2) + math.Round(r.NormFloat64()*20)/1e6
		x := instruments.Reading{Instrument: "meter", Quantity: instruments.Current, Unit: "A", Status: instruments.OK,
			Range: "200 mA", At: at, Window: 100 * time.Millisecond, HalfWidth: 0.002*v + 5e-5, Value: &v}
		switch i {
		case n / 2:
			v = 0.001
		case n / 3:
			v = 0.12
		case n / 4:
			x.Status, x.Value = instruments.Overload, nil
		}
		each(x)
		if i%10 == 0 {
			volts := 12 + math.Round(r.NormFloat64()*1e3)/1e6
			each(instruments.Reading{Instrument: "supply", Quantity: instruments.Voltage, Unit: "V",
				Status: instruments.OK,
				At:     at, Value: &volts, HalfWidth: 0.01})
		}
	}
}

// TestALongSeries: what all readings of a soak say is what the package that knows
// statistics makes of them (gonum/stat); the latest are held, and every spike.
func TestALongSeries(t *testing.T) {
	const n = 150000
	var all []instruments.Reading
	soakOf(n, func(x instruments.Reading) { all = append(all, x) })
	settled := all[99].At
	for _, late := range []bool{false, true} {
		r := StepRecord{Settled: settled, Kept: &Series{}}
		r.Kept.SettledAt(settled)
		if late { // the mark came after its readings
			r.Kept.SettledAt(time.Time{})
		}
		for _, x := range all {
			r.Kept.Add(x)
		}
		wantFrom := settled
		if late {
			wantFrom = slices.Collect(r.All())[0].At
			r.Kept.SettledAt(settled)
		}
		r.Kept.End()
		var amps []float64
		overloads := 0
		for _, x := range all {
			if x.Quantity != instruments.Current || x.At.Before(wantFrom) {
				continue
			}
			if v, ok := x.Float(); ok {
				amps = append(amps, v)
			} else {
				overloads++
			}
		}
		mean, sd := stat.MeanStdDev(amps, nil)
		s, long := r.Sums("meter", instruments.Current)
		if !long || s.N != len(amps) || s.Overloads != overloads || s.Unusable != 0 || s.Ranges != 1 ||
			s.Range != "200 mA" ||
			math.Abs(s.Mean/mean-1) > 1e-12 || math.Abs(s.Scatter/sd-1) > 1e-9 || s.Least != slices.Min(amps) ||
			s.Most != slices.Max(amps) || s.Window != 100*time.Millisecond || !s.Last.Equal(all[len(all)-1].At) {
			t.Errorf("late %v: %+v, want %d readings, %g ± %g", late, s, len(amps), mean, sd)
		}
		if late {
			continue
		}
		if v, _ := r.Sums("supply", instruments.Voltage); v.N < n/10-100 || math.Abs(v.Mean-12) > 1e-3 {
			t.Errorf("volts: %+v", v)
		}
		if got, _ := r.Count(); got != len(all) {
			t.Errorf("%d readings of %d", got, len(all))
		}
		held := slices.Collect(r.All())
		if !slices.EqualFunc(held, all[len(all)-len(held):], sameReading) ||
			all[len(all)-1].At.Sub(held[0].At) < heldFor {
			t.Errorf("%d are held, not the latest", len(held))
		}
		var least, most, lost, lastAt = 1.0, 0.0, 0, time.Time{}
		drawn := 0
		for x := range r.Outline() {
			if x.At.Before(lastAt) {
				t.Fatal("the outline goes back in time")
			}
			lastAt = x.At
			drawn++
			if v, ok := x.Float(); ok {
				least, most = min(least, v), max(most, v)
			} else {
				lost++
			}
		}
		if d, _ := r.Drawn("meter"); d != n-1 || least != 0.001 || most != 0.12 || lost != 1 ||
			drawn > 5*mostStretches {
			t.Errorf("outline of %d: %d from %g to %g, %d lost", d, drawn, least, most, lost)
		}
	}
}

// TestALongSeriesStaysSmall: ten times the readings take no more room.
func TestALongSeriesStaysSmall(t *testing.T) {
	room := func(n int) float64 {
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		s := &Series{}
		soakOf(n, s.Add)
		s.End()
		runtime.GC()
		runtime.ReadMemStats(&after)
		runtime.KeepAlive(s)
		return float64(after.HeapAlloc) - float64(before.HeapAlloc)
	}
	one, ten := room(100_000), room(1_000_000)
	t.Logf("%.0f kB of 10^5, %.0f kB of 10^6", one/1e3, ten/1e3)
	if ten > 2e6 {
		t.Errorf("%.0f kB of a million readings", ten/1e3)
	}
}

// Times that jump by years, go back or all are one leave an outline within its bounds.
func TestOutlineOfOddTimes(t *testing.T) {
	begun := time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC)
	r := rand.New(rand.NewPCG(5, 6))
	o := &outline{width: time.Millisecond}
	v, least, most := 0.0, math.Inf(1), math.Inf(-1)
	for i := range 100000 {
		v = r.NormFloat64()
		at := begun.Add(time.Duration(r.Int64N(1 << (10 + i/2000))))
		if i%97 == 0 {
			at = begun.Add(-time.Hour)
		}
		least, most = min(least, v), max(most, v)
		value := v
		o.add(instruments.Reading{At: at, Status: instruments.OK, Value: &value})
	}
	got := [2]float64{math.Inf(1), math.Inf(-1)}
	o.each(instruments.Reading{}, func(x instruments.Reading) bool {
		got = [2]float64{min(got[0], *x.Value), max(got[1], *x.Value)}
		return true
	})
	if len(o.bins) > mostStretches || got != [2]float64{least, most} {
		t.Errorf("%d stretches, from %g to %g; want %g to %g", len(o.bins), got[0], got[1], least, most)
	}
}

// TestALongBase: what many readings of what was on before say holds those that aren't held any
// more: an overload and another range at the beginning are seen.
func TestALongBase(t *testing.T) {
	const n = 80000
	r, first := StepRecord{KeptBase: &Series{}}, true
	var overloads, ranges int
	soakOf(n, func(x instruments.Reading) {
		if first && x.Quantity == instruments.Current {
			x.Range, first = "20 mA", false
		}
		r.KeptBase.Add(x)
	})
	r.KeptBase.End()
	for x := range r.Before() {
		if x.Status == instruments.Overload {
			overloads++
		}
		if x.Range == "20 mA" {
			ranges++
		}
	}
	if overloads != 0 || ranges != 0 {
		t.Fatalf("%d overloads, %d of the other range are held: nothing is tested", overloads, ranges)
	}
	s, long := r.SumsBefore("meter", instruments.Current)
	if !long || s.N != n-1 || s.Overloads != 1 || s.Ranges != 2 {
		t.Errorf("long %v: %+v", long, s)
	}
	short := StepRecord{KeptBase: &Series{}}
	if _, long := short.SumsBefore("meter", instruments.Current); long {
		t.Error("a short one is called long")
	}
}
