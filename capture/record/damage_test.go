package record

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// hurt is where something is damaged, and how.
type hurt struct {
	line int
	kind DamageKind
}

func hurts(ds []Damage) []hurt {
	var out []hurt
	for _, d := range ds {
		out = append(out, hurt{d.Line, d.Kind})
	}
	return out
}

// TestNamedDamage damages a sitting of 10 readings in every way that is known to
// happen. Reading i is line i+2; line 12 is the end.
func TestNamedDamage(t *testing.T) {
	const n = 10
	inLine := func(f []byte, i int, what string) int {
		from, to := lineOf(f, i)
		at := strings.Index(string(f[from:to]), what)
		if at < 0 {
			t.Fatalf("no %q in line %d", what, i)
		}
		return from + at
	}
	other := newMemory()
	recorded(t, other, []Record{nth(3), nth(4)}, func(o *Opening) { o.Random = random(2) })
	foreign := other.Content(first)
	for name, c := range map[string]struct {
		damage  func(f []byte) []byte
		survive []int
		hurt    []hurt
		warned  string
	}{
		"untouched": {func(f []byte) []byte { return f }, upTo(n), nil, ""},
		"torn value": {func(f []byte) []byte { return f[:inLine(f, 10, "value=")+len("value=0.03")] },
			upTo(n, 9), []hurt{{11, Missing}}, ""},
		"missing newline of the end": {func(f []byte) []byte { return f[:len(f)-1] }, upTo(n), []hurt{{12, Missing}},
			""},
		"NULs after the end": {func(f []byte) []byte { return append(f, make([]byte, 4096)...) }, upTo(n), nil,
			"torn"},
		"NULs for a line": {func(f []byte) []byte { a, b := lineOf(f, 4); clear(f[a : b-1]); return f },
			upTo(n, 3, 4), []hurt{{5, Changed}, {6, Changed}}, ""},
		"NULs over lines": {func(f []byte) []byte {
			a, _ := lineOf(f, 4)
			_, b := lineOf(f,
				6)
			clear(f[a : b-1])
			return f
		}, upTo(n, 3, 4, 5, 6), []hurt{{5, Changed}, {6, Missing}}, ""},
		"NULs over an end": {func(f []byte) []byte { _, b := lineOf(f, 4); clear(f[b-3 : b+3]); return f },
			upTo(n, 3, 4, 5), []hurt{{5, Changed}, {6, Missing}}, ""},
		"open quote": {func(f []byte) []byte {
			at := inLine(f, 3, `",step_id`)
			return append(f[:at:at], f[at+1:]...)
		}, upTo(n, 2), []hurt{{4, Changed}}, ""},
		"flipped bit in a value": {func(f []byte) []byte { f[inLine(f, 5, "value=")+8] ^= 1; return f },
			upTo(n, 4), []hurt{{6, Changed}}, ""},
		"flipped bit in a time": {func(f []byte) []byte { _, b := lineOf(f, 5); f[b-4] ^= 1; return f },
			upTo(n, 4), []hurt{{6, Changed}}, ""},
		"flipped bit in a name": {func(f []byte) []byte { f[inLine(f, 5, "cabin")] ^= 0x20; return f },
			upTo(n, 4), []hurt{{6, Changed}}, ""},
		"flipped bit in the check": {func(f []byte) []byte { f[inLine(f, 5, `check="`)+7] ^= 1; return f },
			upTo(n, 4), []hurt{{6, Changed}}, ""},
		"flipped bit in the key": {func(f []byte) []byte { f[inLine(f, 5, `check="`)] ^= 1; return f }, upTo(n, 4),
			[]hurt{{6, Changed}}, ""},
		"flipped bit in the number": {func(f []byte) []byte { f[inLine(f, 5, `seq=`)+4] ^= 1; return f }, upTo(n, 4),
			[]hurt{{6, Changed}}, ""},
		"flipped bit in the sitting": {func(f []byte) []byte { f[inLine(f, 5, `sitting=`)+8] ^= 2; return f },
			upTo(n, 4), []hurt{{6, Foreign}}, ""},
		"flipped bit in an end": {func(f []byte) []byte { _, b := lineOf(f, 5); f[b-1] ^= 0x20; return f },
			upTo(n, 4, 5, 6), []hurt{{6, Changed}, {7, Missing}}, ""},
		"a line twice in a row": {func(f []byte) []byte { a, b := lineOf(f, 5); return splice(f, b, f[a:b]) },
			upTo(n), []hurt{{7, Doubled}}, ""},
		"a line again at the end": {func(f []byte) []byte { a, b := lineOf(f, 5); return splice(f, len(f), f[a:b]) },
			upTo(n), []hurt{{13, Doubled}}, ""},
		"three lines again": {func(f []byte) []byte {
			a, _ := lineOf(f, 3)
			_, b := lineOf(f, 5)
			return splice(f, len(f), f[a:b])
		}, upTo(n), []hurt{{13, Doubled}}, ""},
		"a line lost": {func(f []byte) []byte { return without(f, 5, 6) }, upTo(n, 4, 5),
			[]hurt{{6, Missing}}, ""},
		"the last reading lost": {func(f []byte) []byte { return without(f, 10, 11) }, upTo(n, 9),
			[]hurt{{11, Missing}}, ""},
		"the end lost": {func(f []byte) []byte { a, _ := lineOf(f, 11); return f[:a] }, upTo(n),
			[]hurt{{12, Missing}}, ""},
		"the first line lost": {func(f []byte) []byte { return without(f, 0, 1) }, upTo(n, 0),
			[]hurt{{1, Missing}}, ""},
		"forty bytes of tail lost": {func(f []byte) []byte { return f[:len(f)-40] }, upTo(n), []hurt{{12, Missing}},
			""},
		"four readings lost": {func(f []byte) []byte { return without(f, 3, 7) }, upTo(n, 2, 3, 4, 5, 6),
			[]hurt{{4, Missing}}, ""},
		"two lines swapped": {func(f []byte) []byte {
			a, b := lineOf(f, 5)
			_, c := lineOf(f, 6)
			return append(append(append(bytes.Clone(f[:a]), f[b:c]...), f[a:b]...), f[c:]...)
		}, upTo(n, 5), []hurt{{6, Moved}}, ""},
		"a line moved to the end": {func(f []byte) []byte {
			a, b := lineOf(f, 5)
			return append(append(bytes.Clone(f[:a]), f[b:]...), f[a:b]...)
		}, upTo(n, 4, 5), []hurt{{6, Missing}, {12, Moved}}, ""},
		"two lines glued by a tear": {func(f []byte) []byte {
			_, b := lineOf(f, 5)
			return append(f[:b-9:b-9],
				f[b:]...)
		}, upTo(n, 4, 5, 6), []hurt{{6, Changed}, {7, Missing}}, ""},
		"a hand-written line": {func(f []byte) []byte {
			_, b := lineOf(f, 5)
			return splice(f, b,
				[]byte("reading value=1 5\n"))
		}, upTo(n), []hurt{{7, Changed}}, ""},
		"lines of another build": {func(f []byte) []byte { _, b := lineOf(f, 5); return splice(f, b, foreign) },
			upTo(n), []hurt{{7, Foreign}}, ""},
		"all of another build": {func(f []byte) []byte { return foreign }, upTo(0), []hurt{{1, Foreign}, {5, Missing}},
			""},
		"Windows line ends": {func(f []byte) []byte { return bytes.ReplaceAll(f, []byte("\n"), []byte("\r\n")) },
			upTo(n), nil, "line ends"},
		"mark of an editor": {func(f []byte) []byte { return append([]byte("\xef\xbb\xbf"), f...) }, upTo(n),
			nil, ""},
		"an empty line": {func(f []byte) []byte { _, b := lineOf(f, 5); return splice(f, b, []byte("\n")) },
			upTo(n), nil, ""},
		"only a torn line": {func(f []byte) []byte { return f[:40] }, upTo(0), []hurt{{1, Missing}}, ""},
		"empty":            {func([]byte) []byte { return []byte{} }, upTo(0), []hurt{{1, Missing}}, ""},
		"a line without end": {func(f []byte) []byte { return append(f, bytes.Repeat([]byte("x"), 2*maxLine)...) },
			upTo(n), nil, "torn"},
		"a line too long": {func(f []byte) []byte {
			_, b := lineOf(f, 5)
			return splice(f, b, append(bytes.Repeat([]byte("x"), 2*maxLine), '\n'))
		}, upTo(n), []hurt{{7, Changed}}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			m := shipOf(t, n)
			m.Set(first, c.damage(m.Content(first)))
			got, damage, warn := survivors(t, m, first)
			if !reflect.DeepEqual(got, c.survive) || !reflect.DeepEqual(hurts(damage), c.hurt) {
				t.Fatalf("readings %v, want %v\ndamage %v, want %v", got, c.survive, damage, c.hurt)
			}
			if (len(warn) > 0) != (c.warned != "") || c.warned != "" && !strings.Contains(warn[0].What, c.warned) {
				t.Fatalf("warnings %v, want %q", warn, c.warned)
			}
		})
	}
}

