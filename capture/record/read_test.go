package record

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record/recordtest"
)

const head = ship + "/" + HeadFile

// threeSittings is a build with three sittings of a step each.
func threeSittings(t testing.TB) *recordtest.Memory {
	m := newMemory()
	for i, id := range []string{"cabin", "mast", "stern"} {
		var rs []Record
		for _, r := range []Record{mark(capture.MarkBegin, id, 1, nil), read(id, 2), read(id, 3),
			mark(capture.MarkEnd, id, 4, nil)} {
			rs = append(rs, r.withAt(r.At().Add(time.Duration(i)*time.Hour)))
		}
		recorded(t, m, rs, startAt(time.Duration(i)*time.Hour))
	}
	return m
}

// TestWhatIsMissing walks what can happen to whole files and to the head: what is
// damage, where, and which steps still count.
func TestWhatIsMissing(t *testing.T) {
	second := ship + "/readings/20261125T074500Z-loose.lp"
	other := newMemory()
	recorded(t, other, []Record{mark(capture.MarkBegin, "cabin", 1, nil), read("cabin", 2),
		mark(capture.MarkEnd, "cabin", 4, nil)},
		func(o *Opening) { o.Random = random(9) }, startAt(5*time.Hour))
	const foreign = ship + "/readings/20261125T114500Z-loose.lp"
	was := threeSittings(t)
	one := was.Copy()
	recorded(t, one, nil, startAt(3*time.Hour))
	for name, c := range map[string]struct {
		do     func(m *recordtest.Memory)
		damage []string // NAME KIND
		warned string
		steps  int
	}{
		"untouched": {func(m *recordtest.Memory) {}, nil, "", 3},
		"a file deleted": {func(m *recordtest.Memory) { m.Set(second, nil) },
			[]string{"readings/20261125T074500Z-loose.lp missing"}, "", 2},
		"all files deleted": {func(m *recordtest.Memory) {
			m.Set(first, nil)
			m.Set(second, nil)
			m.Set(ship+"/readings/20261125T084500Z-loose.lp", nil)
		}, []string{"readings/20261125T064500Z-loose.lp missing", "readings/20261125T074500Z-loose.lp missing",
			"readings/20261125T084500Z-loose.lp missing"}, "", 0},
		"a file renamed": {func(m *recordtest.Memory) {
			m.Set(ship+"/readings/old.lp",
				m.Content(second))
			m.Set(second, nil)
		}, nil, "it was called 20261125T074500Z-loose.lp", 3},
		"the head deleted": {func(m *recordtest.Memory) { m.Set(head, nil) }, []string{"chain.json missing"}, "", 3},
		"the head torn": {func(m *recordtest.Memory) { m.Set(head, m.Content(head)[:200]) },
			[]string{"chain.json changed"}, "", 3},
		"the head emptied": {func(m *recordtest.Memory) { m.Set(head, []byte{}) }, []string{"chain.json changed"},
			"", 3},
		"the head by hand": {func(m *recordtest.Memory) {
			m.Set(head, bytes.Replace(m.Content(head), []byte(`"lines": 7`), []byte(`"lines": 6`), 1))
		}, []string{"chain.json changed"}, "", 3},
		"an editor's head": {func(m *recordtest.Memory) {
			m.Set(head, append([]byte("\xef\xbb\xbf"), bytes.ReplaceAll(m.Content(head), []byte("\n"),
				[]byte("\r\n"))...))
		}, nil, "", 3},
		"the head of later": {func(m *recordtest.Memory) { m.Set(head, one.Content(head)) },
			[]string{"readings/20261125T094500Z-loose.lp missing"}, "", 3},
		"the head of another": {func(m *recordtest.Memory) { m.Set(head, other.Content(head)) },
			[]string{"readings/20261125T114500Z-loose.lp missing", "readings/20261125T064500Z-loose.lp foreign",
				"readings/20261125T074500Z-loose.lp foreign", "readings/20261125T084500Z-loose.lp foreign"}, "", 0},
		"another build's file": {func(m *recordtest.Memory) { m.Set(foreign, other.Content(foreign)) },
			[]string{"readings/20261125T114500Z-loose.lp foreign"}, "", 3},
		"another build's file under this name": {func(m *recordtest.Memory) { m.Set(second, other.Content(foreign)) },
			[]string{"readings/20261125T074500Z-loose.lp:1 foreign", "readings/20261125T074500Z-loose.lp:7 missing"},
			"", 2},
		"junk": {func(m *recordtest.Memory) {
			m.Set(ship+"/readings/what.lp",
				[]byte("this is no record\n"))
		}, []string{"readings/what.lp foreign"}, "", 3},
		"an empty file": {func(m *recordtest.Memory) { m.Set(ship+"/readings/what.lp", []byte{}) }, nil, "", 3},
		"a synced copy": {func(m *recordtest.Memory) {
			m.Set(ship+"/readings/20261125T074500Z-loose (copy).lp", m.Content(second))
		}, nil, "a copy of 20261125T074500Z-loose.lp", 3},
		"a copy of earlier": {func(m *recordtest.Memory) {
			a, _ := lineOf(m.Content(second), 4)
			m.Set(ship+"/readings/20261125T074500Z-loose (copy).lp", m.Content(second)[:a+9])
		}, nil, "a copy of 20261125T074500Z-loose.lp", 3},
		"a copy that went on": {func(m *recordtest.Memory) {
			f := m.Content(second)
			a, b := lineOf(f, 4)
			m.Set(ship+"/readings/20261125T074500Z-loose (copy).lp", append(bytes.Clone(f), f[a:b]...))
		}, []string{"readings/20261125T074500Z-loose (copy).lp foreign"}, "", 3},
		"a copy with another line": {func(m *recordtest.Memory) {
			m.Set(ship+"/readings/20261125T074500Z-loose (copy).lp",
				bytes.Replace(m.Content(second), []byte("value=0.0"), []byte("value=0.1"), 1))
		}, []string{"readings/20261125T074500Z-loose (copy).lp foreign"}, "", 3},
		"a folder of that name": {func(m *recordtest.Memory) { m.Set(ship+"/readings/x.lp/y", []byte("z")) }, nil,
			"", 3},
	} {
		t.Run(name, func(t *testing.T) {
			m := was.Copy()
			c.do(m)
			f, err := ReadFS(m.Tree(ship))
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, d := range f.Damage {
				got = append(got, d.Name+" "+string(d.Kind))
			}
			if fmt.Sprint(got) != fmt.Sprint(c.damage) || len(f.Steps) != c.steps {
				t.Errorf("damage %q, want %q\n%v\n%d steps, want %d", got, c.damage, f.Damage, len(f.Steps), c.steps)
			}
			if w := fmt.Sprint(f.Warnings); (len(f.Warnings) > 0) != (c.warned != "") ||
				!strings.Contains(w, c.warned) {
				t.Errorf("warnings %s, want %q", w, c.warned)
			}
			// Whatever is wrong, another sitting goes on, above all that is there, and
			// what was damaged stays so.
			o := opening()
			o.Now, o.Random = start.Add(24*time.Hour), random(7)
			r, _, err := Begin(m, o)
			if err != nil {
				t.Fatal(err)
			}
			if r.Number() < 4 && name != "the head of another" && name != "all files deleted" {
				t.Errorf("number %d", r.Number())
			}
			if err := r.Close(); err != nil {
				t.Fatal(err)
			}
			after, err := ReadFS(m.Tree(ship))
			if err != nil || len(after.Steps) != c.steps || (len(after.Damage) > 0) != (len(f.Damage) > 0) {
				t.Errorf("after one more sitting: %d steps, damage %v, was %v, %v", len(after.Steps), after.Damage,
					f.Damage, err)
			}
		})
	}
}

