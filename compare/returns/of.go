package returns

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/blink"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
	"sealworthy/instruments"
)

// Of makes the signature of a build from the records of its tests: the latest
// that was measured of each group, and the latest of the whole model at each
// pace at one stage. Twins are those that the budget names. The error says what
// has to be measured first.
func Of(p *plan.Plan, steps []capture.StepRecord, l Leads, twins []Twin) (*Signature, error) {
	p = p.InService()
	s := &Signature{Build: p.Build, PlanRevision: p.Revision, Jack: p.Jacks[0].Name, Twins: twins}
	b := &builder{p: p, s: s, l: l, steps: steps}
	if err := b.prepare(); err != nil {
		return nil, err
	}
	var never, once []string
	for _, g := range p.Groups {
		if p.JackOf(p.JointOf(g)) != s.Jack {
			continue
		}
		gc := b.group(g)
		s.Groups = append(s.Groups, gc)
		switch gc.Kept {
		case KeptNothing:
			never = append(never, strconv.Quote(g.Name))
		case KeptOne:
			once = append(once, strconv.Quote(g.Name))
		}
	}
	if never != nil {
		s.Notes = append(s.Notes, "nothing was measured alone of "+strings.Join(never, ", ")+
			": later it's known from the plan and the whole model only")
	}
	if once != nil {
		s.Notes = append(s.Notes, "measured at one voltage only: "+strings.Join(once, ", ")+
			"; what it draws at others comes from the plan")
	}
	s.Boards = b.boards
	if err := s.takeWhole(p, steps, l); err != nil {
		return s, err
	}
	if sum, whole, at, short := s.fallsShort(); short {
		s.Notes = append(s.Notes, fmt.Sprintf("the whole model drew %s at %.1f V, its groups alone %s together: was the "+
			"clip on its own jack, and is all of it lit? If not, keep it once more",
			words.Milliamps(whole, 0.01*whole), at, words.Milliamps(sum, 0.01*sum)))
	}
	return s, nil
}

// leastShort is what a model's wires take at most of what its groups draw alone, as a part of
// that (our own choice: thin wires cost some per cent).
const leastShort = 0.1

// fallsShort: the whole model drew less than its groups do alone, by more than its wires take and by half of
// its least group, as it does with the clip on one of them. It's told where nothing blinks and each group is known.
func (s *Signature) fallsShort() (sumA, wholeA, volts float64, short bool) {
	sweep := s.Whole[0].Sweep
	volts = sweep.Volts[len(sweep.Volts)-1]
	wholeA = sweep.At(volts)
	least := math.Inf(1)
	for _, g := range s.Groups {
		if g.Board != "" || g.Kept == KeptNothing {
			return 0, wholeA, volts, false
		}
		a := g.Lit.At(volts)
		sumA, least = sumA+a, min(least, a)
	}
	return sumA, wholeA, volts, sumA-wholeA > max(leastShort*sumA, least/2)
}

// takeWhole takes the whole model at every pace, from the latest stage at which
// it was measured before it came back.
func (s *Signature) takeWhole(p *plan.Plan, steps []capture.StepRecord, l Leads) error {
	stage := ""
	for _, r := range steps {
		if isWhole(r, s.Jack) && r.Stage != returned && r.Outcome == capture.Measured {
			stage = r.Stage
		}
	}
	if stage == "" {
		return errors.New("the whole model was not measured at its jack yet")
	}
	var with []capture.StepRecord // by pace
	for _, r := range steps {
		if !isWhole(r, s.Jack) || r.Stage != stage || r.Outcome != capture.Measured {
			continue
		}
		w, ok := wholeOf(p, s.Groups, r, l)
		if !ok {
			continue
		}
		if i := slices.IndexFunc(s.Whole, func(x Whole) bool { return x.Pace == w.Pace }); i >= 0 {
			s.Whole[i], with[i] = w, r
		} else {
			s.Whole, with = append(s.Whole, w), append(with, r)
		}
		s.TakenAt, s.Simulated = r.Ended, r.Simulated
		s.AmbientC = r.AmbientC
		s.WarmS = max(s.WarmS, r.Settled.Sub(r.On).Seconds())
	}
	for _, x := range with {
		s.Instruments = oneMeter(s.Instruments, x.Instruments)
	}
	s.keepResistor(steps, with, l)
	if len(s.Whole) == 0 || len(s.Whole[0].Sweep.Volts) < 3 {
		return errors.New("the whole model has no sweep at its jack yet")
	}
	return nil
}

// oneMeter are the instruments of a step beside those of the one before. Two meters have no
// name together: a later one can't be the same as both.
func oneMeter(before, now map[string]instruments.Description) map[string]instruments.Description {
	was, had := ammeterOf(before)
	is, has := ammeterOf(now)
	if !had || !has || was.Identity == is.Identity {
		return now
	}
	now = maps.Clone(now)
	for name, d := range now {
		if d.Identity == is.Identity {
			d.Identity = ""
			now[name] = d
		}
	}
	return now
}

