package record

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// at is so many seconds after the start.
func at(s float64) time.Time { return start.Add(time.Duration(s * float64(time.Second))) }

func stepOf(id string) *capture.Step {
	return &capture.Step{ID: id, Kind: capture.Power, Way: capture.Alone, Closure: "hull", Feed: id, Groups: []string{id},
		On: []string{id}, PlanRevision: "0123456789ab", Volts: 12, Ramp: []capture.RampPoint{{Volts: 12, LimitA: 0.1}}}
}

func mark(kind capture.MarkKind, id string, s float64, more func(*capture.Mark)) Record {
	m := &capture.Mark{Kind: kind, At: at(s), StepID: id, Closure: "hull", Feed: id, Stage: "loose", SetVolts: 12, LimitA: 0.1, Simulated: true}
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
	return Record{Build: "Brackwater", Mark: m}
}

func read(id string, s float64) Record {
	r := nth(int(s * 10))
	r.Reading.At = at(s)
	r.Step.StepID, r.Step.Feed = id, id
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
		mark(capture.MarkAccepted, "cabin", 5, func(m *capture.Mark) { m.Reason = "one window stays dark"; m.Groups = []string{"cabin"} }),

		mark(capture.MarkBegin, "stern", 6, nil), read("stern", 7),
		mark(capture.MarkTripped, "stern", 8, func(m *capture.Mark) { m.SetVolts = 3; m.Reason = "too much at 3 V" }),
		mark(capture.MarkEnd, "stern", 8.1, func(m *capture.Mark) { m.Outcome = capture.Tripped; m.TripVolts = 3; m.Reason = "too much at 3 V" }),
		mark(capture.MarkRedone, "stern", 9, nil),
		mark(capture.MarkBegin, "stern", 10, nil), read("stern", 11), mark(capture.MarkEnd, "stern", 12, nil),

		mark(capture.MarkBegin, "deck", 13, nil), mark(capture.MarkSkipped, "deck", 14, func(m *capture.Mark) { m.Reason = "not wired yet" }),
		mark(capture.MarkEnd, "deck", 14.1, func(m *capture.Mark) { m.Outcome = capture.Skipped; m.Reason = "not wired yet" }),

		mark(capture.MarkBegin, "look", 15, func(m *capture.Mark) { m.Step.Kind = capture.Look }),
		mark(capture.MarkLooked, "look", 16, func(m *capture.Mark) { m.Seen = "all right" }),
		mark(capture.MarkEnd, "look", 17, func(m *capture.Mark) {
			m.Drops = []capture.Drop{{At: at(16.5), For: time.Millisecond, ToA: 0.01}}
			m.ShortestDropS = 0.05
		}),
		mark(capture.MarkReworked, "keel", 18, func(m *capture.Mark) { m.Reason = "joint soldered again"; m.Groups = []string{"cabin", "mast"} }),

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
		got = append(got, short{s.Step.ID, s.Outcome, len(s.Readings), s.Ended})
	}
	want := []short{
		{"cabin", capture.Measured, 3, at(4)}, {"stern", capture.Measured, 1, at(12)}, {"deck", capture.Skipped, 0, at(14.1)},
		{"look", capture.Measured, 0, at(17)}, {"mast", capture.Interrupted, 1, at(21)},
	}
	if !reflect.DeepEqual(got, want) {
		t.Fatalf("steps\n%v, want\n%v", got, want)
	}
	cabin := f.Steps[0]
	if !reflect.DeepEqual(cabin.Step, *stepOf("cabin")) || !cabin.Began.Equal(at(0)) || !cabin.On.Equal(at(0.5)) || !cabin.Settled.Equal(at(2)) ||
		*cabin.AmbientC != 21.5 || !cabin.Simulated || cabin.Instruments["meter"].Identity != "invented meter 1" || len(cabin.Warnings) != 1 ||
		cabin.Accepted != "one window stays dark" {
		t.Errorf("cabin: %+v", cabin)
	}
	if tr := cabin.Trace("meter", instruments.Current); len(tr) != 2 || !tr[0].At.Equal(at(2.5)) || !tr[1].At.Equal(at(3)) {
		t.Errorf("trace of cabin: %v", tr)
	}
	if s := f.Steps[2]; s.Reason != "not wired yet" {
		t.Errorf("deck: %+v", s)
	}
	if s := f.Steps[3]; s.Seen != "all right" || len(s.Drops) != 1 || s.ShortestDropS != 0.05 {
		t.Errorf("look: %+v", s)
	}
	if s := f.Steps[4]; len(s.Base) != 1 {
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
			if len(f.Warnings) == 0 || len(f.Steps) != 4 {
				t.Errorf("without the begin of %s: %d steps, warnings %v", m.StepID, len(f.Steps), f.Warnings)
			}
		case m != nil && m.Kind == capture.MarkEnd && m.StepID == "cabin":
			if f.Steps[0].Outcome != capture.Interrupted || len(f.Steps) != 5 || len(f.Steps[0].Readings) != 3 {
				t.Errorf("without the end of cabin: %+v", f.Steps[0])
			}
		case m != nil && m.Kind == capture.MarkEnd && m.StepID == "deck":
			if f.Steps[2].Outcome != capture.Skipped {
				t.Errorf("without the end of deck: %+v", f.Steps[2])
			}
		}
	}
}

