package capture

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"sealworthy/instruments"
)

// feeds of an invented model, by what a healthy one draws: lamps of 2 V and a
// resistor, two of them alike, and a strip that nobody feels below 8 V.
var feeds = map[string]func(v float64) float64{
	"nav lights": func(v float64) float64 { return max(0, (v-2)*0.0020) },
	"cabin":      func(v float64) float64 { return max(0, (v-2)*0.0010) },
	"galley":     func(v float64) float64 { return max(0, (v-2)*0.0042) },
	"chart":      func(v float64) float64 { return max(0, (v-2.02)*0.0042) },
	"strip":      func(v float64) float64 { return max(0, (v-8)*0.0050) },
}

// feelGuide knows them.
type feelGuide struct {
	shipGuide
	why string // nothing can be felt
}

func newFeelGuide(names ...string) *feelGuide {
	g := &feelGuide{}
	for _, n := range names {
		s := ledStep(n, n)
		top := feeds[n](12)
		s.Ramp = []RampPoint{{1, 0.006, 0, 0.004}, {3, 0.010, 0.004, 0.008}, {12, 1.5*top + 0.005, top, 1.3*top + 0.004}}
		g.steps = append(g.steps, s)
	}
	return g
}

func (g *feelGuide) Feeling(done []StepRecord, leastA, _ float64) Feeling {
	f := Feeling{Why: g.why, Left: g.left(done)}
	if g.why != "" {
		return f
	}
	for _, v := range []float64{0.5, 2.5, 3} {
		f.Points = append(f.Points, RampPoint{Volts: v, LimitA: 0.010})
	}
	for _, s := range f.Left {
		if feeds[s.Feed](3) > leastA {
			f.Felt = append(f.Felt, s.Feed)
		}
	}
	return f
}

func (g *feelGuide) left(done []StepRecord) (out []Step) {
	for _, s := range g.steps {
		if s.Kind == Power && !slices.ContainsFunc(done, func(r StepRecord) bool { return r.Step.ID == s.ID }) {
			out = append(out, s)
		}
	}
	return out
}

func (g *feelGuide) TakenFor(done []StepRecord, felt []Felt) (t Taken) {
	fits := func(name string) bool {
		return !slices.ContainsFunc(felt, func(f Felt) bool {
			want := feeds[name](f.Volts)
			return math.Abs(min(want, 0.010)-f.Amps) > 0.1*want+0.0002
		})
	}
	for _, s := range g.left(done) {
		if fits(s.Feed) {
			t.Left = append(t.Left, s)
		}
	}
	for _, r := range done {
		if fits(r.Step.Feed) {
			t.Done = append(t.Done, r.Step.Feed)
		}
	}
	return t
}

var _ Feeler = (*feelGuide)(nil)

// oneRange is a fake meter that states the one range that it has.
type oneRange struct{ *fakeMeter }

func (m oneRange) Describe() instruments.Description {
	d := m.fakeMeter.Describe()
	d.Ranges = []instruments.Range{{Name: "20 mA", Quantity: instruments.Current, Max: 0.022, Resolution: 1e-6}}
	return d
}

// hands put things on the clip at times of the bench's clock.
type handed struct {
	at time.Duration // since the bench stands
	on func(v float64) float64
}

// feelBench is a bench whose clip is moved by a list.
func feelBench(t *testing.T, moves ...handed) (*bench, Bench) {
	b := newBench(t, nil)
	from := b.c.Now()
	b.load = func(v float64, _ []int, _ time.Duration) float64 {
		on := func(float64) float64 { return 0 }
		for _, m := range moves {
			if b.c.Now().Sub(from) >= m.at && m.on != nil {
				on = m.on
			} else if b.c.Now().Sub(from) >= m.at {
				on = func(float64) float64 { return 0 }
			}
		}
		return on(v)
	}
	x := b.Bench()
	x.Meter = oneRange{&fakeMeter{b, "meter A"}}
	return b, x
}

// feeler answers by kind, and leaves a question open while a clip is felt for unless
// it is told to say something at an event.
type feeler struct {
	face
	t    *testing.T
	b    *bench
	by   map[string][]Answer // by "kind", or "kind off" where the output is off
	say  chan Answer         // to the question that is open while it's live
	sent sync.WaitGroup
}

func newFeeler(t *testing.T, b *bench, by map[string][]Answer) *feeler {
	return &feeler{t: t, b: b, by: by, say: make(chan Answer, 1)}
}

