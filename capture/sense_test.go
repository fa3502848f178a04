package capture

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
)

const s1 = time.Second

// Any feed that is clipped on is felt, announced and measured, in any order; one that
// isn't felt is said with a key.
func TestWhatIsClippedOnIsMeasured(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["cabin"]}, handed{14 * s1, nil}, handed{16 * s1, feeds["nav lights"]},
		handed{28 * s1, feeds["strip"]})
	f := newFeeler(t, b, nil)
	f.saying(func(e Event) bool { return e.What == ClipOff && e.Step.Feed == "strip" }, Answer{Choice: "done"})
	g := newFeelGuide("nav lights", "cabin", "strip")
	recs, r, err := feel(t, b, x, g, f, handsFree())
	// Of the strip alone nothing is felt, so what is left can't be: it's asked for as ever.
	g.why = ""
	if err != nil || len(recs) != 3 {
		t.Fatalf("%v, %v, %q", outcomes(recs), err, f.texts(Told))
	}
	for i, want := range []string{"cabin", "nav lights", "strip"} {
		if recs[i].Step.Feed != want || recs[i].Outcome != Measured {
			t.Errorf("%d: %s %s, want %s", i, recs[i].Step.Feed, recs[i].Outcome, want)
		}
	}
	if got := f.texts(HandsOff); !slices.Equal(got, []string{"I take it for \"cabin\". Hands off.",
		"I take it for \"nav lights\". Hands off.", "You say it's \"strip\". Hands off."}) {
		t.Errorf("said %q", got)
	}
	if n := len(f.kinds(Contact)); n != 2 {
		t.Errorf("%d contacts", n)
	}
	// Hands have a second from the word to the ramp.
	for i, e := range f.kinds(HandsOff) {
		if d := recs[i].On.Sub(e.At); d < handsOffFor || d > handsOffFor+500*time.Millisecond {
			t.Errorf("on %v after the word", d)
		}
	}
	if strings.Contains(r.kinds(), "redone") {
		t.Errorf("marks %q", r.kinds())
	}
	// The one after is named before the clip is off.
	if q := f.questions(AskSense); !slices.ContainsFunc(q, func(q Question) bool {
		return strings.Contains(q.Text, "Take the clip off. Next: clip the plus lead to \"nav lights\"")
	}) {
		t.Errorf("asked %+v", q)
	}
}

// What isn't known isn't powered, and every way out of sensing ends with the output off.
func TestWhatSensingNeverRamps(t *testing.T) {
	sum := func(v float64) float64 { return feeds["nav lights"](v) + feeds["cabin"](v) }
	for _, c := range []struct {
		name  string
		moves []handed
		by    map[string][]Answer
		says  string // of the question with the output off
		err   error
	}{
		{"a short", []handed{{2 * s1, func(v float64) float64 { return v / 0.3 }}}, nil,
			"A SHORT: it draws 10.0 mA at 0.50 V", ErrStopped},
		{"two at once", []handed{{2 * s1, sum}}, nil, "fits nothing that is left", ErrStopped},
		{"a wrong part", []handed{{2 * s1, func(v float64) float64 { return max(0, (v-1.6)*0.004) }}}, nil,
			"fits nothing that is left", ErrStopped},
		{"reversed, with a protection diode across it",
			[]handed{{2 * s1, func(v float64) float64 { return max(0, (v-0.7)*0.002) }}}, nil,
			"fits nothing that is left", ErrStopped},
		{"nothing for a minute", nil, nil, "Nothing was felt for 60 s, so sensing has ended", ErrStopped},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, x := feelBench(t, c.moves...)
			f := newFeeler(t, b, c.by)
			recs, r, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
			wantErr(t, err, c.err)
			if len(recs) != 0 || b.highest() > 3 {
				t.Errorf("%v, up to %v V", outcomes(recs), b.highest())
			}
			q := f.questions(AskSense)
			if len(q) == 0 || !strings.Contains(q[len(q)-1].Text, c.says) ||
				!strings.Contains(q[len(q)-1].Text, "The output is off.") {
				t.Errorf("asked %q, want %q", q[len(q)-1].Text, c.says)
			}
			if noted := strings.Contains(r.kinds(), "note"); noted != (len(c.moves) > 0 &&
				!strings.Contains(c.says, "60 s")) {
				t.Errorf("the record says %q", r.kinds())
			}
		})
	}
}

