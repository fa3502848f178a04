package returns

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat"

	"sealworthy/capture"
	"sealworthy/compare/blink"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
	"sealworthy/instruments"
)

// Soaked is what hours on the supply tell of a whole model.
type Soaked struct {
	Stage     string    `json:"stage"`
	From      time.Time `json:"from"`     // its first reading
	Hours     float64   `json:"hours"`    // h, from first to last reading
	Readings  int       `json:"readings"` // that it rests on
	MeanA     float64   `json:"mean_a"`
	DriftPerH float64   `json:"drift_per_h"` // fraction of the draw, after the first ten minutes
	DriftU    float64   `json:"drift_u"`     // standard uncertainty
	Drops     []Drop    `json:"drops,omitempty"`
	ShortestS float64   `json:"shortest_s"`          // a drop shorter than this may go unseen
	Simulated bool      `json:"simulated,omitempty"` // a simulated bench read it
	Changed   bool      `json:"changed"`             // it drifts for sure: 3 standard uncertainties and 0.2 % an hour
	AmbientC  *float64  `json:"ambient_c,omitempty"`
	Unjudged  int       `json:"unjudged_blocks,omitempty"` // two minutes each, that base and blinkers don't explain
}

const (
	soakBlock = 120.0 // s, judged as one trace
	soakDrift = 0.002 // an hour
)

// Again goes once more through the readings of a step as they stand in the record, which
// gives only the latest of a long one. What a reading points to is good until the next.
type Again func(of capture.StepRecord, each func(instruments.Reading)) error

// Soak reads the latest long trace of a whole model, at any stage. again may be nil where
// the steps have all of their readings; where is whose clock tells when it dropped.
func Soak(p *plan.Plan, s *Signature, steps []capture.StepRecord, again Again, where *time.Location) (*Soaked,
	error) {
	p = p.InService()
	var last *capture.StepRecord
	for i := range steps {
		if isSoak(steps[i]) {
			last = &steps[i]
		}
	}
	if last == nil {
		return nil, errors.New("no soak is on record")
	}
	meter := ammeter(*last)
	all := sumsOf(*last, meter, instruments.Current)
	n, endS := all.N, all.Last.Sub(all.First).Seconds()
	if n < 30 {
		return nil, fmt.Errorf("a soak of %d readings says nothing", n)
	}
	if s == nil {
		var err error
		if s, err = byPlan(p, last.Step.Feed); err != nil {
			return nil, err
		}
	}
	x := soaking{all: all, endS: endS, where: where,
		watch: newWatch(p, s, paceName(*last), last.Step.Volts, all.FirstWindow.Seconds()),
		out: &Soaked{Stage: last.Stage, From: all.First, Readings: n, MeanA: all.Mean, Simulated: last.Simulated,
			AmbientC: last.AmbientC, Hours: endS / 3600, ShortestS: endS / float64(n-1)}}
	if _, long := last.Sums(meter, instruments.Current); long {
		err := again(*last, func(r instruments.Reading) {
			if r.Instrument == meter && r.Quantity == instruments.Current && last.InTrace(r.At) {
				x.add(r)
			}
		})
		if err != nil {
			return nil, err
		}
	} else {
		for r := range last.Each(meter, instruments.Current) {
			x.add(r)
		}
	}
	x.judge()
	x.drift()
	return x.out, nil
}

// isSoak: a whole model was watched for long, at one voltage.
func isSoak(r capture.StepRecord) bool {
	watched := r.Outcome == capture.Measured || r.Outcome == capture.Interrupted || r.Outcome == capture.Tripped
	return r.Step.Kind == capture.Whole && len(r.Step.Sweep) == 0 && !atOneVoltage(r) && watched && !r.Settled.IsZero()
}

// soaking judges a trace in stretches of soakBlock, as its readings come.
type soaking struct {
	all   capture.Sums
	endS  float64
	watch *watch
	out   *Soaked
	where *time.Location

	block       []blink.Sample // times from the first reading
	hours, mean []float64      // of the stretches that count for the drift
}

