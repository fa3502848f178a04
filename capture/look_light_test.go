package capture

import (
	"context"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"sealworthy/instruments"
)

// lit is a face whose maker wants more light at some moments after the first look was asked.
type lit struct {
	Face
	at   []time.Duration
	want atomic.Bool
	once atomic.Bool
}

func (l *lit) Lights() bool { return l.want.Swap(false) }

func (l *lit) Ask(ctx context.Context, q Question) (Answer, error) {
	if q.Kind == AskLook && !l.once.Swap(true) {
		for _, after := range l.at {
			time.AfterFunc(after, func() { l.want.Store(true) })
		}
	}
	return l.Face.Ask(ctx, q)
}

// states are the times, since the first look was asked, at which the output went off or on.
func states(f *face) (out []time.Duration) {
	var began time.Time
	on := true
	for _, e := range f.events {
		if began.IsZero() && e.LitFor > 0 {
			began = e.At
		}
		if !began.IsZero() && e.OutputOn != on {
			on = e.OutputOn
			out = append(out, e.At.Sub(began).Round(time.Second))
		}
	}
	return out
}

// A look is lit for two minutes, or as long as is asked for; then it goes dark by itself, and what
// was asked stays to be answered: one question, from the first to the last.
func TestALookGoesDarkByItself(t *testing.T) {
	const minute = time.Minute
	for _, c := range []struct {
		name   string
		wanted []time.Duration
		answer time.Duration
		states []time.Duration // at which it changes, about
		again  int             // times that it is lit again
	}{
		{"answered in time", nil, 90 * time.Second, []time.Duration{90 * time.Second}, 0},
		{"nobody answers for long", nil, 5 * time.Hour, []time.Duration{2 * minute}, 0},
		{"two minutes more, twice", []time.Duration{110 * time.Second, 3 * minute}, time.Hour,
			[]time.Duration{5 * minute}, 0},
		{"lit again after half an hour", []time.Duration{30 * minute}, time.Hour,
			[]time.Duration{2 * minute, 30 * minute, 32 * minute}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			inWallTime(t, led, func(t *testing.T, b *bench) {
				f := &face{}
				rec, r := runOne(t, b, b.withRelays(map[string]int{"a": 1}), lookStep("a"),
					&lit{Face: patient(f, AskLook, c.answer, nil), at: c.wanted})
				if rec.Outcome != Measured || rec.Seen != AllRight {
					t.Errorf("%s %s, seen %q", rec.Outcome, rec.Reason, rec.Seen)
				}
				if n := len(f.questions(AskLook)); n != 1 || len(f.questions(AskClip)) != 0 {
					t.Errorf("%d looks, %d clips asked, want the one look", n, len(f.questions(AskClip)))
				}
				got := states(f)
				near := func(a, b time.Duration) bool { return (a - b).Abs() <= 5*time.Second }
				if !slices.EqualFunc(got, c.states, near) {
					t.Errorf("the output changed at %v, want about %v", got, c.states)
				}
				again := 0
				for _, e := range f.kinds(Lit) {
					if strings.Contains(e.Text, "lit again") {
						again++
					}
				}
				if again != c.again {
					t.Errorf("lit again %d times, want %d", again, c.again)
				}
				if on := strings.Count(r.kinds(), "on"); on != c.again+1 {
					t.Errorf("marks %q, want each time that it went on", r.kinds())
				}
			})
		})
	}
}

// The countdown falls from two minutes to nothing, and begins anew with more light.
func TestACountdownIsShown(t *testing.T) {
	inWallTime(t, led, func(t *testing.T, b *bench) {
		f := &face{}
		runOne(t, b, b.withRelays(map[string]int{"a": 1}), lookStep("a"),
			&lit{Face: patient(f, AskLook, time.Hour, nil), at: []time.Duration{time.Minute}})
		left := f.kinds(Lit)
		if len(left) < 100 || left[0].LitFor < 119*time.Second {
			t.Fatalf("%d events, the first with %v", len(left), left[0].LitFor)
		}
		rises := 0
		for i := 1; i < len(left); i++ {
			switch a, b := left[i-1].LitFor, left[i].LitFor; {
			case b > a && b > 119*time.Second && a > 55*time.Second && a < 62*time.Second:
				rises++
			case b > a || a-b > 3*time.Second:
				t.Errorf("from %v to %v", a, b)
			}
		}
		if last := left[len(left)-1]; rises != 1 || last.LitFor != 0 || last.OutputOn {
			t.Errorf("rose %d times, at last %v", rises, last.LitFor)
		}
	})
}

