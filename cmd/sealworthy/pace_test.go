package main

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/compare/load"
	"sealworthy/compare/scene"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// paced are the steady groups of Brackwater.
var paced = []string{"galley lamps", "chart table", "saloon", "gallery lamps", "cabin windows", "crew portholes",
	"engine room", "boiler glow", "hold lamps", "anchor light", "masthead light"}

// spent is where the bench's time of one step went, in its own clock.
type spent struct {
	feed    string
	prepare time.Duration // from the begin, or the clip, to the output on
	ramp    time.Duration // to the step's voltage
	settle  time.Duration // until the draw counts as settled
	read    time.Duration // at the step's voltage
	points  time.Duration // second voltage, or the sweep
	line    time.Duration // of all that: bytes on the lines and instruments answering, but for the meter's windows
	think   time.Duration // of the machine, until the verdict stands
	n       int           // readings of the meter in the trace
	told    time.Duration // until its verdict was shown while its curve was read yet; 0: it wasn't
	open    bool          // the current alone can't settle it
	changed string        // what the verdict was in the end, where it was another
}

func (s spent) bench() time.Duration { return s.prepare + s.ramp + s.settle + s.read + s.points }

// shown is when its verdict is shown first.
func (s spent) shown() time.Duration {
	if s.told > 0 {
		return s.told
	}
	return s.bench()
}

func (s spent) String() string {
	return fmt.Sprintf("%-16s %5.2f s: prepare %.2f, ramp %.2f, settling %.2f, reading %.2f (%d), points %.2f; of "+
		"that line %.2f; thinking %.3f; verdict shown after %.2f",
		s.feed, s.bench().Seconds(), s.prepare.Seconds(), s.ramp.Seconds(), s.settle.Seconds(), s.read.Seconds(), s.n,
		s.points.Seconds(),
		s.line.Seconds(), s.think.Seconds(), s.shown().Seconds())
}

// stopwatch sums the time that lines are busy.
type stopwatch struct {
	c    clock.Clock
	mu   sync.Mutex
	busy time.Duration
}

func (w *stopwatch) total() time.Duration { w.mu.Lock(); defer w.mu.Unlock(); return w.busy }

func (w *stopwatch) behind(open instruments.Opener) instruments.Opener {
	return func(ctx context.Context, name string, l instruments.Line) (instruments.Port, error) {
		p, err := open(ctx, name, l)
		if err != nil {
			return nil, err
		}
		return &timedPort{p, w}, nil
	}
}

type timedPort struct {
	instruments.Port
	w *stopwatch
}

func (p *timedPort) add(from time.Time) {
	p.w.mu.Lock()
	p.w.busy += p.w.c.Now().Sub(from)
	p.w.mu.Unlock()
}

func (p *timedPort) Write(ctx context.Context, b []byte) error {
	defer p.add(p.w.c.Now())
	return p.Port.Write(ctx, b)
}

func (p *timedPort) ReadUntil(ctx context.Context, b []byte, deadline time.Time) (int, error) {
	defer p.add(p.w.c.Now())
	return p.Port.ReadUntil(ctx, b, deadline)
}

// thinker times what the guide takes of the machine's own time.
type thinker struct {
	*compare.Guide
	took time.Duration
}

func (g *thinker) Recognise(s capture.Step, a, h float64) (capture.Fit, []capture.Fit) {
	defer g.since(time.Now())
	return g.Guide.Recognise(s, a, h)
}

func (g *thinker) Judge(r capture.StepRecord) []capture.Said {
	defer g.since(time.Now())
	return g.Guide.Judge(r)
}

func (g *thinker) Preview(r capture.StepRecord) []capture.Said {
	defer g.since(time.Now())
	return g.Guide.Preview(r)
}

func (g *thinker) since(t time.Time) { g.took += time.Since(t) }

// pacedBench is a simulated bench of Brackwater that is up, with steps to measure.
type pacedBench struct {
	r     *rig.Bench
	lines *stopwatch
	u     *session.Session
	bud   *budget.Budget
	steps []capture.Step
	down  func()
}

func putUpPaced(tb testing.TB, sweep bool, window time.Duration, feeds ...string) pacedBench {
	tb.Helper()
	ctx := context.Background()
	e := env{stdout: io.Discard, stderr: io.Discard, getenv: func(string) string { return "" }}
	b, err := unpack(e, tb.TempDir())
	if err != nil {
		tb.Fatal(err)
	}
	cfg, err := b.readBench()
	if err != nil {
		tb.Fatal(err)
	}
	c := clock.NewSimulated(time.Date(2026, 11, 27, 7, 0, 0, 0, time.UTC))
	l, err := load.New(b.plan, nil, 1, load.Options{})
	if err != nil {
		tb.Fatal(err)
	}
	r, err := onBench(ctx, c, b.plan, cfg, l,
		rig.Options{Seed: 1, MemoryPorts: true, Meter: rig.MeterOptions{Window: window}})
	if err != nil {
		tb.Fatal(err)
	}
	lines := &stopwatch{c: c}
	at, leave := sitDown(e, world{World: session.World{Clock: c}}, false)
	u, err := at.session(e, world{World: session.World{Clock: c, Open: lines.behind(r.Opener())}}, b, cfg)
	if err != nil {
		tb.Fatal(err)
	}
	p := r.Ports()
	if err := u.OpenBench(ctx, cfg, bench.Overrides{SupplyPort: p.Supply, MeterPort: p.Meter,
		RelaysPort: p.Relays}); err != nil {
		tb.Fatal(err)
	}
	bud, err := u.Judge.Expected.At(scene.Scene{LeadsOhm: u.Bench.Leads.Ohm, LeadsHalfOhm: u.Bench.Leads.HalfOhm})
	if err != nil {
		tb.Fatal(err)
	}
	steps, err := compare.Steps(b.plan, bud,
		compare.StepOptions{Stage: compare.Fitted, Feeds: feeds, JackFuseAmps: u.Bench.MeterFuseAmps,
			SupplyMaxAmps: u.Bench.MaxA, MeterWindow: u.Bench.Window, Sweep: sweep})
	if err != nil {
		tb.Fatal(err)
	}
	return pacedBench{r, lines, u, bud, steps, func() {
		u.Bench.Close()
		leave()
		c.Outside(func() { r.Close() })
	}}
}

