package capture

import (
	"context"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
)

func TestPowerStepInOrder(t *testing.T) {
	b := newBench(t, led)
	f, r := &face{}, &record{}
	recs, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{ledStep("1", "nav lights")}}, f, r,
		seeded())
	if err != nil {
		t.Fatal(err)
	}
	b.mustOff()
	var cmds []string
	for _, l := range b.lines() {
		if len(cmds) == 0 || cmds[len(cmds)-1] != l {
			cmds = append(cmds, l)
		}
	}
	want := []string{"off", "set 1.00 0.0060", "on", "set 3.00 0.0100", "set 12.00 0.0330", "off"}
	if !reflect.DeepEqual(cmds, want) {
		t.Errorf("commands %v, want %v: the limit comes before the output, each voltage with its own", cmds, want)
	}
	if got, want := r.kinds(), "begin on settled end"; got != want {
		t.Errorf("marks %q, want %q", got, want)
	}
	rec := recs[0]
	if rec.Outcome != Measured || rec.On.IsZero() || rec.Settled.Before(rec.On) || rec.Ended.Before(rec.Settled) {
		t.Errorf("record %+v", rec)
	}
	trace := rec.Trace("meter", instruments.Current)
	if len(trace) < 15 {
		t.Errorf("%d readings in 2 s at 100 ms", len(trace))
	}
	for _, x := range trace {
		if v, _ := x.Float(); v < 0.0199 || v > 0.0201 {
			t.Errorf("reading %v", v)
		}
	}
	if len(rec.Trace("supply", instruments.Current)) == 0 || len(rec.Trace("supply", instruments.Voltage)) == 0 {
		t.Error("the supply was not read back")
	}
	if len(rec.Readings) != len(r.readings) {
		t.Errorf("%d readings in the step, %d in the record", len(rec.Readings), len(r.readings))
	}
	if d := rec.Instruments["meter"]; d.Identity != "meter A" {
		t.Errorf("description %+v", d)
	}
	if first := f.events[0]; first.What != Starting || first.Remaining != 10*time.Second {
		t.Errorf("first event %+v", first)
	}
	if last := f.events[len(f.events)-1]; last.What != Ended || last.OutputOn {
		t.Errorf("last event %+v", last)
	}
}

func TestSignsOfLifeEachSecond(t *testing.T) {
	b := newBench(t, led)
	f := &face{}
	s := ledStep("1", "nav lights")
	s.Spacing, s.For, s.Jitter = 7*time.Second, 30*time.Second, 0
	if _, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{s}}, f, &record{}, seeded()); err != nil {
		t.Fatal(err)
	}
	for i := 1; i < len(f.events); i++ {
		if gap := f.events[i].At.Sub(f.events[i-1].At); gap > 1100*time.Millisecond {
			t.Errorf("%v without an event before %q", gap, f.events[i].What)
		}
	}
}

func TestSameSeedSameReadings(t *testing.T) {
	run := func() []instruments.Reading {
		b := newBench(t, led)
		recs, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{ledStep("1", "nav lights")}}, &face{},
			&record{}, seeded())
		if err != nil {
			t.Fatal(err)
		}
		return recs[0].Readings
	}
	a, b := run(), run()
	if !reflect.DeepEqual(a, b) {
		t.Error("two runs with one seed differ")
	}
	var gaps []time.Duration
	var last time.Time
	for _, x := range a[len(a)-12:] {
		if x.Instrument == "meter" {
			if !last.IsZero() {
				gaps = append(gaps, x.At.Sub(last))
			}
			last = x.At
		}
	}
	same := true
	for _, g := range gaps {
		same = same && g == gaps[0]
	}
	if same {
		t.Errorf("gaps %v are even: jitter is missing", gaps)
	}
}

func TestAfterBadVerdict(t *testing.T) {
	bad := func(r StepRecord) []Said {
		return []Said{{Group: r.Step.Feed, Verdict: "low", Good: r.Step.Feed != "nav lights"}}
	}
	for _, c := range []struct {
		name    string
		answers []Answer
		marks   string
		err     error
		n       int // records
		accept  string
	}{
		{"next", []Answer{{Choice: "next"}}, "begin on settled end begin on settled end", nil, 2, ""},
		{"redo", []Answer{{Choice: "redo"}, {Choice: "next"}},
			"begin on settled end redone begin on settled end begin on settled end", nil, 2, ""},
		{"accept", []Answer{{Choice: "accept"}, {Choice: "accept", Text: "one dark window is in the story"}},
			"begin on settled end accepted begin on settled end", nil, 2, "one dark window is in the story"},
		{"stop", []Answer{{Choice: "stop"}}, "begin on settled end", ErrStopped, 1, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, led)
			left := c.answers
			f := &face{}
			f.answer = func(q Question) (Answer, error) {
				if q.Kind != AskAgain {
					return Answer{Choice: "done"}, nil
				}
				if b.outputOn() {
					t.Error("asked with the output on")
				}
				a := left[0]
				left = left[1:]
				return a, nil
			}
			r := &record{}
			recs, err := Run(context.Background(), b.Bench(),
				&guide{steps: []Step{ledStep("1", "nav lights"), ledStep("2", "cabin")}, judge: bad}, f, r, seeded())
			if (c.err == nil) != (err == nil) || (c.err != nil && !strings.Contains(err.Error(), c.err.Error())) {
				t.Fatalf("error %v, want %v", err, c.err)
			}
			if r.kinds() != c.marks {
				t.Errorf("marks %q, want %q", r.kinds(), c.marks)
			}
			if len(recs) != c.n || recs[0].Accepted != c.accept {
				t.Errorf("%d records, accepted %q", len(recs), recs[0].Accepted)
			}
			if said := f.kinds(StepEnds)[0].Said; len(said) != 1 || said[0].Verdict != "low" {
				t.Errorf("verdict not said at once: %+v", said)
			}
			b.mustOff()
		})
	}
}