// Two feeds that draw alike are told apart by one choice, and by no guess.
func TestWhatCouldBeTwoIsAsked(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["chart"]})
	f := newFeeler(t, b, map[string][]Answer{"sense off": {{Choice: "pick", Text: "chart"}, {Choice: "stop"}}})
	recs, _, err := feel(t, b, x, newFeelGuide("galley", "chart", "cabin"), f, handsFree())
	wantErr(t, err, ErrStopped)
	if len(recs) != 1 || recs[0].Step.Feed != "chart" || recs[0].Outcome != Measured {
		t.Fatalf("%v", outcomes(recs))
	}
	asked := ""
	for _, q := range f.questions(AskSense) {
		if strings.Contains(q.Text, "could be") {
			asked = q.Text
			if len(q.Places) != 2 || slices.Contains(q.Choices, "done") {
				t.Errorf("%+v", q)
			}
		}
	}
	if !strings.Contains(asked, "It could be \"galley\" or \"chart\": which? The output is off.") {
		t.Errorf("asked %q", asked)
	}
}

// What fits only what is measured already is no other feed.
func TestTheSameFeedOnceMore(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["cabin"]}, handed{14 * s1, nil}, handed{16 * s1, feeds["cabin"]})
	f := newFeeler(t, b, nil)
	recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
	wantErr(t, err, ErrStopped)
	q := f.questions(AskSense)
	if len(recs) != 1 || !strings.Contains(q[len(q)-1].Text,
		"like \"cabin\", measured already, and like none that is left") {
		t.Errorf("%v, asked %q", outcomes(recs), q[len(q)-1].Text)
	}
}

// A clip that is still on from before is no new one.
func TestTheOldClipIsNoNewOne(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["cabin"]}) // it stays on
	f := newFeeler(t, b, nil)
	from := b.c.Now()
	late := func(e Event) bool { return e.Sensing && e.At.Sub(from) > 30*s1 }
	f.saying(late, Answer{Choice: "done"}) // it isn't taken for the next one by a tap either
	recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
	wantErr(t, err, ErrStopped)
	if len(recs) != 1 || len(f.kinds(Contact)) != 1 ||
		!slices.Contains(f.texts(Told), "The clip hangs where it did: take it off first.") {
		t.Errorf("%v, %d contacts", outcomes(recs), len(f.kinds(Contact)))
	}
}

// What a clip was on last may blink, and draws now more, now less: as long as that is what the board of it draws, it's
// the old contact, and taken for nothing else.
func TestTheOldClipOnABlinkerIsNoNewOne(t *testing.T) {
	b, x := feelBench(t)
	from := b.c.Now()
	b.load = func(v float64, _ []int, _ time.Duration) float64 {
		switch d := b.c.Now().Sub(from); {
		case d < 2*s1, d > 40*s1 && d < 42*s1:
			return 0
		case d > 42*s1:
			return feeds["nav lights"](v)
		case d > 14*s1 && (d/(s1/2))%2 == 1:
			return 0.72 * feeds["cabin"](v)
		}
		return feeds["cabin"](v)
	}
	g := newFeelGuide("nav lights", "cabin")
	g.steps[1].Pace = "blink"
	f := newFeeler(t, b, nil)
	recs, _, err := feel(t, b, x, g, f, handsFree())
	if err != nil || len(recs) != 2 || recs[1].Step.Feed != "nav lights" || len(f.kinds(Contact)) != 2 ||
		len(f.kinds(HandsOff)) != 2 {
		t.Errorf("%v, %v, %d contacts, asked %v", outcomes(recs), err, len(f.kinds(Contact)), f.questions(AskSense))
	}
}

// A clip that is moved faster than anybody reads is another contact all the same.
func TestAClipThatIsMovedFast(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["cabin"]}, handed{14 * s1, feeds["nav lights"]})
	f := newFeeler(t, b, nil)
	recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
	if err != nil || len(recs) != 2 || recs[1].Step.Feed != "nav lights" || recs[1].Outcome != Measured {
		t.Errorf("%v, %v", outcomes(recs), err)
	}
}

