package capture

import (
	"context"
	"errors"
	"fmt"
	"time"

	"sealworthy/instruments"
)

// A reply that is garbled or doesn't come is asked for again so often before
// the step is given up.
const readTries = 3

// A steady draw on a slow bench is read for longer until it has so many readings:
// fewer tell nothing of their scatter. So many times as long at most.
const (
	leastReadings = 8
	slowerAtMost  = 4
)

// sampling is what is read once the draw has settled.
type sampling struct {
	span     time.Duration
	enough   Enough // ends it sooner; zero: never
	early    Enough // tells what it comes to, and goes on; zero: never
	readBack bool   // the supply in between
	mind     bool   // keep the pairs of both instruments for the cross-check
}

// sample reads with the step's jittered spacing, and the supply's read-back in
// between.
func (e *engine) sample(ctx context.Context, s Step, o sampling) error {
	if byHand(e.b.Meter) {
		if s.Board != "" || s.Pace != "" {
			e.warn("one number by hand: what blinks can't be told from it")
		}
		_, err := e.watched(ctx, Sampling)
		return err
	}
	end := e.b.Clock.Now().Add(o.span)
	last := end // of a bench so slow that its readings are few
	least := 0
	if o.readBack && s.Board == "" && s.Pace == "" { // a point of a sweep needs fewer
		least = leastReadings
		last = end.Add((slowerAtMost - 1) * o.span)
	}
	if s.MaxTotal > 0 {
		most := e.powered().Add(s.MaxTotal)
		if most.Before(last) {
			last = most // a slow bench doesn't make a step longer than it may be
		}
		if most.Before(end) {
			end = most
			e.warn("read for less than planned: the step took longer than it may")
		}
	}
	next := e.b.Clock.Now()
	var backAt time.Time
	seen, n, told := scatter{}, 0, false
	if o.enough.Readings > 0 || o.early.Readings > 0 {
		seen = e.restScatter()
	}
	if o.enough.Readings > 0 {
		n = len(seen.all)
	}
	for ; n == 0 || e.b.Clock.Now().Before(end) || n < least && e.b.Clock.Now().Before(last); n++ {
		r, err := e.watched(ctx, Sampling)
		if err != nil {
			return err
		}
		if seen.add(r); seen.enough(o.enough) {
			return nil
		}
		if !told && seen.enough(o.early) {
			told = true
			e.sayEarly(s, e.early.rest)
		}
		if now := e.b.Clock.Now(); o.readBack && e.b.Meter != nil && !byHand(e.b.Supply) && !now.Before(backAt) {
			backAt = now.Add(e.o.ReadBackEvery)
			if err := e.readBoth(ctx, r, o.mind); err != nil {
				return err
			}
		}
		// Spacing is between requests; a slow meter makes it longer.
		next = next.Add(e.spacing(s))
		if now := e.b.Clock.Now(); next.Before(now) {
			next = now
		}
		if next.After(last) {
			next = last
		}
		if next.After(end) && n+1 >= least {
			next = end
		}
		if err := e.wait(ctx, next, Sampling); err != nil {
			return err
		}
	}
	return nil
}

// powered is since when the step has power: how long the maker took to clip
// doesn't count, nor a pause with the output held.
func (e *engine) powered() time.Time {
	if e.out.since.Before(e.rec.Began) {
		return e.rec.Began
	}
	return e.out.since
}

// spacing is the jittered time to the next request. Even spacing would make a
// blinker's frequency undecidable between f and its alias.
func (e *engine) spacing(s Step) time.Duration {
	if s.Jitter <= 0 || s.Spacing <= 0 {
		return s.Spacing
	}
	if e.o.Rand == nil {
		e.warn("the readings are evenly spaced, so a blinker's pace may be told wrongly")
		return s.Spacing
	}
	return time.Duration(float64(s.Spacing) * (1 + s.Jitter*(2*e.o.Rand.Float64()-1)))
}

// readBoth reads the supply back next to a meter's reading.
func (e *engine) readBoth(ctx context.Context, m *instruments.Reading, mind bool) error {
	c, err := e.readBack(ctx, instruments.Current)
	if err != nil {
		return err
	}
	if mind && m != nil && c != nil {
		e.pairs = append(e.pairs, pair{meter: *m, supply: *c})
	}
	_, err = e.readBack(ctx, instruments.Voltage)
	return err
}

