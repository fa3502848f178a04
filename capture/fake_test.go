package capture

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// bench is a small bench in simulated time: a supply with a limit, a meter with
// a window, relays, and a load that is a function.
type bench struct {
	t  *testing.T
	c  clock.Clock
	mu sync.Mutex

	// load is the draw at a voltage, without the supply's limit.
	load func(volts float64, closed []int, since time.Duration) float64

	volts, limit float64
	slow         time.Duration // until the output stands at a voltage
	before       float64       // V, and when it was set to another
	setAt        time.Time
	on           bool
	since        time.Time
	closed       []int
	log          []string
	times        []time.Time // of log
	presses      int
	button       int

	lag         time.Duration     // how much later its answers come
	meterFails  func(n int) error // n counts the meter's readings
	supplyFails func(op string) error
	relaysFail  func() error
	offset      float64 // of the meter
	scale       float64 // of the meter; 0 is 1
	overAt      float64 // the meter shows overload above it; 0: never
	reads       int
}

const (
	meterWindow = 40 * time.Millisecond
	exchange    = 10 * time.Millisecond
)

func newBench(t *testing.T, load func(volts float64, closed []int, since time.Duration) float64) *bench {
	return &bench{t: t, c: clock.NewSimulated(time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)), load: load, button: -1}
}

func (b *bench) say(format string, a ...any) {
	b.log = append(b.log, fmt.Sprintf(format, a...))
	b.times = append(b.times, b.c.Now())
}

func (b *bench) lines() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.log)
}

// outputOn tells whether the supply's output is on, as the supply knows it.
func (b *bench) outputOn() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.on
}

// output is the voltage that stands there now. mu is held.
func (b *bench) output() float64 {
	if b.c.Now().Sub(b.setAt) < b.slow {
		return b.before
	}
	return b.volts
}

// current is the draw now and whether the supply limits it.
func (b *bench) current() (a float64, limiting bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if !b.on {
		return 0, false
	}
	a = b.load(b.output(), b.closed, b.c.Now().Sub(b.since))
	if a > b.limit {
		return b.limit, true
	}
	return a, false
}

func (b *bench) wait(ctx context.Context, d time.Duration) error {
	return b.c.Wait(ctx, nil, b.c.Now().Add(d))
}

type fakeSupply struct {
	b  *bench
	id string
}

func (s *fakeSupply) do(ctx context.Context, op string, f func()) error {
	if err := s.b.wait(ctx, exchange); err != nil {
		return err
	}
	if s.b.supplyFails != nil {
		if err := s.b.supplyFails(op); err != nil {
			return err
		}
	}
	s.b.mu.Lock()
	defer s.b.mu.Unlock()
	f()
	return nil
}

func (s *fakeSupply) Set(ctx context.Context, v, a float64) error {
	return s.do(ctx, "set", func() {
		s.b.before, s.b.setAt = s.b.volts, s.b.c.Now()
		s.b.volts, s.b.limit = v, a
		s.b.say("set %.2f %.4f", v, a)
	})
}
func (s *fakeSupply) On(ctx context.Context) error {
	return s.do(ctx, "on", func() { s.b.on, s.b.since = true, s.b.c.Now(); s.b.say("on") })
}
func (s *fakeSupply) Off(ctx context.Context) error {
	return s.do(ctx, "off", func() { s.b.on = false; s.b.say("off") })
}
func (s *fakeSupply) Limiting(ctx context.Context) (on bool, err error) {
	err = s.do(ctx, "limiting", func() {})
	_, on = s.b.current()
	return on, err
}
func (s *fakeSupply) Identify(context.Context) (string, error) { return s.id, nil }
func (s *fakeSupply) Describe() instruments.Description {
	return instruments.Description{Profile: "fake", SetAccuracy: instruments.Accuracy{Floor: 0.02}}
}
func (s *fakeSupply) Read(ctx context.Context, q instruments.Quantity) (instruments.Reading, error) {
	if err := s.do(ctx, "read", func() {}); err != nil {
		return instruments.Reading{}, err
	}
	a, limiting := s.b.current()
	v, half := a, 0.003
	if q == instruments.Voltage {
		s.b.mu.Lock()
		v, half = s.b.output(), 0.02
		s.b.mu.Unlock()
		if limiting {
			v = 0.2 * s.b.volts
		}
	}
	return instruments.Reading{Quantity: q, Unit: q.Unit(), Status: instruments.OK, Value: &v, HalfWidth: half,
		At: s.b.c.Now(), Window: exchange}, nil
}