// SOLDER switches off, has that confirmed, and only then says that one may; what was
// soldered is asked for.
func TestSolderIsOff(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["cabin"]}, handed{14 * s1, nil})
	f := newFeeler(t, b, map[string][]Answer{"touched": {{Choice: "touched", Text: "cabin"}},
		"sense off": {{Choice: "stop"}}})
	f.saying(nothingYet, Answer{Choice: "solder"})
	asked := false
	f.answer = nil
	was := f.onShow
	f.onShow = func(e Event) {
		was(e)
		if strings.Contains(e.Text, "may solder") && e.OutputOn {
			t.Error("sensing says that one may solder")
		}
	}
	g := newFeelGuide("nav lights", "cabin")
	o := handsFree()
	o.Touch = true
	recs, r, err := feel(t, b, x, g, f, o)
	wantErr(t, err, ErrStopped)
	for _, q := range f.questions(AskSolder) {
		asked = true
		if q.Text != "off: you may solder. Go on when the iron is back." ||
			strings.Contains(fmt.Sprint(q.Choices), "sense") {
			t.Errorf("%+v", q)
		}
	}
	if !asked || len(recs) != 0 || !strings.Contains(r.kinds(), "reworked") {
		t.Errorf("asked %v; what was soldered counts: %v, marks %q", asked, outcomes(recs), r.kinds())
	}
	for _, q := range f.questions(AskSense) {
		if strings.Contains(q.Text, "you may solder") {
			t.Errorf("%q", q.Text)
		}
	}
}

// A bench that can't feel says why in one line, and asks for each clip as ever.
func TestWhyNotHandsFree(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(x *Bench, g *feelGuide)
		want string
	}{
		{"a typed meter", func(x *Bench, _ *feelGuide) { x.Meter = typedMeter{x.Meter} },
			"Not hands-free: the supply and the meter must be on ports for that."},
		{"no meter", func(x *Bench, _ *feelGuide) { x.Meter = nil },
			"Not hands-free: the supply and the meter must be on ports for that."},
		{"a resolution that nobody knows", func(x *Bench, _ *feelGuide) { x.Meter = x.Meter.(oneRange).fakeMeter },
			"Not hands-free: the meter's range can't be set from here, or nobody knows its resolution."},
		{"a supply with coarse limits", func(x *Bench, _ *feelGuide) { x.Supply = steps{x.Supply.(*fakeSupply), 0.1} },
			"Not hands-free: the supply has no limit as low as 10.0 mA."},
		{"strips alone", func(_ *Bench, g *feelGuide) {
			g.why = "nothing that is left draws enough to be felt at 3.0 V"
		}, "Not hands-free: nothing that is left draws enough to be felt at 3.0 V."},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, x := feelBench(t, handed{0, feeds["cabin"]})
			g := newFeelGuide("cabin", "nav lights")
			g.steps[1].Ramp, g.steps[1].Volts = g.steps[0].Ramp, 12
			c.do(&x, g)
			f := newFeeler(t, b, nil)
			v := 0.010
			f.by = map[string][]Answer{"number": {{Choice: "number", Number: &v}, {Choice: "number", Number: &v},
				{Choice: "number", Number: &v}}}
			recs, _, err := feel(t, b, x, g, f, handsFree())
			if err != nil || len(recs) != 2 || len(f.questions(AskClip)) < 2 || len(f.questions(AskSense)) != 0 {
				t.Errorf("%v %v, %d clips asked for", outcomes(recs), err, len(f.questions(AskClip)))
			}
			n := 0
			for _, s := range f.texts(Told) {
				if s == c.want {
					n++
				}
			}
			if n != 1 {
				t.Errorf("told %q, want %q once", f.texts(Told), c.want)
			}
		})
	}
}

// steps is a supply whose limit goes in steps.
type steps struct {
	*fakeSupply
	step float64
}

func (s steps) LimitStep() float64 { return s.step }

// A limit that goes in steps is never above what sensing may have.
func TestSensingWithCoarseLimits(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["cabin"]})
	x.Supply = steps{x.Supply.(*fakeSupply), 0.004}
	f := newFeeler(t, b, nil)
	recs, _, err := feel(t, b, x, newFeelGuide("cabin"), f, handsFree())
	if err != nil || len(recs) != 1 || recs[0].Outcome != Measured || !slices.Contains(b.lines(), "set 3.00 0.0080") {
		t.Errorf("%v %v: %v", outcomes(recs), err, b.lines()[:6])
	}
}

// typedMeter costs a person for every answer.
type typedMeter struct{ instruments.Meter }

func (typedMeter) ByHand() bool { return true }

