package compare

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/instruments"
)

// How a clip is felt for. An LED turned round bears 5 V by most data sheets; one
// without its resistor bears what the limit lets through, but not what a supply's
// output capacitor holds, that no limit stops: up to senseV that is harmless, and above
// it where its charge is less than chargeS of a current that the part bears. No LED
// conducts at senseLowV (all common practice, no source).
const (
	senseMostA   = 0.010 // may flow, the supply's own error of its limit included
	limitOffA    = 0.003 // that error, where the supply's profile doesn't state it
	senseLowV    = 0.5
	senseV       = 3.0
	senseStepV   = 0.5
	senseSteps   = 6   // at most
	reverseV     = 5.0 // an LED
	reverseShare = 0.9 // "below", with the supply's own error
	chargeS      = 0.001
	// At so little voltage the law of an LED counts for more than its spread: a draw may
	// lie by so much of it below what the plan's law gives, and above the loosest one.
	fitBelow, fitAbove = 0.25, 0.1
)

var _ capture.Feeler = (*Guide)(nil)

// Feeling implements capture.Feeler.
func (g *Guide) Feeling(done []capture.StepRecord, by capture.FeltBy) capture.Feeling {
	f := capture.Feeling{Left: g.clippable(done)}
	limit, top, why := g.bearable(g.unmeasured(done), by)
	if why != "" {
		f.Why = why
		return f
	}
	var points []capture.RampPoint
	step := max(senseStepV, math.Ceil(2*top/senseSteps)/2)
	points = append(points, capture.RampPoint{Volts: senseLowV, LimitA: limit})
	for v := senseLowV + senseStepV + step; v < top-step/2; v += step { // no LED conducts at the next one either
		points = append(points, capture.RampPoint{Volts: v, LimitA: limit})
	}
	points = append(points, capture.RampPoint{Volts: math.Floor(top*100) / 100, LimitA: limit})
	for _, s := range f.Left {
		if fit, _, ok := g.draws(s.Feed, points[len(points)-1].Volts); ok && fit.LowA*(1-fitBelow) > by.LeastA {
			f.Felt = append(f.Felt, s.Feed)
		}
	}
	if len(f.Felt) == 0 {
		f.Why = fmt.Sprintf("nothing that is left draws enough to be felt at %.1f V", top)
		return f
	}
	f.Points = points
	return f
}

// clippable is what a clip may go on next: the first step of each feed that isn't
// done, where nothing else must be done first.
func (g *Guide) clippable(done []capture.StepRecord) (out []capture.Step) {
	for _, s := range g.steps {
		if s.Kind != capture.Power || s.Way != capture.Alone || s.First != "" || len(s.Outputs) > 0 ||
			isDone(s, done) {
			continue
		}
		if !slices.ContainsFunc(out, func(x capture.Step) bool { return x.Feed == s.Feed }) {
			out = append(out, s)
		}
	}
	return out
}

// unmeasured are the feeds that a clip may be put on and that had no current in this
// sitting, whether they are to be measured or not: one that is skipped, or was measured
// yesterday, may be turned round as well. Those of closures that aren't under test
// aren't at hand; a board that closes under one of those is, where a light of it is under test.
func (g *Guide) unmeasured(done []capture.StepRecord) []budget.Feed {
	atHand := func(f budget.Feed) bool {
		return slices.ContainsFunc(g.steps, func(s capture.Step) bool {
			return s.Closure == f.Closure || slices.ContainsFunc(f.Groups, func(name string) bool {
				x, ok := g.judge.Expected.Plan.Group(name)
				return ok && x.Closure == s.Closure
			})
		})
	}
	measured := func(f budget.Feed) bool {
		return slices.ContainsFunc(done, func(r capture.StepRecord) bool {
			return r.Step.Feed == f.Feed && r.Step.Kind == capture.Power && r.Outcome == capture.Measured &&
				r.BeganAt == 0
		})
	}
	return slices.DeleteFunc(slices.Clone(g.budget.Feeds), func(f budget.Feed) bool {
		return !atHand(f) ||
			measured(f)
	})
}