type fakeMeter struct {
	b  *bench
	id string
}

func (m *fakeMeter) Identify(context.Context) (string, error) { return m.id, nil }
func (m *fakeMeter) Describe() instruments.Description {
	return instruments.Description{Profile: "fake", Window: meterWindow, JackFuseAmps: 0.4}
}
func (m *fakeMeter) Read(ctx context.Context, q instruments.Quantity) (instruments.Reading, error) {
	asked := m.b.c.Now()
	if err := m.b.wait(ctx, meterWindow); err != nil {
		return instruments.Reading{}, err
	}
	at := m.b.c.Now()
	a, _ := m.b.current()
	if err := m.b.wait(ctx, exchange+m.b.lag); err != nil {
		return instruments.Reading{}, err
	}
	m.b.mu.Lock()
	m.b.reads++
	n := m.b.reads
	m.b.mu.Unlock()
	if m.b.meterFails != nil {
		if err := m.b.meterFails(n); err != nil {
			return instruments.Reading{}, err
		}
	}
	r := instruments.Reading{Quantity: q, Unit: q.Unit(), At: at, Window: meterWindow, Latency: m.b.c.Now().Sub(asked),
		Raw: fmt.Sprint(a)}
	if m.b.overAt > 0 && a > m.b.overAt {
		r.Status = instruments.Overload
		return r, nil
	}
	if m.b.scale != 0 {
		a *= m.b.scale
	}
	a += m.b.offset
	r.Status, r.Value, r.HalfWidth = instruments.OK, &a, 0.0001+0.005*max(a, -a)
	return r, nil
}

type fakeRelays struct{ b *bench }

func (r *fakeRelays) Close(ctx context.Context, channels ...int) error {
	if err := r.b.wait(ctx, exchange); err != nil {
		return err
	}
	if r.b.relaysFail != nil {
		if err := r.b.relaysFail(); err != nil {
			return err
		}
	}
	r.b.mu.Lock()
	defer r.b.mu.Unlock()
	if slices.Contains(channels, r.b.button) && !slices.Contains(r.b.closed, r.b.button) {
		r.b.presses++
	}
	r.b.closed = slices.Clone(channels)
	r.b.say("close %v", channels)
	return nil
}

// face answers by a function and keeps the events.
type face struct {
	mu     sync.Mutex
	answer func(q Question) (Answer, error)
	events []Event
	asked  []Question
	onShow func(Event)
}

func (f *face) Show(e Event) {
	f.mu.Lock()
	f.events = append(f.events, e)
	f.mu.Unlock()
	if f.onShow != nil {
		f.onShow(e)
	}
}

func (f *face) Ask(ctx context.Context, q Question) (Answer, error) {
	f.mu.Lock()
	f.asked = append(f.asked, q)
	f.mu.Unlock()
	if f.answer == nil {
		return plainest(q), nil
	}
	return f.answer(q)
}

// Plainest is plainest, for the tests outside of the package.
var Plainest = plainest

// plainest is the first choice, of a maker who mends nothing: it isn't measured again.
func plainest(q Question) Answer {
	if q.Kind == AskAgain {
		return Answer{Choice: "next"}
	}
	return Answer{Choice: q.Choices[0]}
}

func (f *face) kinds(k EventKind) (out []Event) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, e := range f.events {
		if e.What == k {
			out = append(out, e)
		}
	}
	return out
}

func (f *face) questions(k QuestionKind) (out []Question) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, q := range f.asked {
		if q.Kind == k {
			out = append(out, q)
		}
	}
	return out
}