// TestKeeperThereAndBack writes a session as the power-on test does, to the
// machine's own file system, and reads it back from the folder.
func TestKeeperThereAndBack(t *testing.T) {
	dir := t.TempDir()
	name, err := NewName(start, "loose")
	if err != nil || name != "20261125T064500Z-loose.lp" {
		t.Fatalf("%q, %v", name, err)
	}
	path := filepath.Join(dir, name)
	for part := range 2 { // stopped in the middle and taken up again
		r, warn, err := OpenRecorder(OS{}, path, nil)
		if err != nil || warn != nil {
			t.Fatal(warn, err)
		}
		k := Keep(r, "Brackwater")
		all := session()
		for _, x := range all[part*10 : min(len(all), 10+part*100)] {
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
	for _, other := range []string{"notes.txt", "copy.lp", name + ".torn"} {
		if err := os.WriteFile(filepath.Join(dir, other), []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	list, warn, err := ListSittings(dir)
	if err != nil || len(list) != 1 || list[0] != (Sitting{path, start, "loose"}) {
		t.Fatalf("%v, %v", list, err)
	}
	if len(warn) != 1 || !strings.Contains(warn[0].File, "copy.lp") {
		t.Fatalf("warnings %v", warn)
	}
	got, err := Read(list)
	if err != nil {
		t.Fatal(err)
	}
	if want := Fold(session()); !reflect.DeepEqual(got, want) {
		t.Fatalf("got  %+v\nwant %+v", got, want)
	}
}

// TestFoldSortsByTime: two instruments may be recorded a little out of order.
func TestFoldSortsByTime(t *testing.T) {
	f := Fold([]Record{mark(capture.MarkBegin, "cabin", 0, nil), read("cabin", 3), read("cabin", 2), read("cabin", 4),
		mark(capture.MarkEnd, "cabin", 5, nil)})
	r := f.Steps[0].Readings
	if len(r) != 3 || !r[0].At.Equal(at(2)) || !r[2].At.Equal(at(4)) {
		t.Fatalf("%v", r)
	}
}

// TestRedoneKeepsEarlierSittings: only the attempt that was redone goes.
func TestRedoneKeepsEarlierSittings(t *testing.T) {
	f := Fold([]Record{
		mark(capture.MarkBegin, "cabin", 0, nil), read("cabin", 1), mark(capture.MarkEnd, "cabin", 2, nil),
		mark(capture.MarkBegin, "cabin", 10, nil), read("cabin", 11), mark(capture.MarkRedone, "cabin", 12, nil),
	})
	if len(f.Steps) != 1 || !f.Steps[0].Began.Equal(at(0)) || f.Redone["cabin"] != 1 {
		t.Fatalf("%+v", f)
	}
}

func TestNames(t *testing.T) {
	for _, bad := range []string{"a.lp", "20261125T064500Z-loose", "20261125T064500Z-glued.lp", "20261325T064500Z-loose.lp", "20261125T064500.5Z-loose.lp", "-.lp", ""} {
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
	if list, warn, err := ListSittings(filepath.Join(t.TempDir(), "readings")); list != nil || warn != nil || err != nil {
		t.Errorf("a folder that isn't there: %v, %v, %v", list, warn, err)
	}
}

// FuzzParseName: a name that is taken is one that NewName makes.
func FuzzParseName(f *testing.F) {
	f.Add("readings/20261125T064500Z-loose.lp")
	f.Add("20261125T064500Z-glued.lp")
	f.Add("-.lp")
	f.Fuzz(func(t *testing.T, path string) {
		s, ok := ParseName(path)
		if !ok {
			return
		}
		if name, err := NewName(s.At, s.Stage); err != nil || name != filepath.Base(path) {
			t.Fatalf("%q is read as %+v, which is called %q, %v", path, s, name, err)
		}
	})
}