// bearable is the limit and the highest voltage that harm no part of feeds, turned round
// or without its resistor; why not, where nobody knows what it bears.
func (g *Guide) bearable(feeds []budget.Feed, by capture.FeltBy) (limitA, volts float64, why string) {
	bears := senseMostA
	volts = math.Inf(1)
	p := g.judge.Expected.Plan
	for _, f := range feeds {
		switch {
		case f.AsFound:
			return 0, 0, fmt.Sprintf("nobody knows what %q bears when it's turned round", f.Feed)
		case f.Board:
			return 0, 0,
				fmt.Sprintf("%q is a board that isn't measured in this sitting, and nobody knows what it bears "+
					"when it's turned round: boards first", f.Feed)
		}
		volts = min(volts, f.Volts)
		for _, name := range f.Groups {
			x, ok := p.Group(name)
			if !ok || hasEnvelope(x) {
				return 0, 0, fmt.Sprintf("nobody knows what the electronics of %q bear when they're turned round",
					f.Feed)
			}
			for _, l := range x.Lights {
				if n := len(l.Series); n > 0 {
					volts = min(volts, reverseShare*reverseV*pieceOf(l.Kind, n))
				}
				for _, led := range l.Series {
					if led.MaxAmps > 0 {
						bears = min(bears, led.MaxAmps)
					}
				}
			}
		}
	}
	if most := math.Min(volts, senseV); !harmlessCharge(by.OutputF, volts, bears) {
		volts = most
	}
	if math.IsInf(volts, 1) || volts <= senseLowV {
		return 0, 0, "nothing is left that a clip could be felt on"
	}
	off := by.LimitOff
	if off == (instruments.Accuracy{}) {
		off.Floor = limitOffA
	}
	limit := (bears - off.Floor) / (1 + off.OfReading) // with its error it's what the part bears
	if limit < off.HalfWidth(limit) {
		return 0, 0, "a part that a clip may be put on bears less than a supply's limit is off by"
	}
	return limit, volts, ""
}

// pieceOf is how many LEDs of a chain are turned round together at least: a strip's
// segment comes as one piece, other chains are soldered LED by LED.
func pieceOf(k plan.LightKind, series int) float64 {
	if k == plan.Strip {
		return float64(series)
	}
	return 1
}

// harmlessCharge: what the supply's output holds at a voltage can't harm a part that
// bears so much. Of an output that isn't stated nothing is known.
func harmlessCharge(outputF, volts, bearsA float64) bool {
	return outputF > 0 && outputF*volts <= bearsA*chargeS
}

// TakenFor implements capture.Feeler. A feed fits where it draws so at each voltage.
func (g *Guide) TakenFor(done []capture.StepRecord, felt []capture.Felt) capture.Taken {
	var out capture.Taken
	left := g.clippable(done)
	for _, s := range left {
		if g.fitsAll(s.Feed, felt) {
			out.Left = append(out.Left, s)
		}
	}
	for _, f := range g.budget.Feeds {
		measured := slices.ContainsFunc(done, func(r capture.StepRecord) bool {
			return r.Step.Feed == f.Feed && r.Step.Kind == capture.Power
		})
		open := slices.ContainsFunc(left, func(s capture.Step) bool { return s.Feed == f.Feed })
		if measured && !open && g.fitsAll(f.Feed, felt) {
			out.Done = append(out.Done, f.Feed)
		}
	}
	return out
}

func (g *Guide) fitsAll(feed string, felt []capture.Felt) bool {
	for _, f := range felt {
		fit, _, ok := g.draws(feed, f.Volts)
		if !ok || !g.fitsAt(fit, f) {
			return false
		}
	}
	return len(felt) > 0
}

// fitsAt: a healthy feed may draw so at the voltage. What the supply holds back
// would draw as much or more.
func (g *Guide) fitsAt(fit capture.Fit, f capture.Felt) bool {
	slack := g.judge.Rule.K * f.HalfWidth / math.Sqrt(3)
	if f.Limited {
		return fit.HighA*(1+fitAbove)+slack >= f.Amps
	}
	return f.Amps >= fit.LowA*(1-fitBelow)-slack && f.Amps <= fit.HighA*(1+fitAbove)+slack
}

// UnfeltFirst puts the steps of what nobody knows to bear it, boards and what is as found,
// before those of other feeds of their closure: what is left then can be felt for.
func UnfeltFirst(b *budget.Budget, steps []capture.Step) []capture.Step {
	class := func(s capture.Step) int {
		f, ok := b.FeedNamed(s.Feed)
		switch {
		case s.Kind != capture.Power:
			return 2
		case ok && (f.Board || f.AsFound):
			return 0
		}
		return 1
	}
	out := slices.Clone(steps)
	for i := 0; i < len(out); {
		n := i
		for n < len(out) && out[n].Closure == out[i].Closure {
			n++
		}
		slices.SortStableFunc(out[i:n], func(x, y capture.Step) int { return class(x) - class(y) })
		i = n
	}
	return out
}
