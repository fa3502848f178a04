package capture

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"sealworthy/instruments"
)

// At each point of a ramp the draw gets a moment before it is judged: a supply's
// output capacitor and the relays have to come to rest (common practice, no
// source). A supply that reads its own output back shows when it has; the time is
// what is waited otherwise, and at most.
const (
	rampDwell  = 200 * time.Millisecond
	inrushPoll = 50 * time.Millisecond
)

// jumpA is how much the limit may rise over points that are left out, unless a part
// states less: small LEDs are rated at 20 mA and more (common practice, no source),
// and what is too much here flows for the time of a reading.
const jumpA = 0.020

// ramp brings the output to the step's voltage. Each point sets voltage and
// limit together, the first before the output goes on, and is a test: too much
// already ends it with a tripError while little energy has flowed.
//
// Points are left out where the supply's limit alone protects as well as they do.
// What stops it at the end of such a jump is looked for among them, one after
// another from the lowest: so the voltage at which it trips is as sharp as ever,
// and what only charged isn't taken for a fault.
//
// What was felt for a moment ago begins where it would go on from the first point:
// sensing stood for that.
func (e *engine) ramp(ctx context.Context, s Step) error {
	begin := -1
	if e.feltStandsFor(s) {
		begin = 0
	}
	for at := begin; at+1 < len(s.Ramp); {
		next := farthest(s, at, e.inForce)
		err := e.point(ctx, s, next)
		var trip *tripError
		if first := at + 1; errors.As(err, &trip) && (next > first || at == begin && begin >= 0) {
			if at == begin {
				first = 0
			}
			err = e.oneByOne(ctx, s, first, next)
		}
		if err != nil {
			return err
		}
		at = next
	}
	return nil
}

// RampPoints is how many points of its ramp a healthy feed is tested at.
func (s Step) RampPoints() (n int) {
	asked := func(limit float64) float64 { return limit }
	for at := -1; at+1 < len(s.Ramp); at = farthest(s, at, asked) {
		n++
	}
	return n
}

// oneByOne tests the points of a ramp from one to another, both included.
func (e *engine) oneByOne(ctx context.Context, s Step, from, to int) error {
	for i := from; i <= to; i++ {
		if err := e.point(ctx, s, i); err != nil {
			return err
		}
	}
	return nil
}

// point goes to a point of the ramp and tests it.
func (e *engine) point(ctx context.Context, s Step, i int) error {
	p := s.Ramp[i]
	if err := e.set(ctx, p); err != nil {
		return err
	}
	if !e.out.on {
		if err := e.on(ctx); err != nil {
			return err
		}
	}
	e.show(Event{What: RampStep})
	e.out.inrushUntil = e.b.Clock.Now().Add(s.Inrush)
	if err := e.dwell(ctx, s, p, e.out.inrushUntil); err != nil {
		return err
	}
	return e.stillOn()
}

// farthest is the highest point that may follow point i; -1 is before the first.
// inForce is the limit that a supply holds for one that it is asked for.
func farthest(s Step, i int, inForce func(float64) float64) int {
	next := i + 1
	for i >= 0 && next+1 < len(s.Ramp) && mayJump(s, i, next+1, inForce) {
		next++
	}
	return next
}

// mayJump: the points between from and to of a ramp may be left out. What they
// would have stopped draws at the end of the jump no more than its limit, and that
// is too little more to harm anything. A board's surge, what hangs on more than one
// feed, and the whole model get every point.
func mayJump(s Step, from, to int, inForce func(float64) float64) bool {
	const exact = 1e-9 // A: limits are whole milliamperes, and their differences as numbers are not
	return mayLeaveOut(s, from, to) && inForce(s.Ramp[to].LimitA)-s.Ramp[from].LimitA <= leastBorne(s)+exact
}

// mayLeaveOut: a step of its kind may leave out points between two of its ramp.
func mayLeaveOut(s Step, from, to int) bool {
	if s.Kind != Power || s.Board != "" || s.Way != Alone {
		return false
	}
	for k := from + 1; k <= to; k++ {
		if s.Ramp[k].Volts <= s.Ramp[k-1].Volts {
			return false
		}
	}
	return true
}