// TestEveryFlippedBit flips each bit of each line: what is used was all written,
// in its order, and something is said.
func TestEveryFlippedBit(t *testing.T) {
	m := shipOf(t, 3)
	file := m.Content(first)
	for at := range file {
		line := bytes.Count(file[:at], []byte("\n"))
		for bit := range 8 {
			f := bytes.Clone(file)
			f[at] ^= 1 << bit
			m.Set(first, f)
			got, damage, warn := survivors(t, m, first)
			if len(damage) == 0 && !(f[at] == '\r' || len(warn) > 0 &&
				bytes.Equal(bytes.ReplaceAll(f, []byte("\r"), nil), bytes.ReplaceAll(file, []byte("\r"), nil))) {
				t.Fatalf("byte %d bit %d: nothing was said, readings %v", at, bit, got)
			}
			if len(damage) == 0 || slices.Contains(got, line-1) && file[at] != '\n' {
				t.Fatalf("byte %d bit %d of line %d: readings %v, damage %v", at, bit, line+1, got, damage)
			}
			if !slices.IsSorted(got) {
				t.Fatalf("readings %v", got)
			}
			// All others but the two after it count still.
			for i := range 3 {
				if l := i + 1; (l < line || l > line+2) && !slices.Contains(got, i) {
					t.Fatalf("byte %d bit %d of line %d: reading %d is gone: %v", at, bit, line+1, i, got)
				}
			}
		}
	}
}