func (x *soaking) add(r instruments.Reading) {
	v, ok := r.Float()
	if !ok {
		return
	}
	at := r.At.Sub(x.all.First).Seconds()
	if len(x.block) > 0 && at >= x.block[0].AtS+soakBlock {
		x.judge()
	}
	x.block = append(x.block, blink.Sample{AtS: at, Amps: v})
}

// judge judges a stretch and begins the next one.
func (x *soaking) judge() {
	block := x.block
	x.block = x.block[:0]
	if len(block) < fewestWatched {
		return
	}
	slices.SortStableFunc(block, func(a, b blink.Sample) int { return cmp.Compare(a.AtS, b.AtS) })
	fromS, mean := block[0].AtS, 0.0
	for i := range block {
		block[i].AtS -= fromS
		mean += block[i].Amps / float64(len(block))
	}
	found, judged := x.watch.drops(block, fromS)
	if !judged {
		x.out.Unjudged++
	}
	for _, d := range found {
		d.AtS += fromS
		at := words.ClockSecond(x.out.From.Add(time.Duration(d.AtS*1e9)), x.where)
		d.Text = fmt.Sprintf("at %s the draw fell by %.1f mA for about %.1f s", at, 1e3*d.ByA, d.ForS)
		if len(d.Groups) > 0 {
			d.Text += fmt.Sprintf(": as much as %q", d.Groups[0])
		}
		x.out.Drops = append(x.out.Drops, d)
	}
	if fromS > Warm.Seconds() || x.endS < 2*Warm.Seconds() {
		x.hours, x.mean = append(x.hours, fromS/3600), append(x.mean, mean)
	}
}

// drift is the slope of the stretches' means, by least squares, with its standard
// uncertainty from what they leave.
func (x *soaking) drift() {
	if len(x.hours) < 4 || !(x.out.MeanA > 0) {
		return
	}
	a, b := stat.LinearRegression(x.hours, x.mean, nil, false)
	rss, sxx := 0.0, 0.0
	m := stat.Mean(x.hours, nil)
	for i, h := range x.hours {
		rss += math.Pow(x.mean[i]-a-b*h, 2)
		sxx += (h - m) * (h - m)
	}
	x.out.DriftPerH = b / x.out.MeanA
	x.out.DriftU = math.Sqrt(rss/float64(len(x.hours)-2)/sxx) / x.out.MeanA
	x.out.Changed = math.Abs(x.out.DriftPerH) > math.Max(3*x.out.DriftU, soakDrift)
}

// Trend is the draw of a whole model at service voltage over its stages.
type Trend struct {
	Stage    string    `json:"stage"`
	At       time.Time `json:"at"`
	MeanA    float64   `json:"mean_a"`
	U        float64   `json:"u"` // standard uncertainty, that of the meter among it
	AmbientC *float64  `json:"ambient_c,omitempty"`
	// Rel is the change against the first, with its standard uncertainty; zero for the first.
	Rel  float64 `json:"rel,omitempty"`
	RelU float64 `json:"rel_u,omitempty"`
}

// Trends lists what the whole model drew at its stages, power-on pace.
func Trends(steps []capture.StepRecord, l Leads) []Trend {
	var out []Trend
	for _, r := range steps {
		if r.Step.Kind != capture.Whole || r.Outcome != capture.Measured || r.Step.Press > 0 || atOneVoltage(r) {
			continue
		}
		t, ok := levelOf(r, l)
		if !ok {
			continue
		}
		half := sumsOf(r, ammeter(r), instruments.Current).HalfWidth
		x := Trend{Stage: r.Stage, At: r.Ended, MeanA: t.amps, U: math.Hypot(half/math.Sqrt(3), t.u),
			AmbientC: r.AmbientC}
		if len(out) > 0 {
			x.Rel = x.MeanA/out[0].MeanA - 1
			x.RelU = math.Hypot(x.U, out[0].U) / out[0].MeanA
		}
		out = append(out, x)
	}
	return out
}
