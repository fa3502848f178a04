package capture

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// A contact that comes and goes is never ramped, however its times fall on the readings.
func TestAContactThatComesAndGoesIsNeverRamped(t *testing.T) {
	for period := 70 * time.Millisecond; period <= 400*time.Millisecond; period += 30 * time.Millisecond {
		t.Run(period.String(), func(t *testing.T) {
			b, x := feelBench(t)
			from := b.c.Now()
			b.load = func(v float64, _ []int, _ time.Duration) float64 {
				d := b.c.Now().Sub(from)
				if d < 2*s1 || d > 12*s1 || (d/period)%2 == 1 {
					return 0
				}
				return feeds["cabin"](v)
			}
			f := newFeeler(t, b, map[string][]Answer{"sense off": slices.Repeat([]Answer{{Choice: "sense"}}, 40)})
			ended := false
			f.onShow = func(Event) {
				if !ended && b.c.Now().Sub(from) > 13*s1 {
					ended = true
					f.mu.Lock()
					f.by = nil // stop
					f.mu.Unlock()
				}
			}
			recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
			wantErr(t, err, ErrStopped)
			if len(recs) != 0 || b.highest() > 3 || !ended || len(f.kinds(Contact)) == 0 {
				t.Errorf("%v, up to %v V, %d contacts, to its end: %v", outcomes(recs), b.highest(),
					len(f.kinds(Contact)), ended)
			}
		})
	}
}

// Contact that is lost on the way is never measured as a feed that draws nothing.
func TestContactLostOnTheWay(t *testing.T) {
	for _, c := range []struct {
		name string
		lost func(e Event) bool
		says string
	}{
		{"in the second of hands off", func(e Event) bool { return e.What == HandsOff },
			"\"cabin\" let go, or changed, before it was measured"},
		{"between hands off and the ramp", func(e Event) bool { return e.What == StepBegins },
			"The contact was lost: it drew 1.0 mA when it was felt, and 0 µA at a higher voltage"},
		{"at the top of the ramp", func(e Event) bool { return e.What == RampStep && e.SetVolts == 12 },
			"The contact was lost"},
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
			if len(recs) != 0 || !slices.ContainsFunc(f.texts(Told),
				func(s string) bool { return strings.Contains(s, c.says) }) {
				t.Errorf("%v, told %q, marks %q", outcomes(recs), f.texts(Told), r.kinds())
			}
		})
	}
}

// A contact that chatters without end doesn't keep the output live without end: sensing
// ends after its minute, and says what it felt.
func TestAContactThatChattersEndsSensing(t *testing.T) {
	b, x := feelBench(t)
	from := b.c.Now()
	b.load = func(v float64, _ []int, _ time.Duration) float64 {
		if (b.c.Now().Sub(from)/(70*time.Millisecond))%2 == 1 {
			return 0
		}
		return feeds["cabin"](v)
	}
	f := newFeeler(t, b, nil)
	var live, off time.Time
	f.onShow = func(e Event) {
		if e.Sensing && live.IsZero() {
			live = e.At
		}
		if e.What == OutputOff && !live.IsZero() {
			off = e.At
		}
	}
	recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
	wantErr(t, err, ErrStopped)
	if d := off.Sub(live); d < 55*s1 || d > 70*s1 || len(f.kinds(Contact)) == 0 || len(recs) != 0 {
		t.Errorf("live for %v, %d contacts, %v", d, len(f.kinds(Contact)), outcomes(recs))
	}
	q := f.questions(AskSense)
	if !strings.Contains(q[len(q)-1].Text, "came and went for 60 s, so sensing has ended") {
		t.Errorf("asked %q", q[len(q)-1].Text)
	}
}

