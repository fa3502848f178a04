package stages_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
	"sealworthy/compare/stages"
	"sealworthy/instruments"
	"sealworthy/instruments/rig"
)

// sitting makes records as a bench writes them, of one simulated model.
type sitting struct {
	t     *testing.T
	p     *plan.Plan
	l     *load.Load
	r     *rand.Rand
	stage string
	at    time.Time
	onS   float64 // until the trace begins
}

func sit(t *testing.T, p *plan.Plan, fs []fault.Fault, stage string, day int) *sitting {
	t.Helper()
	room := 21.0
	l, err := load.New(p, fs, 5, load.Options{AmbientC: &room})
	if err != nil {
		t.Fatal(err)
	}
	return &sitting{t: t, p: p, l: l, r: rand.New(rand.NewPCG(uint64(day), 3)), stage: stage, onS: 600,
		at: time.Date(2026, 11, day, 9, 0, 0, 0, time.UTC)}
}

// record powers some feeds, every board at its first pace.
func (s *sitting) record(kind capture.Kind, id, feed string, on []string, step capture.Step) capture.StepRecord {
	names := s.l.Terminals()
	state := rig.State{Volts: 12, On: make([]bool, len(names))}
	for i, n := range names {
		state.On[i] = slices.Contains(on, n)
	}
	step.ID, step.Kind, step.Feed, step.On, step.Volts = id, kind, feed, on, 12
	c := 21.0
	r := capture.StepRecord{Step: step, Stage: s.stage, Began: s.at, On: s.at.Add(time.Second),
		Outcome: capture.Measured, AmbientC: &c, Simulated: true,
		Instruments: map[string]instruments.Description{
			"meter": {Identity: "meter 1", Ranges: []instruments.Range{
				{Name: "60 mA", Quantity: instruments.Current, Max: 0.06, Resolution: 1e-6,
					Accuracy: instruments.Accuracy{OfReading: 0.001, Floor: 3e-6}},
				{Name: "1 A", Quantity: instruments.Current, Max: 1, Resolution: 1e-5,
					Accuracy: instruments.Accuracy{OfReading: 0.001, Floor: 3e-5}}}},
			"supply": {Identity: "supply 1", SetAccuracy: instruments.Accuracy{Floor: 0.01}}}}
	r.Settled = r.On.Add(time.Duration(s.onS * float64(time.Second)))
	reading := func(who string, q instruments.Quantity, at time.Time, v float64) instruments.Reading {
		x := instruments.Reading{Instrument: who, Quantity: q, Unit: q.Unit(), Status: instruments.OK, Value: &v,
			At: at, Window: 90 * time.Millisecond, HalfWidth: 0.001*v + 3e-5}
		if who == "meter" {
			x.Range = "1 A"
			if v < 0.055 {
				x.Range = "60 mA"
			}
		}
		return x
	}
	for at := 0.1; at < 30; at += 0.09 * (1 + 0.3*s.r.Float64()) {
		end := r.Settled.Add(time.Duration(at * 1e9))
		sum := 0.0
		for k := range 30 {
			state.Since = end.Sub(r.On) - time.Duration(0.09*(float64(k)+0.5)/30*1e9)
			sum += s.l.Current(state) / 30
		}
		x := reading("meter", instruments.Current, end, sum+1e-5*s.r.NormFloat64())
		x.Range = "1 A"
		r.Readings = append(r.Readings, x)
	}
	r.Readings = append(r.Readings, reading("supply", instruments.Voltage, r.Settled.Add(31*time.Second), 12))
	r.Ended = r.Settled.Add(32 * time.Second)
	s.at = r.Ended.Add(10 * time.Second)
	return r
}

func (s *sitting) whole() capture.StepRecord {
	var words []string
	for _, b := range s.p.Boards {
		words = append(words, b.Name+": "+b.Paces[0].Name)
	}
	return s.record(capture.Whole, "whole/main/"+strings.Join(words, "; "), "main", s.l.Terminals(),
		capture.Step{Way: capture.Joined})
}

// feeds measures every feed alone.
func (s *sitting) feeds() []capture.StepRecord {
	var out []capture.StepRecord
	for _, n := range s.l.Terminals() {
		step := capture.Step{Way: capture.Alone}
		for _, b := range s.p.Boards {
			if b.Name == n {
				step.Board, step.Pace = n, b.Paces[0].Name
			}
		}
		for _, g := range s.p.Groups {
			if g.Name == n || g.Board == n {
				step.Groups = append(step.Groups, g.Name)
			}
		}
		out = append(out, s.record(capture.Power, s.stage+"/"+n, n, []string{n}, step))
	}
	return out
}

func TestOverSetsEachStageAgainstTheOneBefore(t *testing.T) {
	p := brackwaterPlan(t)
	steps := sit(t, p, nil, "fitted", 1).feeds()
	steps = append(steps, sit(t, p, nil, "closed", 2).whole())
	dark := []fault.Fault{faultOf(t, p, "saloon=dark segment", 3)}
	steps = append(steps, sit(t, p, dark, "delivered", 3).whole())
	steps = append(steps, sit(t, p, dark, "returned", 4).whole())
	changes, warnings := comparer(t, p).Over(steps, compare.Leads{})
	if len(warnings) > 0 || len(changes) != 3 {
		t.Fatalf("%d changes, warnings %q", len(changes), warnings)
	}
	for i, want := range []struct {
		before, stage string
		v             stages.Verdict
	}{{"fitted", "closed", stages.Unchanged}, {"closed", "delivered", stages.Changed},
		{"delivered", "returned", stages.Unchanged}} {
		ch := changes[i]
		if ch.Before != want.before || ch.Stage != want.stage || ch.Verdict != want.v || !ch.Simulated {
			t.Errorf("%s against %s: %s: %s %s %+v", ch.Stage, ch.Before, ch.Verdict, ch.Text, ch.Why, ch.Parts)
		}
	}
	if !strings.Contains(strings.Join(changes[0].Notes, ";"), "taken together") || len(changes[1].Notes) > 0 {
		t.Errorf("notes %q, %q", changes[0].Notes, changes[1].Notes)
	}
	if !fitsGroup(changes[1], "saloon") {
		t.Errorf("a segment of the saloon: %s", changes[1].Text)
	}
}

