package suite_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/profile"
)

// exchanges is the size of a run over a line with faults; -short makes it
// smaller for the race detector.
func exchanges() int {
	switch {
	case os.Getenv("SEALWORTHY_LONG") != "":
		return 100_000
	case testing.Short():
		return 400
	}
	return 2000
}

// tally is what came of a run.
type tally struct {
	asked, good, failed, wrong, crossed int
	sets, wrongSets, offs, wrongOffs    int
	reopened                            int
	longest                             time.Duration
	firstWrong                          string
	after                               map[string]int // wrong ones by the latest fault
}

// checksummed are the protocols in which no wrong value may ever be accepted.
var checksummed = map[string]bool{"modbus supply": true, "modbus shunt": true, "modbus relay board": true}

// Over a line that drops, doubles, flips, delays, splits, reorders, repeats and
// hangs up, no driver may hang, panic or leak. With a checksum no wrong value is
// accepted; without one the rate is measured and logged, and once more with the
// cross-check of a second reading of the same thing.
func TestFaultsOnTheLine(t *testing.T) {
	list, err := profile.List("")
	if err != nil {
		t.Fatal(err)
	}
	profiles := map[string]string{}
	for _, e := range list {
		profiles[e.Name] = e.About
	}
	marked := profile.Entry{Name: "scpi meter", Kind: profile.MeterKind, About: "with marks"}
	for _, e := range append(list, marked) {
		t.Run(strings.TrimSuffix(e.Name+", "+e.About, ", "+profiles[e.Name]), func(t *testing.T) {
			before := runtime.NumGoroutine()
			p := load(t, e.Name)
			if e.About == marked.About {
				p.Talk.Mark = "*OPC?"
			}
			inject := newInjector(20261125, 0.1, p.Timeout())
			f, x := putUp(t, p, drivers()[e.Name](), inject)
			r := &run{t: t, tally: tally{after: map[string]int{}}, f: f, x: x, rng: rand.New(rand.NewPCG(4, 5)),
				bound: 8*p.Timeout() + time.Second}
			for r.asked < exchanges() {
				r.step(e.Kind)
			}
			r.report(inject)
			if checksummed[e.Name] && r.wrong+r.wrongSets > 0 {
				t.Errorf("%d wrong values, %d wrong settings accepted: %s", r.wrong, r.wrongSets, r.firstWrong)
			}
			if r.good == 0 {
				t.Error("nothing was ever read")
			}
			f.HangUp()
			_ = f.c.Wait(context.Background(), nil, f.c.Now().Add(10*time.Second))
			leaked(t, before)
		})
	}
}

type run struct {
	tally
	t     *testing.T
	f     *fake
	x     *bench.Connected
	rng   *rand.Rand
	bound time.Duration
}

// timed runs f and sees to its bound; it opens the port anew where it was lost.
func (r *run) timed(what string, f func() error) error {
	r.t.Helper()
	began := r.f.c.Now()
	err := f()
	took := r.f.c.Now().Sub(began)
	r.longest = max(r.longest, took)
	if took > r.bound {
		r.t.Fatalf("%s took %v, the bound is %v: %v", what, took, r.bound, err)
	}
	if errors.Is(err, instruments.ErrPortGone) {
		r.reopened++
		_ = r.x.Port.Close()
		inject := r.f.inject
		r.f.inject = nil
		r.x = r.f.plugIn(r.t)
		r.f.inject = inject
	}
	return err
}

func (r *run) step(k profile.Kind) {
	switch {
	case k == profile.RelaysKind:
		r.relays()
	case k == profile.SupplyKind && r.asked%5 == 4:
		r.supply()
	default:
		r.read()
	}
}