// TestEveryLine deletes, doubles and swaps each line, and cuts the file after it:
// each is damage, and a deleted file is, too.
func TestEveryLine(t *testing.T) {
	m := shipOf(t, 4)
	file := m.Content(first)
	lines := bytes.SplitAfter(file, []byte("\n"))
	lines = lines[:len(lines)-1]
	try := func(what string, kind DamageKind, ls [][]byte) {
		t.Helper()
		m.Set(first, bytes.Join(ls, nil))
		f, err := ReadFS(m.Tree(ship))
		if err != nil || len(f.Damage) == 0 || f.Damage[0].Kind != kind {
			t.Errorf("%s: damage %v, want %s, %v", what, f.Damage, kind, err)
		}
	}
	for i := range lines {
		try(fmt.Sprintf("line %d deleted", i+1), Missing, slices.Concat(lines[:i], lines[i+1:]))
		try(fmt.Sprintf("line %d doubled", i+1), Doubled, slices.Concat(lines[:i+1], lines[i:]))
		try(fmt.Sprintf("cut before line %d", i+1), Missing, lines[:i])
		if i+1 < len(lines) {
			try(fmt.Sprintf("line %d swapped", i+1), Moved, slices.Concat(lines[:i], [][]byte{lines[i+1], lines[i]},
				lines[i+2:]))
		}
	}
	m.Set(first, nil)
	f, err := ReadFS(m.Tree(ship))
	if err != nil || len(f.Damage) != 1 || f.Damage[0].Kind != Missing ||
		f.Damage[0].Name != "readings/20261125T064500Z-loose.lp" {
		t.Errorf("no file: %v, %v", f.Damage, err)
	}
	m.Set(first, file)
	if f, err := ReadFS(m.Tree(ship)); err != nil || f.Damage != nil || f.Warnings == nil {
		t.Errorf("put back: %v, %v", f.Damage, err) // readings without a step are warned of
	}
}

// TestCutAtEveryByte cuts a sitting that the head counts as it is on disk: every
// whole line survives, no part of one becomes a reading.
func TestCutAtEveryByte(t *testing.T) {
	m := shipOf(t, 4)
	file := m.Content(first)
	for at := range file {
		cut := file[:at]
		whole := bytes.Count(cut, []byte("\n"))
		m.Set(first, append([]byte{}, cut...))
		got, damage, _ := survivors(t, m, first)
		if want := upTo(max(0, min(4, whole-1))); !reflect.DeepEqual(got, want) || len(damage) != 1 ||
			damage[0].Kind != Missing {
			t.Fatalf("cut at %d: readings %v, want %v, damage %v", at, got, want, damage)
		}
	}
}
