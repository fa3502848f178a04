package blink

import (
	"math"
	"testing"
)

// Two samples differ by chance. A row is worse than the prototype's when it's
// worse by more than this many standard deviations of that difference, so is
// the whole table, where chance averages out and little is forgiven.
const (
	chance         = 3.0
	prototypeCount = 80 // trials of a row of the prototype's
)

// shortfall is by how many standard deviations a share of n is below the
// prototype's, both binomial.
func shortfall(k, n int, theirs float64, of int) float64 {
	a, b := float64(k), theirs*float64(of)
	p := (a + b + 1) / (float64(n+of) + 2)
	return (theirs - a/float64(n)) / math.Sqrt(p*(1-p)*(1/float64(n)+1/float64(of)))
}

// beyond counts the errors above the prototype's 95th percentile, half of its
// last printed digit allowed.
func beyond(errors []float64, limit, digit float64) int {
	n := 0
	for _, e := range errors {
		if math.Abs(e) > limit+digit/2 {
			n++
		}
	}
	return n
}

// expectedBeyond is the share of a like population above the 95th percentile
// of a sample of n, interpolated between order statistics.
func expectedBeyond(n int) float64 {
	return (float64(n) - 0.95*float64(n-1)) / float64(n+1)
}

// excess is by how many standard deviations more errors lie beyond than
// expected; the limit is itself from a sample.
func excess(k, n, of int) float64 {
	p := expectedBeyond(of)
	return (float64(k) - p*float64(n)) / math.Sqrt(p*(1-p)*float64(n)*(1+float64(n)/float64(of)))
}

// rmsSpread is the standard deviation of the logarithm of an RMS, from the
// scatter of the squares.
func rmsSpread(v []float64) float64 {
	mean := rms(v) * rms(v)
	fourth := 0.0
	for _, x := range v {
		fourth += x * x * x * x
	}
	n := float64(len(v))
	return 0.5 * math.Sqrt(math.Max(fourth/n/(mean*mean)-1, 1)/n)
}

// pooled is the whole table against the prototype's.
type pooled struct {
	rows, shownRows           int
	shown, shownOf            float64 // ours less theirs; variance of that
	duty, dutyOf, on, onOf    float64 // errors beyond, less expected; variance
	period, periodOf          float64 // ln of the ratio of RMS; variance
	ourShown, theirShown      float64 // %
	dutyBeyond, onBeyond, all int
}

// row holds one row against the prototype's.
func (s *pooled) row(t *testing.T, number int, w *row, o *outcome) {
	t.Helper()
	theirPeriodic := int(math.Round(w.periodic / 100 * prototypeCount))
	theirShown := int(math.Round(w.shown / 100 * float64(theirPeriodic)))
	check := func(what string, z float64) {
		if z > chance {
			t.Errorf("row %d: %s is worse than the prototype's by %.1f standard deviations of chance", number, what, z)
		}
	}
	check("periodic", shortfall(o.periodic, o.trials, w.periodic/100, prototypeCount))
	check("duty shown", shortfall(o.shown, o.periodic, w.shown/100, theirPeriodic))
	duty, on := beyond(o.duty, w.duty, 1e-4), beyond(o.on, w.on, 0.1)
	check("the 95th percentile of duty errors", excess(duty, len(o.duty), theirShown))
	check("the 95th percentile of level errors", excess(on, len(o.on), theirShown))
	ratio := math.Log(rms(o.period) / (w.period + 0.0005))
	spread := math.Sqrt2 * rmsSpread(o.period)
	check("the period RMS", ratio/spread)

	s.rows++
	ours, theirs := share(o.shown, o.periodic), w.shown
	// At an even spacing of few readings duty is hidden on purpose where the
	// same phases were read over and over: those rows count by themselves.
	if w.periodic == 100 {
		s.shownRows++
		s.ourShown, s.theirShown = s.ourShown+ours, s.theirShown+theirs
		p := (ours + theirs) / 200
		s.shown += (ours - theirs) / 100
		s.shownOf += p * (1 - p) * (1/float64(o.periodic) + 1/float64(theirPeriodic))
	}
	q := expectedBeyond(theirShown)
	variance := func(n int) float64 { return q * (1 - q) * float64(n) * (1 + float64(n)/float64(theirShown)) }
	s.duty, s.dutyOf = s.duty+float64(duty)-q*float64(len(o.duty)), s.dutyOf+variance(len(o.duty))
	s.on, s.onOf = s.on+float64(on)-q*float64(len(o.on)), s.onOf+variance(len(o.on))
	s.period, s.periodOf = s.period+ratio, s.periodOf+spread*spread
	s.dutyBeyond, s.onBeyond, s.all = s.dutyBeyond+duty, s.onBeyond+on, s.all+len(o.on)
}

// judge holds the whole table against the prototype's.
func (s *pooled) judge(t *testing.T) {
	t.Helper()
	rows := float64(s.rows)
	t.Logf("whole table: duty shown %.1f %%, prototype %.1f %% (rows without ambiguous ones); beyond the "+
		"prototype's 95 %%: duty %.1f %%, level %.1f %% of %d; period RMS %.2f times the prototype's",
		s.ourShown/float64(s.shownRows), s.theirShown/float64(s.shownRows), share(s.dutyBeyond, s.all),
		share(s.onBeyond, s.all), s.all, math.Exp(s.period/rows))
	for what, z := range map[string]float64{"duty shown": -s.shown / math.Sqrt(s.shownOf),
		"duty errors":  s.duty / math.Sqrt(s.dutyOf),
		"level errors": s.on / math.Sqrt(s.onOf), "period RMS": s.period / math.Sqrt(s.periodOf)} {
		t.Logf("   %s: %.1f standard deviations of chance worse (below zero: better)", what, z)
		if z > chance {
			t.Errorf("over all rows %s is worse than the prototype's by %.1f standard deviations of chance", what, z)
		}
	}
}
