package machine

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/instruments"
	"sealworthy/instruments/rig"
)

// Run says what a test is to do and what happens to it.
type Run struct {
	Closure string   // or all
	Looks   string   // as for Measure
	DieIn   int      // the step in which the program dies, from 0; -1: it doesn't
	Redo    []string // groups that are measured anew
	Resume  bool     // what isn't done yet
	Added   bool     // each feed on top of those before it; alone on a bench without an engine
	Room    int64    // bytes that the disk still takes; 0: no end
	Pull    string   // the instrument whose cable is pulled and put back: supply, meter, relays, swap
	N       int      // draws the rest
}

// Bench carries out tests on a world.
type Bench interface {
	Test(w *World, r Run) error
}

// Direct is a bench without an engine: the readings are drawn from the load
// straight into the record, with the marks that an engine leaves.
type Direct struct{}

// Test implements Bench.
func (Direct) Test(w *World, r Run) error {
	d := w.disk()
	d.full, d.room = r.Room > 0, r.Room
	k, err := w.open(d)
	if err != nil {
		return err
	}
	t := &test{w: w, k: k, Run: r}
	if err := w.redone(t, r.Redo); err != nil {
		return errors.Join(err, k.rec.Close())
	}
	if err := t.run(); err != nil {
		return errors.Join(err, k.rec.Close())
	}
	if err := k.rec.Close(); err != nil && !t.stops && !d.full {
		return err
	}
	return nil
}

// test is one test under way.
type test struct {
	Run
	w     *World
	k     keeper
	stops bool // it ended before its last step
}

// meterSays describes the bench's meter, supplySays its supply (invented).
var (
	meterSays = instruments.Description{Profile: "invented", Identity: "invented meter 1", Window: window,
		Ranges: []instruments.Range{{Name: "2 A", Quantity: instruments.Current, Max: 2, Resolution: 1e-6,
			Accuracy: instruments.Accuracy{OfReading: directMeter.rel, Floor: directMeter.floorA}}}}
	supplySays = instruments.Description{Profile: "invented", Identity: "invented supply 1",
		SetAccuracy: instruments.Accuracy{OfReading: 0.0005, Floor: 0.002}, MaxAmps: 3}
)

// run does the steps of a closure, or of all, in one sitting.
func (t *test) run() error {
	s, err := t.w.kit.at(t.w.stage)
	if err != nil {
		return err
	}
	if err := t.tells(); err != nil {
		return err
	}
	done, err := t.done()
	if err != nil {
		return err
	}
	n := 0
	for _, step := range s.steps {
		if done[step.ID] {
			continue
		}
		if t.Closure != "all" && t.Closure != step.Closure || t.Redo != nil && !redoes(step, t.Redo) {
			continue
		}
		if n == t.DieIn {
			return t.die(step)
		}
		n++
		if err := t.step(step); err != nil {
			t.stops = true
			return nil // as a full disk does
		}
	}
	if t.Looks == "alone" {
		return nil
	}
	t.w.now = t.w.now.Add(time.Second)
	if t.k.Mark(capture.Mark{Kind: capture.MarkTouchedNothing, At: t.w.now, Stage: t.w.stage,
		Simulated: true}) != nil || t.k.Sync() != nil {
		t.stops = true
	}
	return nil
}

// done are the steps that a test goes on without: those that ended well at this
// stage and whose groups were not told to be touched since.
func (t *test) done() (map[string]bool, error) {
	out := map[string]bool{}
	if !t.Resume {
		return out, nil
	}
	f, err := t.w.folded()
	if err != nil {
		return nil, err
	}
	for _, r := range f.Steps {
		touched := slices.ContainsFunc(f.Reworked, func(x record.Rework) bool {
			return x.Order.After(r.BeganAt) &&
				slices.ContainsFunc(x.Groups, func(g string) bool { return slices.Contains(r.Step.Groups, g) })
		})
		out[r.Step.ID] = r.Stage == t.w.stage && r.Outcome == capture.Measured && !touched
	}
	return out, nil
}

