package returns

import (
	"cmp"
	"iter"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat"

	"sealworthy/capture"
	"sealworthy/compare/blink"
	"sealworthy/instruments"
)

// Leads is what lies between supply and model besides the meter, ohm.
type Leads struct {
	Ohm float64 `json:"ohm"` // there and back, clips and the meter's burden not among it
}

// ammeter names the instrument that a step's draw is taken from.
func ammeter(r capture.StepRecord) string {
	if _, ok := r.Instruments[meterName]; ok || len(r.Instruments) == 0 {
		return meterName
	}
	return supplyName
}

// mean of the readings with a value, and the standard deviation of that mean.
func meanOf(rs iter.Seq[instruments.Reading]) (mean, u float64, n int) {
	for x := range rs {
		if v, ok := x.Float(); ok {
			mean += v
			n++
		}
	}
	if n == 0 {
		return 0, 0, 0
	}
	mean /= float64(n)
	for x := range rs {
		if v, ok := x.Float(); ok {
			u += (v - mean) * (v - mean)
		}
	}
	if n > 1 {
		u = math.Sqrt(u / float64(n-1) / float64(n))
	}
	return mean, u, n
}

// sumsOf is what all readings of a trace say, of a long one, too.
func sumsOf(r capture.StepRecord, instrument string, q instruments.Quantity) capture.Sums {
	if s, long := r.Sums(instrument, q); long {
		return s
	}
	return capture.SumsOf(r.Each(instrument, q))
}

// seriesOhm is what lies between supply and model in the range in use; l are the leads where
// the record has none.
func seriesOhm(r capture.StepRecord, rs iter.Seq[instruments.Reading], l Leads) float64 {
	if of := r.Step.Leads; of != nil {
		l.Ohm = of.Ohm
	}
	d := r.Instruments[ammeter(r)]
	name := ""
	for x := range rs {
		name = x.Range
	}
	for _, g := range d.Ranges {
		if g.Quantity == instruments.Current && (g.Name == name || len(d.Ranges) == 1) {
			return l.Ohm + g.BurdenOhm
		}
	}
	return l.Ohm
}

// point is one voltage of a sweep as it was read.
type point struct {
	volts   float64 // at the model
	amps, u float64
	samples []blink.Sample
	ohms    float64
	windowS float64
}

// pointsOf takes the sweep of a step, by rising voltage. A voltage with fewer
// than two readings, or an overload among them, is left out.
func pointsOf(r capture.StepRecord, l Leads) []point {
	var out []point
	var set, read []float64 // V, of the supply
	for i := range r.Points {
		rs := r.AtPoint(i, ammeter(r), instruments.Current)
		if slices.ContainsFunc(rs, func(x instruments.Reading) bool { return x.Status != instruments.OK }) {
			continue
		}
		a, u, n := meanOf(slices.Values(rs))
		if n < 2 {
			continue
		}
		volts, _, m := meanOf(slices.Values(r.AtPoint(i, supplyName, instruments.Voltage)))
		if m == 0 {
			volts = r.Points[i].Volts
		}
		p := point{ohms: seriesOhm(r, slices.Values(rs), l), amps: a, u: u, samples: samplesOf(slices.Values(rs)),
			windowS: rs[0].Window.Seconds()}
		out, set, read = append(out, p), append(set, r.Points[i].Volts), append(read, volts)
	}
	for i, v := range unrounded(r, set, read) {
		out[i].volts = v - out[i].ohms*out[i].amps
	}
	slices.SortFunc(out, func(a, b point) int { return cmp.Compare(a.volts, b.volts) })
	return slices.CompactFunc(out, func(a, b point) bool { return math.Abs(b.volts-a.volts) < 1e-4 })
}

// roundsV is to what a supply rounds the volts that it reads back, where its description
// doesn't tell (common practice, no source).
const roundsV = 0.01

// unrounded takes the rounding off the volts that a supply read back. What it sets and what
// it reads differ by a gain and an offset; to that comes the rounding, which is no scatter:
// it stays for some points and then jumps, by 10 mV with many a supply, which shifts the
// draw on both sides by more than anything else that is unknown of a sweep. So where all of
// them lie on a line through the volts that were set, but for their rounding, it is that line
// that counts; where one doesn't, the supply wasn't in command of it, and all stay as read.
func unrounded(r capture.StepRecord, set, read []float64) []float64 {
	if len(set) < enoughPoints {
		return read
	}
	step := roundsV
	for _, g := range r.Instruments[supplyName].Ranges {
		if g.Quantity == instruments.Voltage && g.Resolution > 0 {
			step = g.Resolution
		}
	}
	a, b := stat.LinearRegression(set, read, nil, false)
	out := make([]float64, len(read))
	for i, v := range set {
		if out[i] = a + b*v; !(math.Abs(out[i]-read[i]) <= step) {
			return read
		}
	}
	return out
}

// samplesOf gives the readings with a value, times from the first.
func samplesOf(rs iter.Seq[instruments.Reading]) []blink.Sample {
	return slices.Collect(eachSample(rs))
}

// eachSample is samplesOf one by one.
func eachSample(rs iter.Seq[instruments.Reading]) iter.Seq[blink.Sample] {
	return func(yield func(blink.Sample) bool) {
		var start time.Time
		for x := range rs {
			if start.IsZero() {
				start = x.At
			}
			if v, ok := x.Float(); ok && !yield(blink.Sample{AtS: x.At.Sub(start).Seconds(), Amps: v}) {
				return
			}
		}
	}
}

// traceOf is the settled trace at service voltage as one point.
func traceOf(r capture.StepRecord, l Leads) (point, bool) {
	p, ok := levelOf(r, l)
	if ok {
		p.samples = samplesOf(r.Each(ammeter(r), instruments.Current))
	}
	return p, ok
}

// levelOf is traceOf without the samples, of which a soak has millions.
func levelOf(r capture.StepRecord, l Leads) (point, bool) {
	rs := r.Each(ammeter(r), instruments.Current)
	for x := range rs {
		if x.Status != instruments.OK {
			return point{}, false
		}
	}
	s := sumsOf(r, ammeter(r), instruments.Current)
	if s.N < 4 || s.Overloads+s.Unusable > 0 {
		return point{}, false
	}
	volts := r.Step.Volts
	if v := sumsOf(r, supplyName, instruments.Voltage); v.N > 0 {
		volts = v.Mean
	}
	a := s.Mean
	p := point{ohms: seriesOhm(r, rs, l), amps: a, u: s.Scatter / math.Sqrt(float64(s.N)),
		windowS: s.FirstWindow.Seconds()}
	p.volts = volts - p.ohms*a
	return p, true
}

func curveOf(ps []point) Curve {
	var c Curve
	for _, p := range ps {
		c.Volts, c.Amps, c.U = append(c.Volts, p.volts), append(c.Amps, p.amps), append(c.U, p.u)
	}
	return c
}
