package record

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"sealworthy/capture/record/recordtest"
)

// says is all that a record tells but for where its files lie and what is warned of.
func says(t rapid.TB, m *recordtest.Memory) (string, Folded) {
	t.Helper()
	f, err := ReadFS(m.Tree(ship))
	if err != nil {
		return "error: " + err.Error(), f
	}
	told := f
	told.Damage, told.Warnings, told.Sittings = nil, nil, slices.Clone(f.Sittings)
	for i := range told.Sittings {
		told.Sittings[i].File = ""
	}
	b, err := json.Marshal(told)
	if err != nil {
		t.Fatal(err)
	}
	return string(b), f
}

// TestAnythingDone does one thing to a record that can befall it, out of all that
// are known: then it tells what it told before, or it is damaged and says so. It
// stays so when another sitting was begun.
func TestAnythingDone(t *testing.T) {
	was := newMemory()
	all := session()
	var heads [][]byte
	for i, rs := range [][]Record{all[:8], all[8:16], all[16:]} {
		recorded(t, was, rs, startAt(time.Duration(i)*time.Hour))
		heads = append(heads, was.Content(head))
	}
	other := newMemory()
	recorded(t, other, all, func(o *Opening) { o.Random = random(5) })
	want, f := says(t, was)
	if f.Damage != nil || len(f.Steps) != 6 {
		t.Fatalf("%v, %d steps", f.Damage, len(f.Steps))
	}
	var files []string
	for _, n := range was.Names() {
		if strings.HasSuffix(n, Ext) {
			files = append(files, n)
		}
	}
	same, damaged := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		m := was.Copy()
		file := rapid.SampledFrom(append(slices.Clone(files), head)).Draw(t, "file")
		b := m.Content(file)
		lines := bytes.SplitAfter(b, []byte("\n"))
		lines = lines[:len(lines)-1]
		i, j := rapid.IntRange(0, len(lines)-1).Draw(t, "line"), rapid.IntRange(0, len(lines)).Draw(t, "to")
		name := func() string {
			return ship + "/readings/" + rapid.StringMatching(`[a-z0-9 ()-]{1,12}`).Draw(t, "name") + Ext
		}
		set := func(name string, ls ...[]byte) { m.Set(name, append([]byte{}, bytes.Join(ls, nil)...)) }
		done := rapid.SampledFrom([]string{"flip", "delete", "double", "move", "cut line", "cut byte", "remove",
			"rename",
			"copy", "part of a copy", "swap files",
			"old head", "old file", "other build", "part of other build", "editor", "append", "zeros",
			"delete more", "insert again"}).Draw(t, "done")
		switch done {
		case "flip":
			c := bytes.Clone(b)
			c[rapid.IntRange(0, len(b)-1).Draw(t, "byte")] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
			set(file, c)
		case "delete":
			set(file, slices.Concat(lines[:i], lines[i+1:])...)
		case "delete more":
			if i < j {
				set(file, slices.Concat(lines[:i], lines[j:])...)
			}
		case "double":
			set(file, slices.Concat(lines[:i+1], lines[i:])...)
		case "insert again":
			set(file, slices.Concat(lines[:j], lines[i:i+1], lines[j:])...)
		case "move":
			set(file, slices.Insert(slices.Concat(lines[:i], lines[i+1:]), min(j, len(lines)-1), lines[i])...)
		case "cut line":
			set(file, lines[:i]...)
		case "cut byte":
			set(file, b[:rapid.IntRange(0, len(b)-1).Draw(t, "byte")])
		case "remove":
			m.Set(file, nil)
		case "rename":
			m.Set(name(), b)
			m.Set(file, nil)
		case "copy":
			set(name(), b)
		case "part of a copy":
			set(name(), lines[:i]...)
		case "swap files":
			with := rapid.SampledFrom(files).Draw(t, "with")
			c := m.Content(with)
			set(with, b)
			set(file, c)
		case "old head":
			set(head, rapid.SampledFrom(heads).Draw(t, "head"))
		case "old file":
			set(file, lines[:i]...)
			set(name(), b)
		case "other build":
			set(name(), other.Content(first))
		case "part of other build":
			foreign := bytes.SplitAfter(other.Content(first), []byte("\n"))
			set(file, slices.Concat(lines[:i], foreign[:rapid.IntRange(1, len(foreign)).Draw(t, "of it")],
				lines[i:])...)
		case "editor":
			set(file, []byte("\xef\xbb\xbf"), bytes.ReplaceAll(b, []byte("\n"), []byte("\r\n")))
		case "append":
			set(file, b, rapid.SliceOfN(rapid.Byte(), 0, 60).Draw(t, "bytes"))
		case "zeros":
			c := bytes.Clone(b)
			at := rapid.IntRange(0, len(b)-1).Draw(t, "byte")
			clear(c[at:min(len(c), at+rapid.IntRange(1, 4096).Draw(t, "so many"))])
			set(file, c)
		}
		got, f := says(t, m)
		switch {
		case len(f.Damage) > 0:
			damaged++
		case got != want:
			t.Fatalf("%s: nothing is called damaged, and it tells\n%s\nnot\n%s", done, got, want)
		default:
			same++
		}
		o := opening()
		o.Now = start.Add(9 * time.Hour)
		r, _, err := Begin(m, o)
		if err != nil {
			if !strings.Contains(got, "error") {
				t.Fatalf("%s: no sitting can be begun: %v", done, err)
			}
			return
		}
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
		if r.Number() < 4 && file != head {
			t.Fatalf("%s: the next sitting has number %d", done, r.Number())
		}
		_, after := says(t, m)
		if (len(f.Damage) > 0) != (len(after.Damage) > 0) {
			t.Fatalf("%s: damage was %v, after one more sitting %v", done, f.Damage, after.Damage)
		}
		if fmt.Sprint(len(f.Steps)) != fmt.Sprint(len(after.Steps)) {
			t.Fatalf("%s: %d steps, after one more sitting %d", done, len(f.Steps), len(after.Steps))
		}
	})
	t.Logf("%d times damaged, %d times the same", damaged, same)
	if damaged == 0 || same == 0 {
		t.Error("this tested nothing")
	}
}