// leastBorne is what every part of a step's feed bears for the time of a reading, A.
func leastBorne(s Step) float64 {
	if s.BearsA > 0 {
		return min(jumpA, s.BearsA)
	}
	return jumpA
}

// feltStandsFor: the contact of a step was felt, at a higher voltage than the first point of
// its ramp, held back by nothing, with what its feed draws there, and that long ago at most that
// no clip was moved since. Its first point would tell nothing new; what follows is
// limited as it is after that point, and stillOn looks at the next one whether it's the same.
func (e *engine) feltStandsFor(s Step) bool {
	f := e.felt
	if f == nil || !f.free || len(s.Ramp) < 2 || f.volts < s.Ramp[0].Volts || !mayLeaveOut(s, 0, 1) ||
		e.b.Clock.Now().Sub(f.until) > handsOffFor {
		return false
	}
	for _, p := range s.Ramp {
		if p.Volts >= f.volts {
			return f.amps <= p.MaxA
		}
	}
	return false
}

// inForce is the limit that the supply holds for one that it is asked for: with coarse
// steps it may be far above it.
func (e *engine) inForce(limit float64) float64 {
	if l, err := e.stepped(e.clamp(limit)); err == nil {
		return l
	}
	return math.Inf(1)
}

// set sends voltage and limit of a point.
func (e *engine) set(ctx context.Context, p RampPoint) error {
	if err := e.within(p.Volts); err != nil {
		return err
	}
	limit, err := e.stepped(e.clamp(p.LimitA))
	if err != nil {
		return err
	}
	e.out.volts, e.out.limit, e.out.point, e.out.limitNext = p.Volts, limit, p, time.Time{}
	if err := e.b.Supply.Set(ctx, p.Volts, limit); err != nil {
		return of(theSupply, err)
	}
	e.out.confirmed.volts, e.out.confirmed.limit = p.Volts, limit
	return nil
}

// stepped is the limit that the supply will have in force for one asked for: the
// next of its steps above, or where that is more than the bench allows the one below.
func (e *engine) stepped(limit float64) (float64, error) {
	s, ok := e.b.Supply.(instruments.LimitStepper)
	if !ok || !(s.LimitStep() > 0) {
		return limit, nil
	}
	const exact = 1e-6 // of a step: a limit that is a whole number of them
	step := s.LimitStep()
	up := math.Ceil(limit/step-exact) * step
	if e.clamp(up) >= up-exact*step {
		return up, nil
	}
	down := math.Floor(limit/step+exact) * step
	if !(down > 0) {
		return 0, &brokenError{which: theSupply, err: fmt.Errorf("has no limit as low as %s: its smallest is %s",
			amps(limit), amps(step))}
	}
	return down, nil
}

// on switches on. The output counts as on from before the command.
func (e *engine) on(ctx context.Context) error {
	if err := e.uncleared(); err != nil {
		return err
	}
	if e.rec != nil && e.rec.On.IsZero() {
		// What is about to get current stands on disk before it does.
		if err := e.synced(ctx); err != nil {
			return err
		}
	}
	e.out.on, e.fresh = true, true
	e.out.since, e.out.presses = e.b.Clock.Now(), 0
	if err := e.guard.on(ctx, e.b.Supply); err != nil {
		if err == ErrStopping {
			return err
		}
		return of(theSupply, err)
	}
	if e.rec.On.IsZero() {
		e.rec.On = e.out.since
	}
	e.show(Event{What: OutputOn})
	return e.mark(Mark{Kind: MarkOn, At: e.out.since})
}

