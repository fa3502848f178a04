package record

import (
	"bytes"
	"reflect"
	"strings"
	"testing"
)

// TestNamedDamage damages a file of 10 readings in every way that is known to
// happen, scans it, then opens it, appends two more and scans it again.
func TestNamedDamage(t *testing.T) {
	const n = 10
	line := func(f []byte, i int) (from, to int) { // of line i, with its newline
		for range i {
			from += bytes.IndexByte(f[from:], '\n') + 1
		}
		return from, from + bytes.IndexByte(f[from:], '\n') + 1
	}
	inLine := func(f []byte, i int, what string) int {
		from, to := line(f, i)
		at := strings.Index(string(f[from:to]), what)
		if at < 0 {
			t.Fatalf("no %q in line %d", what, i)
		}
		return from + at
	}
	for name, c := range map[string]struct {
		damage  func(f []byte) []byte
		survive []int // when scanned as it is
		line    int   // that the first warning names; 0: no warning
		torn    bool  // opening cuts something
	}{
		"untouched":        {func(f []byte) []byte { return f }, upTo(n), 0, false},
		"torn value":       {func(f []byte) []byte { return f[:inLine(f, 9, "value=")+len("value=0.03")] }, upTo(n, 9), 10, true},
		"torn time":        {func(f []byte) []byte { return f[:len(f)-4] }, upTo(n, 9), 10, true},
		"missing newline":  {func(f []byte) []byte { return f[:len(f)-1] }, upTo(n, 9), 10, true},
		"torn open quote":  {func(f []byte) []byte { return f[:inLine(f, 9, `raw="`)+len(`raw="#`)] }, upTo(n, 9), 10, true},
		"NULs at the end":  {func(f []byte) []byte { return append(f, make([]byte, 4096)...) }, upTo(n), 11, true},
		"NULs for a line":  {func(f []byte) []byte { a, b := line(f, 4); clear(f[a : b-1]); return f }, upTo(n, 4), 5, false},
		"NULs over lines":  {func(f []byte) []byte { a, _ := line(f, 4); _, b := line(f, 6); clear(f[a : b-1]); return f }, upTo(n, 4, 5, 6), 5, false},
		"NULs over an end": {func(f []byte) []byte { _, b := line(f, 4); clear(f[b-3 : b+3]); return f }, upTo(n, 4, 5), 5, false},
		"open quote": {func(f []byte) []byte {
			at := inLine(f, 3, `",half_width`)
			return append(f[:at:at], f[at+1:]...)
		}, upTo(n, 3), 4, false},
		"flipped bit in a value":    {func(f []byte) []byte { f[inLine(f, 5, "value=")+8] ^= 1; return f }, upTo(n, 5), 6, false},
		"flipped bit in a time":     {func(f []byte) []byte { _, b := line(f, 5); f[b-4] ^= 1; return f }, upTo(n, 5), 6, false},
		"flipped bit in a name":     {func(f []byte) []byte { f[inLine(f, 5, "cabin")] ^= 0x20; return f }, upTo(n, 5), 6, false},
		"flipped bit in the check":  {func(f []byte) []byte { f[inLine(f, 5, `check="`)+7] ^= 0x20; return f }, upTo(n, 5), 6, false},
		"flipped bit in an end":     {func(f []byte) []byte { _, b := line(f, 5); f[b-1] ^= 0x20; return f }, upTo(n, 5, 6), 6, false},
		"a line twice in a row":     {func(f []byte) []byte { a, b := line(f, 5); return splice(f, b, f[a:b]) }, upTo(n), 7, false},
		"a line again at the end":   {func(f []byte) []byte { a, b := line(f, 5); return splice(f, len(f), f[a:b]) }, upTo(n), 11, false},
		"a line lost":               {func(f []byte) []byte { a, b := line(f, 5); return append(f[:a:a], f[b:]...) }, upTo(n, 5), 0, false},
		"two lines glued by a tear": {func(f []byte) []byte { _, b := line(f, 5); return append(f[:b-9:b-9], f[b:]...) }, upTo(n, 5, 6), 6, false},
		"a hand-written line":       {func(f []byte) []byte { _, b := line(f, 5); return splice(f, b, []byte("reading value=1 5\n")) }, upTo(n), 7, false},
		"Windows line ends":         {func(f []byte) []byte { return bytes.ReplaceAll(f, []byte("\n"), []byte("\r\n")) }, upTo(n), 0, false},
		"mark of an editor":         {func(f []byte) []byte { return append([]byte("\xef\xbb\xbf"), f...) }, upTo(n), 0, false},
		"an empty line":             {func(f []byte) []byte { _, b := line(f, 5); return splice(f, b, []byte("\n")) }, upTo(n), 0, false},
		"only a torn line":          {func(f []byte) []byte { return f[:40] }, upTo(0), 1, true},
		"empty":                     {func([]byte) []byte { return nil }, upTo(0), 0, false},
		"a line without end":        {func(f []byte) []byte { return append(f, bytes.Repeat([]byte("x"), 2*maxLine)...) }, upTo(n), 11, true},
		"a line too long": {func(f []byte) []byte {
			_, b := line(f, 5)
			return splice(f, b, append(bytes.Repeat([]byte("x"), 2*maxLine), '\n'))
		}, upTo(n), 7, false},
	} {
		t.Run(name, func(t *testing.T) {
			file := c.damage(fileOf(t, n))
			got, warn := numbers(t, file)
			if !reflect.DeepEqual(got, c.survive) {
				t.Fatalf("readings %v, want %v", got, c.survive)
			}
			if (len(warn) > 0) != (c.line > 0) || c.line > 0 && warn[0].Line != c.line {
				t.Fatalf("warnings %v, want one of line %d", warn, c.line)
			}
			carryOn(t, file, c.survive, c.torn)
		})
	}
}