// While it's dark nothing is read, and what the maker stops stays off.
func TestADarkLookIsStopped(t *testing.T) {
	inWallTime(t, led, func(t *testing.T, b *bench) {
		f := &face{answer: func(Question) (Answer, error) { return Answer{Choice: "stop"}, nil }}
		recs, err := Run(context.Background(), b.withRelays(map[string]int{"a": 1}),
			&guide{steps: []Step{lookStep("a")}}, patient(f, AskLook, time.Hour, nil), &record{}, seeded())
		if err == nil || len(recs) != 1 || recs[0].Outcome != Interrupted {
			t.Errorf("%v, %v", outcomes(recs), err)
		}
		for _, r := range recs[0].Readings {
			if late := r.At.Sub(recs[0].Settled); late > lookLasts+2*time.Second {
				t.Errorf("read %v after it was lit", late)
			}
		}
		b.mustOff()
	})
}

// late is a face whose maker wants more light just as it goes off.
type late struct{ *lit }

func (l late) Show(e Event) {
	if e.What == OutputOff {
		l.want.Store(true)
	}
	l.lit.Show(e)
}

// A touch that was to keep a look lit, and came too late, lights nothing that is dark.
func TestATouchTooLateLightsNothing(t *testing.T) {
	inWallTime(t, led, func(t *testing.T, b *bench) {
		f := &face{}
		_, r := runOne(t, b, b.withRelays(map[string]int{"a": 1}), lookStep("a"),
			late{&lit{Face: patient(f, AskLook, time.Hour, nil)}})
		if on := strings.Count(r.kinds(), "on"); on != 1 {
			t.Errorf("marks %q, want that it went on once", r.kinds())
		}
	})
}

// What would trip trips when it's lit again, too.
func TestLitAgainIsRamped(t *testing.T) {
	var short atomic.Bool
	load := func(v float64, _ []int, since time.Duration) float64 {
		if short.Load() {
			return 2
		}
		return led(v, nil, since)
	}
	inWallTime(t, load, func(t *testing.T, b *bench) {
		time.AfterFunc(10*time.Minute, func() { short.Store(true) })
		f := &face{answer: again("next")}
		rec, _ := runOne(t, b, b.withRelays(map[string]int{"a": 1}), lookStep("a"),
			&lit{Face: patient(f, AskLook, 24*time.Hour, nil), at: []time.Duration{20 * time.Minute}})
		if rec.Outcome != Tripped || rec.TripVolts >= rec.Step.Volts {
			t.Errorf("%s %s at %v V", rec.Outcome, rec.Reason, rec.TripVolts)
		}
	})
}

// handSet is a supply that its maker switches.
type handSet struct{ instruments.Supply }

func (handSet) ByHand() bool { return true }

// A supply that is set by hand is switched with the look's question taken back: no question
// stands under another one.
func TestALookByHandGoesDark(t *testing.T) {
	inWallTime(t, led, func(t *testing.T, b *bench) {
		f := &face{}
		bb := b.withRelays(map[string]int{"a": 1})
		bb.Supply = handSet{bb.Supply}
		rec, _ := runOne(t, b, bb, lookStep("a"),
			&lit{Face: patient(f, AskLook, time.Hour, nil), at: []time.Duration{30 * time.Minute}})
		if rec.Outcome != Measured || rec.Seen != AllRight {
			t.Errorf("%s %s, seen %q", rec.Outcome, rec.Reason, rec.Seen)
		}
		var dark []bool
		for _, q := range f.questions(AskLook) {
			dark = append(dark, strings.Contains(q.Text, "It is dark now"))
		}
		if !slices.Equal(dark, []bool{false, true, false, true}) {
			t.Errorf("asked while dark: %v", dark)
		}
	})
}
