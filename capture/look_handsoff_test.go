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

// warned are how long before each time that the output went on hands were told to let go; 0: they
// weren't.
func warned(f *face) (out []time.Duration) {
	var told time.Time
	on := false
	for _, e := range f.events {
		switch {
		case e.What == HandsOff && !e.OutputOn:
			told = e.At
		case e.What == OutputOn && told.IsZero():
			out = append(out, 0)
		case e.What == OutputOn:
			out = append(out, e.At.Sub(told))
		}
		if on = e.OutputOn; on {
			told = time.Time{}
		}
	}
	return out
}

// Before a look is lit by a pedal or a touch, the first time and each time that it went dark,
// hands are told to let go and have a second for it.
func TestALookIsLitWithHandsOff(t *testing.T) {
	for _, byRelay := range []bool{false, true} {
		inWallTime(t, led, func(t *testing.T, b *bench) {
			f := &face{}
			x := b.Bench()
			if byRelay {
				x = b.withRelays(map[string]int{"a": 1})
			}
			rec, _ := runOne(t, b, x, lookStep("a"),
				&lit{Face: patient(f, AskLook, time.Hour, nil), at: []time.Duration{30 * time.Minute}})
			got := warned(f)
			if n := len(f.kinds(HandsOff)); n > 2 {
				t.Errorf("hands were told %d times", n)
			}
			if rec.Seen != AllRight || len(got) != 2 {
				t.Fatalf("seen %q, on %d times", rec.Seen, len(got))
			}
			for i, d := range got {
				if byRelay && i == 0 {
					continue // nobody's hands were asked for
				}
				if d < handsOffFor || d > 2*handsOffFor {
					t.Errorf("by relay %v: the %d. time hands were told %v before", byRelay, i+1, d)
				}
			}
		})
	}
}

// watchedLit is a face whose maker wants more light, and may see nothing meanwhile.
type watchedLit struct {
	*lit
	blind atomic.Bool
}

func (w *watchedLit) Watched() bool { return !w.blind.Load() }

// What comes in that second leaves the look dark: a further touch, an answer, nobody who sees it,
// the end of the test.
func TestWhatComesInTheSecondLeavesItDark(t *testing.T) {
	const asked = 30 * time.Minute
	for _, c := range []struct {
		name   string
		wanted []time.Duration
		answer time.Duration
		choice string
		blind  bool
		says   string
	}{
		{"a further touch", []time.Duration{asked, asked + 600*time.Millisecond}, time.Hour, "right", false, staysDark},
		{"an answer", []time.Duration{asked}, asked + 900*time.Millisecond, "right", false, ""},
		{"stop", []time.Duration{asked}, asked + 900*time.Millisecond, "stop", false, ""},
		{"nobody sees it", []time.Duration{asked}, time.Hour, "right", true, darkUnseen},
	} {
		t.Run(c.name, func(t *testing.T) {
			inWallTime(t, led, func(t *testing.T, b *bench) {
				f := &face{answer: func(Question) (Answer, error) { return Answer{Choice: c.choice}, nil }}
				w := &watchedLit{lit: &lit{Face: patient(f, AskLook, c.answer, nil), at: c.wanted}}
				if c.blind {
					time.AfterFunc(asked-time.Minute, func() { w.blind.Store(true) })
				}
				r := &record{}
				_, err := Run(context.Background(), b.withRelays(map[string]int{"a": 1}),
					&guide{steps: []Step{lookStep("a")}}, w, r, seeded())
				if stopped := err != nil; stopped != (c.choice == "stop") {
					t.Error(err)
				}
				if on := strings.Count(r.kinds(), "on"); on != 1 || len(f.kinds(HandsOff)) != 1 {
					t.Errorf("on %d times, hands told %d times", on, len(f.kinds(HandsOff)))
				}
				says := slices.ContainsFunc(f.kinds(Lit), func(e Event) bool { return e.Text == c.says })
				if c.says != "" && !says {
					t.Errorf("it doesn't say %q", c.says)
				}
				b.mustOff()
			})
		})
	}
}

