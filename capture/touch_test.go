package capture

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
)

// ship has two groups, a look at both and nothing wrong with them.
func ship() *shipGuide {
	look := lookStep("nav lights", "cabin")
	look.ID, look.Groups = "look", []string{"nav lights", "cabin"}
	look.GroupsBy = map[string][]string{"nav lights": {"nav lights"}, "cabin": {"cabin"}}
	return &shipGuide{guide: guide{steps: []Step{ledStep("1", "nav lights"), ledStep("2", "cabin"), look}}}
}

func touching() Options {
	o := seeded()
	o.Touch, o.TouchAtEnd = true, true
	return o
}

// ran is the steps that were begun, and what was said of touching.
func (r *record) ran() string {
	var out []string
	for _, m := range r.marks {
		switch m.Kind {
		case MarkBegin:
			out = append(out, m.StepID)
		case MarkReworked:
			out = append(out, strings.TrimSpace("touched "+m.Feed+" "+m.Check))
		case MarkTouchedNothing:
			out = append(out, "nothing")
		case MarkTakenBack:
			out = append(out, fmt.Sprintf("back %s", r.marks[m.Of.Line()-1].Kind))
		}
	}
	return strings.Join(out, ", ")
}

// What was touched is asked once in a test without a fault, before its end, and
// what is named comes again.
func TestTouchedIsAsked(t *testing.T) {
	for _, c := range []struct {
		name  string
		by    map[QuestionKind][]Answer
		judge bool // nav lights are low at first
		ran   string
		asked int
	}{
		{"nothing", nil, false, "1, 2, look, nothing", 1},
		{"a group before the end", map[QuestionKind][]Answer{AskTouched: {{Choice: "touched", Text: "cabin"}}}, false,
			"1, 2, look, touched cabin, 2, look, nothing", 2},
		{"a joint before the end, by number", map[QuestionKind][]Answer{AskTouched: {{Choice: "touched", Text: "1"}}},
			false,
			"1, 2, look, touched keel, 1, 2, look, nothing", 2},
		{"taken back", map[QuestionKind][]Answer{AskTouched: {{Choice: "touched", Text: "nav lights"}},
			AskClip: {{Choice: "done"}, {Choice: "done"}, {Choice: "done"}, {Choice: "done"}, {Choice: Undo}}},
			false, "1, 2, look, touched nav lights, 1, back reworked, nothing", 2},
		{"after a fault", map[QuestionKind][]Answer{AskAgain: {{Choice: "redo"}},
			AskTouched: {{Choice: "touched", Text: "nav"}}}, true,
			"1, touched nav lights, 1, 2, look, nothing", 2},
		{"after a fault, the clip alone", map[QuestionKind][]Answer{AskAgain: {{Choice: "redo"}},
			AskTouched: {{Choice: "touched", Text: "the clip"}}}, true,
			"1, touched nav lights the clip, 1, 2, look, nothing", 2},
		{"after a fault, nothing", map[QuestionKind][]Answer{AskAgain: {{Choice: "next"}}}, true,
			"1, nothing, 2, look, nothing", 2},
		{"after a fault, taken back",
			map[QuestionKind][]Answer{AskAgain: {{Choice: "next"}},
				AskTouched: {{Choice: "nothing"}, {Choice: "touched", Text: "nav lights"}},
				AskClip:    {{Choice: "done"}, {Choice: Undo}}}, true,
			"1, nothing, 2, back touched nothing, touched nav lights, 1, 2, look, nothing", 3},
		{"something that isn't there", map[QuestionKind][]Answer{AskTouched: {{Choice: "touched", Text: "funnel"},
			{Choice: "touched", Text: "9"}, {Choice: "touched", Text: ", ,"}}}, false,
			"1, 2, look, nothing", 4},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, g, r := newBench(t, led), ship(), &record{}
			low := c.judge
			g.judge = func(x StepRecord) []Said {
				bad := low && x.Step.ID == "1"
				low = low && !bad
				return []Said{{Group: x.Step.Feed, Verdict: "low", Good: !bad}}
			}
			if c.by == nil {
				c.by = map[QuestionKind][]Answer{}
			}
			f := script(t, b, c.by)
			if _, err := Run(context.Background(), b.Bench(), g, f, r, touching()); err != nil {
				t.Fatal(err)
			}
			if r.ran() != c.ran {
				t.Errorf("ran %q, want %q", r.ran(), c.ran)
			}
			if n := len(f.questions(AskTouched)); n != c.asked {
				t.Errorf("asked %d times, want %d", n, c.asked)
			}
			b.mustOff()
		})
	}
}

