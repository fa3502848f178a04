package capture

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

func TestAnotherMeterIsRefused(t *testing.T) {
	b := newBench(t, led)
	p := pull(b, 25)
	bb := b.Bench()
	// Tried before and after each answer.
	ids := []string{"meter B", "meter B", "meter B", "meter A"}
	bb.ReopenMeter = func(context.Context) (instruments.Meter, error) {
		p.out.Store(false)
		id := ids[0]
		ids = ids[1:]
		return &fakeMeter{b, id}, nil
	}
	f := &face{}
	rec, _ := runOne(t, b, bb, ledStep("1", "nav lights"), f)
	if rec.Outcome != Measured {
		t.Fatalf("%s: %s", rec.Outcome, rec.Reason)
	}
	// That its cable is out is taken back as soon as another one answers: before it was seen or after.
	qs := slices.DeleteFunc(f.questions(AskPlug), func(q Question) bool {
		return strings.Contains(q.Text, "The meter's cable is out")
	})
	if len(qs) != 1 || !strings.Contains(qs[0].Text, `it is "meter B", it was "meter A"`) ||
		!slices.Contains(qs[0].Choices, Another) {
		t.Errorf("questions %+v", qs)
	}
}

// The maker says that it is another meter now: the test ends with the output off and
// says so; nothing of it is read.
func TestAnotherMeterEndsTheTest(t *testing.T) {
	b := newBench(t, led)
	p := pull(b, 25)
	bb := b.Bench()
	bb.ReopenMeter = func(context.Context) (instruments.Meter, error) {
		p.out.Store(false)
		return &fakeMeter{b, "meter B"}, nil
	}
	f := &face{answer: func(q Question) (Answer, error) {
		if q.Kind == AskPlug && slices.Contains(q.Choices, Another) {
			return Answer{Choice: Another}, nil
		}
		return Answer{Choice: "done"}, nil
	}}
	_, err := Run(context.Background(), bb, &guide{steps: []Step{ledStep("1", "nav lights")}}, f, &record{}, seeded())
	var another *AnotherError
	if !errors.As(err, &another) || another.Is != "meter B" || another.Which != "meter" {
		t.Errorf("%v", err)
	}
	b.mustOff()
}

// interrupting is a face whose maker wants another meter while a question is open that he
// doesn't answer.
type interrupting struct {
	face
	given bool
}

func (f *interrupting) Ask(ctx context.Context, _ Question) (Answer, error) {
	<-ctx.Done()
	return Answer{}, context.Cause(ctx)
}

func (f *interrupting) Interrupted() error {
	if f.given {
		return nil
	}
	f.given = true
	return AnotherMeter()
}

// That the maker wants another meter is heard while a question is open, with the output on
// and with it off.
func TestAnotherMeterIsHeardBesideAQuestion(t *testing.T) {
	for _, on := range []bool{false, true} {
		c := clock.Wall{}
		e := &engine{b: Bench{Clock: c}, f: &interrupting{}, guard: NewGuard(c), out: output{on: on}}
		ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
		_, err := e.askWhile(ctx, Question{Kind: AskPlug, Choices: []string{"done", "stop"}}, time.Millisecond, 0,
			func() (bool, error) { return false, nil })
		cancel()
		if _, ok := GivenUp(err); !ok {
			t.Errorf("on %v: %v", on, err)
		}
	}
}

// A supply without a name of its own is known by how it is set; one that isn't set so
// is switched off and refused.
func TestANamelessSupplyIsKnownByItsSettings(t *testing.T) {
	for name, x := range map[string]struct {
		volts, amps float64
		same        bool
		step        float64 // V, of its setting
	}{"as it was": {12, 0.02, true, 0}, "rounded": {12.01, 0.0195, true, 0}, "another": {5, 0.1, false, 0},
		"lost its power":             {0, 0, false, 0},
		"as before the last setting": {3, 0.01, true, 0}, "half of the last setting": {3, 0.02, true, 0},
		"between both": {7.5, 0.02, false, 0}, "coarse steps": {12.05, 0.02, true, 0.1},
		"not so coarse": {12.05, 0.02, false, 0.01}} {
		s := &unnamed{volts: x.volts, amps: x.amps, step: x.step}
		e := &engine{out: output{volts: 12, limit: 0.02, point: RampPoint{Volts: 12, LimitA: 0.02}}}
		e.out.confirmed.volts, e.out.confirmed.limit = 3, 0.01
		err := e.sameSettings(context.Background(), s)
		if stranger := (*StrangerError)(nil); (err == nil) != x.same || !x.same &&
			(!errors.As(err, &stranger) || !s.off) {
			t.Errorf("%s: %v, switched off %v", name, err, s.off)
		}
	}
	for id, want := range map[string]bool{"MAKER,MODEL,0042,1.0": false, "MAKER,MODEL,0,1.0": true,
		"MAKER,MODEL,,1.0": true, "MAKER MODEL": false} {
		if Nameless(nil, id) != want {
			t.Errorf("%q is nameless %v", id, !want)
		}
	}
}

