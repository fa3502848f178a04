package compare

import (
	"iter"
	"math"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// trace is what a step's readings say, before anything is expected of them.
type trace struct {
	n         int
	meanA     float64
	leastA    float64
	mostA     float64
	scatterA  float64 // standard deviation of single readings
	u         float64 // standard uncertainty of the mean, instrument and scatter
	halfWidth float64 // limit of error of the instrument at the mean
	overloads int
	unusable  int // held, not a number
	ranges    int // different ranges seen
	atS       []float64
	amps      []float64
	tookS     []float64 // from the question to the reply of each
	windowS   float64
	byHand    bool // typed in by the maker: each reading costs a person
}

// traceOf takes the current from the settled part of a step.
func traceOf(r capture.StepRecord) trace {
	t := instrumentTrace(r, Ammeter(r))
	t.byHand = r.Instruments[Ammeter(r)].Profile == byHandProfile
	return t
}

// instrumentTrace takes the current that one instrument read in the settled part. Of a
// long step only the latest readings stand in atS and amps.
func instrumentTrace(r capture.StepRecord, instrument string) trace {
	t := readingsTrace(r.Each(instrument, instruments.Current))
	if s, long := r.Sums(instrument, instruments.Current); long {
		t.sum(s)
	}
	return t
}

// baseTrace takes the current of what was on before.
func baseTrace(r capture.StepRecord) trace {
	t := readingsTrace(currents(r.Before(), Ammeter(r)))
	if s, long := r.SumsBefore(Ammeter(r), instruments.Current); long {
		t.sum(s)
	}
	return t
}

// sum takes what all readings say together, of which the latest alone are held.
func (t *trace) sum(s capture.Sums) {
	t.n, t.meanA, t.scatterA, t.halfWidth = s.N, s.Mean, s.Scatter, s.HalfWidth
	t.leastA, t.mostA = s.Least, s.Most
	t.overloads, t.unusable, t.ranges = s.Overloads, s.Unusable, s.Ranges
	t.known()
}

// byHandProfile is what a meter that is typed in calls its profile.
const byHandProfile = "by hand"

// Ammeter names the instrument that current is judged by: the meter, or the
// supply's read-back on a bench without one.
func Ammeter(r capture.StepRecord) string {
	if _, ok := r.Instruments[MeterName]; ok || len(r.Instruments) == 0 {
		return MeterName
	}
	return SupplyName
}

// currents keeps the current of one instrument.
func currents(rs iter.Seq[instruments.Reading], instrument string) iter.Seq[instruments.Reading] {
	return func(yield func(instruments.Reading) bool) {
		for x := range rs {
			if x.Instrument == instrument && x.Quantity == instruments.Current && !yield(x) {
				return
			}
		}
	}
}

func readingsTrace(rs iter.Seq[instruments.Reading]) trace {
	var t trace
	seen := map[string]bool{}
	var start time.Time
	for x := range rs {
		if start.IsZero() {
			start = x.At
		}
		v, ok := x.Float()
		switch {
		case x.Status == instruments.Overload:
			t.overloads++
			continue
		case !ok:
			t.unusable++
			continue
		}
		if !seen[x.Range] {
			seen[x.Range] = true
			t.ranges++
		}
		t.n++
		t.atS = append(t.atS, x.At.Sub(start).Seconds())
		t.amps = append(t.amps, v)
		t.tookS = append(t.tookS, x.Latency.Seconds())
		t.meanA += v
		t.halfWidth = max(t.halfWidth, x.HalfWidth)
		t.windowS = x.Window.Seconds()
	}
	if t.n == 0 {
		return t
	}
	t.meanA /= float64(t.n)
	for _, v := range t.amps {
		t.scatterA += (v - t.meanA) * (v - t.meanA)
	}
	if t.n > 1 {
		t.scatterA = math.Sqrt(t.scatterA / float64(t.n-1))
	}
	t.leastA, t.mostA = slices.Min(t.amps), slices.Max(t.amps)
	t.known()
	return t
}

// known says how well the mean is known.
func (t *trace) known() {
	if t.n > 0 {
		t.u = math.Hypot(t.halfWidth/math.Sqrt(3), t.scatterA/math.Sqrt(float64(t.n)))
	}
}

// whyUnusable says why a trace can't be judged; empty where it can.
func (t trace) whyUnusable() string {
	switch {
	case t.n == 0 && t.overloads > 0:
		return "the meter showed overload only"
	case t.overloads > 0:
		return "the meter showed overload in between"
	case t.n < minReadings && !(t.byHand && t.n > 0):
		return "too few readings"
	case t.ranges > 1:
		return "the meter changed its range in between"
	}
	return ""
}

// minReadings of a settled trace: fewer say nothing about scatter.
const minReadings = 4