func (f *feeler) Ask(ctx context.Context, q Question) (Answer, error) {
	f.mu.Lock()
	f.asked = append(f.asked, q)
	live := f.b.outputOn()
	key := string(q.Kind)
	if q.Kind == AskSense && strings.Contains(q.Text, "The output is off.") {
		key, live = "sense off", false
	}
	left := f.by[key]
	if len(left) > 0 {
		f.by[key] = left[1:]
	}
	f.mu.Unlock()
	switch {
	case len(left) > 0 && (key != "sense"):
		if !slices.Contains(q.Choices, left[0].Choice) {
			f.t.Errorf("%q isn't offered at %q, only %v", left[0].Choice, q.Text, q.Choices)
		}
		return left[0], nil
	case q.Kind == AskSense && key == "sense":
		_ = live
		select {
		case a := <-f.say:
			return a, nil
		case <-ctx.Done():
			return Answer{}, context.Cause(ctx)
		}
	case key == "sense off":
		return Answer{Choice: "stop"}, nil
	case q.Kind == AskTouched:
		return Answer{Choice: "nothing"}, nil
	}
	return Answer{Choice: q.Choices[0]}, nil
}

// saying gives an answer to the open question at an event; simulated time is faster
// than an answer, so it stands still meanwhile.
func (f *feeler) saying(at func(Event) bool, a Answer) {
	once := false
	f.onShow = func(e Event) {
		if !once && at(e) {
			once = true
			f.say <- a
			time.Sleep(20 * time.Millisecond)
		}
	}
}

func told(text string) func(Event) bool {
	return func(e Event) bool { return e.What == Told && strings.Contains(e.Text, text) }
}

func handsFree() Options {
	o := seeded()
	o.HandsFree = true
	return o
}

// feel runs it and checks what holds of all of it: while sensing the output never goes
// above its limit and voltage, and nothing is left on.
func feel(t *testing.T, b *bench, x Bench, g Guide, f *feeler, o Options) ([]StepRecord, *record, error) {
	t.Helper()
	r := &record{}
	was := f.onShow
	f.onShow = func(e Event) {
		if e.Sensing && (e.SetVolts > 3 || e.LimitA > 0.010 || !e.OutputOn) {
			t.Errorf("sensing at %v V, limit %v A, on %v", e.SetVolts, e.LimitA, e.OutputOn)
		}
		if e.What == SensingOn && e.Reading == nil && e.SetVolts > 2.9 {
			time.Sleep(2 * time.Millisecond) // simulated time is faster than a question
		}
		if was != nil {
			was(e)
		}
	}
	recs, err := Run(context.Background(), x, g, f, r, o)
	b.mustOff()
	return recs, r, err
}

func (f *feeler) texts(k EventKind) (out []string) {
	for _, e := range f.kinds(k) {
		out = append(out, e.Text)
	}
	return out
}

// highest is the highest voltage that the supply was ever set to.
func (b *bench) highest() (most float64) {
	for _, l := range b.lines() {
		var v, a float64
		if n, _ := fmt.Sscanf(l, "set %f %f", &v, &a); n == 2 {
			most = max(most, v)
		}
	}
	return most
}

const s1 = time.Second

