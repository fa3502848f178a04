package capture

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
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
		s.Ramp = []RampPoint{{1, 0.006, 0, 0.004}, {3, 0.010, 0.004, 0.008},
			{12, 1.5*top + 0.005, top, 1.3*top + 0.004}}
		g.steps = append(g.steps, s)
	}
	return g
}

func (g *feelGuide) Feeling(done []StepRecord, by FeltBy) Feeling {
	f := Feeling{Why: g.why, Left: g.left(done)}
	if g.why != "" {
		return f
	}
	for _, v := range []float64{0.5, 2.5, 3} {
		f.Points = append(f.Points, RampPoint{Volts: v, LimitA: 0.010})
	}
	for _, s := range f.Left {
		if feeds[s.Feed](3) > by.LeastA {
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
	t   *testing.T
	b   *bench
	by  map[string][]Answer // by "kind", or "kind off" where the output is off
	say chan Answer         // to the question that is open while it's live
}

func newFeeler(t *testing.T, b *bench, by map[string][]Answer) *feeler {
	return &feeler{t: t, b: b, by: by, say: make(chan Answer, 1)}
}

func (f *feeler) Ask(ctx context.Context, q Question) (Answer, error) {
	f.mu.Lock()
	f.asked = append(f.asked, q)
	key := string(q.Kind)
	saysOff := strings.Contains(q.Text, "The output is off.")
	if q.Kind == AskSense && saysOff {
		key = "sense off"
	}
	if (saysOff || q.Kind == AskSolder) && f.b.outputOn() {
		f.t.Errorf("asked %q while the output is on", q.Text)
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
	return plainest(q), nil
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

func nothingYet(e Event) bool { return e.What == NothingYet }
