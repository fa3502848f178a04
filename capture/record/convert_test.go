package record

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record/recordtest"
)

// oldName is a file of before the chain.
const oldName = ship + "/readings/20261124T064500Z-loose.lp"

// oldLines writes records as they were written before the chain.
func oldLines(t testing.TB, rs []Record) []byte {
	t.Helper()
	var out []byte
	for _, r := range rs {
		l, err := r.content()
		if err != nil {
			t.Fatal(err)
		}
		l.Tags = append([]Tag{{"build", "Brackwater"}}, l.Tags...)
		if r.Mark != nil {
			var f []Field
			for _, x := range l.Fields {
				if x.Key == "instruments" { // descriptions stood there themselves
					var all fields
					if err := all.json("instruments", r.Mark.Instruments, 1); err != nil {
						t.Fatal(err)
					}
					x = all[0]
				}
				if x.Key == "step" || x.Key == "step_id" && r.Mark.Kind != capture.MarkBegin {
					var s fields
					s.bool("simulated", r.Mark.Simulated)
					f = append(f, s...)
				}
				f = append(f, x)
			}
			l.Fields = f
		}
		if out, err = AppendLine(out, l); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

// withOld is a build with two files of before the chain.
func withOld(t testing.TB) *recordtest.Memory {
	m := newMemory()
	m.Set(oldName, oldLines(t, session()))
	m.Set(ship+"/readings/20261123T064500Z-fitted.lp",
		oldLines(t, []Record{mark(capture.MarkReworked, "keel", -9, nil)}))
	return m
}

// TestBeforeTheChain: files of before are read as they were, before all chained
// sittings, whether a chain has begun since or not.
func TestBeforeTheChain(t *testing.T) {
	m := withOld(t)
	check := func(sittings int) Folded {
		t.Helper()
		f, err := ReadFS(m.Tree(ship))
		if err != nil || f.Damage != nil || f.Warnings != nil || len(f.Sittings) != sittings {
			t.Fatalf("%v, %v, %+v, %v", f.Damage, f.Warnings, f.Sittings, err)
		}
		want := Fold(session())
		for i, s := range f.Steps {
			if s.BeganAt.Sitting() != 2 || !s.Simulated || s.Instruments["meter"].Identity != "invented meter 1" {
				t.Errorf("step %+v", s)
			}
			f.Steps[i].BeganAt, f.Steps[i].EndedAt, f.Steps[i].SeenAt = 0, 0, 0
		}
		if !reflect.DeepEqual(f.Steps, want.Steps) || f.Reworked[0].Order != capture.OrderAt(1, 1) {
			t.Errorf("got  %+v\nwant %+v", f.Steps, want.Steps)
		}
		if s := f.Sittings[1]; s.Chained || s.Number != 2 || s.Stage != "loose" || s.Whole {
			t.Errorf("%+v", s)
		}
		return f
	}
	check(2)
	if r := opened(t, m); r.Number() != 3 {
		t.Fatalf("number %d", r.Number())
	} else if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	check(3)

	// From then on they are listed: changed, longer, gone or one more is damage.
	whole := m.Content(oldName)
	for name, c := range map[string]struct {
		do   func()
		kind DamageKind
	}{
		"a flipped bit": {func() { f := bytes.Clone(whole); f[100] ^= 1; m.Set(oldName, f) }, Changed},
		"lines added": {func() {
			m.Set(oldName, append(bytes.Clone(whole), oldLines(t, []Record{read("mast", 90)})...))
		}, Changed},
		"a line gone": {func() { m.Set(oldName, without(whole, 3, 4)) }, Changed},
		"gone":        {func() { m.Set(oldName, nil) }, Missing},
		"one more":    {func() { m.Set(ship+"/readings/20261122T064500Z-loose.lp", whole) }, Foreign},
	} {
		m.Set(oldName, whole)
		c.do()
		f, err := ReadFS(m.Tree(ship))
		m.Set(ship+"/readings/20261122T064500Z-loose.lp", nil)
		if err != nil || len(f.Damage) == 0 || f.Damage[len(f.Damage)-1].Kind != c.kind {
			t.Errorf("%s: %v, %v", name, f.Damage, err)
		}
	}
	// Without a chain their own check still speaks.
	m = withOld(t)
	f := bytes.Replace(whole, []byte("value=0.0"), []byte("value=0.1"), 1)
	m.Set(oldName, f)
	if f, err := ReadFS(m.Tree(ship)); err != nil || len(f.Damage) != 1 || f.Damage[0].Kind != Changed ||
		f.Damage[0].Line != 3 {
		t.Errorf("%v, %v", f.Damage, err)
	}
}

// TestWrittenBefore reads and converts files that the program of before wrote.
func TestWrittenBefore(t *testing.T) {
	m := newMemory()
	files, err := filepath.Glob("testdata/before/*.lp")
	if err != nil || len(files) != 2 {
		t.Fatal(files, err)
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		m.Set(ship+"/readings/"+filepath.Base(f), b)
	}
	tell := func() string {
		t.Helper()
		f, err := ReadFS(m.Tree(ship))
		if err != nil || f.Damage != nil || f.Warnings != nil || len(f.Steps) != 2 || f.Steps[0].Kept.Len() < 20 ||
			!f.Steps[0].Simulated ||
			f.Steps[0].Instruments["meter"].Identity != "SIMULATED BENCH,METER,SN940997,1.0" ||
			f.Steps[1].Seen != "all right" || f.Steps[1].Simulated || len(f.Reworked) != 1 ||
			f.Reworked[0].Place != "keel" {
			t.Fatalf("%v, %v, %d steps, reworked %+v, %v", f.Damage, f.Warnings, len(f.Steps), f.Reworked, err)
		}
		for i := range f.Steps {
			f.Steps[i].BeganAt, f.Steps[i].EndedAt, f.Steps[i].SeenAt = 0, 0, 0
		}
		b, err := json.Marshal(f.Steps)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	was := tell()
	done, _, err := Convert(m, opening())
	if err != nil || len(done) != 2 || done[0].Why != "" || done[1].Why != "" {
		t.Fatalf("%+v, %v", done, err)
	}
	if now := tell(); now != was {
		t.Errorf("before\n%.500s\nafter\n%.500s", was, now)
	}
}

// TestConvert: what was converted tells the same, is chained, and both files are
// there; wherever the program dies, it tells the same, and converting goes on.
func TestConvert(t *testing.T) {
	o := opening()
	steps := func(m *recordtest.Memory) string {
		t.Helper()
		f, err := ReadFS(m.Tree(ship))
		if err != nil || f.Damage != nil || f.Warnings != nil || len(f.Sittings) != 3 || f.Sittings[0].Number != 1 ||
			f.Sittings[2].Number != 3 {
			t.Fatalf("%v, %v, %+v, %v", f.Damage, f.Warnings, f.Sittings, err)
		}
		for i := range f.Steps {
			if f.Steps[i].BeganAt.Sitting() != 2 {
				t.Errorf("a step at %s", f.Steps[i].BeganAt)
			}
			f.Steps[i].BeganAt, f.Steps[i].EndedAt, f.Steps[i].SeenAt = 0, 0, 0
		}
		b, err := json.Marshal(f.Steps)
		if err != nil {
			t.Fatal(err)
		}
		return fmt.Sprintf("%s %s %s", b, f.Reworked[0].Place, f.Builds)
	}
	was := withOld(t)
	recorded(t, was, nil)
	want := steps(was)
	operations := 0
	for die := 0; ; die++ {
		m := was.Copy()
		n := 0
		m.Locked(func() {
			m.Fail = func(op, name string) error {
				if n++; n > die && die > 0 {
					return fmt.Errorf("the program died")
				}
				return nil
			}
		})
		done, _, err := Convert(m, o)
		m.Locked(func() { m.Fail = nil })
		if got := steps(m); got != want {
			t.Fatalf("died at operation %d (%v): got\n%s\nwant\n%s", die, err, got, want)
		}
		if die == 0 {
			operations = n
			if err != nil || len(done) != 2 || done[1].Into != "readings/20261124T064500Z-loose-2.lp" ||
				done[1].Kept != "readings/20261124T064500Z-loose.lp.before" {
				t.Fatalf("%+v, %v", done, err)
			}
		} else if _, _, err := Convert(m, o); err != nil {
			t.Fatalf("died at operation %d, and can't go on: %v", die, err)
		}
		f, err := ReadFS(m.Tree(ship))
		if got := steps(m); err != nil || got != want || !f.Sittings[0].Chained || !f.Sittings[1].Chained ||
			!f.Sittings[1].Simulated {
			t.Fatalf("died at operation %d, converted then: %+v, %v", die, f.Sittings, err)
		}
		if string(m.Content(oldName+BeforeSuffix)) != string(was.Content(oldName)) || m.Content(oldName) != nil {
			t.Fatalf("died at operation %d: the old file isn't kept: %q", die, m.Names())
		}
		if die >= operations {
			break
		}
	}
	if operations < 6 {
		t.Fatalf("only %d operations", operations)
	}
}

// TestConvertLeavesDamage: a damaged file isn't converted; that is told.
func TestConvertLeavesDamage(t *testing.T) {
	m := withOld(t)
	m.Set(oldName, bytes.Replace(m.Content(oldName), []byte("value=0.0"), []byte("value=0.1"), 1))
	done, _, err := Convert(m, opening())
	if err != nil || len(done) != 2 || done[0].Why != "" || !strings.Contains(done[1].Why, "damaged") ||
		m.Content(oldName) == nil {
		t.Fatalf("%+v, %v", done, err)
	}
	if f, err := ReadFS(m.Tree(ship)); err != nil || len(f.Damage) != 1 || len(f.Sittings) != 2 {
		t.Errorf("%v, %v", f.Damage, err)
	}
}

// TestAttach: a file beside the chain may go; changed it is named.
func TestAttach(t *testing.T) {
	m := newMemory()
	m.Set(ship+"/photos/bow.jpg", []byte("a picture"))
	r := opened(t, m)
	if err := r.Attach(m.Tree(ship), "photos/bow.jpg", start.Add(time.Second)); err != nil {
		t.Fatal(err)
	}
	if err := r.Attach(m.Tree(ship), "photos/none.jpg", start); err == nil {
		t.Error("a file that isn't there was attached")
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	for content, want := range map[string]FileState{"a picture": FileThere, "a pictura": FileChanged,
		"a picture more": FileChanged, "": FileGone} {
		m.Set(ship+"/photos/bow.jpg", []byte(content))
		if content == "" {
			m.Set(ship+"/photos/bow.jpg", nil)
		}
		f, err := ReadFS(m.Tree(ship))
		if err != nil || f.Damage != nil || len(f.Files) != 1 {
			t.Fatalf("%v, %v, %v", f.Files, f.Damage, err)
		}
		if got, err := StateOf(m.Tree(ship), f.Files[0]); err != nil || got != want {
			t.Errorf("%q: %s, %v, want %s", content, got, err, want)
		}
	}
}