// Any feed that is clipped on is felt, announced and measured, in any order; one that
// isn't felt is said with a key.
func TestWhatIsClippedOnIsMeasured(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["cabin"]}, handed{14 * s1, nil}, handed{16 * s1, feeds["nav lights"]},
		handed{28 * s1, nil}, handed{30 * s1, feeds["strip"]})
	f := newFeeler(t, b, nil)
	f.saying(told("Nothing felt"), Answer{Choice: "done"})
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
	if got := f.texts(HandsOff); !slices.Equal(got, []string{"I take it for 'cabin'. Hands off.", "I take it for 'nav lights'. Hands off."}) {
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
		{"a short", []handed{{2 * s1, func(v float64) float64 { return v / 0.3 }}}, nil, "A SHORT: it draws 10.0 mA at 0.50 V", ErrStopped},
		{"two at once", []handed{{2 * s1, sum}}, nil, "fits nothing that is left", ErrStopped},
		{"a wrong part", []handed{{2 * s1, func(v float64) float64 { return max(0, (v-1.6)*0.004) }}}, nil, "fits nothing that is left", ErrStopped},
		{"reversed, with a protection diode across it", []handed{{2 * s1, func(v float64) float64 { return max(0, (v-0.7)*0.002) }}}, nil, "fits nothing that is left", ErrStopped},
		{"nothing for a minute", nil, nil, "Nothing was felt for 60 s, so sensing has ended", ErrStopped},
		{"a contact that comes and goes", []handed{{2 * s1, func(v float64) float64 { return 0 }}}, nil, "Nothing was felt for 60 s", ErrStopped},
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
			if len(q) == 0 || !strings.Contains(q[len(q)-1].Text, c.says) || !strings.Contains(q[len(q)-1].Text, "The output is off.") {
				t.Errorf("asked %q, want %q", q[len(q)-1].Text, c.says)
			}
			if noted := strings.Contains(r.kinds(), "note"); noted != (len(c.moves) > 0 && !strings.Contains(c.says, "60 s")) {
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
	if !strings.Contains(asked, "It could be 'galley' or 'chart': which? The output is off.") {
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
	if len(recs) != 1 || !strings.Contains(q[len(q)-1].Text, "like 'cabin', measured already, and like none that is left") {
		t.Errorf("%v, asked %q", outcomes(recs), q[len(q)-1].Text)
	}
}

// A clip that is still on from before is no new one.
func TestTheOldClipIsNoNewOne(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["cabin"]}) // it stays on
	f := newFeeler(t, b, nil)
	f.saying(told("Nothing felt"), Answer{Choice: "done"}) // it isn't taken for the next one by a tap either
	recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
	wantErr(t, err, ErrStopped)
	if len(recs) != 1 || len(f.kinds(Contact)) != 1 || !slices.Contains(f.texts(Told), "The clip hangs where it did: take it off first.") {
		t.Errorf("%v, %d contacts", outcomes(recs), len(f.kinds(Contact)))
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

// Contact that is lost on the way is never measured as a feed that draws nothing.
func TestContactLostOnTheWay(t *testing.T) {
	for _, c := range []struct {
		name string
		lost func(e Event) bool
		says string
	}{
		{"in the second of hands off", func(e Event) bool { return e.What == HandsOff }, "'cabin' let go, or changed, before it was measured"},
		{"between hands off and the ramp", func(e Event) bool { return e.What == StepBegins }, "The contact was lost: it drew 1.0 mA when it was felt, and 0 µA at a higher voltage"},
		{"at the top of the ramp", func(e Event) bool { return e.What == RampStep && e.SetVolts == 12 }, "The contact was lost"},
		{"while it settles", func(e Event) bool { return e.What == Settling }, "The contact was lost"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, x := feelBench(t)
			on := feeds["cabin"]
			b.load = func(v float64, _ []int, _ time.Duration) float64 {
				if on == nil {
					return 0
				}
				return on(v)
			}
			f := newFeeler(t, b, nil)
			f.onShow = func(e Event) {
				if on != nil && c.lost(e) {
					on = nil
				}
			}
			recs, r, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
			wantErr(t, err, ErrStopped) // after a minute without contact
			if len(recs) != 0 || !slices.ContainsFunc(f.texts(Told), func(s string) bool { return strings.Contains(s, c.says) }) {
				t.Errorf("%v, told %q, marks %q", outcomes(recs), f.texts(Told), r.kinds())
			}
		})
	}
}

// SOLDER switches off, has that confirmed, and only then says that one may; what was
// soldered is asked for.
func TestSolderIsOff(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["cabin"]}, handed{14 * s1, nil})
	f := newFeeler(t, b, map[string][]Answer{"touched": {{Choice: "touched", Text: "cabin"}}, "sense off": {{Choice: "stop"}}})
	f.saying(told("Nothing felt"), Answer{Choice: "solder"})
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
		if q.Text != "off: you may solder. Enter when the iron is back." || strings.Contains(fmt.Sprint(q.Choices), "sense") {
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
		{"a typed meter", func(x *Bench, _ *feelGuide) { x.Meter = typedMeter{x.Meter} }, "Not hands-free: the supply and the meter must be on ports for that."},
		{"no meter", func(x *Bench, _ *feelGuide) { x.Meter = nil }, "Not hands-free: the supply and the meter must be on ports for that."},
		{"a resolution that nobody knows", func(x *Bench, _ *feelGuide) { x.Meter = x.Meter.(oneRange).fakeMeter }, "Not hands-free: the meter's range can't be set from here, or nobody knows its resolution."},
		{"strips alone", func(_ *Bench, g *feelGuide) { g.why = "nothing that is left draws enough to be felt at 3.0 V" }, "Not hands-free: nothing that is left draws enough to be felt at 3.0 V."},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, x := feelBench(t, handed{0, feeds["cabin"]})
			g := newFeelGuide("cabin", "nav lights")
			g.steps[1].Ramp, g.steps[1].Volts = g.steps[0].Ramp, 12
			c.do(&x, g)
			f := newFeeler(t, b, nil)
			v := 0.010
			f.by = map[string][]Answer{"number": {{Choice: "number", Number: &v}, {Choice: "number", Number: &v}, {Choice: "number", Number: &v}}}
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

// Every way out of the program in the middle of sensing switches off.
func TestEveryExitOfSensingSwitchesOff(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(x *feelExit)
		want func(t *testing.T, err error)
	}{
		{"cancelled", func(x *feelExit) { x.cancel() }, func(t *testing.T, err error) { wantErr(t, err, context.Canceled) }},
		{"Ctrl-C", func(x *feelExit) { x.sig <- os.Interrupt; x.wait() }, func(t *testing.T, err error) {
			var s *SignalError
			if !errors.As(err, &s) {
				t.Errorf("%v", err)
			}
		}},
		{"a panic elsewhere", func(x *feelExit) { x.guard.Go(func() { panic("descriptor 1024") }, nil); x.wait() }, func(t *testing.T, err error) { wantPanic(t, nil, err) }},
		{"a panic of the face", func(*feelExit) { panic("the face fell over") }, func(t *testing.T, err error) { wantPanic(t, nil, err) }},
		{"the maker stops", func(x *feelExit) { x.f.say <- Answer{Choice: "stop"}; time.Sleep(20 * time.Millisecond) }, func(t *testing.T, err error) { wantErr(t, err, ErrStopped) }},
		{"a panic of the guide", func(x *feelExit) { x.g.why = "panic" }, func(t *testing.T, err error) { wantPanic(t, nil, err) }},
		{"an error of the meter", func(x *feelExit) {
			x.b.meterFails = func(int) error { return instruments.ErrGarbled }
			x.f.by = map[string][]Answer{"clip": {{Choice: "stop"}}}
		}, func(t *testing.T, err error) { wantErr(t, err, ErrStopped) }},
		{"a supply that doesn't answer", func(x *feelExit) {
			x.b.supplyFails = func(op string) error {
				if op == "off" {
					return instruments.ErrNoReply
				}
				return nil
			}
			x.b.meterFails = func(int) error { return instruments.ErrGarbled }
		}, func(t *testing.T, err error) { wantErr(t, err, ErrOffNotConfirmed) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, bb := feelBench(t, handed{5 * s1, feeds["cabin"]})
			x := &feelExit{b: b, f: newFeeler(t, b, nil), g: newFeelGuide("cabin", "nav lights"), guard: NewGuard(b.c), sig: make(chan os.Signal, 4)}
			var ctx context.Context
			ctx, x.cancel = context.WithCancel(context.Background())
			defer x.cancel()
			n := 0
			x.f.onShow = func(e Event) {
				if e.What == SensingOn && e.Reading != nil {
					if n++; n == 9 {
						if !b.outputOn() {
							t.Error("it should be live now")
						}
						c.do(x)
					}
				}
			}
			o := handsFree()
			o.Guard = x.guard
			stop := x.guard.Watch(x.sig)
			defer stop()
			_, err := Run(ctx, bb, panicky{x.g}, x.f, &record{}, o)
			c.want(t, err)
			if errors.Is(err, ErrOffNotConfirmed) {
				return // that is said, and no program can do more
			}
			b.mustOff()
			if log := b.lines(); log[len(log)-1] != "off" || b.highest() > 3 {
				t.Errorf("the last command was %q, up to %v V", log[len(log)-1], b.highest())
			}
		})
	}
}

type feelExit struct {
	b      *bench
	f      *feeler
	g      *feelGuide
	guard  *Guard
	cancel func()
	sig    chan os.Signal
}

func (x *feelExit) wait() {
	for !x.guard.Stopping() {
		time.Sleep(time.Millisecond)
	}
}

// panicky is a guide that falls over when it is asked what a draw fits.
type panicky struct{ *feelGuide }

func (g panicky) TakenFor(done []StepRecord, felt []Felt) Taken {
	if g.why == "panic" {
		panic("no such group")
	}
	return g.feelGuide.TakenFor(done, felt)
}
