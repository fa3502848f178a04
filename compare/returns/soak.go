package returns

import (
	"errors"
	"fmt"
	"math"
	"time"

	"gonum.org/v1/gonum/stat"

	"sealworthy/capture"
	"sealworthy/compare/blink"
	"sealworthy/compare/plan"
	"sealworthy/instruments"
)

// Soaked is what hours on the supply tell of a whole model.
type Soaked struct {
	Stage     string    `json:"stage"`
	From      time.Time `json:"from"`
	Hours     float64   `json:"hours"`
	Readings  int       `json:"readings"`
	MeanA     float64   `json:"mean_a"`
	DriftPerH float64   `json:"drift_per_h"` // fraction of the draw, after the first ten minutes
	DriftU    float64   `json:"drift_u"`     // standard uncertainty
	Drops     []Drop    `json:"drops,omitempty"`
	ShortestS float64   `json:"shortest_s"` // a drop shorter than this may go unseen
	Simulated bool      `json:"simulated,omitempty"`
	Changed   bool      `json:"changed"` // it drifts for sure: 3 standard uncertainties and 0.2 % an hour
	AmbientC  *float64  `json:"ambient_c,omitempty"`
	Unjudged  int       `json:"unjudged_blocks,omitempty"` // two minutes each, that base and blinkers don't explain
}

const (
	soakBlock = 120.0 // s, judged as one trace
	soakDrift = 0.002 // an hour
)

// Soak reads the latest long trace of a whole model, at any stage.
func Soak(p *plan.Plan, s *Signature, steps []capture.StepRecord) (*Soaked, error) {
	p = p.InService()
	var last *capture.StepRecord
	for i, r := range steps {
		if r.Step.Kind == capture.Whole && len(r.Step.Sweep) == 0 && !atOneVoltage(r) && (r.Outcome == capture.Measured || r.Outcome == capture.Interrupted || r.Outcome == capture.Tripped) && !r.Settled.IsZero() {
			last = &steps[i]
		}
	}
	if last == nil {
		return nil, errors.New("no soak is on record")
	}
	rs := last.Trace(ammeter(*last), instruments.Current)
	all := samplesOf(rs)
	if len(all) < 30 {
		return nil, fmt.Errorf("a soak of %d readings says nothing", len(all))
	}
	out := &Soaked{Stage: last.Stage, From: rs[0].At, Readings: len(all), Simulated: last.Simulated, AmbientC: last.AmbientC,
		Hours: all[len(all)-1].AtS / 3600, ShortestS: all[len(all)-1].AtS / float64(len(all)-1)}
	if s == nil {
		var err error
		if s, err = byPlan(p, last.Step.Feed); err != nil {
			return nil, err
		}
	}
	var at, mean []float64
	for from := 0; from < len(all); {
		to := from
		for to < len(all) && all[to].AtS < all[from].AtS+soakBlock {
			to++
		}
		block := shifted(all[from:to])
		r := &Return{Trace: block, WindowS: rs[0].Window.Seconds(), Pace: paceName(*last), Volts: last.Step.Volts}
		sum := 0.0
		for _, x := range block {
			sum += x.Amps / float64(len(block))
		}
		if len(block) >= 20 {
			if left, _ := leftOf(p, s, r); left == nil {
				out.Unjudged++
			}
			for _, d := range drops(p, s, r) {
				d.AtS += all[from].AtS
				d.Text = fmt.Sprintf("at %s the draw fell by %.1f mA for about %.1f s", rs[0].At.Add(time.Duration(d.AtS*1e9)).UTC().Format("15:04:05 UTC"), 1e3*d.ByA, d.ForS)
				if len(d.Groups) > 0 {
					d.Text += fmt.Sprintf(": as much as %q", d.Groups[0])
				}
				out.Drops = append(out.Drops, d)
			}
			out.MeanA += sum * float64(len(block)) / float64(len(all))
			if all[from].AtS > Warm.Seconds() || all[len(all)-1].AtS < 2*Warm.Seconds() {
				at, mean = append(at, all[from].AtS/3600), append(mean, sum)
			}
		}
		from = to
	}
	if len(at) >= 4 && out.MeanA > 0 {
		a, b := stat.LinearRegression(at, mean, nil, false)
		rss, sxx := 0.0, 0.0
		m := stat.Mean(at, nil)
		for i := range at {
			rss += math.Pow(mean[i]-a-b*at[i], 2)
			sxx += (at[i] - m) * (at[i] - m)
		}
		out.DriftPerH, out.DriftU = b/out.MeanA, math.Sqrt(rss/float64(len(at)-2)/sxx)/out.MeanA
		out.Changed = math.Abs(out.DriftPerH) > math.Max(3*out.DriftU, soakDrift)
	}
	return out, nil
}

func shifted(all []blink.Sample) []blink.Sample {
	out := make([]blink.Sample, len(all))
	for i, x := range all {
		out[i] = blink.Sample{AtS: x.AtS - all[0].AtS, Amps: x.Amps}
	}
	return out
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
		t, ok := traceOf(r, l)
		if !ok {
			continue
		}
		half := 0.0
		for _, x := range r.Trace(ammeter(r), instruments.Current) {
			half = math.Max(half, x.HalfWidth)
		}
		x := Trend{Stage: r.Stage, At: r.Ended, MeanA: t.amps, U: math.Hypot(half/math.Sqrt(3), t.u), AmbientC: r.AmbientC}
		if len(out) > 0 {
			x.Rel = x.MeanA/out[0].MeanA - 1
			x.RelU = math.Hypot(x.U, out[0].U) / out[0].MeanA
		}
		out = append(out, x)
	}
	return out
}
