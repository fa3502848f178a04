package capture

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"sealworthy/instruments"
)

func reading(v float64) *instruments.Reading {
	return &instruments.Reading{Status: instruments.OK, Value: &v}
}

// until adds readings until they are enough, and gives their mean.
func until(e Enough, most int, next func(i int) float64) (float64, int) {
	var s scatter
	for i := range most {
		s.add(reading(next(i)))
		if s.enough(e) {
			break
		}
	}
	var m mean
	for _, v := range s.all {
		m.add(v)
	}
	return m.value(), len(s.all)
}

// A reading that ends early favours no value: over normal noise the mean of what was
// read lies as often above the truth as below, whether it ends at six readings or at
// twelve, and its spread is what was asked for, not more. Of 20,000 each; the bounds
// are 4 standard errors, so a right program fails once in 16,000.
func TestEndingEarlyFavoursNoValue(t *testing.T) {
	const truth, n = 0.0200, 20000
	for _, noise := range []float64{1e-6, 2e-5, 4e-5, 1e-4} {
		r := rand.New(rand.NewPCG(7, uint64(noise*1e7)))
		sum, square, short, above := 0.0, 0.0, 0, 0
		for range n {
			m, k := until(Enough{Readings: 6, UA: 1.5e-5}, 12,
				func(int) float64 { return truth + noise*r.NormFloat64() })
			sum += m - truth
			square += (m - truth) * (m - truth)
			if m > truth {
				above++
			}
			if k < 12 {
				short++
			}
		}
		sd := math.Sqrt(square / n)
		if bias := sum / n; math.Abs(bias) > 4*sd/math.Sqrt(n) {
			t.Errorf("noise %g A: biased by %g A", noise, bias)
		}
		if d := float64(above) - n/2; math.Abs(d) > 4*math.Sqrt(n)/2 {
			t.Errorf("noise %g A: %d of %d above the truth", noise, above, n)
		}
		if most := max(1.5e-5*1.2, 1.02*noise/math.Sqrt(12)); sd > most {
			t.Errorf("noise %g A: the mean scatters by %g A, want at most %g A", noise, sd, most)
		}
		t.Logf("noise %.0f uA: %d of %d ended early, the mean scatters by %.1f uA", 1e6*noise, short, n, 1e6*sd)
		if noise == 1e-6 && short != n || noise == 1e-4 && short > n/20 {
			t.Errorf("noise %g A: %d of %d ended early", noise, short, n)
		}
	}
}

func TestWhatDriftsOrJumpsIsReadInFull(t *testing.T) {
	e := Enough{Readings: 6, UA: 1e-5}
	for _, c := range []struct {
		name string
		next func(i int) float64
		want int
	}{
		{"steady", func(int) float64 { return 0.02 }, 6},
		{"a drift", func(i int) float64 { return 0.02 + 2e-5*float64(i) }, 12},
		{"one that lies far off", func(i int) float64 {
			if i == 3 {
				return 0.03
			}
			return 0.02
		}, 12},
		{"a step late", func(i int) float64 {
			if i >= 5 {
				return 0.021
			}
			return 0.02
		}, 12},
	} {
		if _, n := until(e, 12, c.next); n != c.want {
			t.Errorf("%s: %d readings, want %d", c.name, n, c.want)
		}
	}
	var s scatter
	for range 8 {
		s.add(reading(0.02))
	}
	s.add(&instruments.Reading{Status: instruments.NotANumber})
	if s.enough(e) || (&scatter{all: s.all}).enough(Enough{}) {
		t.Error("a reading without a value, or no figure to reach, is enough")
	}
}

// The trace of a step that may end early is short, and one that is kept is whole.
func TestAKeptReadingRunsItsFullLength(t *testing.T) {
	for _, c := range []struct {
		e           Enough
		least, most time.Duration
	}{{Enough{}, 2 * time.Second, 3 * time.Second}, {Enough{Readings: 6, UA: 1e-4}, 400 * time.Millisecond,
		900 * time.Millisecond}} {
		b := newBench(t, led)
		s := ledStep("1", "nav lights")
		s.Enough = c.e
		rec, _ := runOne(t, b, b.Bench(), s, &face{})
		if d := rec.Ended.Sub(rec.Settled); rec.Outcome != Measured || d < c.least || d > c.most {
			t.Errorf("%+v: %s, read for %v", c.e, rec.Outcome, d)
		}
	}
}

// A bench so slow that its readings are few reads for longer, but no step gets longer
// than it may be.
func TestASlowBenchKeepsToTheLongestTime(t *testing.T) {
	for _, most := range []time.Duration{0, 4 * time.Second} {
		b := newBench(t, led)
		s := ledStep("1", "nav lights")
		s.Spacing, s.MaxTotal = time.Second, most
		rec, _ := runOne(t, b, b.Bench(), s, &face{})
		d := rec.Ended.Sub(rec.On)
		if rec.Outcome != Measured || most > 0 && d > most+time.Second || most == 0 && d < 6*time.Second {
			t.Errorf("at most %v: %s, took %v", most, rec.Outcome, d)
		}
	}
}