// TestOldHead: with the head of before, what came since is longer than it, or not
// on it; where that is so it is said.
func TestOldHead(t *testing.T) {
	m := newMemory()
	recorded(t, m, []Record{nth(0)})
	old := m.Content(head)
	recorded(t, m, []Record{nth(1)}, startAt(time.Hour))
	m.Set(head, old)
	f, err := ReadFS(m.Tree(ship))
	if err != nil || len(f.Damage) != 1 || f.Damage[0].Kind != Foreign ||
		f.Damage[0].Name != "readings/20261125T074500Z-loose.lp" {
		t.Fatalf("%v, %v", f.Damage, err)
	}
	// The next sitting is above that one all the same.
	if r := opened(t, m, startAt(2*time.Hour)); r.Number() != 3 {
		t.Errorf("number %d", r.Number())
	}
}

// TestLongerThanItsHead: the program died between a sync and the head; and before
// the first line; and before the file was made.
func TestLongerThanItsHead(t *testing.T) {
	for cut := range 6 {
		m := newMemory()
		r := opened(t, m)
		var heads [][]byte
		for i := range 4 {
			if _, err := r.Append(nth(i)); err != nil {
				t.Fatal(err)
			}
			if err := r.Flush(); err != nil {
				t.Fatal(err)
			}
			heads = append(heads, m.Content(head))
		}
		left := recordtest.NewMemory()
		left.Set(first, m.Content(first))
		switch {
		case cut < len(heads):
			left.Set(head, heads[cut])
		default:
			h, err := ParseHead(heads[0])
			if err != nil {
				t.Fatal(err)
			}
			h.Sittings[0].Lines, h.Sittings[0].Check = 0, ""
			b, err := h.bytes()
			if err != nil {
				t.Fatal(err)
			}
			left.Set(head, b)
			if cut == len(heads)+1 {
				left.Set(first, nil)
			}
		}
		f, err := ReadFS(left.Tree(ship))
		if err != nil || f.Damage != nil {
			t.Fatalf("cut %d: %v, %v", cut, f.Damage, err)
		}
		// The next sitting brings the head up to it, so that the tail is known then.
		recorded(t, left, nil, startAt(time.Hour))
		h, _, err := readHead(left.Tree(ship))
		if err != nil || cut <= len(heads) && h.Sittings[0].Lines != 5 {
			t.Fatalf("cut %d: %+v, %v", cut, h, err)
		}
		if f, err := ReadFS(left.Tree(ship)); err != nil || f.Damage != nil {
			t.Fatalf("cut %d, one more: %v, %v", cut, f.Damage, err)
		}
	}
}

