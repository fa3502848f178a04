package sample

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/instruments"
)

// point is one settled draw of one piece.
type point struct {
	setV, amps, u float64
	burden        float64 // ohm, of the meter that read it
}

// Measured stands in the source of a part's figures that loose pieces of it gave.
const Measured = "of its pieces measured"

// Learn makes a part of its own name from the records of Steps. meter names the
// instrument whose current counts. The part keeps what a sample can't show: rating
// and temperature coefficient.
func Learn(s Sampling, name string, recs []capture.StepRecord, meter string) (Learned, error) {
	if err := s.check(); err != nil {
		return Learned{}, err
	}
	if strings.TrimSpace(name) == "" {
		return Learned{}, fmt.Errorf("the sampled part needs a name of its own, as %q", s.Part.Name+", bag of May")
	}
	out := Learned{Part: s.Part}
	sweeps := map[string][]point{}
	var order []string
	for _, r := range recs {
		p, why := read(r, meter)
		if why != "" {
			out.Left = append(out.Left, fmt.Sprintf("%s at %.2f V: %s", r.Step.Feed, r.Step.Volts, why))
			continue
		}
		p.burden = burdenOf(r, meter)
		if _, ok := sweeps[r.Step.Feed]; !ok {
			order = append(order, r.Step.Feed)
		}
		sweeps[r.Step.Feed] = append(sweeps[r.Step.Feed], p)
	}
	var whole [][]point
	for _, piece := range order {
		if ps := sweeps[piece]; len(ps) == sweepPoints {
			slices.SortFunc(ps, func(a, b point) int { return cmp.Compare(a.setV, b.setV) })
			whole = append(whole, ps)
		} else {
			out.Left = append(out.Left, fmt.Sprintf("%s: only %d of %d voltages could be read", piece, len(ps),
				sweepPoints))
		}
	}
	if len(whole) == 0 {
		return out, fmt.Errorf("%w (%s)", ErrNothing, strings.Join(out.Left, "; "))
	}
	out.Pieces = len(whole)
	out.Part.Name = name
	out.Part.Source = fmt.Sprintf("%d %s", len(whole), Measured)
	if len(whole) == 1 {
		out.Part.Source = "one piece measured; the spread is that of " + s.Part.Name
	}
	if s.Part.Kind == plan.PartLED {
		return out, out.bare(s, whole)
	}
	return out, out.resistored(s, whole)
}

// read takes the settled mean of a step.
func read(r capture.StepRecord, meter string) (point, string) {
	if r.Outcome != capture.Measured {
		return point{}, string(r.Outcome) + ": " + r.Reason
	}
	var sum, sq, half float64
	n := 0
	for x := range r.Each(meter, instruments.Current) {
		v, ok := x.Float()
		if !ok {
			return point{}, "the meter showed " + string(x.Status)
		}
		sum, sq, half = sum+v, sq+v*v, max(half, x.HalfWidth)
		n++
	}
	if n == 0 {
		return point{}, "no reading"
	}
	mean := sum / float64(n)
	scatter := math.Sqrt(max(sq/float64(n)-mean*mean, 0) / float64(n))
	return point{setV: r.Step.Volts, amps: mean, u: math.Hypot(half/math.Sqrt(3), scatter)}, ""
}

func burdenOf(r capture.StepRecord, meter string) float64 {
	name := ""
	for x := range r.Each(meter, instruments.Current) {
		name = x.Range
	}
	for _, g := range r.Instruments[meter].Ranges {
		if g.Name == name && g.Quantity == instruments.Current {
			return g.BurdenOhm
		}
	}
	return 0
}

// resistored learns the current of strips and SMDs at their rated voltage: the
// set voltage less what is lost in leads and burden, carried over by the slope
// between the two highest points.
func (l *Learned) resistored(s Sampling, whole [][]point) error {
	var amps []float64
	u := 0.0
	for _, ps := range whole {
		a, b := ps[len(ps)-2], ps[len(ps)-1]
		lost := b.amps * (b.burden + s.Bench.LeadsOhm)
		slope := (b.amps - a.amps) / (b.setV - a.setV)
		amps = append(amps, b.amps+slope*(s.Part.RatedVolts-b.setV+lost))
		// 10 mV is what the supply may be off (common practice, no source).
		u = max(u, math.Hypot(b.u, slope*0.01/math.Sqrt(3)))
	}
	spread, err := budget.Sampled(amps, u, s.Part.Tolerance)
	if err != nil {
		return err
	}
	if !(spread.Mean > 0) {
		return fmt.Errorf("%w: the pieces draw nothing; are they turned round?", ErrNothing)
	}
	l.Spread, l.Unit = spread, "A"
	l.Part = Known(l.Part, spread)
	return nil
}

// Known is a strip or SMD with the current (A, at its rated voltage), the tolerance
// and the share that a sample of it shows.
func Known(p plan.Part, x budget.Sample) plan.Part {
	half, share := toleranceOf(x)
	p.Amps, p.Tolerance, p.Share = x.Mean, min(half/x.Mean, 0.9), share
	return p
}

// toleranceOf is what a sample makes of a part's half-width, in its own unit, and of
// the share of its variance that a reel has in common: of the pieces measured the
// mean is known far better than one piece is, and a group of many draws by the mean.
func toleranceOf(x budget.Sample) (half, share float64) {
	total := math.Hypot(x.CommonU, x.OwnU)
	if total == 0 {
		return 0, 0
	}
	return math.Sqrt(3) * total, x.CommonU * x.CommonU / (total * total)
}

// bare learns the curve of an LED: at each voltage of the sweep the mean
// current of the pieces and their mean voltage there.
func (l *Learned) bare(s Sampling, whole [][]point) error {
	var points []plan.VoltsAtAmps
	var top []float64
	topU := 0.0
	for k := range sweepPoints {
		meanA := 0.0
		for _, ps := range whole {
			meanA += ps[k].amps / float64(len(whole))
		}
		if meanA < 1e-5 {
			continue // below its knee nothing is learned
		}
		var volts []float64
		sum := 0.0
		for _, ps := range whole {
			series := s.Bench.SeriesOhm + ps[k].burden + s.Bench.LeadsOhm
			v := ps[k].setV - ps[k].amps*series
			// Carried to the mean current along a diode's law of ideality 2.
			if ps[k].amps > 0 {
				v += 0.052 * math.Log(meanA/ps[k].amps)
			}
			volts = append(volts, v)
			sum += v
			topU = math.Hypot(ps[k].u*series, math.Hypot(ps[k].amps*s.Bench.SeriesHalf, 0.01)/math.Sqrt(3))
		}
		points = append(points, plan.VoltsAtAmps{Volts: sum / float64(len(volts)), Amps: meanA})
		top = volts
	}
	if len(points) == 0 {
		return fmt.Errorf("%w: no current flows; are they turned round?", ErrNothing)
	}
	if !slices.IsSortedFunc(points, func(a, b plan.VoltsAtAmps) int { return cmp.Compare(a.Volts, b.Volts) }) {
		return fmt.Errorf("%w: the voltage falls while the current rises; check the ohms of the resistor in series",
			ErrNothing)
	}
	mean := 0.0
	for _, v := range top {
		mean += v / float64(len(top))
	}
	generic := 0.1
	if mean > 0 {
		generic = s.Part.SpreadVolts / mean
	}
	spread, err := budget.Sampled(top, topU, generic)
	if err != nil {
		return err
	}
	l.Spread, l.Unit = spread, "V"
	l.Part.Points = points
	l.Part.SpreadVolts, l.Part.Share = toleranceOf(spread)
	return nil
}