// paceOf measures feeds on the simulated bench of Brackwater, in simulated time,
// and tells where the time went.
func paceOf(tb testing.TB, sweep bool, window time.Duration, feeds ...string) []spent {
	tb.Helper()
	p := putUpPaced(tb, sweep, window, feeds...)
	defer p.down()
	lines, u, bud, steps := p.lines, p.u, p.bud, p.steps
	ctx := context.Background()
	var out []spent
	for _, s := range steps {
		g := &thinker{Guide: compare.NewGuide(u.Judge, bud, []capture.Step{s}, false).Unattended()}
		var ramped, told time.Time
		changed, undecided := "", false
		read := false
		f := capture.Unattended{OnEvent: func(x capture.Event) {
			if x.What == capture.RampStep && !read {
				ramped = x.At
			}
			read = read || x.What == capture.Sampling // a sweep goes to voltages, too
			switch {
			case x.What == capture.SoFar:
				told = x.At
			case x.What == capture.StepEnds:
				undecided = x.Said[0].Undecided
				if x.Said[0].Before != "" {
					changed = x.Said[0].Verdict
				}
			}
		}}
		was := lines.total()
		recs, err := capture.Run(ctx, u.Bench.Bench, g, f, noRecord{},
			capture.Options{Stage: compare.Fitted, Rand: rand.New(rand.NewPCG(1, 2)), Guard: u.Guard})
		if err != nil || len(recs) != 1 || recs[0].Outcome != capture.Measured {
			tb.Fatalf("%s: %+v, %v", s.Feed, recs, err)
		}
		x := recs[0]
		ends := x.Ended
		if len(x.Points) > 0 {
			ends = x.Points[0].At
		}
		t := spent{feed: s.Feed, prepare: x.On.Sub(x.Began), ramp: ramped.Sub(x.On),
			settle: max(0, x.Settled.Sub(ramped)),
			read:   ends.Sub(laterOf(x.Settled, ramped)), changed: changed, open: undecided,
			points: x.Ended.Sub(ends), line: lines.total() - was, think: g.took,
			n: len(x.Trace(compare.MeterName, instruments.Current))}
		if !told.IsZero() {
			t.told = told.Sub(x.Began)
		}
		for _, r := range x.Readings {
			if r.Instrument == compare.MeterName {
				t.line -= r.Window
			}
		}
		out = append(out, t)
	}
	return out
}

func laterOf(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

type noRecord struct{}

func (noRecord) Append(instruments.Reading, capture.StepRef) error { return nil }
func (noRecord) Mark(capture.Mark) error                           { return nil }
func (noRecord) Sync() error                                       { return nil }
func (noRecord) Kept() uint64                                      { return 0 }

// BenchmarkClipToVerdict tells how long the bench takes for a steady group, by what
// it spends it on, with a meter of 100 ms windows. The line counts within the rest.
func BenchmarkClipToVerdict(b *testing.B) {
	for _, c := range []struct {
		name  string
		sweep bool
	}{{"verdict", false}, {"sweep", true}} {
		b.Run(c.name, func(b *testing.B) {
			for range b.N {
				all := paceOf(b, c.sweep, 100*time.Millisecond, paced...)
				worst := slices.MaxFunc(all, func(x, y spent) int { return int(x.bench() - y.bench()) })
				b.ReportMetric(worst.bench().Seconds(), "bench-s/worst")
				b.ReportMetric(worst.points.Seconds(), "points-s/worst")
				if b.N == 1 {
					var s []string
					for _, x := range all {
						s = append(s, x.String())
					}
					b.Log("\n" + strings.Join(s, "\n"))
				}
			}
		})
	}
}

var _ capture.Record = noRecord{}

// A steady group is judged within 4 s of its clip, and the curve that is kept takes
// 8 s, by the bench's own clock, with a meter of 100 ms windows on a line of 9600 baud.
func TestPaceOfTheBench(t *testing.T) {
	t.Parallel()
	for _, x := range paceOf(t, false, 100*time.Millisecond, paced...) {
		if x.bench() > 4*time.Second {
			t.Errorf("more than 4 s: %s", x)
		}
	}
	for _, x := range paceOf(t, true, 100*time.Millisecond, paced...) {
		if x.points > 8*time.Second {
			t.Errorf("more than 8 s for the curve: %s", x)
		}
		if x.n < 10 {
			t.Errorf("what is kept isn't read in full: %s", x)
		}
	}
}
