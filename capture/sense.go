package capture

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"sealworthy/instruments"
)

// Sensing is the output's third state, beside off and on: live, at little voltage
// and under a small limit, to feel what the maker clips on while both hands are
// full. It isn't off: nobody solders in it. What is felt is taken for a feed that
// is left, announced, and ramped after a second in which nothing changes. A short,
// and what fits nothing that is planned, is never ramped by itself.
//
// How long each of it lasts is our own choice, no source: a second is enough to let
// go of a clip after a tone; a minute without contact means that nobody clips.
const (
	senseFor     = time.Minute
	nothingAfter = 10 * time.Second
	handsOffFor  = time.Second
	feelCounts   = 10  // of the meter's range: more than its zero is off
	feelRel      = 0.2 // a draw that changes by more isn't the same contact
	holdRel      = 0.5 // at a higher voltage a feed never draws less than at a lower one: half of it is gone
	feelTries    = 6   // readings until two agree
	mostSlips    = 3   // contacts that let go on their way to a reading, until it's asked about
)

// contact is how the clip of a step was felt.
type contact struct {
	volts, amps float64
	// free: the supply didn't hold it back, at any voltage that it was felt at
	free  bool
	until time.Time // when it was felt last
}

// letGoError: the clip came off between what was felt and what is measured.
type letGoError struct{ felt, reads float64 }

func (e *letGoError) Error() string {
	return fmt.Sprintf("it drew %s when it was felt, and %s at a higher voltage", amps(e.felt), amps(e.reads))
}

// errLetGo: the step isn't begun before its clip is felt anew.
var errLetGo = errors.New("the contact was lost before it was measured")

// stillOn: at the voltage at which its clip was felt, and above, a feed draws no less.
func (e *engine) stillOn() error {
	if e.felt == nil || e.rec == nil || e.out.volts < e.felt.volts {
		return nil
	}
	for _, r := range slices.Backward(e.rec.Readings) {
		if r.Instrument != e.mainName() || r.Quantity != instruments.Current {
			continue
		}
		if v, ok := r.Float(); ok && v < holdRel*e.felt.amps {
			return &letGoError{e.felt.amps, v}
		}
		return nil
	}
	return nil
}

// what follows from sensing.
type what int

const (
	senseAgain what = iota
	begin           // the step
	askAnew         // what is left may be another now
)

// feel has the maker clip on what is at hand, by feeling for it, and gives the step
// of what it's taken for. Where it can't be felt for, that is said in a line, and
// the step stays the one that is asked for. again: what is left has changed.
func (e *engine) feel(ctx context.Context, named Step) (s Step, again bool, err error) {
	e.felt, e.leaves = nil, nil
	g, ok := e.g.(Feeler)
	if !ok || !e.o.HandsFree || unattended(e.f) || !e.byClip(named) {
		return named, false, nil
	}
	free := e.clip == "" // what the clip was on before hangs there still, as far as anyone knows
	for losses := 0; ; {
		f, why, err := e.feeling(ctx, g)
		if err == nil && why != "" {
			e.tellWhyNot(why)
			return named, false, nil
		}
		l := &sensing{engine: e, g: g, f: f, named: named, free: free}
		var got sensed
		if err == nil {
			got, err = l.run(ctx)
		}
		var lost *lostError
		if off := e.off(ctx); off != nil {
			if !errors.As(off, &lost) {
				return named, false, errors.Join(err, off)
			}
			err = off // what may be on with nobody to switch it off goes before all else
		}
		free, e.began = l.free, e.b.Clock.Now()
		var slept *sleptError
		var unseen *unseenError
		var broken *brokenError
		switch {
		case err == nil:
			var next what
			if s, next, err = l.then(ctx, got); err == nil && next != senseAgain {
				return s, next == askAnew, nil
			}
			switch got.how {
			case misnamed, timeOut, slipping, toSolder: // where nothing hung, what is on then was clipped on since
			default: // what was felt is no feed that was measured before: whatever is on then is felt anew
				free = true
			}
		case ctx.Err() != nil:
			return named, false, context.Cause(ctx)
		case lost != nil || errors.As(err, &lost):
			losses++
			err = e.pauseLost(ctx, lost, false, losses)
		case errors.As(err, &slept):
			err = e.pauseAway(ctx, slept)
		case errors.As(err, &unseen):
			err = e.pauseAway(ctx, unseen)
		case errors.As(err, &broken):
			e.tellWhyNot(broken.Error())
			return named, false, nil
		}
		if err != nil {
			return named, false, err
		}
	}
}