// Whether a meter without a serial number is the same one is asked with the output off,
// held or not: nothing watches it meanwhile.
func TestAMeterWithoutANumberIsLookedAtInTheDark(t *testing.T) {
	const noNumber = "MAKER,METER,0,1"
	b := newBench(t, led)
	p := pull(b, 25)
	bb := b.Bench()
	bb.Meter = &fakeMeter{b, noNumber}
	held := false
	bb.ReopenMeter = func(context.Context) (instruments.Meter, error) {
		held = held || b.outputOn()
		p.out.Store(false)
		return &fakeMeter{b, noNumber}, nil
	}
	f := &face{}
	asked := 0
	f.answer = func(q Question) (Answer, error) {
		if strings.Contains(q.Text, "Is it the same one") {
			asked++
			if b.outputOn() || !strings.Contains(q.Text, "The output is off.") {
				t.Errorf("the output is on: %v, at %q", b.outputOn(), q.Text)
			}
		}
		return plainest(q), nil
	}
	o := seeded()
	o.HoldWhenLost = true
	recs, err := Run(context.Background(), bb, &guide{steps: []Step{ledStep("1", "nav lights")}}, f, &record{}, o)
	if err != nil || len(recs) != 1 || recs[0].Outcome != Measured || asked != 1 || !held {
		t.Errorf("%v, %v, asked %d times, held until then: %v", outcomes(recs), err, asked, held)
	}
	b.mustOff()
}

// unnamed is a supply that can't say who it is, only how it is set.
type unnamed struct {
	instruments.Supply
	volts, amps float64
	step        float64
	off         bool
}

func (s *unnamed) VoltStep() float64 { return s.step }

func (s *unnamed) Settings(context.Context) (volts, limitAmps float64, err error) {
	return s.volts, s.amps, nil
}

func (s *unnamed) Off(context.Context) error { s.off = true; return nil }

// telling is a supply without a number that tells what it is set to.
type telling struct{ *fakeSupply }

func (s telling) Settings(ctx context.Context) (volts, limitAmps float64, err error) {
	err = s.do(ctx, "settings", func() { volts, limitAmps = s.b.volts, s.b.limit; s.b.say("settings, on %v", s.b.on) })
	return volts, limitAmps, err
}

// A supply without a number whose cable was pulled while it was set is switched off
// before it's asked anything, and known by how it was set before.
func TestANamelessSupplyPulledWhileItIsSet(t *testing.T) {
	const noNumber = "MAKER,SUPPLY,0,1"
	b := newBench(t, led)
	sets, pulled := 0, false
	b.supplyFails = func(op string) error {
		if op == "set" {
			if sets++; sets == 3 {
				pulled = true
			}
		}
		if pulled {
			return errGone
		}
		return nil
	}
	x := b.Bench()
	x.Supply = telling{&fakeSupply{b, noNumber}}
	x.ReopenSupply = func(context.Context) (instruments.Supply, error) {
		if !b.outputOn() {
			t.Error("it should be live when it comes back")
		}
		pulled = false
		return telling{&fakeSupply{b, noNumber}}, nil
	}
	f := &face{}
	recs, err := Run(context.Background(), x, &guide{steps: []Step{ledStep("1", "nav lights")}}, f, &record{},
		seeded())
	log := strings.Join(b.lines(), "; ")
	if err != nil || len(recs) != 1 || recs[0].Outcome != Measured || strings.Contains(log, "settings, on true") ||
		!strings.Contains(log, "settings, on false") {
		t.Errorf("%v, %v: %s", outcomes(recs), err, log)
	}
	b.mustOff()
}