// dwell waits at a point of the ramp and judges its draw. Constant current or
// too much is a trip once inrush is over.
func (e *engine) dwell(ctx context.Context, s Step, p RampPoint, inrush time.Time) error {
	if err := e.arrived(ctx, p.Volts, rampDwell, RampStep); err != nil {
		return err
	}
	stands := e.b.Clock.Now()
	e.out.stands = stands
	blind, early := 0, 0
	for {
		r, err := e.rampReading(ctx, s, p.Volts == s.Volts)
		if err != nil {
			return err
		}
		charging := e.b.Clock.Now().Before(inrush)
		over := r != nil && (above(*r, p.MaxA) || charging && r.Status == instruments.Overload)
		limiting, err := e.limiting(ctx)
		if err != nil {
			return err
		}
		if !over && !limiting {
			if early < readTries && r != nil && r.At.Add(-r.Window).Before(stands) {
				early++ // some of it is of before the voltage stood
				continue
			}
			if r == nil || r.Status == instruments.OK {
				return nil
			}
			if err := e.overload(ctx, *r); err != nil {
				return err
			}
			if blind++; blind > readTries {
				return &brokenError{which: theMeter, err: fmt.Errorf("shows no value (%s)", r.Status)}
			}
			continue // what wasn't read wasn't tested
		}
		if !charging {
			return e.tripOn(r, limiting)
		}
		if err := e.wait(ctx, e.b.Clock.Now().Add(inrushPoll), RampStep); err != nil {
			return err
		}
	}
}

// arrived waits until the supply's own reading says that its output stands at a
// voltage, and for most where it doesn't, or where nobody can tell: at its limit
// it doesn't come there.
func (e *engine) arrived(ctx context.Context, volts float64, most time.Duration, what EventKind) error {
	until := e.b.Clock.Now().Add(most)
	if byHand(e.b.Supply) {
		return e.wait(ctx, until, what)
	}
	for {
		r, err := e.readFrom(ctx, theSupply, instruments.Voltage, what)
		if err != nil {
			return err
		}
		now := e.b.Clock.Now()
		if v, ok := r.Float(); ok && math.Abs(v-volts) <= r.HalfWidth+
			e.desc[e.b.SupplyName].SetAccuracy.HalfWidth(volts) {
			return nil
		}
		if !now.Before(until) {
			return nil
		}
		next := now.Add(inrushPoll)
		if next.After(until) {
			next = until
		}
		if err := e.wait(ctx, next, what); err != nil {
			return err
		}
	}
}

// rampReading reads the draw at a point. A meter whose number the maker types
// in is asked only where nothing else can tell; of a group that is measured next its
// number serves for both.
func (e *engine) rampReading(ctx context.Context, s Step, last bool) (*instruments.Reading, error) {
	if !byHand(e.b.Meter) {
		return e.read(ctx, RampStep)
	}
	if !byHand(e.b.Supply) {
		return e.readBack(ctx, instruments.Current)
	}
	if last && (s.Kind != Power || s.Board != "") {
		return e.read(ctx, RampStep)
	}
	return nil, nil
}

// above tells whether a reading lies above most for sure.
func above(r instruments.Reading, most float64) bool {
	v, ok := r.Float()
	return ok && most > 0 && v-r.HalfWidth > most
}

// tripOn makes the reason of a trip in the maker's words. What is suspected
// depends on the voltage: up to 1.5 V, below the forward voltage of any LED, only
// something that isn't an LED conducts, up to 4 V one LED without its resistor
// does (common practice, no source).
func (e *engine) tripOn(r *instruments.Reading, limiting bool) error {
	v, read, who := e.out.volts, "", "the meter"
	if byHand(e.b.Meter) && !byHand(e.b.Supply) {
		who = "it" // its own reading: see rampReading
	}
	if r != nil {
		if a, ok := r.Float(); ok {
			read = amps(a)
		}
	}
	what := "it draws " + read
	if limiting || read == "" {
		what = "the supply is at its limit of " + amps(e.out.limit)
		if read != "" {
			what += " (" + who + " last read " + read + ")"
		}
	}
	cause := "a short, a missing resistor, or more hangs on it than the plan says"
	switch {
	case v <= 1.5:
		cause = "a short: no LED conducts at so little"
	case v <= 4:
		cause = "a missing resistor, or a short"
	}
	return &tripError{volts: v, reason: fmt.Sprintf("at %.2f V %s where at most %s is allowed; likely %s",
		v, what, amps(e.out.point.MaxA), cause)}
}