// watched is one reading of the draw with all that is watched beside it: too
// much, constant current, an overload, the time. Over-current to off takes one
// reading and one command.
func (e *engine) watched(ctx context.Context, what EventKind) (*instruments.Reading, error) {
	r, err := e.read(ctx, what)
	if err != nil {
		return nil, err
	}
	late := !e.b.Clock.Now().Before(e.out.inrushUntil)
	if r != nil && late && above(*r, e.out.point.MaxA) {
		return nil, e.tripOn(r, false)
	}
	limiting := false
	if asked := e.b.Clock.Now(); r == nil || !asked.Before(e.out.limitNext) {
		if limiting, err = e.limiting(ctx); err != nil {
			return nil, err
		}
		e.out.limitNext = restAfter(asked, e.b.Clock.Now())
	}
	if limiting && late {
		return nil, e.tripOn(r, true)
	}
	if r != nil && (late || r.Status != instruments.Overload) {
		if err := e.overload(ctx, *r); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// A supply that is slow to say whether it holds back is asked for a quarter of the time
// at most: the limit holds anyway, and the meter is read each time. One that answers
// within slowAnswer is asked with each reading.
const (
	slowAnswer = 150 * time.Millisecond
	restShare  = 3
)

// restAfter is when a supply that was asked at one time and answered at another is
// asked again.
func restAfter(asked, answered time.Time) time.Time {
	took := answered.Sub(asked)
	if took <= slowAnswer {
		return answered
	}
	return answered.Add(restShare * took)
}

// read reads the draw by the meter, or by the supply where there is none.
func (e *engine) read(ctx context.Context, what EventKind) (*instruments.Reading, error) {
	if e.b.Meter == nil {
		return e.readFrom(ctx, theSupply, instruments.Current, what)
	}
	return e.readFrom(ctx, theMeter, instruments.Current, what)
}

// readBack reads the supply. A supply set by hand has nothing to read.
func (e *engine) readBack(ctx context.Context, q instruments.Quantity) (*instruments.Reading, error) {
	if byHand(e.b.Supply) {
		return nil, nil
	}
	return e.readFrom(ctx, theSupply, q, Sampling)
}

// readFrom reads, keeps and shows. No reply at all, so often, is an instrument
// that may have switched itself off; a garbled one is a broken line.
func (e *engine) readFrom(ctx context.Context, which role, q instruments.Quantity,
	what EventKind) (*instruments.Reading, error) {
	var m instruments.Meter = e.b.Supply
	name := e.b.SupplyName
	if which == theMeter {
		m, name = e.b.Meter, e.b.MeterName
	}
	var err error
	for try := range readTries {
		var r instruments.Reading
		r, err = m.Read(ctx, q)
		if err == nil {
			r.Instrument = name
			if r, err = e.believed(ctx, m, q, r); err != nil {
				return nil, err
			}
			if kerr := e.keep(r); kerr != nil {
				return nil, kerr
			}
			e.show(Event{What: what, Reading: &r})
			return &r, e.mindTime()
		}
		if ctx.Err() != nil {
			return nil, context.Cause(ctx)
		}
		if !errors.Is(err, instruments.ErrNoReply) && !errors.Is(err, instruments.ErrGarbled) {
			return nil, of(which, err)
		}
		e.warn(fmt.Sprintf("%s: a reading was lost: %v", name, err))
		// While the meter says nothing the supply alone watches.
		if which == theMeter && try+1 < readTries {
			limiting, lerr := e.limiting(ctx)
			if lerr != nil {
				return nil, lerr
			}
			if limiting && !e.b.Clock.Now().Before(e.out.inrushUntil) {
				return nil, e.tripOn(nil, true)
			}
		}
	}
	if errors.Is(err, instruments.ErrNoReply) {
		return nil, &lostError{which: which, silent: true, err: err}
	}
	return nil, of(which, err)
}

// believed is a reading that may end the step: too much is read again at once,
// since one bad reply is no overload. What stood alone is kept as a reply without
// a value. At constant current no time is lost on it: that is an overload.
func (e *engine) believed(ctx context.Context, m instruments.Meter, q instruments.Quantity,
	r instruments.Reading) (instruments.Reading, error) {
	if q != instruments.Current || !e.out.on || byHand(m) || !above(r, e.out.point.MaxA) &&
		r.Status != instruments.Overload {
		return r, nil
	}
	if limiting, err := e.limiting(ctx); limiting || err != nil {
		return r, err
	}
	again, err := m.Read(ctx, q)
	if err != nil || again.Status == instruments.Overload || above(again, e.out.point.MaxA) {
		return r, nil // nothing speaks against it
	}
	e.warn(fmt.Sprintf("one reply stood alone and isn't used: %q, where the next one was %q", r.Raw, again.Raw))
	r.Status, r.Value = instruments.NotANumber, nil
	if err := e.keep(r); err != nil {
		return r, err
	}
	again.Instrument = r.Instrument
	return again, nil
}

// limiting asks the supply for constant current. One bad answer, lost or wrong,
// is asked for again; a supply that doesn't answer can't be watched.
func (e *engine) limiting(ctx context.Context) (bool, error) {
	if byHand(e.b.Supply) {
		return false, nil
	}
	on, err := e.b.Supply.Limiting(ctx)
	for try := 1; try < readTries && err != nil && ctx.Err() == nil &&
		!errors.Is(err, instruments.ErrPortGone); try++ {
		on, err = e.b.Supply.Limiting(ctx)
	}
	if on && err == nil {
		if sure, again := e.b.Supply.Limiting(ctx); again == nil {
			on = sure
		} // else nothing speaks against it
	}
	if err != nil && ctx.Err() != nil {
		return false, context.Cause(ctx)
	}
	return on, of(theSupply, err)
}