// byClip: hands put the clip of a step on, one and no other, and it isn't there yet.
func (e *engine) byClip(s Step) bool {
	return s.Kind == Power && s.Way == Alone && s.First == "" && len(s.Outputs) == 0 && len(s.On) == 1 &&
		!e.byRelay(s.Feed) && e.clip != clipOn(s.On, s.Outputs)
}

// feeling asks how to feel for what is left, with the meter in the range for it.
func (e *engine) feeling(ctx context.Context, g Feeler) (f Feeling, why string, err error) {
	if byHand(e.b.Supply) || e.b.Meter == nil || byHand(e.b.Meter) {
		return f, "the supply and the meter must be on ports for that", nil
	}
	by := FeltBy{OutputF: e.b.OutputF, LimitOff: e.desc[e.b.SupplyName].LimitAccuracy}
	f = g.Feeling(e.done, by)
	if len(f.Points) == 0 {
		return f, f.Why, nil
	}
	count, err := e.feelRange(ctx, f.Points[len(f.Points)-1].LimitA)
	if err != nil || count <= 0 {
		return f, "the meter's range can't be set from here, or nobody knows its resolution", err
	}
	by.LeastA = feelCounts * count
	f = g.Feeling(e.done, by)
	for i, p := range f.Points {
		limit := e.noMore(p.LimitA)
		if !(limit > 0) {
			return f, fmt.Sprintf("the supply has no limit as low as %s", amps(p.LimitA)), nil
		}
		f.Points[i].LimitA = limit
		f.Points[i].MaxA = 0 // the limit alone bounds it: too much is no trip here
	}
	return f, f.Why, nil
}

// noMore is the highest limit that the supply can hold and that is no more than this;
// 0: it has none.
func (e *engine) noMore(limit float64) float64 {
	limit = e.clamp(limit)
	s, ok := e.b.Supply.(instruments.LimitStepper)
	if !ok || !(s.LimitStep() > 0) {
		return limit
	}
	const exact = 1e-6 // of a step
	return math.Floor(limit/s.LimitStep()+exact) * s.LimitStep()
}

// feelRange sets the meter's range that holds a limit, and gives its count, A; 0:
// it can't be set, or isn't known.
func (e *engine) feelRange(ctx context.Context, limit float64) (count float64, err error) {
	ranges := e.currentRanges()
	m, ok := e.b.Meter.(instruments.Ranger)
	if !ok {
		if len(ranges) == 1 {
			return ranges[0].Resolution, nil
		}
		return 0, nil
	}
	r, err := m.FixRange(ctx, instruments.Current, limit)
	switch {
	case err == nil:
		return r.Resolution, nil
	case errors.Is(err, instruments.ErrNotSet):
		return 0, nil
	}
	return 0, of(theMeter, err)
}

// tellWhyNot says why a clip isn't felt for, once as long as it's the same.
func (e *engine) tellWhyNot(why string) {
	if why != e.whyNot {
		e.show(Event{What: Told, Text: "Not hands-free: " + why + "."})
	}
	e.whyNot = why
}

// sensing is one time that the output is live to feel for a clip.
type sensing struct {
	*engine
	g       Feeler
	f       Feeling
	named   Step         // that is asked for
	answers <-chan reply // to the question that is open; nil: none is
	reply   *reply       // that came

	free  bool // nothing hangs on the clip, or nothing is known to
	hangs bool // the clip hangs where it did
}

// outcome says how sensing came to its end.
type outcome string

const (
	tookIt   outcome = "took"    // what is clipped on is known
	tapped   outcome = "tapped"  // the maker says what it's on
	several  outcome = "several" // it may be one of some
	aShort   outcome = "short"
	fitsNone outcome = "fits none"
	fitsDone outcome = "done" // it fits what is measured already
	letGo    outcome = "let go"
	timeOut  outcome = "time"
	slipping outcome = "slipping" // it let go once and again
	toSolder outcome = "solder"
	leaveOut outcome = "skip"
	misnamed outcome = "misnamed" // what the maker says names nothing that is left
)

// sensed is that end, with what was felt.
type sensed struct {
	how      outcome
	step     Step
	of       []Step // several
	felt     Felt
	free     bool      // the supply held it back at no voltage
	unlooked bool      // at the lowest point: it isn't known what it draws there
	until    time.Time // when it was felt last
	text     string    // reason, or what it fits
}
