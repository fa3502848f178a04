package capture

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"time"

	"sealworthy/instruments"
)

// Run carries out the steps that g gives, one after another, and returns what
// became of them: first those of o.Done, then its own. Records that a redo
// replaced are in the record only. The output is off when Run returns, on every
// way out of it; where that was not confirmed the error is ErrOffNotConfirmed.
//
// ErrStopped means that the maker ended the test, the cause of ctx that it was
// cancelled. The records made until then are returned with each error. On a
// simulated clock the caller of Run is a party.
func Run(ctx context.Context, b Bench, g Guide, f Face, r Record, o Options) (recs []StepRecord, err error) {
	e, err := newEngine(b, g, f, r, o)
	if err != nil {
		return o.Done, err
	}
	ctx, cancel := e.guard.Context(ctx)
	defer cancel()
	e.release = e.guard.Register(e.b.SupplyName, e.b.Supply)
	defer func() { e.release() }()
	defer func() {
		if p := recover(); p != nil {
			err = errors.Join(&PanicError{Value: p, Stack: debug.Stack()}, e.leave(ctx))
			recs = e.done
		}
	}()
	err = e.test(ctx)
	err = errors.Join(err, e.leave(ctx))
	return e.done, err
}

// engine is one test under way. All of it runs in the goroutine of Run.
type engine struct {
	b     Bench
	g     Guide
	f     Face
	r     Record
	o     Options
	guard *Guard
	// release takes the present supply from the guard.
	release func()

	done   []StepRecord
	desc   map[string]instruments.Description
	ids    map[role]string
	paceOf map[string]string // board to the pace it was left in

	rec       *StepRecord // of the step under way
	sweeping  bool        // its step is measured, what is read is its curve
	early     early       // of the step under way
	base      bool        // readings belong to what was on before the feed was added
	out       output
	noColours bool               // whoever looks can't judge colours
	heardAt   time.Time          // when the maker answered last
	litUntil  time.Time          // a look goes dark by itself then; zero: no look is asked about
	clip      string             // what the clip is on, as the maker said
	readied   string             // the step whose First was done last
	parted    string             // board and outputs that the maker left clipped; empty: all of them
	keyed     string             // range that the maker set by the meter's key
	trusted   map[string]bool    // step IDs whose clip the maker vouches for
	allowed   map[string]float64 // checks that the maker allowed by name in this test, with how far each went
	remaining time.Duration      // at the begin of the step
	began     time.Time          // of the step
	mind      watch
	dark      time.Time // when the output is read back next, while a question stands with it off
	pairs     []pair
	overloads int             // in a row
	alone     map[string]bool // step IDs that were measured again since one reading stood alone
	carry     []string        // warnings of an attempt that is done again
	undo      *undo           // the last answer, while it can be taken back; nil: none
	away      time.Duration   // how long a question was open, where that was long
	anew      bool            // steps come again: something was touched, or taken back
	fresh     bool            // something was done since it was asked what was touched
	toTap     bool            // what is asked for isn't felt, healthy or not
	felt      *contact        // how the clip of the step under way was felt; nil: it wasn't
	slips     int             // contacts in a row that let go before they were measured
	leaves    *skipError      // the next step that is asked for is left out
	whyNot    string          // why a clip isn't felt for, as it was told last
}

// output is what was last sent to the supply.
type output struct {
	on bool
	// sensing: it is on only to feel for a clip.
	sensing bool
	// unsure: the supply didn't confirm that it is off.
	unsure bool
	volts  float64
	limit  float64
	// confirmed is what the supply last confirmed to be set to.
	confirmed struct{ volts, limit float64 }
	since     time.Time // output on
	readOff   time.Time // the supply confirmed last that it's off
	// limitNext is when a slow supply is asked next whether it holds back.
	limitNext time.Time
	// stands is since when it has stood at the voltage of the ramp.
	stands time.Time
	point  RampPoint
	// presses of the board's button since then
	presses int
	// inrushUntil: constant current is no trip before it.
	inrushUntil time.Time
}

func newEngine(b Bench, g Guide, f Face, r Record, o Options) (*engine, error) {
	switch {
	case b.Clock == nil:
		return nil, errors.New("a test needs a clock")
	case b.Supply == nil:
		return nil, errors.New("a test needs a supply")
	case g == nil || f == nil || r == nil:
		return nil, errors.New("a test needs a guide, a face and a record")
	}
	if b.SupplyName == "" {
		b.SupplyName = "supply"
	}
	if b.MeterName == "" {
		b.MeterName = "meter"
	}
	if o.ReplugFor <= 0 {
		o.ReplugFor = 30 * time.Second
	}
	if o.ReadBackEvery <= 0 {
		o.ReadBackEvery = 500 * time.Millisecond
	}
	e := &engine{b: b, g: g, f: f, r: r, o: o, guard: o.Guard, clip: o.OnClip, noColours: o.NoColours,
		desc: map[string]instruments.Description{}, ids: map[role]string{},
		paceOf: map[string]string{}, trusted: map[string]bool{}, alone: map[string]bool{},
		allowed: map[string]float64{}}
	if e.guard == nil {
		e.guard = NewGuard(b.Clock)
	}
	for _, d := range o.Done {
		if d.Outcome != Interrupted {
			e.done = append(e.done, d)
			if d.Step.Board != "" && d.Outcome == Measured {
				e.paceOf[d.Step.Board] = d.Step.Pace
			}
		}
	}
	return e, nil
}