// A clip that slips each time it's about to be measured is asked about, with the output
// off, and not felt for without end.
func TestAClipThatSlipsIsAskedAbout(t *testing.T) {
	for _, c := range []struct {
		name string
		lost func(Event) bool
	}{
		{"in the second of hands off", func(e Event) bool { return e.What == HandsOff }},
		{"in the ramp", func(e Event) bool { return e.What == RampStep && e.SetVolts == 12 }},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, x := feelBench(t)
			var away time.Time
			b.load = func(v float64, _ []int, _ time.Duration) float64 {
				if b.c.Now().Before(away) {
					return 0
				}
				return feeds["cabin"](v)
			}
			f := newFeeler(t, b, map[string][]Answer{"sense off": {{Choice: "sense"}, {Choice: "stop"}}})
			f.onShow = func(e Event) {
				if c.lost(e) {
					away = b.c.Now().Add(3 * s1)
				}
			}
			recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
			wantErr(t, err, ErrStopped)
			asked := 0
			for _, q := range f.questions(AskSense) {
				if strings.Contains(q.Text, "It let go 3 times before it was measured") && strings.Contains(q.Text,
					"The output is off.") {
					asked++
				}
			}
			if asked != 2 || len(recs) != 0 || len(f.kinds(HandsOff)) != 2*mostSlips {
				t.Errorf("asked %d times, %v, %d times hands off", asked, outcomes(recs), len(f.kinds(HandsOff)))
			}
		})
	}
}

// What the maker chose among two is the contact that was felt: where it slips before the
// ramp nothing is measured of it. Hands get their tone and their second all the same.
func TestAPickThatSlipsIsNotMeasured(t *testing.T) {
	b, x := feelBench(t)
	on := feeds["chart"]
	b.load = func(v float64, _ []int, _ time.Duration) float64 {
		if on == nil {
			return 0
		}
		return on(v)
	}
	f := newFeeler(t, b, map[string][]Answer{"sense off": {{Choice: "pick", Text: "chart"}, {Choice: "stop"}}})
	var said, began time.Time
	f.onShow = func(e Event) {
		switch {
		case e.What == HandsOff:
			said = e.At
		case e.What == StepBegins:
			on, began = nil, e.At
		}
	}
	recs, _, err := feel(t, b, x, newFeelGuide("galley", "chart", "cabin"), f, handsFree())
	wantErr(t, err, ErrStopped)
	lost := slices.ContainsFunc(f.texts(Told),
		func(s string) bool { return strings.Contains(s, "The contact was lost") })
	if len(recs) != 0 || !lost {
		t.Errorf("%v, told %q", outcomes(recs), f.texts(Told))
	}
	if said.IsZero() || began.Sub(said) < handsOffFor {
		t.Errorf("begun %v after the word", began.Sub(said))
	}
}

// Whoever wants to solder is heard up to the last moment: in the second of hands off, too.
func TestSolderIsHeardInHandsOff(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["cabin"]})
	f := newFeeler(t, b, map[string][]Answer{"solder": {{Choice: "stop"}}})
	f.saying(func(e Event) bool { return e.What == HandsOff }, Answer{Choice: "solder"})
	recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
	wantErr(t, err, ErrStopped)
	if len(recs) != 0 || len(f.questions(AskSolder)) != 1 || b.highest() > 3 {
		t.Errorf("%v, asked %d times, up to %v V", outcomes(recs), len(f.questions(AskSolder)), b.highest())
	}
}

// What is clipped on while the output is off, after nothing was felt, to solder, or in the
// place of what fits nothing, is felt as soon as it's sensed again: it needn't come off and
// on once more.
func TestWhatIsClippedOnWhileOffIsFelt(t *testing.T) {
	nothing := func(float64) float64 { return 0 }
	for _, c := range []struct {
		name   string
		before func(v float64) float64 // hangs on the clip
		at     func(Event) bool
		say    string
		by     map[string][]Answer
	}{
		{"after a minute", nothing, nil, "", map[string][]Answer{"sense off": {{Choice: "sense"}}}},
		{"while it's soldered", nothing, nothingYet, "solder", map[string][]Answer{"solder": {{Choice: "done"}}}},
		{"a wrong part before", func(v float64) float64 { return v / 900 }, nil, "",
			map[string][]Answer{"sense off": {{Choice: "sense"}}}},
		{"a short before", func(v float64) float64 { return v / 0.3 }, nil, "",
			map[string][]Answer{"sense off": {{Choice: "sense"}}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, x := feelBench(t)
			live, on := false, false
			b.load = func(v float64, _ []int, _ time.Duration) float64 {
				if !on {
					return c.before(v)
				}
				return feeds["cabin"](v)
			}
			f := newFeeler(t, b, c.by)
			if c.at != nil {
				f.saying(c.at, Answer{Choice: c.say})
			}
			was := f.onShow
			f.onShow = func(e Event) {
				live = live || e.Sensing
				on = on || live && e.What == OutputOff
				if was != nil {
					was(e)
				}
			}
			recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
			wantErr(t, err, ErrStopped) // the other one is never clipped on
			if len(recs) != 1 || recs[0].Step.Feed != "cabin" || recs[0].Outcome != Measured {
				t.Errorf("%v, told %q", outcomes(recs), append(f.texts(Told), f.texts(NothingYet)...))
			}
		})
	}
}