// record keeps all in memory; it fails from its failAt-th call on, if that isn't 0.
type record struct {
	readings []instruments.Reading
	refs     []StepRef
	marks    []Mark
	calls    int
	failAt   int
	panicAt  int // as failAt, with a panic
	onFail   func()
	syncs    int
	onSync   func(n int) error
}

var errDiskFull = errors.New("no space left on device")

func (r *record) full() error {
	if r.calls++; r.panicAt > 0 && r.calls >= r.panicAt {
		panic("a line is too long")
	}
	if r.failAt > 0 && r.calls >= r.failAt {
		if r.onFail != nil {
			r.onFail()
		}
		return errDiskFull
	}
	return nil
}
func (r *record) Append(x instruments.Reading, ref StepRef) error {
	r.readings, r.refs = append(r.readings, x), append(r.refs, ref)
	return r.full()
}
func (r *record) Mark(m Mark) error { r.marks = append(r.marks, m); return r.full() }
func (r *record) LastMark() Order   { return OrderAt(1, len(r.marks)) }
func (r *record) Sync() error {
	if r.syncs++; r.onSync != nil {
		return r.onSync(r.syncs)
	}
	return nil
}
func (r *record) Kept() uint64 { return uint64(len(r.readings) + len(r.marks)) }
func (r *record) kinds() string {
	var out []string
	for _, m := range r.marks {
		out = append(out, string(m.Kind))
	}
	return strings.Join(out, " ")
}

// guide gives a list of steps.
type guide struct {
	steps     []Step
	judge     func(StepRecord) []Said
	recognise func(v, a, h float64) []string
}

func (g *guide) Next(done []StepRecord) (Step, bool) {
	for _, s := range g.steps {
		if !slices.ContainsFunc(done, func(r StepRecord) bool { return r.Step.ID == s.ID }) {
			return s, true
		}
	}
	return Step{}, false
}
func (g *guide) Recognise(s Step, a, h float64) (own Fit, others []Fit) {
	if g.recognise == nil {
		return own, nil
	}
	own = Fit{Feed: s.Feed, HighA: 0.005}
	for _, name := range g.recognise(s.Volts, a, h) {
		if name == s.Feed {
			return own, nil
		}
		others = append(others, Fit{name, 0.018, 0.022})
	}
	return own, others
}
func (g *guide) Judge(r StepRecord) []Said {
	if g.judge == nil {
		return nil
	}
	return g.judge(r)
}
func (g *guide) Remaining(done []StepRecord) time.Duration {
	return time.Duration(len(g.steps)-len(done)) * 10 * time.Second
}

// ledStep is a step of a feed that draws about 20 mA at 12 V.
func ledStep(id, feed string) Step {
	return Step{ID: id, Kind: Power, Way: Alone, Closure: "hull", Feed: feed, Groups: []string{feed},
		On: []string{feed}, Volts: 12,
		Ramp: []RampPoint{{1, 0.006, 0, 0.004}, {3, 0.010, 0.004, 0.008}, {12, 0.033, 0.020, 0.030}},
		Settle: Settle{Min: 300 * time.Millisecond, Max: 3 * time.Second, Window: 200 * time.Millisecond, Rel: 0.01,
			AbsA: 0.0002},
		For: 2 * time.Second, Spacing: 100 * time.Millisecond, Jitter: 0.3}
}

// led is a load of 20 mA at 12 V that conducts from 2 V on.
func led(volts float64, _ []int, _ time.Duration) float64 { return max(0, (volts-2)*0.002) }

func (b *bench) Bench() Bench {
	return Bench{Clock: b.c, Supply: &fakeSupply{b, "supply A"}, Meter: &fakeMeter{b, "meter A"}}
}

func (b *bench) withRelays(channels map[string]int) Bench {
	x := b.Bench()
	x.Relays, x.Channels = &fakeRelays{b}, channels
	return x
}

func seeded() Options { return Options{Stage: "loose", Rand: rand.New(rand.NewPCG(1, 2))} }

// mustOff fails where the supply's output is on, or its last command wasn't off.
func (b *bench) mustOff() {
	b.t.Helper()
	if b.outputOn() {
		b.t.Errorf("the output was left on; the supply saw %v", b.lines())
	}
}