// What only couldn't be settled sends no hand to the model: nothing is asked of it.
func TestTouchedIsNotAskedOfWhatIsOpen(t *testing.T) {
	b, g, r := newBench(t, led), ship(), &record{}
	g.judge = func(x StepRecord) []Said {
		return []Said{{Group: x.Step.Feed, Verdict: "can't tell", Undecided: true}}
	}
	f := script(t, b, map[QuestionKind][]Answer{AskAgain: {{Choice: "next"}, {Choice: "next"}}})
	if _, err := Run(context.Background(), b.Bench(), g, f, r, touching()); err != nil ||
		r.ran() != "1, 2, look, nothing" {
		t.Errorf("ran %q, %v", r.ran(), err)
	}
}

// It says how many groups that voids, and the mark holds them.
func TestTouchedSaysWhatItVoids(t *testing.T) {
	b, g, r := newBench(t, led), ship(), &record{}
	f := script(t, b, map[QuestionKind][]Answer{AskTouched: {{Choice: "touched", Text: "KEEL"}}})
	if _, err := Run(context.Background(), b.Bench(), g, f, r, touching()); err != nil {
		t.Fatal(err)
	}
	if told := f.kinds(Told); len(told) != 1 ||
		!strings.HasPrefix(told[0].Text, "2 groups must be measured again: \"nav lights\", \"cabin\".") {
		t.Errorf("told %+v", told)
	}
	for _, m := range r.marks {
		if m.Kind == MarkReworked && (m.Feed != "keel" || !slices.Equal(m.Groups, []string{"nav lights", "cabin"}) ||
			m.Stage != "loose") {
			t.Errorf("mark %+v", m)
		}
	}
}

// A test that goes on asks before it begins, and what was touched comes again.
func TestTouchedIsAskedWhereATestGoesOn(t *testing.T) {
	b, g, r := newBench(t, led), ship(), &record{}
	o := touching()
	o.TouchFirst = "This test goes on."
	for _, s := range g.steps {
		o.Done = append(o.Done, StepRecord{Step: s, Outcome: Measured, Seen: AllRight})
	}
	f := script(t, b, map[QuestionKind][]Answer{AskTouched: {{Choice: "touched", Text: "cabin"}}})
	if _, err := Run(context.Background(), b.Bench(), g, f, r, o); err != nil {
		t.Fatal(err)
	}
	if want := "touched cabin, 2, look, nothing"; r.ran() != want {
		t.Errorf("ran %q, want %q", r.ran(), want)
	}
	for _, m := range r.marks {
		if m.Kind == MarkBegin && m.StepID == "look" && !slices.Equal(m.Step.Groups, []string{"cabin"}) {
			t.Errorf("looked again at %v", m.Step.Groups)
		}
	}
	// Nothing touched, nothing to do: it is asked once.
	r = &record{}
	f = script(t, b, map[QuestionKind][]Answer{})
	if _, err := Run(context.Background(), b.Bench(), g, f, r, o); err != nil || r.ran() != "nothing" {
		t.Errorf("ran %q, %v", r.ran(), err)
	}
}

// Nobody there: nothing is asked, nothing marked.
func TestTouchedIsNotAskedOfNobody(t *testing.T) {
	b, g, r := newBench(t, led), ship(), &record{}
	if _, err := Run(context.Background(), b.withRelays(map[string]int{"nav lights": 1, "cabin": 2}), g, Unattended{},
		r, touching()); err != nil {
		t.Fatal(err)
	}
	if want := "1, 2, look"; r.ran() != want {
		t.Errorf("ran %q, want %q", r.ran(), want)
	}
}

// A question that stood open for two minutes is time enough to solder.
func TestTouchedIsAskedAfterALongPause(t *testing.T) {
	for _, c := range []struct {
		kind  QuestionKind
		open  time.Duration
		ran   string
		place string
	}{
		{AskClip, 119 * time.Second, "1, 2, look, nothing", ""},
		{AskClip, 2 * time.Minute, "1, nothing, 2, nothing, look, nothing, nothing, nothing", ""},
		// with the output off: at the next clip, and after it
		{AskLook, 2 * time.Minute, "1, 2, look, nothing, nothing", ""},
		{AskClip, 2 * time.Minute, "1, touched keel, 1, 2, nothing, look, nothing, nothing, nothing", "keel"},
	} {
		inWallTime(t, led, func(t *testing.T, b *bench) {
			g, r := ship(), &record{}
			by := map[QuestionKind][]Answer{}
			if c.place != "" {
				by[AskTouched] = []Answer{{Choice: "touched", Text: c.place}}
			}
			f := script(t, b, by)
			if _, err := Run(context.Background(), b.Bench(), g, patient(f, c.kind, c.open, nil), r,
				touching()); err != nil {
				t.Fatal(err)
			}
			if r.ran() != c.ran {
				t.Errorf("%s open for %v: ran %q, want %q", c.kind, c.open, r.ran(), c.ran)
			}
		})
	}
}