// How long hands take nobody knows: the time that is left doesn't run down while they are waited for.
func TestWhatIsLeftWaitsForHands(t *testing.T) {
	b, x := feelBench(t, handed{30 * s1, feeds["cabin"]})
	f := newFeeler(t, b, nil)
	g := newFeelGuide("cabin")
	if _, _, err := feel(t, b, x, g, f, handsFree()); err != nil {
		t.Fatal(err)
	}
	for _, e := range f.events {
		if e.Sensing && e.Remaining != g.Remaining(nil) {
			t.Fatalf("%s: %v left of %v", e.What, e.Remaining, g.Remaining(nil))
		}
		if e.What == StepBegins && e.Remaining != g.Remaining(nil) {
			t.Errorf("it begins with %v", e.Remaining)
		}
	}
}

// Once the clip is off nobody is told to take it off any more, and a contact that came and
// went is taken back.
func TestWhatIsAskedFollowsTheClip(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["cabin"]}, handed{14 * s1, nil}, handed{17 * s1, feeds["nav lights"]})
	f := newFeeler(t, b, nil)
	on, gone := b.load, false
	b.load = func(v float64, closed []int, d time.Duration) float64 {
		if gone {
			return 0
		}
		return on(v, closed, d)
	}
	f.onShow = func(e Event) {
		gone = gone || e.What == Contact && len(f.kinds(Contact)) == 2 // as soon as it was felt
	}
	_, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
	wantErr(t, err, ErrStopped)
	off := f.texts(ClipOff)
	if len(off) != 2 || len(f.kinds(Contact)) != 2 || slices.ContainsFunc(off, func(s string) bool {
		return !strings.HasPrefix(s, "Clip the plus lead to \"nav lights\".") || !strings.Contains(s, "don't solder")
	}) {
		t.Errorf("%d contacts, and then %q", len(f.kinds(Contact)), off)
	}
}

// As long as the clip hangs where it was measured nothing is missing but that it's taken off: that nothing is felt
// isn't said, and the time for hands begins as it comes off. Its last moment on the way off is no clip that came
// and went.
func TestTheOldClipIsTakenOffLate(t *testing.T) {
	half := func(v float64) float64 { return 0.5 * feeds["cabin"](v) }
	for _, c := range []struct {
		name  string
		moves []handed
		off   time.Duration // when it comes off; 0: never
		says  string
		least time.Duration // that sensing is live at last
	}{
		{"after 40 s", []handed{{45 * s1, half}, {45*s1 + 60*time.Millisecond, nil}}, 45 * s1,
			"Nothing was felt for 60 s, so sensing has ended.", 60 * s1},
		{"never", nil, 0, "The clip hung where it did for 60 s, so sensing has ended.", 58 * s1},
		{"and another one that lets go", []handed{{30 * s1, nil}, {50 * s1, feeds["nav lights"]},
			{50*s1 + 60*time.Millisecond, nil}}, 30 * s1,
			"What was clipped on let go, and then nothing was felt for ", 55 * s1},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, x := feelBench(t, append([]handed{{2 * s1, feeds["cabin"]}}, c.moves...)...)
			from := b.c.Now()
			f := newFeeler(t, b, nil)
			recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
			wantErr(t, err, ErrStopped)
			if len(recs) != 1 {
				t.Fatalf("%v", outcomes(recs))
			}
			for _, e := range f.kinds(NothingYet) {
				if d := e.At.Sub(from.Add(c.off)); c.off == 0 || d < nothingAfter {
					t.Errorf("nothing felt is said %v after the clip came off", d)
				}
			}
			q := f.questions(AskSense)
			if last := q[len(q)-1].Text; !strings.Contains(last, c.says) {
				t.Errorf("asked %q, want %q", last, c.says)
			}
			if d := b.c.Now().Sub(from.Add(max(c.off, recs[0].Ended.Sub(from)))); d < c.least {
				t.Errorf("ended %v after", d)
			}
		})
	}
}