// splice puts more into f at a byte.
func splice(f []byte, at int, more []byte) []byte {
	return append(append(bytes.Clone(f[:at]), more...), f[at:]...)
}

// carryOn opens a damaged file, appends two readings and sees that the rest is
// untouched and every torn byte is in NAME.torn.
func carryOn(t *testing.T, file []byte, survive []int, torn bool) {
	t.Helper()
	fs := newMemFS()
	fs.set("a.lp", file)
	r, warn, err := OpenRecorder(fs, "a.lp", nil)
	if err != nil {
		t.Fatal(err)
	}
	whole := bytes.LastIndexByte(file, '\n') + 1
	if got := fs.content("a.lp.torn"); !bytes.Equal(got, file[whole:]) {
		t.Fatalf("%d bytes put aside, want %d", len(got), len(file)-whole)
	}
	if torn != (len(warn) > 0 && strings.Contains(warn[0].What, "torn")) {
		t.Fatalf("torn %v, warnings %v", torn, warn)
	}
	for i := 100; i < 102; i++ {
		if _, err := r.Append(nth(i)); err != nil {
			t.Fatal(err)
		}
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	now := fs.content("a.lp")
	if !bytes.HasPrefix(now, file[:whole]) {
		t.Fatal("something before the tear was touched")
	}
	got, _ := numbers(t, now)
	if want := append(survive[:len(survive):len(survive)], 100, 101); !reflect.DeepEqual(got, want) {
		t.Fatalf("after carrying on: %v, want %v", got, want)
	}
}

// TestCutAtEveryByte cuts a small file at each byte: every whole line survives,
// no part of one becomes a reading, and appending goes on.
func TestCutAtEveryByte(t *testing.T) {
	file := fileOf(t, 4)
	for at := range len(file) + 1 {
		cut := file[:at]
		whole := bytes.Count(cut, []byte("\n"))
		got, warn := numbers(t, cut)
		if !reflect.DeepEqual(got, upTo(whole)) {
			t.Fatalf("cut at %d: readings %v, want %d", at, got, whole)
		}
		torn := at > 0 && cut[at-1] != '\n'
		if torn != (len(warn) == 1) {
			t.Fatalf("cut at %d: warnings %v", at, warn)
		}
		carryOn(t, cut, upTo(whole), torn)
	}
}

// TestEveryFlippedBit flips each bit of the middle line: that reading is gone
// (with the next, when its newline was hit), none ever changes.
func TestEveryFlippedBit(t *testing.T) {
	file := fileOf(t, 3)
	first := bytes.IndexByte(file, '\n') + 1
	end := first + bytes.IndexByte(file[first:], '\n') + 1
	for at := first; at < end; at++ {
		for bit := range 8 {
			f := bytes.Clone(file)
			f[at] ^= 1 << bit
			got, warn := numbers(t, f)
			want := upTo(3, 1)
			if at == end-1 {
				want = upTo(1)
			}
			if !reflect.DeepEqual(got, want) || len(warn) == 0 {
				t.Fatalf("byte %d bit %d: readings %v, warnings %v", at-first, bit, got, warn)
			}
		}
	}
}