// returned is the stage at which a model that came back is measured.
const returned = "returned"

func isWhole(r capture.StepRecord, jack string) bool {
	return r.Step.Kind == capture.Whole && r.Step.Feed == jack && len(r.Step.Sweep) > 0
}

// paceName takes the set of paces out of the ID of a step of the whole model.
func paceName(r capture.StepRecord) string {
	parts := strings.SplitN(r.Step.ID, "/", 3)
	if len(parts) < 3 {
		return ""
	}
	return parts[2]
}

// wholeOf takes one step of the whole model. Each mean of its sweep is the base
// and what blinks on it, fitted with the periods that the trace gave: a plain
// mean would hang on where the dwell cuts the blinkers' cycles.
func wholeOf(p *plan.Plan, groups []GroupCurve, r capture.StepRecord, l Leads) (Whole, bool) {
	w := Whole{Pace: paceName(r)}
	var periods []float64
	if t, ok := traceOf(r, l); ok {
		w.Trace, w.WindowS, w.Volts = t.samples, t.windowS, t.volts
		for _, b := range parted(t.samples, t.windowS, clocksOf(p, groups, w.Pace, t.volts)).Beats {
			periods = append(periods, b.PeriodS)
		}
	}
	ps := pointsOf(r, l)
	for i := range ps {
		steady(p, groups, w.Pace, periods, &ps[i])
	}
	w.Sweep = curveOf(ps)
	if len(r.Step.Sweep) > 0 {
		w.DwellS = r.Step.Sweep[0].For.Seconds()
	}
	return w, len(w.Sweep.Volts) > 0
}

// faintStep is the share of the draw below which a blinker doesn't matter.
const faintStep = 0.001

// steady takes what blinks out of the mean at one voltage. Where readings scatter
// too much about a fit, the plain mean with its own scatter is kept.
func steady(p *plan.Plan, groups []GroupCurve, pace string, periods []float64, q *point) {
	var cs []blink.Clock
	for i, c := range clocksOf(p, groups, pace, q.volts) {
		if i < len(periods) {
			c.PeriodS, c.PeriodRel = periods[i], sweepTol
		}
		board, _ := p.Board(c.Name)
		c.Outputs = slices.DeleteFunc(c.Outputs, func(o blink.Blinker) bool { return o.Amps < faintStep*q.amps })
		if len(c.Outputs) > 0 && q.volts > runsFrom*board.LowVolts {
			cs = append(cs, c)
		}
	}
	if len(cs) == 0 {
		return
	}
	if f := parted(q.samples, q.windowS, cs); f.Usable && !f.Poor {
		q.amps, q.u = f.MeanA, f.MeanU
	}
}

// runsFrom is down to where a board may still run, as a share of the lowest
// voltage that it is made for; the fit says whether it does.
const runsFrom = 0.4

// ReturnOf takes what was measured of a model that came back: the latest of
// the whole model at stage returned, at power-on pace unless pace says else.
func ReturnOf(p *plan.Plan, s *Signature, steps []capture.StepRecord, l Leads, pace string) (*Return, error) {
	p = p.InService()
	jack := cmp.Or(s.Jack, p.Jacks[0].Name)
	var last *capture.StepRecord
	for i, r := range steps {
		if r.Step.Kind != capture.Whole || r.Step.Feed != jack || r.Stage != returned {
			continue
		}
		if r.Outcome != capture.Measured && r.Outcome != capture.Tripped {
			continue
		}
		if atOneVoltage(r) && r.Outcome != capture.Tripped {
			continue // one voltage; what stopped it counts
		}
		if pace != "" && !atOneVoltage(r) && paceName(r) != pace || pace == "" && r.Step.Press > 0 {
			continue
		}
		last = &steps[i]
	}
	if last == nil {
		return nil, errors.New("the model was not measured at its jack since it came back")
	}
	w, _ := wholeOf(p, s.Groups, *last, l)
	r := &Return{At: last.Ended, Simulated: last.Simulated, AmbientC: last.AmbientC, Instruments: last.Instruments,
		Pace: w.Pace, Sweep: w.Sweep, DwellS: w.DwellS, Trace: w.Trace, WindowS: w.WindowS, Volts: w.Volts}
	r.Seen, r.Resistor = SeenIn(p, steps), ResistorIn(steps, *last, l)
	if !last.Settled.IsZero() {
		r.WarmS = last.Settled.Sub(last.On).Seconds()
	}
	if last.Outcome == capture.Tripped {
		r.Tripped, r.TripVolts = last.Reason, last.TripVolts
	}
	return r, nil
}

// Warm is how long a model has to be on before its signature is taken.
const Warm = 10 * time.Minute
