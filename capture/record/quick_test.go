package record

import (
	"bytes"
	"math"
	"math/rand/v2"
	"reflect"
	"strconv"
	"testing"
	"time"

	"sealworthy/instruments"
)

// slowly is what the library's decoder gives of a line, less what a quick reading
// leaves out.
func slowly(b []byte) (Record, time.Time, bool) {
	l, err := decodeLine(b)
	if err != nil {
		return Record{}, time.Time{}, false
	}
	d := decoder{chained: true, described: map[string]instruments.Description{}}
	r, err := d.decode(l)
	if err != nil || r.Reading == nil {
		return Record{}, time.Time{}, false
	}
	r.Reading.Raw = ""
	return r, l.At, true
}

// quickly reports what a quick reading makes of a line, and what the decoder does.
func quickly(t *testing.T, b []byte) (taken bool) {
	t.Helper()
	l, ok := lookAt(b)
	if !ok {
		return false
	}
	var r quickReading
	if !newQuick().read(b, l, &r) {
		return false
	}
	want, at, ok := slowly(b)
	if !ok || !r.at.Equal(at) || !reflect.DeepEqual(r.rec, want) {
		t.Fatalf("%s\nquickly %+v %+v at %s\nslowly  %+v %+v at %s %v", b, r.rec, r.rec.Reading, r.at, want,
			want.Reading, at, ok)
	}
	return true
}

// strangeReadings are readings such as real instruments send, and worse.
func strangeReadings(random *rand.Rand, n int) []Record {
	var out []Record
	for i := range n {
		x := nth(i)
		v := math.Round(random.NormFloat64()*1e5) / 1e6
		x.Reading.HalfWidth = math.Abs(v)*0.002 + 5e-6
		switch random.IntN(12) {
		case 0:
			x.Reading.Status, x.Reading.Raw = instruments.Overload, "+9.9E37"
			x.Reading.Value = nil
			out = append(out, x)
			continue
		case 1:
			v = random.NormFloat64()
		case 2:
			v = math.Ldexp(random.Float64(), random.IntN(600)-300)
		case 3:
			v = math.Copysign(0, -1)
		case 4:
			x.Reading.Raw, x.Reading.Range = "\x00\"\\ü\n", "range \"1\""
		case 5:
			x.Step.Base, x.Step.Feed, x.Step.Pace = true, "port, beacon = 2", "slow"
		case 6:
			x.Reading.Instrument, x.Reading.Quantity, x.Reading.Unit = "supply", instruments.Voltage, "V"
			x.Reading.Window, x.Reading.Latency = time.Duration(random.Int64N(1e9)), time.Duration(random.Int64N(1e9))
		case 7:
			x.Step.StepID, x.Reading.Window, x.Reading.Range, x.Reading.HalfWidth = "", 0, "", 0
		case 8:
			x.Step.StepID = "cuddy/Ü"
		}
		x.Reading.Value = &v
		out = append(out, x)
	}
	return out
}

// TestQuickReadings: all that the program writes is read as the decoder reads it,
// and most of it quickly.
func TestQuickReadings(t *testing.T) {
	m := newMemory()
	recorded(t, m, strangeReadings(rand.New(random(7)), 2000))
	lines, taken := 0, 0
	for line := range bytes.Lines(m.Content(first)) {
		lines++
		if quickly(t, bytes.TrimSuffix(line, []byte("\n"))) {
			taken++
		}
	}
	if lines != 2002 || taken < 1500 {
		t.Errorf("%d of %d lines were read quickly", taken, lines)
	}
}

// TestNumbers: a decimal is the float that strconv makes of it, or left to it.
func TestNumbers(t *testing.T) {
	r := rand.New(random(3))
	for i := range 20000 {
		v := math.Float64frombits(r.Uint64())
		if i%2 == 0 {
			v = math.Round(r.NormFloat64()*1e7) / math.Pow(10, float64(r.IntN(12)))
		}
		if math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		for _, form := range []byte{'g', 'f', 'e'} {
			text := strconv.FormatFloat(v, form, -1, 64)
			c := cursor{b: []byte(text + ",")}
			if got := c.number(); c.bad || string(c.b) != "," || math.Float64bits(got) != math.Float64bits(v) {
				t.Fatalf("%s gives %v, bad %v, before %q", text, got, c.bad, c.b)
			}
		}
	}
	for _, bad := range []string{"", "-", "+1", ".5", "1.", "1e", "1e+", "e5", "NaN", "Inf", "1e400"} {
		c := cursor{b: []byte(bad + ",")}
		if c.number(); !c.bad && string(c.b) == "," {
			t.Errorf("%q is taken for a number", bad)
		}
	}
}

// FuzzQuick: whatever stands on a line, what is read quickly is what the decoder reads.
func FuzzQuick(f *testing.F) {
	m := newMemory()
	recorded(f, m, strangeReadings(rand.New(random(7)), 40))
	for line := range bytes.Lines(m.Content(first)) {
		f.Add(bytes.TrimSuffix(line, []byte("\n")))
	}
	f.Fuzz(func(t *testing.T, b []byte) { quickly(t, b) })
}
