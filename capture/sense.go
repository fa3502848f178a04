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
)

// contact is how the clip of a step was felt.
type contact struct {
	volts, amps float64
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
		if off := e.off(ctx); off != nil {
			err = errors.Join(err, off)
		}
		free = l.free
		var lost *lostError
		var slept *sleptError
		var unseen *unseenError
		var broken *brokenError
		switch {
		case err == nil:
			var next what
			if s, next, err = l.then(ctx, got); err == nil && next != senseAgain {
				return s, next == askAnew, nil
			}
			free = got.how == letGo || got.how == misnamed && free
		case ctx.Err() != nil && !errors.Is(err, ErrOffNotConfirmed):
			return named, false, context.Cause(ctx)
		case errors.As(err, &lost):
			losses++
			err = e.pauseLost(ctx, lost, false, losses)
		case errors.Is(err, ErrOffNotConfirmed):
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
	f = g.Feeling(e.done, 0, e.b.OutputF)
	if len(f.Points) == 0 {
		return f, f.Why, nil
	}
	count, err := e.feelRange(ctx, f.Points[len(f.Points)-1].LimitA)
	if err != nil || count <= 0 {
		return f, "the meter's range can't be set from here, or nobody knows its resolution", err
	}
	f = g.Feeling(e.done, feelCounts*count, e.b.OutputF)
	for i := range f.Points {
		f.Points[i].MaxA = 0 // the limit alone bounds it: too much is no trip here
	}
	return f, f.Why, nil
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
	g     Feeler
	f     Feeling
	named Step // that is asked for
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
	toSolder outcome = "solder"
	leaveOut outcome = "skip"
	misnamed outcome = "misnamed" // what the maker says names nothing that is left
)

// sensed is that end, with what was felt.
type sensed struct {
	how  outcome
	step Step
	of   []Step // several
	felt Felt
	text string // reason, or what it fits
}

// live switches on at the lowest point. The limit stands before.
func (l *sensing) live(ctx context.Context) error {
	if err := l.protect(ctx, Step{Volts: l.top().Volts, Ramp: l.f.Points}); err != nil {
		return err
	}
	if err := l.set(ctx, l.f.Points[0]); err != nil {
		return err
	}
	l.mind = watch{}
	l.out.on, l.out.sensing = true, true
	l.out.since, l.out.presses = l.b.Clock.Now(), 0
	l.out.inrushUntil = l.out.since
	if err := l.guard.on(ctx, l.b.Supply); err != nil {
		if err == ErrStopping {
			return err
		}
		return of(theSupply, err)
	}
	l.show(Event{What: SensingOn, Step: &l.named})
	return nil
}

func (l *sensing) top() RampPoint { return l.f.Points[len(l.f.Points)-1] }

// at goes to a point and waits until the output stands there.
func (l *sensing) at(ctx context.Context, p RampPoint) error {
	if l.out.volts == p.Volts && l.out.limit == l.clamp(p.LimitA) {
		return nil
	}
	if err := l.set(ctx, p); err != nil {
		return err
	}
	l.show(Event{What: SensingOn, Step: &l.named})
	return l.arrived(ctx, p.Volts, rampDwell, SensingOn)
}

// once reads the draw and whether the supply holds it back.
func (l *sensing) once(ctx context.Context) (Felt, error) {
	f := Felt{Volts: l.out.volts}
	r, err := l.read(ctx, SensingOn)
	var trip *tripError
	if errors.As(err, &trip) { // the meter says nothing, and the supply is at its limit
		f.Amps, f.Limited = l.out.limit, true
		return f, nil
	}
	if err != nil {
		return f, err
	}
	if f.Limited, err = l.limiting(ctx); err != nil {
		return f, err
	}
	f.HalfWidth = r.HalfWidth
	v, ok := r.Float()
	switch {
	case ok:
		f.Amps = v
	case r.Status == instruments.Overload:
		f.Amps, f.Limited = l.out.limit, true
	}
	return f, nil
}

// some: there is a draw, and it's no error of the meter's zero.
func (l *sensing) some(f Felt) bool {
	return f.Limited || f.Amps >= feelCounts*l.count() && f.Amps > f.HalfWidth
}

// count is the resolution of the meter's range in use, A.
func (l *sensing) count() float64 {
	for _, r := range l.currentRanges() {
		if r.Max >= l.top().LimitA {
			return r.Resolution
		}
	}
	return 0
}

// same: two draws at one voltage are those of one contact.
func (l *sensing) same(a, b Felt) bool {
	return a.Limited == b.Limited && math.Abs(a.Amps-b.Amps) <= feelRel*math.Max(math.Abs(a.Amps), math.Abs(b.Amps))+feelCounts*l.count()
}

// steady reads until two in a row agree; false: they never do.
func (l *sensing) steady(ctx context.Context) (Felt, bool, error) {
	was, err := l.once(ctx)
	for try := 1; err == nil && try < feelTries; try++ {
		var now Felt
		if now, err = l.once(ctx); err == nil && l.same(was, now) {
			return now, true, nil
		}
		was = now
	}
	return was, false, err
}

// run feels for a clip until it knows what is on, or the maker says something, or a
// minute went by. The output is live when it returns.
func (l *sensing) run(ctx context.Context) (sensed, error) {
	if err := l.live(ctx); err != nil {
		return sensed{}, err
	}
	got, err := l.await(ctx)
	if err != nil || got.how != tookIt {
		return got, err
	}
	return l.handsOff(ctx, got)
}

// await is run up to the knowledge of what is on. Its question is open meanwhile.
func (l *sensing) await(ctx context.Context) (sensed, error) {
	q := l.offered(l.question())
	asking, cancel := context.WithCancel(ctx)
	defer cancel() // takes it back
	answers := l.askBeside(asking, q)
	began := l.b.Clock.Now()
	lastAt, told := began, false
	var old *Felt // what hung on when it began
	for off := 0; ; {
		select {
		case r := <-answers:
			return l.heard(ctx, q, r, began)
		default:
		}
		now := l.b.Clock.Now()
		if now.Sub(lastAt) >= senseFor {
			return sensed{how: timeOut}, nil
		}
		if !told && now.Sub(began) >= nothingAfter {
			told = true
			l.show(Event{What: Told, Step: &l.named, Text: l.nothingText()})
		}
		if err := l.at(ctx, l.top()); err != nil {
			return sensed{}, err
		}
		f, err := l.once(ctx)
		if err != nil {
			return sensed{}, err
		}
		if !l.some(f) {
			l.hangs = false
			if off++; off >= 2 && !l.free {
				l.free, l.clip = true, ""
				l.show(Event{What: ClipOff, Step: &l.named})
			}
			continue
		}
		off = 0
		if old == nil {
			old = &f
		}
		if l.hangs = !l.free && l.same(f, *old); l.hangs {
			continue // it's the old one; another draw is a clip that was moved fast
		}
		lastAt = now
		x, err := l.identify(ctx)
		if err != nil {
			return sensed{}, err
		}
		if x.how == letGo {
			continue
		}
		select {
		case r := <-answers: // said meanwhile: it goes before what was felt
			return l.heard(ctx, q, r, began)
		default:
		}
		return x, nil
	}
}

// identify finds out what was clipped on: whether it is a short, by the lowest
// point, then by its draw at the highest, and at those between where that leaves a choice.
func (l *sensing) identify(ctx context.Context) (sensed, error) {
	l.show(Event{What: Contact, Step: &l.named})
	var felt []Felt
	order := append([]RampPoint{l.f.Points[0], l.top()}, l.f.Points[1:len(l.f.Points)-1]...)
	x := sensed{how: letGo}
	for i, p := range order {
		if err := l.at(ctx, p); err != nil {
			return x, err
		}
		f, steady, err := l.steady(ctx)
		if err != nil {
			return x, err
		}
		felt = append(felt, f)
		switch {
		case i == 0 && f.Limited:
			x.how, x.felt = aShort, f
			return x, nil
		case i == 0:
			continue
		case i == 1 && (!steady || !l.some(f)):
			return sensed{how: letGo}, nil
		}
		t := l.g.TakenFor(l.done, felt)
		x = sensed{how: fitsNone, felt: felt[1], of: t.Left}
		if felt[1].Limited && !f.Limited && l.some(f) {
			x.felt = f // the highest that wasn't held back
		}
		switch {
		case len(t.Left) == 1:
			x.how, x.step = tookIt, t.Left[0]
			return x, l.at(ctx, pointOf(l.f.Points, x.felt.Volts))
		case len(t.Left) > 1:
			x.how = several
		case len(t.Done) > 0:
			x.how, x.text = fitsDone, quoted(t.Done)
		case !f.Limited:
			return x, nil // a further voltage can't make it fit
		}
	}
	return x, nil
}

func pointOf(all []RampPoint, volts float64) RampPoint {
	i := slices.IndexFunc(all, func(p RampPoint) bool { return p.Volts == volts })
	return all[max(i, 0)]
}

// handsOff says what it's taken for, and gives hands a second to let go. Any change
// meanwhile, and it isn't ramped.
func (l *sensing) handsOff(ctx context.Context, x sensed) (sensed, error) {
	l.show(Event{What: HandsOff, Step: &x.step, Text: handsOffText(x.step)})
	until := l.b.Clock.Now().Add(handsOffFor)
	for l.b.Clock.Now().Before(until) {
		f, err := l.once(ctx)
		if err != nil {
			return x, err
		}
		if !l.same(f, x.felt) {
			return sensed{how: letGo, felt: x.felt, step: x.step}, nil
		}
	}
	return x, nil
}
