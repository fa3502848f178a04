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

// live switches on at the lowest point. The limit stands before, and no relay is left
// closed by the step before: what is felt hangs on the clip.
func (l *sensing) live(ctx context.Context) error {
	if l.b.Relays != nil {
		if err := l.b.Relays.Close(ctx); err != nil {
			return of(theRelays, err)
		}
		if err := l.wait(ctx, l.b.Clock.Now().Add(relayRest), StepBegins); err != nil {
			return err
		}
	}
	if err := l.protect(ctx, Step{Volts: l.top().Volts, Ramp: l.f.Points}); err != nil {
		return err
	}
	if err := l.set(ctx, l.f.Points[0]); err != nil {
		return err
	}
	l.mind = watch{}
	l.out.on, l.out.sensing, l.toTap = true, true, !l.feels()
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
	if l.out.volts == p.Volts {
		return nil
	}
	if err := l.set(ctx, p); err != nil {
		return err
	}
	l.show(Event{What: SensingOn, Step: &l.named})
	return l.arrived(ctx, p.Volts, rampDwell, SensingOn)
}

// errHeard: the maker said something, and that goes before what is felt.
var errHeard = errors.New("the maker said something")

// once reads the draw and whether the supply holds it back. It is errHeard where an
// answer came: whoever wants to solder waits for one reading at most.
func (l *sensing) once(ctx context.Context) (Felt, error) {
	f := Felt{Volts: l.out.volts}
	if err := l.spoken(); err != nil {
		return f, err
	}
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
	most := feelRel*math.Max(math.Abs(a.Amps), math.Abs(b.Amps)) + feelCounts*l.count()
	return a.Limited == b.Limited && math.Abs(a.Amps-b.Amps) <= most
}

// steadyFrom reads on after a reading until two in a row agree; false: they never do.
func (l *sensing) steadyFrom(ctx context.Context, was Felt) (Felt, bool, error) {
	for try := 1; try < feelTries; try++ {
		now, err := l.once(ctx)
		if err != nil {
			return now, false, err
		}
		if l.same(was, now) {
			return now, true, nil
		}
		was = now
	}
	return was, false, nil
}

// run feels for a clip until it knows what is on, or the maker says something, or a
// minute went by. The output is live when it returns, or stays off where a clip slips
// once and again.
func (l *sensing) run(ctx context.Context) (sensed, error) {
	if l.slips >= mostSlips {
		return sensed{how: slipping}, nil
	}
	if err := l.live(ctx); err != nil {
		return sensed{}, err
	}
	q, began := l.offered(l.question()), l.b.Clock.Now()
	asking, takeBack := context.WithCancel(ctx)
	l.answers = l.askBeside(asking, q)
	got, err := l.await(ctx, began)
	if err == nil && got.how == tookIt {
		got, err = l.handsOff(ctx, got)
	}
	if err == nil {
		err = l.spoken() // SOLDER is heard up to the last moment
	}
	takeBack()
	if l.answers = nil; !errors.Is(err, errHeard) {
		return got, err
	}
	said, err := l.heard(ctx, q, *l.reply, began)
	if said.how == tapped {
		said.felt = got.felt
	}
	return said, err
}

// spoken is errHeard where the maker said something.
func (l *sensing) spoken() error {
	select {
	case r := <-l.answers:
		l.reply = &r
		return errHeard
	default:
		return nil
	}
}

// await is run up to the knowledge of what is on. The question is open meanwhile.
func (l *sensing) await(ctx context.Context, began time.Time) (sensed, error) {
	told := false
	var old *Felt // what hung on when it began
	w := waiting{since: began}
	for off := 0; ; {
		now := l.b.Clock.Now()
		if now.Sub(w.since) >= senseFor { // a contact that chatters doesn't put it off
			return sensed{how: timeOut, text: w.ended(now, l.hangs, l.unfelt())}, nil
		}
		if !told && l.feels() && l.free && now.Sub(w.since) >= nothingAfter {
			told = true
			l.show(Event{What: NothingYet, Step: &l.named, Text: l.nothingText()})
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
				if old != nil { // hands begin now: as long as it hung they were elsewhere
					w.since = l.b.Clock.Now()
				}
				l.clipOff()
			}
			continue
		}
		off = 0
		if old == nil {
			old = &f
		}
		if l.hangs = !l.free && (l.same(f, *old) || l.pulses(f)); l.hangs {
			continue // it's the old one; another draw is a clip that was moved fast
		}
		got, err := l.identify(ctx, f)
		if err != nil || got.how != letGo {
			return got, err
		}
		if l.free { // else it was the old one, on its way off
			w.letGo = l.b.Clock.Now()
		}
		l.clipOff()
	}
}

// pulses: the clip was on a board last that runs through a pace, and that draws so, now more, now less.
func (l *sensing) pulses(f Felt) bool {
	return slices.ContainsFunc(l.done, func(r StepRecord) bool {
		return r.Step.Pace != "" && clipOn(r.Step.On, nil) == l.clip &&
			slices.Contains(l.g.TakenFor(l.done, []Felt{f}).Done, r.Step.Feed)
	})
}

// waiting is for a clip: since when, and when one let go last; zero: none did.
type waiting struct{ since, letGo time.Time }

// unfelt names what is asked for where it can't be felt; else "".
func (l *sensing) unfelt() string {
	if l.feels() {
		return ""
	}
	return l.named.Feed
}

