package record

import (
	"os"
	"path"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// at is so many seconds after the start.
func at(s float64) time.Time { return start.Add(time.Duration(s * float64(time.Second))) }

func stepOf(id string) *capture.Step {
	return &capture.Step{ID: id, Kind: capture.Power, Way: capture.Alone, Closure: "hull", Feed: id,
		Groups: []string{id},
		On:     []string{id}, PlanRevision: "0123456789ab", Volts: 12,
		Ramp: []capture.RampPoint{{Volts: 12, LimitA: 0.1}}}
}

func mark(kind capture.MarkKind, id string, s float64, more func(*capture.Mark)) Record {
	m := &capture.Mark{Kind: kind, At: at(s), StepID: id, Closure: "hull", Feed: id, Stage: "loose", SetVolts: 12,
		LimitA: 0.1, Simulated: true}
	if kind == capture.MarkBegin {
		m.Step = stepOf(id)
		m.Instruments = map[string]instruments.Description{"meter": {Identity: "invented meter 1"}}
		c := 21.5
		m.AmbientC = &c
	}
	if kind == capture.MarkEnd {
		m.Outcome = capture.Measured
	}
	if more != nil {
		more(m)
	}
	return Record{Mark: m, Simulated: true}
}

func read(id string, s float64) Record {
	r := nth(int(s * 10))
	r.Reading.At = at(s)
	r.Step.StepID, r.Step.Feed = id, id
	r.Simulated = true
	return r
}

// session is a test with everything that can happen in it.
func session() []Record {
	base := read("mast", 20.5)
	base.Step.Base = true
	return []Record{
		mark(capture.MarkBegin, "cabin", 0, nil), mark(capture.MarkOn, "cabin", 0.5, nil), read("cabin", 1),
		mark(capture.MarkSettled, "cabin", 2, nil), read("cabin", 2.5), read("cabin", 3),
		mark(capture.MarkEnd, "cabin", 4, func(m *capture.Mark) { m.Warnings = []string{"the range changed"} }),
		mark(capture.MarkAccepted, "cabin", 5,
			func(m *capture.Mark) { m.Reason = "one window stays dark"; m.Groups = []string{"cabin"} }),

		mark(capture.MarkBegin, "stern", 6, nil), read("stern", 7),
		mark(capture.MarkTripped, "stern", 8, func(m *capture.Mark) { m.SetVolts = 3; m.Reason = "too much at 3 V" }),
		mark(capture.MarkEnd, "stern", 8.1,
			func(m *capture.Mark) { m.Outcome = capture.Tripped; m.TripVolts = 3; m.Reason = "too much at 3 V" }),
		mark(capture.MarkRedone, "stern", 9, nil),
		mark(capture.MarkBegin, "stern", 10, nil), read("stern", 11), mark(capture.MarkEnd, "stern", 12, nil),

		mark(capture.MarkBegin, "deck", 13, nil),
		mark(capture.MarkSkipped, "deck", 14, func(m *capture.Mark) { m.Reason = "not wired yet" }),
		mark(capture.MarkEnd, "deck", 14.1,
			func(m *capture.Mark) { m.Outcome = capture.Skipped; m.Reason = "not wired yet" }),

		mark(capture.MarkBegin, "look", 15, func(m *capture.Mark) { m.Step.Kind = capture.Look }),
		mark(capture.MarkLooked, "look", 16, func(m *capture.Mark) { m.Seen = "all right" }),
		mark(capture.MarkEnd, "look", 17, func(m *capture.Mark) {
			m.Drops = []capture.Drop{{At: at(16.5), For: time.Millisecond, ToA: 0.01}}
			m.ShortestDropS = 0.05
		}),
		mark(capture.MarkReworked, "keel", 18,
			func(m *capture.Mark) { m.Reason = "joint soldered again"; m.Groups = []string{"cabin", "mast"} }),

		mark(capture.MarkBegin, "mast", 20, nil), base, read("mast", 21),
	}
}

func TestFold(t *testing.T) {
	f := Fold(session())
	if f.Warnings != nil {
		t.Fatalf("warnings %v", f.Warnings)
	}
	type short struct {
		ID       string
		Outcome  capture.Outcome
		Readings int
		Ended    time.Time
	}
	var got []short
	for _, s := range f.Steps {
		got = append(got, short{s.Step.ID, s.Outcome, s.Kept.Len(), s.Ended})
	}
	want := []short{
		{"cabin", capture.Measured, 3, at(4)}, {"stern", capture.Tripped, 1, at(8.1)},
		{"stern", capture.Measured, 1, at(12)}, {"deck", capture.Skipped, 0, at(14.1)},
		{"look", capture.Measured, 0, at(17)}, {"mast", capture.Interrupted, 1, at(21)},
	}
	if !reflect.DeepEqual(got, want) {
		t.Fatalf("steps\n%v, want\n%v", got, want)
	}
	cabin := f.Steps[0]
	if !reflect.DeepEqual(cabin.Step, *stepOf("cabin")) || !cabin.Began.Equal(at(0)) || !cabin.On.Equal(at(0.5)) ||
		!cabin.Settled.Equal(at(2)) ||
		*cabin.AmbientC != 21.5 || !cabin.Simulated || cabin.Instruments["meter"].Identity != "invented meter 1" ||
		len(cabin.Warnings) != 1 ||
		cabin.Accepted != "one window stays dark" {
		t.Errorf("cabin: %+v", cabin)
	}
	if tr := cabin.Trace("meter", instruments.Current); len(tr) != 2 || !tr[0].At.Equal(at(2.5)) ||
		!tr[1].At.Equal(at(3)) {
		t.Errorf("trace of cabin: %v", tr)
	}
	if !f.Steps[1].Redone || f.Steps[2].Redone || f.Steps[1].TripVolts != 3 {
		t.Errorf("stern: %+v, then %+v", f.Steps[1], f.Steps[2])
	}
	if s := f.Steps[3]; s.Reason != "not wired yet" {
		t.Errorf("deck: %+v", s)
	}
	if s := f.Steps[4]; s.Seen != "all right" || len(s.Drops) != 1 || s.ShortestDropS != 0.05 {
		t.Errorf("look: %+v", s)
	}
	if s := f.Steps[5]; s.KeptBase.Len() != 1 {
		t.Errorf("mast: %+v", s)
	}
	if f.Redone["stern"] != 1 || len(f.Accepted) != 1 || f.Accepted[0].Reason != "one window stays dark" ||
		len(f.Reworked) != 1 || f.Reworked[0].Place != "keel" || len(f.Reworked[0].Groups) != 2 {
		t.Errorf("redone %v, accepted %v, reworked %v", f.Redone, f.Accepted, f.Reworked)
	}
}

// TestFoldWithoutOneLine leaves out each line in turn: no reading ever goes to
// another step, and nothing else is lost with it.
func TestFoldWithoutOneLine(t *testing.T) {
	all := session()
	for i := range all {
		f := Fold(append(append([]Record{}, all[:i]...), all[i+1:]...))
		for _, s := range f.Steps {
			for _, x := range s.Readings {
				if x.At.Before(s.Began) || !s.Ended.IsZero() && x.At.After(s.Ended) {
					t.Errorf("without line %d: a reading of %s in step %s", i+1, x.At, s.Step.ID)
				}
			}
		}
		m := all[i].Mark
		switch {
		case m != nil && m.Kind == capture.MarkBegin && m.StepID != "stern":
			if len(f.Warnings) == 0 || len(f.Steps) != 5 {
				t.Errorf("without the begin of %s: %d steps, warnings %v", m.StepID, len(f.Steps), f.Warnings)
			}
		case m != nil && m.Kind == capture.MarkEnd && m.StepID == "cabin":
			if f.Steps[0].Outcome != capture.Interrupted || len(f.Steps) != 6 || f.Steps[0].Kept.Len() != 3 {
				t.Errorf("without the end of cabin: %+v", f.Steps[0])
			}
		case m != nil && m.Kind == capture.MarkEnd && m.StepID == "deck":
			if f.Steps[3].Outcome != capture.Skipped {
				t.Errorf("without the end of deck: %+v", f.Steps[2])
			}
		}
	}
}

// TestKeeperThereAndBack writes a session as the power-on test does, in two
// sittings, to the machine's own file system, and reads it back from the folder.
func TestKeeperThereAndBack(t *testing.T) {
	dir := t.TempDir()
	all := session()
	const cut = 8 // the end of a step and what was said of it
	for part, rs := range [][]Record{all[:cut], all[cut:]} {
		r := opened(t, osIn(filepath.Join(dir, "locks")), func(o *Opening) {
			o.Dir, o.Simulated, o.GoesOn, o.Now = dir, true, part, start.Add(time.Duration(part)*5500*time.Millisecond)
		})
		k := Keep(r)
		for _, x := range rs {
			var err error
			if x.Mark != nil {
				err = k.Mark(*x.Mark)
			} else {
				err = k.Append(*x.Reading, x.Step)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := k.Sync(); err != nil || k.Kept() == 0 {
			t.Fatalf("kept %d, %v", k.Kept(), err)
		}
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
	}
	for _, other := range []string{"notes.txt", "20261125T064500Z-loose.lp.torn"} {
		if err := os.WriteFile(filepath.Join(dir, FilesDir, other), []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	got, err := ReadDir(dir)
	if err != nil || got.Damage != nil || got.Warnings != nil {
		t.Fatalf("%v, %v, %v", got.Damage, got.Warnings, err)
	}
	if !isID(got.BuildID) || !reflect.DeepEqual(got.Builds, []string{"Brackwater"}) {
		t.Errorf("build %q, called %q", got.BuildID, got.Builds)
	}
	states := []SittingState{
		{Number: 1, File: "readings/20261125T064500Z-loose.lp", Stage: "loose", At: start, Simulated: true,
			Whole: true, Chained: true},
		{Number: 2, File: "readings/20261125T064505Z-loose.lp", Stage: "loose", At: start.Add(5500 * time.Millisecond),
			Simulated: true, Whole: true, Chained: true, GoesOn: 1},
	}
	for i, s := range got.Sittings {
		want := states[i]
		want.What, want.Name, want.PlanRevision, want.Program, want.Lines, want.Until = ForTest, "Brackwater",
			"0123456789ab", "sealworthy of a test", s.Lines, s.Until
		if !reflect.DeepEqual(s, want) || s.Lines < 10 || !s.Until.After(s.At) {
			t.Errorf("sitting %+v, want %+v", s, want)
		}
	}
	want := Fold(session())
	// Orders are the file's: an instrument's line comes before the first begin.
	orders := []capture.Order{capture.OrderAt(1, 3), capture.OrderAt(2, 3), capture.OrderAt(2, 8),
		capture.OrderAt(2, 11), capture.OrderAt(2, 14), capture.OrderAt(2, 18)}
	for i := range want.Steps {
		if got.Steps[i].BeganAt != orders[i] || !got.Steps[i].EndedAt.After(orders[i]) {
			t.Errorf("step %s began at %s, ended at %s, want %s", got.Steps[i].Step.ID, got.Steps[i].BeganAt,
				got.Steps[i].EndedAt, orders[i])
		}
		got.Steps[i].BeganAt, got.Steps[i].EndedAt, got.Steps[i].SeenAt = 0, 0, 0
	}
	if !reflect.DeepEqual(got.Steps, want.Steps) {
		t.Errorf("got  %+v\nwant %+v", got.Steps, want.Steps)
	}
	if got.Accepted[0].Order != capture.OrderAt(1, 10) || got.Reworked[0].Order != capture.OrderAt(2, 17) {
		t.Errorf("accepted %+v, reworked %+v", got.Accepted, got.Reworked)
	}
	if got.Accepted[0].step != orders[0] {
		t.Errorf("what was accepted is of the step at %s", got.Accepted[0].step)
	}
	got.Accepted[0].Order, got.Accepted[0].step, got.Reworked[0].Order = 0, 0, 0
	if !reflect.DeepEqual(got.Accepted, want.Accepted) || !reflect.DeepEqual(got.Reworked, want.Reworked) ||
		!reflect.DeepEqual(got.Redone, want.Redone) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

// TestFoldSortsByTime: two instruments may be recorded a little out of order.
func TestFoldSortsByTime(t *testing.T) {
	f := Fold([]Record{mark(capture.MarkBegin, "cabin", 0, nil), read("cabin", 3), read("cabin", 2), read("cabin", 4),
		mark(capture.MarkEnd, "cabin", 5, nil)})
	r := slices.Collect(f.Steps[0].All())
	if len(r) != 3 || !r[0].At.Equal(at(2)) || !r[2].At.Equal(at(4)) {
		t.Fatalf("%v", r)
	}
}

// TestRedone: what the program itself broke off is gone; what had ended stays.
func TestRedone(t *testing.T) {
	f := Fold([]Record{
		mark(capture.MarkBegin, "cabin", 0, nil), read("cabin", 1), mark(capture.MarkEnd, "cabin", 2, nil),
		mark(capture.MarkBegin, "cabin", 10, nil), read("cabin", 11), mark(capture.MarkRedone, "cabin", 12, nil),
	})
	if len(f.Steps) != 1 || !f.Steps[0].Began.Equal(at(0)) || f.Steps[0].Redone || f.Redone["cabin"] != 1 {
		t.Fatalf("%+v", f)
	}
	f = Fold([]Record{
		mark(capture.MarkBegin, "cabin", 0, nil), read("cabin", 1), mark(capture.MarkEnd, "cabin", 2, nil),
		mark(capture.MarkRedone, "cabin", 12, func(m *capture.Mark) { m.ByMaker = true }),
		mark(capture.MarkBegin, "cabin", 13, nil), read("cabin", 14),
	})
	if len(f.Steps) != 2 || !f.Steps[0].Redone || f.Steps[1].Redone || f.Steps[0].Kept.Len() != 1 ||
		f.Redone["cabin"] != 1 {
		t.Fatalf("%+v", f)
	}
}

// TestTakenBack: what is taken back has no effect, and what it had replaced has
// it again. Both lines stay.
func TestTakenBack(t *testing.T) {
	m := newMemory()
	r := opened(t, m)
	k := Keep(r)
	put := func(m *capture.Mark) capture.Order {
		t.Helper()
		if err := k.Mark(*m); err != nil {
			t.Fatal(err)
		}
		return k.LastMark()
	}
	say := func(kind capture.MarkKind, s float64, more func(*capture.Mark)) capture.Order {
		return put(mark(kind, "look", s, more).Mark)
	}
	seen := func(text string) func(*capture.Mark) { return func(m *capture.Mark) { m.Seen = text } }
	name := func(m *capture.Mark) { m.Check, m.Reason = "tail lamp fitted", "seen" }
	back := func(s float64, of capture.Order) { say(capture.MarkTakenBack, s, func(m *capture.Mark) { m.Of = of }) }

	say(capture.MarkBegin, 0, func(m *capture.Mark) { m.Step.Kind = capture.Look })
	say(capture.MarkLooked, 1, seen("cabin: one dark"))
	slip := say(capture.MarkLooked, 2, seen("all right"))
	back(3, slip)
	say(capture.MarkEnd, 4, seen("all right")) // what the engine thought last
	say(capture.MarkBegin, 5, func(m *capture.Mark) { m.Step.Kind = capture.Look })
	one := say(capture.MarkLooked, 6, seen("stern: dim"))
	say(capture.MarkEnd, 7, seen("stern: dim"))
	say(capture.MarkBegin, 8, func(m *capture.Mark) { m.Step.Kind = capture.Look })
	only := say(capture.MarkLooked, 9, seen("mast: dark"))
	back(10, only)
	say(capture.MarkEnd, 11, seen("mast: dark"))
	first := say(capture.MarkAccepted, 12, func(m *capture.Mark) { m.Reason = "one is enough" })
	second := say(capture.MarkAccepted, 13, func(m *capture.Mark) { m.Reason = "a slip" })
	rework := say(capture.MarkReworked, 14, nil)
	say(capture.MarkReworked, 15, func(m *capture.Mark) { m.Feed = "keel" })
	tick := say(capture.MarkTicked, 16, name)
	allow := say(capture.MarkAllowed, 17, name)
	say(capture.MarkTouchedNothing, 18, nil)
	for i, o := range []capture.Order{one, second, rework, tick} {
		back(float64(20+i), o)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	f, err := ReadFS(m.Tree(ship))
	if err != nil || f.Damage != nil || f.Warnings != nil || len(f.Steps) != 3 {
		t.Fatalf("%v, %v, %v, %d steps", f.Damage, f.Warnings, err, len(f.Steps))
	}
	for i, want := range []string{"cabin: one dark", "", ""} {
		if s := f.Steps[i]; s.Seen != want || (s.SeenAt == 0) != (want == "") {
			t.Errorf("look %d: %q at %s, want %q", i, s.Seen, s.SeenAt, want)
		}
	}
	if len(f.Accepted) != 1 || f.Accepted[0].Order != first || f.Steps[2].Accepted != "one is enough" {
		t.Errorf("accepted %+v, on the step %q", f.Accepted, f.Steps[2].Accepted)
	}
	if len(f.Reworked) != 1 || f.Reworked[0].Place != "keel" || len(f.Ticked) != 0 || len(f.Allowed) != 1 ||
		f.Allowed[0].Order != allow ||
		f.Allowed[0].Name != "tail lamp fitted" || len(f.TouchedNothing) != 1 {
		t.Errorf("reworked %+v, ticked %+v, allowed %+v, nothing %+v", f.Reworked, f.Ticked, f.Allowed,
			f.TouchedNothing)
	}
}

func TestNames(t *testing.T) {
	for _, bad := range []string{"a.lp", "20261125T064500Z-loose", "20261125T064500Z-glued.lp",
		"20261325T064500Z-loose.lp", "20261125T064500.5Z-loose.lp", "-.lp", "",
		"20261125T064500Z-loose-0.lp", "20261125T064500Z-loose-02.lp", "20261125T064500Z-loose-.lp",
		"20261125T064500Z-loose-2-3.lp"} {
		if s, ok := ParseName(bad); ok {
			t.Errorf("%q: %v", bad, s)
		}
	}
	if _, err := NewName(start, "glued"); err == nil {
		t.Error("an unknown stage was taken")
	}
	if _, err := NewName(time.Time{}, "loose"); err == nil {
		t.Error("a zero time was taken")
	}
	if f, err := ReadDir(filepath.Join(t.TempDir(), "none")); err != nil || !reflect.DeepEqual(f, Folded{}) {
		t.Errorf("a folder that isn't there: %+v, %v", f, err)
	}
}

// FuzzParseName: a name that is taken is one that is given.
func FuzzParseName(f *testing.F) {
	f.Add("readings/20261125T064500Z-loose.lp")
	f.Add("readings/20261125T064500Z-loose-12.lp")
	f.Add("20261125T064500Z-glued.lp")
	f.Add("-.lp")
	f.Fuzz(func(t *testing.T, file string) {
		s, ok := ParseName(file)
		if !ok {
			return
		}
		name, err := NewName(s.At, s.Stage)
		if s.Number > 0 {
			name, err = NumberedName(s.At, s.Stage, s.Number)
		}
		if err != nil || name != path.Base(file) {
			t.Fatalf("%q is read as %+v, which is called %q, %v", file, s, name, err)
		}
	})
}

// Fold makes the step records of the records of one sitting.
func Fold(records []Record) Folded {
	var f Folder
	for _, r := range records {
		f.Add(r)
	}
	return f.Folded()
}