// tells: asked at the begin what was touched, most makers tell; who doesn't says
// nothing was at the end, too.
func (t *test) tells() error {
	if t.Looks == "alone" || t.N%3 == 0 || len(t.w.untold) == 0 {
		return nil
	}
	for _, place := range t.w.untold {
		m := capture.Mark{Kind: capture.MarkReworked, Feed: place, Groups: t.w.behind(place), At: t.w.now,
			Stage: t.w.stage, Simulated: true}
		if err := t.k.Mark(m); err != nil {
			return err
		}
	}
	if err := t.k.Sync(); err != nil {
		t.stops = true
		return nil
	}
	t.w.Told(t.w.untold...)
	return nil
}

// redoes: a step that measures one of these groups.
func redoes(s capture.Step, groups []string) bool {
	return s.Kind == capture.Power &&
		slices.ContainsFunc(s.Groups, func(g string) bool { return slices.Contains(groups, g) })
}

func (t *test) mark(s capture.Step, m capture.Mark) error {
	m.At, m.Stage, m.Simulated = t.w.now, t.w.stage, true
	m.StepID, m.Closure, m.Feed, m.Groups, m.Pace = s.ID, s.Closure, s.Feed, s.Groups, s.Pace
	return t.k.Mark(m)
}

// begin marks the begin of a step.
func (t *test) begin(s capture.Step) error {
	t.w.now = t.w.now.Add(5 * time.Second)
	leads := leadsOf(Direct{})
	s.Leads = &leads
	return t.mark(s, capture.Mark{Kind: capture.MarkBegin, Step: &s, PlanRevision: s.PlanRevision,
		Instruments: map[string]instruments.Description{compare.MeterName: meterSays, compare.SupplyName: supplySays}})
}

// step does one step and tells the oracle of it once it is on disk.
func (t *test) step(s capture.Step) error {
	if err := t.begin(s); err != nil {
		return err
	}
	if err := t.k.Sync(); err != nil {
		return err
	}
	var known func()
	var err error
	switch {
	case len(s.Hazards) > 0:
		known, err = t.skip(s, "it may burn")
	case s.Kind == capture.Power:
		t.w.Began(s)
		known, err = t.power(s)
	case t.Looks == "alone", t.Looks == "ahead", t.Looks == "undo":
		known, err = t.skip(s, "unattended")
	case s.Kind == capture.Look:
		known, err = t.look(s)
	default:
		known, err = func() {}, t.mark(s, capture.Mark{Kind: capture.MarkEnd, Outcome: capture.Measured})
	}
	if err != nil {
		return err
	}
	if err := t.k.Sync(); err != nil {
		return err
	}
	known()
	return nil
}

func (t *test) skip(s capture.Step, why string) (func(), error) {
	if err := t.mark(s, capture.Mark{Kind: capture.MarkSkipped, Reason: why}); err != nil {
		return nil, err
	}
	return func() {}, t.mark(s, capture.Mark{Kind: capture.MarkEnd, Outcome: capture.Skipped, Reason: why})
}

// look says what the maker sees.
func (t *test) look(s capture.Step) (func(), error) {
	seen := allRight
	if t.Looks == "looks" || t.Looks == "mistype" {
		seen = t.w.truth.looks(s.Groups)
	}
	if err := t.mark(s, capture.Mark{Kind: capture.MarkLooked, Seen: seen}); err != nil {
		return nil, err
	}
	return func() { t.w.Saw(s.Groups, seen) },
		t.mark(s, capture.Mark{Kind: capture.MarkEnd, Outcome: capture.Measured, Seen: seen})
}