// A meter whose cable is pulled while a clip is felt for: off at once, and felt for
// once more when it's back.
func TestMeterPulledWhileSensing(t *testing.T) {
	gone := &instruments.PortError{Port: "COM7", Op: "read current", Err: instruments.ErrPortGone}
	b, x := feelBench(t, handed{20 * s1, feeds["cabin"]})
	pulled := false
	b.meterFails = func(n int) error {
		if n == 12 {
			pulled = true
		}
		if pulled {
			return gone
		}
		return nil
	}
	x.ReopenMeter = func(context.Context) (instruments.Meter, error) {
		if b.outputOn() {
			t.Error("the output is on while the meter is away")
		}
		pulled = false
		return oneRange{&fakeMeter{b, "meter A"}}, nil
	}
	f := newFeeler(t, b, map[string][]Answer{"plug": {{Choice: "done"}}})
	recs, _, err := feel(t, b, x, newFeelGuide("cabin"), f, handsFree())
	if err != nil || len(recs) != 1 || recs[0].Outcome != Measured || len(f.kinds(Paused)) != 1 {
		t.Errorf("%v, %v, %d pauses", outcomes(recs), err, len(f.kinds(Paused)))
	}
}

// Whoever wants to solder waits for one reading at most, whatever is being felt just then.
func TestSolderIsHeardWhileSomethingIsFelt(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["cabin"]})
	f := newFeeler(t, b, nil)
	f.by = map[string][]Answer{"solder": {{Choice: "stop"}}}
	f.saying(func(e Event) bool { return e.What == Contact }, Answer{Choice: "solder"})
	recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
	wantErr(t, err, ErrStopped)
	if len(recs) != 0 || len(f.questions(AskSolder)) != 1 || len(f.kinds(HandsOff)) != 0 {
		t.Fatalf("%v, %d questions, %q", outcomes(recs), len(f.questions(AskSolder)), f.texts(HandsOff))
	}
	at := f.kinds(Contact)[0].At
	for _, e := range f.kinds(OutputOff) {
		if d := e.At.Sub(at); d > 0 && d > time.Second {
			t.Errorf("off %v after it was said", d)
		}
	}
}

// No relay is closed while a clip is felt for: what hangs on it isn't on the clip.
func TestSensingOpensTheRelays(t *testing.T) {
	b, x := feelBench(t)
	b.load = func(v float64, closed []int, _ time.Duration) float64 {
		if slices.Contains(closed, 1) {
			return feeds["nav lights"](v)
		}
		return 0
	}
	x.Relays, x.Channels = &fakeRelays{b}, map[string]int{"nav lights": 1}
	f := newFeeler(t, b, nil)
	sensed := 0
	f.onShow = func(e Event) {
		if e.Sensing {
			sensed++
			b.mu.Lock()
			closed := slices.Clone(b.closed)
			b.mu.Unlock()
			if len(closed) > 0 {
				t.Errorf("sensing with %v closed", closed)
			}
		}
	}
	recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin", "galley"), f, handsFree())
	wantErr(t, err, ErrStopped)
	if len(recs) != 1 || recs[0].Step.Feed != "nav lights" || sensed == 0 || len(f.kinds(Contact)) != 0 {
		t.Errorf("%v, sensed %d times, %d contacts", outcomes(recs), sensed, len(f.kinds(Contact)))
	}
}

// The resistor that the bench was proved with hangs on the clip when sensing begins: it's no
// contact, and the first feed is felt once it's off.
func TestWhatTheProofLeftIsNotFelt(t *testing.T) {
	resistor := func(v float64) float64 { return v / 1000 }
	b, x := feelBench(t, handed{0, resistor}, handed{4 * s1, nil}, handed{6 * s1, feeds["cabin"]})
	f := newFeeler(t, b, nil)
	o := handsFree()
	o.OnClip = "the known resistor"
	recs, _, err := feel(t, b, x, newFeelGuide("cabin"), f, o)
	if err != nil || len(recs) != 1 || recs[0].Outcome != Measured {
		t.Fatalf("%v, %v", outcomes(recs), err)
	}
	if q := f.questions(AskSense); len(q) != 1 || !strings.HasPrefix(q[0].Text, "Take the clip off. Next: ") {
		t.Errorf("asked %+v", q)
	}
	if n := len(f.kinds(Contact)); n != 1 {
		t.Errorf("%d contacts", n)
	}
}