// What is to be done stands first among the choices: to measure what was mended, or to go on where nothing is known
// to be wrong.
func TestWhatIsToBeDoneStandsFirst(t *testing.T) {
	for _, c := range []struct {
		name, first string
		said        []Said
		volts       float64 // the bench's highest
	}{
		{"low", "redo", []Said{{Verdict: "low"}}, 12},
		{"one low, one open", "redo", []Said{{Verdict: "can't tell", Undecided: true}, {Verdict: "low"}}, 12},
		{"can't tell", "next", []Said{{Verdict: "can't tell", Undecided: true}, {Good: true}}, 12},
		{"not measured", "redo", nil, 3},
	} {
		b := newBench(t, led)
		on := b.Bench()
		on.MostVolts = c.volts
		f := &face{}
		f.answer = func(q Question) (Answer, error) { return plainest(q), nil }
		_, err := Run(context.Background(), on, &guide{steps: []Step{ledStep("1", "nav lights")},
			judge: func(StepRecord) []Said { return c.said }}, f, &record{}, seeded())
		at := slices.IndexFunc(f.asked, func(q Question) bool { return q.Kind == AskAgain })
		if at < 0 || f.asked[at].Choices[0] != c.first || len(f.asked[at].Choices) != 4 {
			t.Errorf("%s: %+v, %v", c.name, f.asked, err)
		}
	}
}

func TestResumeDoesNotRepeat(t *testing.T) {
	steps := []Step{ledStep("1", "nav lights"), ledStep("2", "cabin"), ledStep("3", "mast")}
	b := newBench(t, led)
	o := seeded()
	o.Done = []StepRecord{{Step: steps[0], Outcome: Measured}, {Step: steps[1], Outcome: Interrupted}}
	recs, err := Run(context.Background(), b.Bench(), &guide{steps: steps}, &face{}, &record{}, o)
	if err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, r := range recs {
		ids = append(ids, r.Step.ID+" "+string(r.Outcome))
	}
	if got := strings.Join(ids, ", "); got != "1 measured, 2 measured, 3 measured" {
		t.Errorf("records %s", got)
	}
	if n := strings.Count(strings.Join(b.lines(), "\n"), "on"); n != 2 {
		t.Errorf("the output went on %d times for two steps", n)
	}
}

func TestSkipWithReason(t *testing.T) {
	b := newBench(t, led)
	f := &face{answer: func(q Question) (Answer,
		error) {
		return Answer{Choice: "skip", Text: "mast is at the painter's"}, nil
	}}
	r := &record{}
	recs, err := Run(context.Background(), b.Bench(), &guide{steps: []Step{ledStep("1", "mast")}}, f, r, seeded())
	if err != nil {
		t.Fatal(err)
	}
	if recs[0].Outcome != Skipped || recs[0].Reason != "mast is at the painter's" || r.kinds() != "begin skipped end" {
		t.Errorf("%+v, marks %q", recs[0], r.kinds())
	}
	b.mustOff()
}

// Without a meter the supply's read-back is what is read.
func TestWithoutAMeter(t *testing.T) {
	b := newBench(t, led)
	bb := b.Bench()
	bb.Meter = nil
	rec, _ := runOne(t, b, bb, ledStep("1", "nav lights"), &face{})
	if n := len(rec.Trace("supply", instruments.Current)); rec.Outcome != Measured || n < 15 {
		t.Errorf("%s %s, %d readings", rec.Outcome, rec.Reason, n)
	}
	if _, there := rec.Instruments["meter"]; there {
		t.Error("a meter that isn't there is described")
	}
	b = newBench(t, short)
	bb = b.Bench()
	bb.Meter = nil
	if rec, _ = runOne(t, b, bb, ledStep("1", "nav lights"), &face{}); rec.Outcome != Tripped {
		t.Errorf("%s %s", rec.Outcome, rec.Reason)
	}
}

// A step that can't be done is said and left; the output never goes on for it.
func TestStepsThatCantBeDone(t *testing.T) {
	for name, spoil := range map[string]func(*Step){
		"no ramp":      func(s *Step) { s.Ramp = nil },
		"no limit":     func(s *Step) { s.Ramp[2].LimitA = 0 },
		"unknown kind": func(s *Step) { s.Kind = "solder" },
	} {
		b := newBench(t, led)
		s := ledStep("1", "nav lights")
		spoil(&s)
		rec, _ := runOne(t, b, b.Bench(), s, &face{answer: again("next")})
		if rec.Outcome != Failed || rec.Reason == "" || count(b.lines(), "on") != 0 {
			t.Errorf("%s: %s %q, commands %v", name, rec.Outcome, rec.Reason, b.lines())
		}
	}
}

// A guide that gives the same step for ever doesn't keep the bench for ever.
func TestGuideInCircles(t *testing.T) {
	b := newBench(t, led)
	_, err := Run(context.Background(), b.Bench(), circling{ledStep("1", "nav lights")}, &face{}, &record{}, seeded())
	if err == nil || !strings.Contains(err.Error(), "again and again") {
		t.Errorf("error %v", err)
	}
	b.mustOff()
}

type circling struct{ s Step }

func (g circling) Next([]StepRecord) (Step, bool)                           { return g.s, true }
func (g circling) Recognise(Step, float64, float64) (own Fit, others []Fit) { return own, nil }
func (g circling) Judge(StepRecord) []Said                                  { return nil }
func (g circling) Remaining([]StepRecord) time.Duration                     { return 0 }