// TestHeadLostAndMadeAgain: a head that is made again doesn't make the loss
// unsaid, nor does losing it again.
func TestHeadLostAndMadeAgain(t *testing.T) {
	m := threeSittings(t)
	for i := range 2 {
		m.Set(head, nil)
		o := opening()
		o.Now = start.Add(time.Duration(10+i) * time.Hour)
		r, warn, err := Begin(m, o)
		if err != nil || len(warn) != 1 || !strings.Contains(warn[0].What, "missing") {
			t.Fatal(warn, err)
		}
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
		f, err := ReadFS(m.Tree(ship))
		if err != nil || len(f.Damage) != i+1 || f.Damage[0].Name != HeadFile || f.Damage[0].Sitting != 4 ||
			len(f.Steps) != 3 {
			t.Fatalf("%v, %v", f.Damage, err)
		}
	}
	m.Set(head, []byte("{"))
	recordedWithWarning(t, m, startAt(20*time.Hour))
	if got := string(m.Content(ship + "/chain.json.bad")); got != "{" {
		t.Errorf("the damaged head was left as %q", got)
	}
	f, err := ReadFS(m.Tree(ship))
	if err != nil || len(f.Damage) != 3 {
		t.Fatalf("%v, %v", f.Damage, err)
	}
}

func recordedWithWarning(t *testing.T, m *recordtest.Memory, change func(*Opening)) {
	t.Helper()
	o := opening()
	change(&o)
	r, warn, err := Begin(m, o)
	if err != nil || len(warn) == 0 {
		t.Fatal(warn, err)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestAnswered: an answer is of the damage that was there; other damage at the
// same place needs one of its own.
func TestAnswered(t *testing.T) {
	m := threeSittings(t)
	whole := m.Content(first)
	spoil := func(from, to string) Damage {
		t.Helper()
		m.Set(first, bytes.Replace(whole, []byte(from), []byte(to), 1))
		f, err := ReadFS(m.Tree(ship))
		if err != nil || len(f.Damage) != 1 {
			t.Fatalf("%v, %v", f.Damage, err)
		}
		return f.Damage[0]
	}
	d := spoil("value=0.0", "value=0.1")
	if d.Answered != "" {
		t.Fatalf("%+v", d)
	}
	a := d.Answer("a slip of the editor")
	a.At, a.Stage = start.Add(5*time.Hour), "loose"
	recorded(t, m, []Record{{Mark: &a}}, startAt(5*time.Hour))
	if d := spoil("value=0.0", "value=0.1"); d.Answered != "a slip of the editor" ||
		d.AnsweredAt != capture.OrderAt(4, 2) {
		t.Errorf("%+v", d)
	}
	if d := spoil("value=0.0", "value=0.2"); d.Answered != "" {
		t.Errorf("other damage counts as answered: %+v", d)
	}
}

// TestNewer: a later version of the format is refused, with the version needed.
func TestNewer(t *testing.T) {
	m := shipOf(t, 2)
	h, _, err := readHead(m.Tree(ship))
	if err != nil {
		t.Fatal(err)
	}
	h.Version = 2
	b, err := h.bytes()
	if err != nil {
		t.Fatal(err)
	}
	m.Set(head, b)
	var newer *NewerError
	if _, err := ReadFS(m.Tree(ship)); !errors.As(err, &newer) || newer.Version != 2 ||
		!strings.Contains(err.Error(), "version 2") {
		t.Errorf("head: %v", err)
	}
	if _, _, err := Begin(m, opening()); !errors.As(err, &newer) {
		t.Errorf("writing: %v", err)
	}
	// A line of a later version, by the same rule of checks.
	h.Version = 1
	h.Sittings[0].Lines, h.Sittings[0].Check = 0, ""
	if b, err = h.bytes(); err != nil {
		t.Fatal(err)
	}
	m.Set(head, b)
	line := fmt.Sprintf(`reading,build=%s,sitting=1 check="0000000000000000",seq=1i,v=3i,new="x" 5`, h.Build)
	l, _ := lookAt([]byte(line))
	sum := newSummer().of(seedOf(h.Build, 1), []byte(line[:l.head]), []byte(line[l.head+len(chainHolder)+1:]))
	m.Set(first, []byte(strings.Replace(line, "0000000000000000", string(sum), 1)+"\n"))
	if _, err := ReadFS(m.Tree(ship)); !errors.As(err, &newer) || newer.Version != 3 ||
		newer.File != "readings/20261125T064500Z-loose.lp" {
		t.Errorf("line: %v", err)
	}
	// A flipped bit in a version is damage, not a later version.
	m = shipOf(t, 2)
	m.Set(first, bytes.Replace(m.Content(first), []byte("v=1i"), []byte("v=3i"), 1))
	if f, err := ReadFS(m.Tree(ship)); err != nil || len(f.Damage) == 0 {
		t.Errorf("flipped: %v, %v", f.Damage, err)
	}
}

// TestReadWhileWritten reads a record all the time that it is written: never
// damage, never less than what was kept before.
func TestReadWhileWritten(t *testing.T) {
	m := newMemory()
	done := make(chan struct{})
	go func() {
		defer close(done)
		for s := range 20 {
			o := opening()
			o.Now = start.Add(time.Duration(s) * time.Minute)
			r, _, err := Begin(m, o)
			if err != nil {
				t.Error(err)
				return
			}
			for i := range 50 {
				if _, err := r.Append(nth(i)); err != nil {
					t.Error(err)
				}
			}
			if err := r.Close(); err != nil {
				t.Error(err)
			}
		}
	}()
	lines := 0
	for reads := 0; ; reads++ {
		f, err := ReadFS(m.Live(ship))
		if err != nil || f.Damage != nil {
			t.Fatalf("read %d: %v, %v", reads, f.Damage, err)
		}
		n := 0
		for _, s := range f.Sittings {
			n += s.Lines
		}
		if n < lines {
			t.Fatalf("read %d: %d lines, before %d", reads, n, lines)
		}
		lines = n
		select {
		case <-done:
			if f, err := ReadFS(m.Tree(ship)); err != nil || len(f.Sittings) != 20 {
				t.Fatalf("%d sittings, %v", len(f.Sittings), err)
			}
			return
		default:
		}
	}
}

// TestLocksNeedAPlace: without one nothing is begun.
func TestLocksNeedAPlace(t *testing.T) {
	o := opening()
	o.Dir = t.TempDir()
	if _, _, err := Begin(OS{}, o); err == nil {
		t.Error("a lock was taken without a place for it")
	}
	if entries, err := os.ReadDir(o.Dir); err != nil || len(entries) != 0 {
		t.Errorf("%v, %v", entries, err)
	}
}
