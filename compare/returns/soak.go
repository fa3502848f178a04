package returns

import (
	"errors"
	"fmt"
	"iter"
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

// Soak reads the latest long trace of a whole model, at any stage.
func Soak(p *plan.Plan, s *Signature, steps []capture.StepRecord) (*Soaked, error) {
	p = p.InService()
	var last *capture.StepRecord
	for i, r := range steps {
		if r.Step.Kind == capture.Whole && len(r.Step.Sweep) == 0 && !atOneVoltage(r) &&
			(r.Outcome == capture.Measured || r.Outcome == capture.Interrupted || r.Outcome == capture.Tripped) &&
			!r.Settled.IsZero() {
			last = &steps[i]
		}
	}
	if last == nil {
		return nil, errors.New("no soak is on record")
	}
	rs := last.Each(ammeter(*last), instruments.Current)
	n, endS := 0, 0.0
	for x := range eachSample(rs) {
		n, endS = n+1, x.AtS
	}
	if n < 30 {
		return nil, fmt.Errorf("a soak of %d readings says nothing", n)
	}
	out := &Soaked{Stage: last.Stage, Readings: n, Simulated: last.Simulated, AmbientC: last.AmbientC,
		Hours: endS / 3600, ShortestS: endS / float64(n-1)}
	var window time.Duration
	for x := range rs {
		out.From, window = x.At, x.Window
		break
	}
	if s == nil {
		var err error
		if s, err = byPlan(p, last.Step.Feed); err != nil {
			return nil, err
		}
	}
	var at, mean []float64
	watched := newWatch(p, s, paceName(*last), last.Step.Volts, window.Seconds())
	for all := range blocksOf(eachSample(rs)) {
		block, fromS := shifted(all), all[0].AtS
		sum := 0.0
		for _, x := range block {
			sum += x.Amps / float64(len(block))
		}
		if len(block) >= fewestWatched {
			found, judged := watched.drops(block, fromS)
			if !judged {
				out.Unjudged++
			}
			for _, d := range found {
				d.AtS += fromS
				d.Text = fmt.Sprintf("at %s the draw fell by %.1f mA for about %.1f s",
					out.From.Add(time.Duration(d.AtS*1e9)).UTC().Format("15:04:05 UTC"), 1e3*d.ByA, d.ForS)
				if len(d.Groups) > 0 {
					d.Text += fmt.Sprintf(": as much as %q", d.Groups[0])
				}
				out.Drops = append(out.Drops, d)
			}
			out.MeanA += sum * float64(len(block)) / float64(n)
			if fromS > Warm.Seconds() || endS < 2*Warm.Seconds() {
				at, mean = append(at, fromS/3600), append(mean, sum)
			}
		}
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

// blocksOf cuts a trace into stretches of soakBlock; each is good until the next.
func blocksOf(all iter.Seq[blink.Sample]) iter.Seq[[]blink.Sample] {
	return func(yield func([]blink.Sample) bool) {
		var block []blink.Sample
		for x := range all {
			if len(block) > 0 && x.AtS >= block[0].AtS+soakBlock {
				if !yield(block) {
					return
				}
				block = block[:0]
			}
			block = append(block, x)
		}
		if len(block) > 0 {
			yield(block)
		}
	}
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
		t, ok := levelOf(r, l)
		if !ok {
			continue
		}
		half := 0.0
		for x := range r.Each(ammeter(r), instruments.Current) {
			half = math.Max(half, x.HalfWidth)
		}
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