// What draws another current than before it went dark, more or less, goes off again, and is lit
// once that is asked for knowing it. What blinks draws as before.
func TestALookThatChangedInTheDark(t *testing.T) {
	for _, c := range []struct {
		name   string
		factor float64 // of what was drawn
		off    bool
	}{{"as before", 1, false}, {"a wire came off", 0, true}, {"another hangs on", 3, true}} {
		t.Run(c.name, func(t *testing.T) {
			var changed atomic.Bool
			load := func(v float64, _ []int, since time.Duration) float64 {
				a := led(v, nil, since)
				if since%(3*time.Second) < time.Second {
					a /= 2
				}
				if changed.Load() {
					a *= c.factor
				}
				return a
			}
			inWallTime(t, load, func(t *testing.T, b *bench) {
				time.AfterFunc(10*time.Minute, func() { changed.Store(true) })
				f := &face{}
				s := lookStep("a")
				for i := range s.Ramp {
					s.Ramp[i].LimitA, s.Ramp[i].MaxA = 3*s.Ramp[i].LimitA, 3*s.Ramp[i].MaxA
				}
				_, r := runOne(t, b, b.withRelays(map[string]int{"a": 1}), s,
					&lit{Face: patient(f, AskLook, time.Hour, nil),
						at: []time.Duration{20 * time.Minute, 30 * time.Minute}})
				off, said := 0, 0
				for i, e := range f.events {
					if e.What == Lit && strings.Contains(e.Text, "something was changed") {
						said++
						if !e.OutputOn && f.events[i-1].What == OutputOff {
							off++
						}
					}
				}
				want := map[bool]int{true: 1}[c.off]
				if off != want || said != want {
					t.Errorf("said %d times that it changed, %d times with the output off, want %d", said, off, want)
				}
				if on := strings.Count(r.kinds(), "on"); on != 3 {
					t.Errorf("on %d times, want 3", on)
				}
			})
		})
	}
}

// A key pressed at the supply in that second, early or late in it, leaves the look dark: the output
// goes off, that is told, and it's lit once it's asked for anew. Of a supply that can't be read back
// any more it's told that it isn't known.
func TestAKeyPressedInTheSecondLeavesItDark(t *testing.T) {
	const asked = 30 * time.Minute
	for _, c := range []struct {
		name string
		at   time.Duration // since light was asked for
		fail bool          // the supply can't be read back, instead of a key that is pressed
		says string
	}{
		{"early", 600 * time.Millisecond, false, darkTaken},
		{"late", 1400 * time.Millisecond, false, darkTaken},
		{"not read back", 600 * time.Millisecond, true, darkUnsure},
	} {
		t.Run(c.name, func(t *testing.T) {
			inWallTime(t, led, func(t *testing.T, b *bench) {
				var mute atomic.Bool
				b.supplyFails = func(op string) error {
					if op == "output?" && mute.Load() {
						return instruments.ErrGarbled
					}
					return nil
				}
				x := b.withRelays(map[string]int{"a": 1})
				x.Supply = &readable{fakeSupply: &fakeSupply{b, "supply A"}}
				f := &face{}
				f.onShow = func(e Event) {
					if e.What == HandsOff && !e.OutputOn {
						time.AfterFunc(c.at-watchEvery, func() {
							if c.fail {
								mute.Store(true)
								return
							}
							b.mu.Lock()
							b.on = true
							b.mu.Unlock()
						})
					}
				}
				r := &record{}
				if _, err := Run(context.Background(), x, &guide{steps: []Step{lookStep("a")}},
					&lit{Face: patient(f, AskLook, time.Hour, nil), at: []time.Duration{asked}}, r,
					seeded()); err != nil {
					t.Fatal(err)
				}
				if on := strings.Count(r.kinds(), "on"); on != 1 || len(f.kinds(HandsOff)) != 1 {
					t.Errorf("on %d times, hands told %d times", on, len(f.kinds(HandsOff)))
				}
				if !slices.ContainsFunc(f.kinds(Lit), func(e Event) bool { return e.Text == c.says && !e.OutputOn }) {
					t.Errorf("it doesn't say %q", c.says)
				}
				b.mustOff()
			})
		})
	}
}