// test is the loop over the steps.
func (e *engine) test(ctx context.Context) error {
	if err := e.guard.Off(ctx); err != nil {
		return err
	}
	if err := e.identify(ctx); err != nil {
		return err
	}
	e.remaining, e.began = e.g.Remaining(e.done), e.b.Clock.Now()
	if _, any := e.g.Next(e.done); any {
		e.show(Event{What: Starting, Text: startText(e.remaining, e.b.Clock.Simulated())})
	}
	if e.o.TouchFirst != "" {
		if err := e.touchAgain(ctx, e.o.TouchFirst); err != nil {
			return err
		}
	}
	repeats := map[string]int{}
	for {
		if err := ctx.Err(); err != nil {
			return context.Cause(ctx)
		}
		step, more := e.g.Next(e.done)
		var err error
		if more {
			again := false
			if step, again, err = e.feel(ctx, step); again && err == nil {
				continue
			}
			if repeats[step.ID]++; repeats[step.ID] > 5 {
				return fmt.Errorf("step %s comes again and again: the list of steps is wrong", step.ID)
			}
			if err == nil {
				if err = e.oneStep(ctx, step); err == nil {
					e.slips = 0
				}
			}
			if errors.Is(err, errLetGo) { // it may be as often as a clip slips
				delete(repeats, step.ID)
				err = nil
			}
		} else {
			if !e.fresh || !e.o.TouchAtEnd || !e.asksTouch() {
				return nil
			}
			err = e.touchAgain(ctx, "All is measured.")
		}
		if errors.Is(err, errTakenBack) {
			err = e.backTo(ctx)
		}
		if err != nil {
			return err
		}
		if e.anew {
			e.anew, repeats = false, map[string]int{} // it may come as often as something was touched
		}
	}
}

// touchAgain asks what was touched until an answer stands.
func (e *engine) touchAgain(ctx context.Context, why string) error {
	_, err := e.touch(ctx, why, nil)
	return err
}

// oneStep does a step, as often as the maker wants.
func (e *engine) oneStep(ctx context.Context, s Step) error {
	for {
		if err := e.measure(ctx, s); err != nil {
			return err
		}
		redo, err := e.after(ctx, s)
		if err != nil || !redo {
			return err
		}
	}
}

// leave is the way out: off, and say so.
func (e *engine) leave(ctx context.Context) error {
	err := e.off(ctx)
	return errors.Join(err, e.last())
}

// last ends what is open, with the output off already. What panicked once may do
// so again here.
func (e *engine) last() (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = &PanicError{Value: p, Stack: debug.Stack()}
		}
	}()
	if e.rec != nil { // the test ended within a step
		e.finish(Interrupted, "the test ended in this step")
	}
	serr := e.r.Sync()
	if serr != nil {
		serr = fmt.Errorf("the record: %w", serr)
	}
	e.show(Event{What: Ended})
	return serr
}

// off switches the output off, whatever became of ctx.
func (e *engine) off(ctx context.Context) error {
	err := e.guard.off(ctx, e.b.Supply)
	if errors.Is(err, instruments.ErrPortGone) && e.b.ReopenSupply != nil {
		err = e.rescue(context.WithoutCancel(ctx), err)
	}
	was := e.out.on || e.out.unsure
	if err != nil {
		e.out.on = !errors.Is(err, ErrOffBefore) // as far as anyone knows
		e.out.unsure = e.out.unsure || e.out.on
		e.warn(fmt.Sprintf("%s: %v. Its limit is set to %s.", e.b.SupplyName, err, amps(e.out.limit)))
		if errors.Is(err, instruments.ErrPortGone) {
			return &lostError{which: theSupply, err: err}
		}
		return err
	}
	e.out.on, e.out.sensing, e.out.unsure = false, false, false
	e.out.readOff = e.b.Clock.Now()
	if was {
		e.show(Event{What: OutputOff})
	}
	return nil
}

// offFresh is for how long an output that was read back off counts as off by that: nobody
// goes to the supply and switches it on there so fast.
const offFresh = 100 * time.Millisecond

// isOffNow switches off, unless that was confirmed just now.
func (e *engine) isOffNow(ctx context.Context) error {
	if !e.out.on && !e.out.unsure && e.b.Clock.Now().Sub(e.out.readOff) < offFresh {
		return nil
	}
	return e.off(ctx)
}

// rescue opens a lost supply again at once, to switch it off.
func (e *engine) rescue(ctx context.Context, lost error) error {
	s, err := e.b.ReopenSupply(ctx)
	if err != nil {
		return lost
	}
	if err := e.same(ctx, theSupply, s); err != nil {
		return errors.Join(lost, err)
	}
	e.release()
	e.b.Supply = s
	e.release = e.guard.Register(e.b.SupplyName, s)
	return e.guard.off(ctx, s)
}

func startText(d time.Duration, simulated bool) string {
	s := "This will take about " + roughly(d) + "."
	if simulated {
		s += " Time is simulated."
	}
	return s
}
