package returns

import (
	"slices"

	"sealworthy/compare/blink"
	"sealworthy/compare/plan"
)

// beat is what blinks by one clock: the outputs of a board that run together or
// in turn, or one output that runs free.
type beat struct {
	board   string
	periodS float64
	tol     float64 // of the period, half-width, fraction
	outputs []beatOutput
	phase   float64 // fraction of the period; found by a fit
}

type beatOutput struct {
	group  string
	spans  [][2]float64 // lit, as fractions of the period from 0 to 2
	duty   float64
	builtA float64
}

// beatFit is a trace taken apart.
type beatFit struct {
	ok     bool
	baseA  float64
	baseU  float64
	stepA  []float64 // by output, boards in order
	stepU  []float64
	meanA  float64 // base and duty as built times step: no duty of this trace in it
	meanU  float64
	beats  []beat
	noiseA float64
	// rest is what the fit leaves of each reading; edge marks those whose window
	// holds an edge. scatterA is the standard deviation of the others, by their
	// median, so that a few drops don't enter it.
	rest     []float64
	edge     []bool
	scatterA float64
}

// periodTol is how far a board's pace may have moved since: warmth and age.
const periodTol = 0.05

// beatsOf lists what blinks at a set of paces, as built, at volts.
func beatsOf(p *plan.Plan, groups []GroupCurve, pace string, volts float64) []beat {
	var out []beat
	for _, b := range p.Boards {
		var os []beatOutput
		period := 0.0
		numbers := map[int]int{}
		for _, g := range groups {
			if g.Board != b.Name {
				continue
			}
			l, ok := g.level(paceOf(pace, b.Name))
			if !ok || l.PeriodS <= 0 || l.OnA <= 0 || l.Duty <= 0 || l.Duty >= 1 {
				continue
			}
			period = l.PeriodS
			a := l.OnA
			if len(g.Lit.Volts) > 0 {
				a = g.Lit.at([]float64{volts})[0]
			}
			if k, seen := numbers[g.Output]; seen { // two groups on one output blink as one
				os[k].builtA += a
				continue
			}
			numbers[g.Output] = len(os)
			os = append(os, beatOutput{group: g.Group, spans: spansOf(b, l, g.Output), duty: l.Duty, builtA: a})
		}
		switch {
		case len(os) == 0:
		case b.Run == plan.Free:
			for _, o := range os {
				out = append(out, beat{board: b.Name, periodS: period, tol: periodTol, outputs: []beatOutput{o}})
			}
		default:
			out = append(out, beat{board: b.Name, periodS: period, tol: periodTol, outputs: os})
		}
	}
	return out
}

// inWhole brings the steps as built to what they were in the whole model when
// its trace was kept, where one was.
func inWhole(p *plan.Plan, s *Signature, pace string, bs []beat) []beat {
	for i, w := range s.Whole {
		if len(w.Trace) == 0 || w.Pace != pace && (pace != "" || i > 0) {
			continue
		}
		then := beatsOf(p, s.Groups, pace, w.Volts)
		f := fitBeats(w.Trace, w.WindowS, then, false)
		if !f.ok {
			return bs
		}
		ratio := map[string]float64{}
		k := 0
		for _, b := range then {
			for _, o := range b.outputs {
				if f.stepA[k] > 0.5*o.builtA {
					ratio[o.group] = f.stepA[k] / o.builtA
				}
				k++
			}
		}
		for i := range bs {
			for j := range bs[i].outputs {
				if x, ok := ratio[bs[i].outputs[j].group]; ok {
					bs[i].outputs[j].builtA *= x
				}
			}
		}
		return bs
	}
	return bs
}

// spansOf gives when an output is lit within its period.
func spansOf(b plan.Board, l Level, output int) [][2]float64 {
	shift := 0.0
	if b.Run == plan.Alternate && len(b.Outputs) > 1 {
		k := slices.IndexFunc(b.Outputs, func(o plan.Output) bool { return o.Number == output })
		shift = float64(max(0, k)) / float64(len(b.Outputs))
	}
	k := slices.IndexFunc(b.Paces, func(q plan.Pace) bool { return q.Name == l.Pace && len(q.Flashes) > 0 && q.PeriodS > 0 })
	if k >= 0 {
		return b.Paces[k].Spans(shift)
	}
	return plan.Pace{Duty: l.Duty}.Spans(shift)
}

// lit is the share of the window (t-w, t] in which an output is lit.
func (o beatOutput) lit(t, w, period, phase float64) float64 {
	return blink.LitOf(o.spans, t/period-phase, w/period)
}