func TestGroupsTakenTogetherAreWhatTheWholeDraws(t *testing.T) {
	p := brackwaterPlan(t)
	c := comparer(t, p)
	s := sit(t, p, nil, "fitted", 1)
	steps := s.feeds()
	like, err := stages.ReadingOf(s.whole(), compare.Leads{})
	if err != nil {
		t.Fatal(err)
	}
	sum, err := c.SumOf(steps, compare.Leads{}, like)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := c.Apart(like, nil)
	if err != nil {
		t.Fatal(err)
	}
	if d := sum.Sum.BaseA - whole.BaseA; d > 1e-3 || d < -1e-3 {
		t.Errorf("taken together %.2f mA, the whole draws %.2f mA", 1e3*sum.Sum.BaseA, 1e3*whole.BaseA)
	}
	if _, err := c.SumOf(steps[1:], compare.Leads{}, like); err == nil ||
		!strings.Contains(err.Error(), "cabin windows") {
		t.Errorf("one feed is missing: %v", err)
	}
}

func TestReadingsThatCantBeCompared(t *testing.T) {
	p := brackwaterPlan(t)
	for name, change := range map[string]func(*capture.StepRecord){
		"tripped": func(r *capture.StepRecord) { r.Outcome = capture.Tripped },
		"overload": func(r *capture.StepRecord) {
			r.Readings[9].Status, r.Readings[9].Value = instruments.Overload,
				nil
		},
		"changed its ": func(r *capture.StepRecord) { r.Readings[9].Range = "60 mA" },
		"too short":    func(r *capture.StepRecord) { r.Readings = r.Readings[:5] },
		"no draw":      func(r *capture.StepRecord) { r.Step.Kind = capture.Look },
	} {
		r := sit(t, p, nil, "closed", 2).whole()
		change(&r)
		if _, err := stages.ReadingOf(r, compare.Leads{}); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	// Of hours the end is taken.
	long := sit(t, p, nil, "closed", 2).whole()
	early := long.Readings[0]
	early.At = early.At.Add(-time.Hour)
	long.Settled, long.Readings = early.At, append([]instruments.Reading{early}, long.Readings...)
	if x, err := stages.ReadingOf(long, compare.Leads{}); err != nil || x.Trace[len(x.Trace)-1].AtS > 60 ||
		x.Trace[0].AtS != 0 {
		t.Errorf("a soak: %v, %v", x.Trace, err)
	}
	x, err := stages.ReadingOf(sit(t, p, nil, "closed", 2).whole(), compare.Leads{Ohm: 0.1, HalfOhm: 0.02})
	if err != nil || x.OnS < 610 || x.OnS > 620 || !x.VoltsRead || *x.Volts != 12 || x.SeriesOhm() != 0.1 ||
		x.Pace != "beacon: blink; lamp driver: slow" || x.WindowS != 0.09 {
		t.Errorf("%+v, %v", x, err)
	}
}

func TestTheWarmReadingOfASittingCounts(t *testing.T) {
	p := brackwaterPlan(t)
	steps := []capture.StepRecord{sit(t, p, nil, "delivered", 1).whole()}
	s := sit(t, p, nil, "returned", 20)
	s.onS = 5
	cold := s.whole()
	cold.Step.ID = "limit/main"
	s.onS = 600
	warm := s.whole()
	warm.Step.ID = "warm/main/1"
	low := s.whole()
	low.Step.ID, low.Step.Volts = "probe/main/06.00", 6
	s.onS = 8
	last := s.whole()
	changes, warnings := comparer(t, p).Over(append(steps, cold, warm, low, last), compare.Leads{})
	if len(changes) != 1 || len(warnings) > 0 {
		t.Fatalf("%d changes, %q", len(changes), warnings)
	}
	if ch := changes[0]; ch.Verdict != stages.Unchanged || !ch.At.Equal(warm.Ended) {
		t.Errorf("%s at %v: %s %s", ch.Verdict, ch.At, ch.Text, ch.Why)
	}
}

func TestAModelOffForSecondsIsStillWarm(t *testing.T) {
	p := brackwaterPlan(t)
	// The second pace is read seconds after power-on; what was on before counts.
	at := func(stage string, day int, warm bool) []capture.StepRecord {
		s := sit(t, p, nil, stage, day)
		var out []capture.StepRecord
		if warm {
			out = append(out, s.whole())
		}
		s.onS = 8
		r := s.whole()
		r.Step.ID = strings.Replace(r.Step.ID, "slow", "slow ", 1) // another pace
		return append(out, r)
	}
	warmDoubt := func(now []capture.StepRecord) float64 {
		changes, warnings := comparer(t, p).Over(append(at("closed", 1, true), now...), compare.Leads{})
		if len(warnings) > 0 {
			t.Fatal(warnings)
		}
		for _, d := range changes[len(changes)-1].Parts[0].Doubts {
			if d.What == "warming up" {
				return d.U
			}
		}
		return 0
	}
	if u := warmDoubt(at("delivered", 2, true)); u > 1e-4 {
		t.Errorf("as warm as then: a doubt of %g A", u)
	}
	if u := warmDoubt(at("delivered", 2, false)); u < 1e-3 {
		t.Errorf("cold, where it was warm: a doubt of %g A only", u)
	}
}