// power reads a feed, or trips.
func (t *test) power(s capture.Step) (func(), error) {
	load, state := t.w.truth.load, rig.State{On: make([]bool, len(t.w.truth.load.Terminals()))}
	if i := slices.Index(load.Terminals(), s.Feed); i >= 0 {
		state.On[i] = true
	}
	on := t.w.now
	if err := t.mark(s, capture.Mark{Kind: capture.MarkOn, SetVolts: s.Ramp[0].Volts,
		LimitA: s.Ramp[0].LimitA}); err != nil {
		return nil, err
	}
	at := func(volts float64) float64 {
		state.Volts, state.Since = volts, t.w.now.Sub(on)
		return load.Current(state)
	}
	for _, p := range s.Ramp {
		t.w.now = t.w.now.Add(300 * time.Millisecond)
		a := at(p.Volts)
		if err := t.reading(s, a); err != nil {
			return nil, err
		}
		if p.MaxA > 0 && a > p.MaxA {
			return t.trip(s, p)
		}
	}
	t.w.now = t.w.now.Add(s.Settle.Min)
	if err := t.mark(s, capture.Mark{Kind: capture.MarkSettled, SetVolts: s.Volts, LimitA: s.LimitA()}); err != nil {
		return nil, err
	}
	spacing := window
	if s.Board == "" {
		spacing = s.For / 10
	}
	n := 0
	for until := t.w.now.Add(s.For); t.w.now.Before(until); n++ {
		t.w.now = t.w.now.Add(spacing)
		if err := t.reading(s, at(s.Volts)); err != nil {
			return nil, err
		}
	}
	for _, p := range s.Sweep {
		t.w.now = t.w.now.Add(150 * time.Millisecond)
		if err := t.mark(s, capture.Mark{Kind: capture.MarkPoint, SetVolts: p.Volts, LimitA: p.LimitA}); err != nil {
			return nil, err
		}
		t.w.now = t.w.now.Add(p.Settle + window)
		for until := t.w.now.Add(p.For); t.w.now.Before(until); t.w.now = t.w.now.Add(max(window, p.For/8)) {
			if err := t.reading(s, at(p.Volts)); err != nil {
				return nil, err
			}
		}
	}
	t.w.now = t.w.now.Add(time.Millisecond)
	return func() { t.w.Measured(s, n) }, t.mark(s, capture.Mark{Kind: capture.MarkEnd, Outcome: capture.Measured})
}

func (t *test) trip(s capture.Step, p capture.RampPoint) (func(), error) {
	why := "more flowed than is healthy"
	if err := t.mark(s, capture.Mark{Kind: capture.MarkTripped, Reason: why, SetVolts: p.Volts, TripVolts: p.Volts,
		LimitA: p.LimitA}); err != nil {
		return nil, err
	}
	return func() { t.w.Measured(s, 1) },
		t.mark(s, capture.Mark{Kind: capture.MarkEnd, Outcome: capture.Tripped, Reason: why, TripVolts: p.Volts})
}

// reading puts down what the meter shows of a current.
func (t *test) reading(s capture.Step, amps float64) error {
	m := t.w.truth.meter
	v := amps*(1+m.gain) + m.offset + (directMeter.noiseRel*amps+directMeter.noiseA)*t.w.r.NormFloat64()
	return t.k.Append(instruments.Reading{Instrument: compare.MeterName, Quantity: instruments.Current, Unit: "A",
		Status: instruments.OK,
		Value:  &v, Range: "2 A", HalfWidth: meterSays.Ranges[0].Accuracy.HalfWidth(v), At: t.w.now, Window: window,
		Raw: fmt.Sprintf("%+.6E", v)},
		capture.StepRef{StepID: s.ID, Closure: s.Closure, Feed: s.Feed, Groups: s.Groups, Pace: s.Pace,
			Stage: t.w.stage})
}

// die ends the program within a step: its begin and a few readings are on disk, what
// came after them isn't.
func (t *test) die(s capture.Step) error {
	if err := t.begin(s); err != nil {
		return err
	}
	if err := t.mark(s, capture.Mark{Kind: capture.MarkOn, SetVolts: s.Volts, LimitA: s.LimitA()}); err != nil {
		return err
	}
	if err := t.k.Sync(); err != nil {
		return err
	}
	if s.Kind == capture.Power && len(s.Hazards) == 0 {
		t.w.Began(s)
	}
	t.k.d.dead = true
	for range 3 {
		t.w.now = t.w.now.Add(window)
		_ = t.reading(s, 0.01) // lost
	}
	t.stops = true
	return nil
}
