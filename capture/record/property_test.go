package record

import (
	"bytes"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"sealworthy/capture"
	"sealworthy/instruments"
)

var (
	name  = rapid.StringMatching(`[\pL\pN ,="'#.+-]{0,12}[\pL\pN]`)
	empty = rapid.Just("")
	words = rapid.StringMatching(`[\pL\pN ,="'\\#.<>&+-]{0,20}`)
	spans = rapid.Map(rapid.Int64Range(0, int64(time.Hour)), func(n int64) time.Duration { return time.Duration(n) })
	times = rapid.Map(rapid.Int64Range(1, 1<<62), func(n int64) time.Time { return time.Unix(0, n).UTC() })
)

func float(t *rapid.T, label string) float64 {
	return rapid.OneOf(rapid.Float64Range(-1e3, 1e3), rapid.Float64()).Filter(finite).Draw(t, label)
}

func finite(x float64) bool { return x-x == 0 }

func drawReading(t *rapid.T) Record {
	x := &instruments.Reading{
		Instrument: name.Draw(t, "instrument"), Quantity: rapid.SampledFrom([]instruments.Quantity{"current", "voltage"}).Draw(t, "quantity"),
		Status:    rapid.SampledFrom([]instruments.Status{instruments.OK, instruments.Overload, instruments.NotANumber, instruments.Held}).Draw(t, "status"),
		HalfWidth: float(t, "half-width"), Range: words.Draw(t, "range"), At: times.Draw(t, "at"),
		Window: spans.Draw(t, "window"), Latency: spans.Draw(t, "latency"),
		Raw: string(rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "raw")),
	}
	x.Unit = x.Quantity.Unit()
	if x.Status == instruments.OK {
		v := float(t, "value")
		x.Value = &v
	}
	return Record{Build: name.Draw(t, "build"), Reading: x, Step: capture.StepRef{
		StepID: words.Draw(t, "step"), Closure: rapid.OneOf(name, empty).Draw(t, "closure"), Feed: name.Draw(t, "feed"),
		Pace: rapid.OneOf(name, empty).Draw(t, "pace"), Stage: "loose", Base: rapid.Bool().Draw(t, "base")}}
}

func drawMark(t *rapid.T) Record {
	m := &capture.Mark{
		Kind: rapid.SampledFrom([]capture.MarkKind{"begin", "on", "settled", "end", "tripped", "redone", "skipped", "accepted",
			"looked", "reworked"}).Draw(t, "mark"),
		At: times.Draw(t, "at"), StepID: words.Draw(t, "step"), Closure: name.Draw(t, "closure"), Feed: rapid.OneOf(name, empty).Draw(t, "feed"),
		Groups: rapid.SliceOfN(words, 1, 3).Draw(t, "groups"), Pace: rapid.OneOf(name, empty).Draw(t, "pace"), Stage: "fitted",
		SetVolts: float(t, "volts"), LimitA: float(t, "limit"), Outcome: capture.Measured,
		Reason: words.Draw(t, "reason"), Seen: words.Draw(t, "seen"), PlanRevision: words.Draw(t, "revision"),
		Simulated: rapid.Bool().Draw(t, "simulated"), TripVolts: float(t, "trip"), ShortestDropS: float(t, "shortest"), Value: float(t, "of the check"),
		Warnings: rapid.SliceOfN(words, 1, 3).Draw(t, "warnings"),
		Drops:    []capture.Drop{{At: times.Draw(t, "drop"), For: spans.Draw(t, "for"), ToA: float(t, "to")}},
		Instruments: map[string]instruments.Description{"meter": {Profile: words.Draw(t, "profile"),
			Ranges: []instruments.Range{{Name: words.Draw(t, "range"), Max: float(t, "max")}}}},
	}
	if rapid.Bool().Draw(t, "ambient known") {
		c := float(t, "ambient")
		m.AmbientC = &c
	}
	if m.Kind == capture.MarkBegin {
		m.Step = &capture.Step{ID: m.StepID, Volts: float(t, "step volts"), On: []string{words.Draw(t, "on")},
			Ramp: []capture.RampPoint{{Volts: float(t, "ramp")}}}
	}
	return Record{Build: name.Draw(t, "build"), Mark: m}
}

// TestRoundTrip: whatever a record holds comes back as it was.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rec := rapid.OneOf(rapid.Custom(drawReading), rapid.Custom(drawMark)).Draw(t, "record")
		l, err := rec.Line()
		if err != nil {
			t.Fatal(err)
		}
		b, err := AppendLine(nil, l)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Count(b, []byte("\n")) != 1 {
			t.Fatalf("not one line: %q", b)
		}
		back, err := ParseLine(b)
		if err != nil {
			t.Fatalf("%s: %v", b, err)
		}
		got, err := Decode(back)
		if err != nil {
			t.Fatalf("%s: %v", b, err)
		}
		if !reflect.DeepEqual(got, rec) {
			t.Fatalf("line %s\ngot  %+v\nwant %+v", b, got, rec)
		}
	})
}

// FuzzScan: nothing makes Scan fail or panic, and what it hands out could have
// been written here: it prints back to lines that scan to the same.
func FuzzScan(f *testing.F) {
	file := fileOf(f, 3)
	f.Add(file)
	f.Add(file[:len(file)-5])
	f.Add([]byte("reading,build=a check=\"00000000\",value=1 5\n"))
	f.Add([]byte("\x00\xff\"\n\n\r\n#"))
	var marks []byte
	for _, r := range session() {
		l, err := r.Line()
		if err == nil {
			marks, err = AppendLine(marks, l)
		}
		if err != nil {
			f.Fatal(err)
		}
	}
	f.Add(marks)
	// With its check made right, whatever bytes stand in a line reach the decoder.
	f.Add([]byte("reading,build=a,stage=b !value=1,raw=\"\\\\q\" 5"))
	f.Fuzz(func(t *testing.T, b []byte) {
		for _, b := range [][]byte{b, withCheck(b)} {
			lines := bytes.Count(b, []byte("\n")) + 1
			var again []byte
			n := 0
			warn, err := Scan(bytes.NewReader(b), func(r Record) error {
				n++
				l, err := r.Line()
				if err != nil {
					t.Fatalf("%+v can't be written: %v", r, err)
				}
				again, err = AppendLine(again, l)
				return err
			})
			if err != nil || n+len(warn) > lines+1 {
				t.Fatalf("%d records, %d warnings of %d lines, %v", n, len(warn), lines, err)
			}
			if warn, err := Scan(bytes.NewReader(again), func(Record) error { n--; return nil }); err != nil || warn != nil || n != 0 {
				t.Fatalf("printed back: %d records differ, %v, %v", n, warn, err)
			}
		}
	})
}

// withCheck puts a check that fits at each " !", so that a fuzzer gets past it.
func withCheck(b []byte) []byte {
	var out []byte
	for _, line := range bytes.Split(b, []byte("\n")) {
		if head, tail, ok := bytes.Cut(line, []byte(" !")); ok {
			head = append(bytes.Clone(head), ' ')
			sum := lineSum(head, tail)
			line = append(append(append(append(head, checkKey...), sum[:]...), `",`...), tail...)
		}
		out = append(append(out, line...), '\n')
	}
	return out
}