func (r *run) read() {
	truth := math.Round((0.001+0.0385*r.rng.Float64())*1e5) / 1e5
	if r.x.Supply != nil {
		truth = math.Round(r.rng.Float64()*1000) / 1000
	}
	r.f.True(5, truth)
	ctx := context.Background()
	read := func() (got instruments.Reading, err error) {
		err = r.timed("read", func() error {
			var err error
			if r.x.Supply != nil {
				got, err = r.x.Supply.Read(ctx, instruments.Current)
			} else {
				got, err = r.x.Meter.Read(ctx, instruments.Current)
			}
			return err
		})
		r.asked++
		return got, err
	}
	a, err := read()
	if err != nil {
		r.failed++
		return
	}
	v, ok := a.Float()
	if !ok {
		r.failed++
		return
	}
	if near(v, truth) {
		r.good++
		return
	}
	r.wrong++
	if r.firstWrong == "" {
		r.firstWrong = a.Raw
	}
	if r.f.inject != nil {
		r.after[r.f.inject.latest]++
	}
	// The cross-check: does a second reading agree?
	if b, err := read(); err == nil {
		if w, ok := b.Float(); ok && math.Abs(w-v) <= a.HalfWidth+b.HalfWidth {
			r.crossed++
		}
	}
}

func near(v, truth float64) bool { return math.Abs(v-truth) < 6e-6 }

func (r *run) supply() {
	ctx := context.Background()
	if r.rng.IntN(2) == 0 {
		r.offs++
		err := r.timed("off", func() error { return r.x.Supply.Off(ctx) })
		if _, _, on := r.f.Settings(); on && err == nil {
			r.wrongOffs++
		}
		r.asked++
		return
	}
	v, a := float64(r.rng.IntN(2000))/100, float64(1+r.rng.IntN(1000))/1000
	r.sets++
	err := r.timed("set", func() error { return r.x.Supply.Set(ctx, v, a) })
	gotV, gotA, _ := r.f.Settings()
	if err == nil && (math.Abs(gotV-v) > 0.006 || math.Abs(gotA-a) > 0.0006) {
		r.wrongSets++
	}
	_ = r.timed("on", func() error { return r.x.Supply.On(ctx) })
	r.asked += 2
}

func (r *run) relays() {
	var want []int
	for c := 1; c <= 16; c++ {
		if r.rng.IntN(3) == 0 {
			want = append(want, c)
		}
	}
	r.asked++
	err := r.timed("relays", func() error { return r.x.Relays.Close(context.Background(), want...) })
	switch {
	case err != nil:
		r.failed++
	case slices.Equal(r.f.Closed(), want):
		r.good++
	default:
		r.wrong++
	}
}

func (r *run) report(i *injector) {
	var names []string
	total := 0
	if i != nil {
		for n, c := range i.counts {
			names = append(names, n)
			total += c
		}
	}
	sort.Strings(names)
	r.t.Logf("%d asked, %d faults of %d kinds: %d good, %d errors, %d wrong accepted (%.4f %% of the asked), %d of "+
		"them past a second reading; "+
		"%d sets, %d wrongly confirmed; %d offs, %d wrongly confirmed; %d times unplugged; longest call %v",
		r.asked, total, len(names), r.good, r.failed, r.wrong, 100*float64(r.wrong)/float64(r.asked), r.crossed,
		r.sets, r.wrongSets, r.offs, r.wrongOffs, r.reopened, r.longest)
	if r.wrong > 0 {
		r.t.Logf("the latest fault before a wrong one: %v; the first was %q", r.after, r.firstWrong)
	}
	if i != nil && r.asked >= 2000 && len(names) < 14 {
		r.t.Errorf("only these faults came: %s", strings.Join(names, ", "))
	}
}

// leaked waits a moment for goroutines to end. It counts, it doesn't time.
func leaked(t *testing.T, before int) {
	t.Helper()
	for range 200 {
		if runtime.NumGoroutine() <= before+2 {
			return
		}
		time.Sleep(5 * time.Millisecond)
	}
	t.Errorf("%d goroutines before, %d after", before, runtime.NumGoroutine())
}