// ended says what there was all that time; unfelt is asked for and can't be felt.
func (w waiting) ended(now time.Time, hangs bool, unfelt string) string {
	lasted := func(since time.Time) string { return " for " + roughly(now.Sub(since).Round(time.Second)) }
	switch {
	case hangs:
		return "The clip hung where it did" + lasted(w.since)
	case w.letGo.IsZero() && unfelt != "":
		return fmt.Sprintf("%q isn't felt at so few volts, and nothing else was clipped on", unfelt) + lasted(w.since)
	case w.letGo.IsZero():
		return "Nothing was felt" + lasted(w.since)
	case now.Sub(w.letGo) < nothingAfter:
		return "What was clipped on came and went" + lasted(w.since)
	}
	return "What was clipped on let go, and then nothing was felt" + lasted(w.letGo)
}

// clipOff shows that nothing hangs on the clip, and what is asked now.
func (l *sensing) clipOff() {
	l.show(Event{What: ClipOff, Step: &l.named, Text: l.question().Text})
}

// identify finds out what was clipped on, of which first was read.
//
// A draw that agrees with the one before it while the supply holds neither back is that of a
// contact, and of no short. Where it's one feed's alone, that is said at once, and what it draws
// at the lowest point is looked at while hands let go: see handsOff. Of what is held back the
// lowest point tells before all else, and where there is a choice those between.
func (l *sensing) identify(ctx context.Context, first Felt) (sensed, error) {
	l.show(Event{What: Contact, Step: &l.named})
	if !first.Limited {
		top, steady, err := l.steadyFrom(ctx, first)
		switch {
		case err != nil || !top.Limited && (!steady || !l.some(top)):
			return sensed{how: letGo}, err
		case top.Limited: // it touches something else now
		default:
			if x, _ := l.takenFor([]Felt{top}); x.how == tookIt {
				x.unlooked = true
				return x, nil
			}
			return l.further(ctx, &top)
		}
	}
	return l.further(ctx, nil)
}

// further reads at the lowest point, at the highest where it wasn't read yet, and at those between
// where they leave less of a choice. One reading at the lowest will do where nothing speaks
// against what it's taken for.
func (l *sensing) further(ctx context.Context, top *Felt) (sensed, error) {
	x := sensed{how: letGo}
	if err := l.at(ctx, l.f.Points[0]); err != nil {
		return x, err
	}
	low, err := l.once(ctx)
	if err != nil {
		return x, err
	}
	if top != nil && !low.Limited {
		if x, _ := l.takenFor([]Felt{*top, low}); x.how == tookIt {
			return x, nil
		}
	}
	if low, _, err = l.steadyFrom(ctx, low); err != nil || low.Limited {
		x.how, x.felt = aShort, low
		return x, err
	}
	if top == nil {
		f, steady, err := l.feltAt(ctx, l.top())
		if err != nil || !steady || !l.some(f) {
			return x, err
		}
		top = &f
	}
	felt := []Felt{*top, low}
	x, more := l.takenFor(felt)
	for _, p := range l.f.Points[1 : len(l.f.Points)-1] {
		if !more {
			break
		}
		f, _, err := l.feltAt(ctx, p)
		if err != nil {
			return x, err
		}
		felt = append(felt, f)
		x, more = l.takenFor(felt)
	}
	return x, nil
}

// feltAt is what is felt at a point, once it's steady.
func (l *sensing) feltAt(ctx context.Context, p RampPoint) (Felt, bool, error) {
	if err := l.at(ctx, p); err != nil {
		return Felt{}, false, err
	}
	f, err := l.once(ctx)
	if err != nil {
		return f, false, err
	}
	return l.steadyFrom(ctx, f)
}

// takenFor is what a draw fits; the first of felt is that at the highest point. more: a further
// voltage may leave less of a choice.
func (l *sensing) takenFor(felt []Felt) (x sensed, more bool) {
	t, top := l.g.TakenFor(l.done, felt), felt[0]
	x = sensed{how: fitsNone, felt: top, of: t.Left, free: !top.Limited}
	for _, f := range felt[1:] {
		if x.felt.Limited && !f.Limited && l.some(f) {
			x.felt = f // the highest that wasn't held back
		}
	}
	switch {
	case len(t.Left) == 1:
		x.how, x.step = tookIt, t.Left[0]
		return x, false
	case len(t.Left) > 1:
		x.how = several
	case len(t.Done) > 0:
		x.how, x.text = fitsDone, quoted(t.Done)
	default: // another voltage can't make it fit, but may find what isn't held back
		return x, top.Limited && !x.felt.Limited
	}
	return x, true
}

func pointOf(all []RampPoint, volts float64) RampPoint {
	i := slices.IndexFunc(all, func(p RampPoint) bool { return p.Volts == volts })
	return all[max(i, 0)]
}

// handsOff says what it's taken for, and gives hands a second to let go. Any change
// meanwhile, and it isn't ramped; nor is what draws at the lowest point what its feed doesn't.
func (l *sensing) handsOff(ctx context.Context, x sensed) (sensed, error) {
	until := l.engine.handsOff(x.step, handsOffText(x.step))
	changed := sensed{how: letGo, felt: x.felt, step: x.step}
	if x.unlooked {
		y, err := l.further(ctx, &x.felt)
		switch {
		case err != nil || y.how != tookIt:
			return y, err
		case y.step.ID != x.step.ID: // nothing is powered that wasn't announced
			return changed, nil
		}
		x = y
	}
	if err := l.at(ctx, pointOf(l.f.Points, x.felt.Volts)); err != nil {
		return x, err
	}
	for l.b.Clock.Now().Before(until) {
		f, err := l.once(ctx)
		if err != nil {
			return x, err
		}
		if !l.same(f, x.felt) {
			return changed, nil
		}
	}
	x.until = l.b.Clock.Now()
	return x, nil
}
