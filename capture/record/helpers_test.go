package record

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"path"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record/recordtest"
	"sealworthy/instruments"
)

// Invented data throughout: the lightship Brackwater.

var start = time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC)

var ref = capture.StepRef{StepID: "hull/cabin windows", Closure: "hull", Feed: "cabin windows", Stage: "loose"}

// ship is the build's folder in tests.
const ship = "ship"

// first is the file of the sitting that begins at start.
const first = ship + "/readings/20261125T064500Z-loose.lp"

// nth is the nth reading of a step, a tenth of a second apart.
func nth(n int) Record {
	v := 0.0381 + float64(n)*1e-6
	return Record{Step: ref, Reading: &instruments.Reading{
		Instrument: "meter", Quantity: instruments.Current, Unit: "A", Status: instruments.OK, Value: &v,
		HalfWidth: 0.0002, Range: "200 mA", At: start.Add(time.Duration(n+1) * 100 * time.Millisecond),
		Window: 20 * time.Millisecond, Latency: 3 * time.Millisecond, Raw: fmt.Sprintf("#%d +3.81E-02\r\n", n),
	}}
}

// number tells which nth a reading is.
func number(t testing.TB, r Record) int {
	t.Helper()
	var n int
	if r.Reading == nil {
		t.Fatalf("no reading: %+v", r)
	}
	if _, err := fmt.Sscanf(r.Reading.Raw, "#%d", &n); err != nil {
		t.Fatalf("raw %q: %v", r.Reading.Raw, err)
	}
	return n
}

func newMemory() *recordtest.Memory {
	m := recordtest.NewMemory()
	m.Held = ErrInUse
	return m
}

// random draws identities, the same in each run.
func random(seed byte) *rand.ChaCha8 { return rand.NewChaCha8([32]byte{seed}) }

// opening is that of an invented sitting.
func opening() Opening {
	return Opening{Dir: ship, Build: "Brackwater", Stage: "loose", What: ForTest, PlanRevision: "0123456789ab",
		Program: "sealworthy of a test", Now: start, Random: random(1)}
}

// opened begins a sitting.
func opened(t testing.TB, fs FS, change ...func(*Opening)) *Recorder {
	t.Helper()
	o := opening()
	for _, c := range change {
		c(&o)
	}
	r, warn, err := Begin(fs, o)
	warn = slices.DeleteFunc(warn, func(w Warning) bool { return strings.Contains(w.What, "clock stood") })
	if err != nil || len(warn) > 0 {
		t.Fatal(warn, err)
	}
	return r
}

// at moves the start of a sitting.
func startAt(s time.Duration) func(*Opening) { return func(o *Opening) { o.Now = start.Add(s) } }

// record appends records to a sitting of its own and ends it.
func recorded(t testing.TB, fs FS, rs []Record, change ...func(*Opening)) {
	t.Helper()
	r := opened(t, fs, change...)
	for _, x := range rs {
		if _, err := r.Append(x); err != nil {
			t.Fatal(err)
		}
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
}

// shipOf is a build with one sitting of n readings: n+2 lines.
func shipOf(t testing.TB, n int) *recordtest.Memory {
	t.Helper()
	m := newMemory()
	var rs []Record
	for i := range n {
		rs = append(rs, nth(i))
	}
	recorded(t, m, rs)
	return m
}

// survivors reads the one file of a build's sitting: the numbers of the readings
// that are used, what is damaged and what is warned of.
func survivors(t testing.TB, m *recordtest.Memory, file string) (got []int, damage []Damage, warn []Warning) {
	t.Helper()
	h, ok, err := readHead(m.Tree(ship))
	if !ok || err != nil {
		t.Fatal(ok, err)
	}
	s := h.find(path.Base(file))
	scan := newChainScan("readings/"+s.File, h.Build, s.Number, int64(s.Lines))
	d := decoder{chained: true, described: map[string]instruments.Description{}}
	got = []int{}
	scan.use = func(_ int64, l Line) error {
		r, err := d.decode(l)
		if err != nil {
			t.Fatal(err)
		}
		if r.Reading != nil {
			got = append(got, number(t, r))
		}
		return nil
	}
	scan.damage = func(d Damage) { damage = append(damage, d) }
	scan.warn = func(line int, what string) { warn = append(warn, Warning{Line: line, What: what}) }
	if err := scan.read(bytes.NewReader(m.Content(file))); err != nil {
		t.Fatal(err)
	}
	scan.end(int64(s.Lines), s.Check)
	return got, damage, warn
}

// upTo gives 0 to n-1 without those left out.
func upTo(n int, without ...int) []int {
	out := []int{}
next:
	for i := range n {
		for _, w := range without {
			if w == i {
				continue next
			}
		}
		out = append(out, i)
	}
	return out
}

// lineOf gives where line i of a file, from 0, begins and ends, with its newline.
func lineOf(f []byte, i int) (from, to int) {
	for range i {
		from += bytes.IndexByte(f[from:], '\n') + 1
	}
	return from, from + bytes.IndexByte(f[from:], '\n') + 1
}

// splice puts more into f at a byte.
func splice(f []byte, at int, more []byte) []byte {
	return append(append(bytes.Clone(f[:at]), more...), f[at:]...)
}

// without takes the lines from i up to j out of a file.
func without(f []byte, i, j int) []byte {
	a, _ := lineOf(f, i)
	b, _ := lineOf(f, j)
	return append(bytes.Clone(f[:a]), f[b:]...)
}
