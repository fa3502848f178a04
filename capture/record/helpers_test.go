package record

import (
	"bytes"
	"fmt"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// Invented data throughout: the lightship Brackwater.

var start = time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC)

var ref = capture.StepRef{StepID: "hull/cabin windows", Closure: "hull", Feed: "cabin windows", Stage: "loose"}

// nth is the nth reading of a step, a tenth of a second apart.
func nth(n int) Record {
	v := 0.0381 + float64(n)*1e-6
	return Record{Build: "Brackwater", Step: ref, Reading: &instruments.Reading{
		Instrument: "meter", Quantity: instruments.Current, Unit: "A", Status: instruments.OK, Value: &v,
		HalfWidth: 0.0002, Range: "200 mA", At: start.Add(time.Duration(n) * 100 * time.Millisecond),
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

// fileOf writes the first n readings through a recorder.
func fileOf(t testing.TB, n int) []byte {
	t.Helper()
	fs := newMemFS()
	r, _, err := OpenRecorder(fs, "a.lp", nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := range n {
		if _, err := r.Append(nth(i)); err != nil {
			t.Fatal(err)
		}
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	return fs.content("a.lp")
}

// numbers scans and gives the numbers of the readings.
func numbers(t testing.TB, file []byte) ([]int, []Warning) {
	t.Helper()
	got := []int{}
	warn, err := Scan(bytes.NewReader(file), func(r Record) error {
		got = append(got, number(t, r))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return got, warn
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