// The maker who stops at the question ends the test, and nothing is marked.
func TestTouchedCanBeStopped(t *testing.T) {
	b, g, r := newBench(t, led), ship(), &record{}
	f := script(t, b, map[QuestionKind][]Answer{AskTouched: {{Choice: "stop"}}})
	if _, err := Run(context.Background(), b.Bench(), g, f, r, touching()); !errors.Is(err, ErrStopped) ||
		r.ran() != "1, 2, look" {
		t.Errorf("%q, %v", r.ran(), err)
	}
}

// A pause that ends by itself, as a cable that is put back, is time enough, too,
// and so is a sleep of the computer.
func TestTouchedIsAskedAfterAPauseThatEndsByItself(t *testing.T) {
	for gone, want := range map[time.Duration]string{
		30 * time.Second: "1, 1, 2, look, nothing",
		3 * time.Minute:  "1, 1, nothing, 2, look, nothing",
	} {
		inWallTime(t, led, func(t *testing.T, b *bench) {
			p := pull(b, 25)
			bb := b.Bench()
			bb.ReopenMeter = func(context.Context) (instruments.Meter, error) {
				if p.out.Load() {
					return nil, errGone
				}
				return &fakeMeter{b, "meter A"}, nil
			}
			f, r := script(t, b, map[QuestionKind][]Answer{}), &record{}
			f.onShow = func(e Event) {
				if e.What == Paused {
					time.AfterFunc(gone, func() { p.out.Store(false) })
				}
			}
			if _, err := Run(context.Background(), bb, ship(), patient(f, AskPlug, time.Hour, nil), r,
				touching()); err != nil {
				t.Fatal(err)
			}
			if r.ran() != want {
				t.Errorf("gone for %v: ran %q, want %q", gone, r.ran(), want)
			}
		})
	}
	b, r := newBench(t, led), &record{}
	o, slept := touching(), time.Duration(0)
	o.Wall = func() time.Time { return b.c.Now().Add(slept) }
	f := script(t, b, map[QuestionKind][]Answer{})
	n := 0
	f.onShow = func(e Event) {
		if e.What == Sampling {
			if n++; n == 10 {
				slept = time.Hour
			}
		}
	}
	if _, err := Run(context.Background(), b.Bench(), ship(), f, r, o); err != nil {
		t.Fatal(err)
	}
	if want := "1, 1, nothing, 2, look, nothing"; r.ran() != want {
		t.Errorf("slept: ran %q, want %q", r.ran(), want)
	}
}

func TestPlacesIn(t *testing.T) {
	places := []Place{{Name: "keel", Kind: "joint"}, {Name: "keel two", Kind: "joint"},
		{Name: "beacon", Kind: "board"}, {Name: "1", Kind: "group"}}
	for _, c := range []struct {
		typed   string
		clip    bool
		want    string
		problem string
	}{
		{"2", false, "keel two", ""},
		{"keel", false, "keel", ""}, // not the one that only begins so
		{"Keel  TWO, bea", false, "keel two, beacon", ""},
		{"3, 3, beacon", false, "beacon", ""},
		{"1", false, "keel, 1", ""}, // a place is called so, too
		{"the clip", true, "the clip", ""},
		{"leads", true, "the clip", ""},
		{"the clip", false, "", "The clip of which one?"},
		{"ke", false, "", "may be \"keel\", \"keel two\""},
		{"mast", false, "", "There is no \"mast\""},
		{"0", false, "", "There is no 0"},
		{"keel, 9", false, "", "There is no 9"},
		{" , ", false, "", "names nothing"},
	} {
		got, problem := placesIn(c.typed, places, c.clip)
		if strings.Join(got, ", ") != c.want || (c.problem == "") != (problem == "") ||
			!strings.Contains(problem, c.problem) {
			t.Errorf("%q: %q, %q; want %q, %q", c.typed, got, problem, c.want, c.problem)
		}
	}
}
