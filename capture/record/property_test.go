package record

import (
	"bytes"
	"maps"
	"reflect"
	"slices"
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
		Instrument: name.Draw(t, "instrument"),
		Quantity:   rapid.SampledFrom([]instruments.Quantity{"current", "voltage"}).Draw(t, "quantity"),
		Status: rapid.SampledFrom([]instruments.Status{instruments.OK, instruments.Overload,
			instruments.NotANumber, instruments.Held}).Draw(t, "status"),
		HalfWidth: float(t, "half-width"), Range: words.Draw(t, "range"), At: times.Draw(t, "at"),
		Window: spans.Draw(t, "window"), Latency: spans.Draw(t, "latency"),
		Raw: string(rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "raw")),
	}
	x.Unit = x.Quantity.Unit()
	if x.Status == instruments.OK {
		v := float(t, "value")
		x.Value = &v
	}
	return Record{Reading: x, Simulated: rapid.Bool().Draw(t, "simulated"), Step: capture.StepRef{
		StepID: words.Draw(t, "step"), Closure: rapid.OneOf(name, empty).Draw(t, "closure"),
		Feed: name.Draw(t, "feed"),
		Pace: rapid.OneOf(name, empty).Draw(t, "pace"), Stage: "loose", Base: rapid.Bool().Draw(t, "base")}}
}

func drawMark(t *rapid.T) Record {
	m := &capture.Mark{
		Kind: rapid.SampledFrom(slices.Sorted(maps.Keys(known))).Draw(t, "mark"),
		At:   times.Draw(t, "at"), StepID: words.Draw(t, "step"), Closure: name.Draw(t, "closure"),
		Feed:   rapid.OneOf(name, empty).Draw(t, "feed"),
		Groups: rapid.SliceOfN(words, 1, 3).Draw(t, "groups"), Pace: rapid.OneOf(name, empty).Draw(t, "pace"),
		Stage:    "fitted",
		SetVolts: float(t, "volts"), LimitA: float(t, "limit"), Outcome: capture.Measured,
		Reason: words.Draw(t, "reason"), Seen: words.Draw(t, "seen"), PlanRevision: words.Draw(t, "revision"),
		Simulated: rapid.Bool().Draw(t, "simulated"), ByMaker: rapid.Bool().Draw(t, "by maker"),
		TripVolts: float(t, "trip"), ShortestDropS: float(t, "shortest"), Value: float(t, "of the check"),
		Warnings: rapid.SliceOfN(words, 1, 3).Draw(t, "warnings"),
		Drops:    []capture.Drop{{At: times.Draw(t, "drop"), For: spans.Draw(t, "for"), ToA: float(t, "to")}},
		Check:    name.Draw(t, "by name"), Of: capture.OrderAt(rapid.IntRange(1, 1000).Draw(t, "of sitting"),
			rapid.IntRange(1, 1e6).Draw(t, "of line")),
	}
	if rapid.Bool().Draw(t, "ambient known") {
		c := float(t, "ambient")
		m.AmbientC = &c
	}
	if m.Kind == capture.MarkBegin {
		m.Step = &capture.Step{ID: m.StepID, Volts: float(t, "step volts"), On: []string{words.Draw(t, "on")},
			Ramp: []capture.RampPoint{{Volts: float(t, "ramp")}}}
	}
	return Record{Mark: m, Simulated: m.Simulated}
}

func drawOther(t *rapid.T) Record {
	at, stage := times.Draw(t, "at"), "closed"
	r := Record{Simulated: rapid.Bool().Draw(t, "simulated")}
	switch rapid.IntRange(0, 3).Draw(t, "line") {
	case 0:
		r.Sitting = &SittingLine{At: at, End: rapid.Bool().Draw(t, "end"), Stage: stage, What: words.Draw(t, "what"),
			Name:         words.Draw(t, "name"),
			PlanRevision: words.Draw(t, "revision"), Program: words.Draw(t, "program"), Bench: words.Draw(t, "bench"),
			GoesOn: rapid.IntRange(0, 1e6).Draw(t, "goes on"), Behind: spans.Draw(t, "behind"),
			From: words.Draw(t, "from"), BrokeOff: words.Draw(t, "broke off")}
	case 1:
		r.Instrument = &Described{Name: name.Draw(t, "instrument"), Stage: stage, At: at,
			Is: instruments.Description{Profile: words.Draw(t, "profile"),
				Ranges: []instruments.Range{{Name: words.Draw(t, "range"), Max: float(t, "max")}}}}
	case 2:
		r.File = &Attached{Name: "photos/" + rapid.StringMatching(`[a-zé ]{1,9}`).Draw(t, "file"),
			Bytes:  rapid.Int64Range(0, 1<<40).Draw(t, "bytes"),
			SHA256: rapid.StringMatching(`[0-9a-f]{64}`).Draw(t, "sha256"), At: at, Stage: stage}
	default:
		r.Found = &Found{Name: name.Draw(t, "damage"), What: words.Draw(t, "what"), At: at, Stage: stage}
	}
	return r
}

// TestRoundTrip: whatever a record holds comes back as it was, at its own time.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rec := rapid.OneOf(rapid.Custom(drawReading), rapid.Custom(drawMark), rapid.Custom(drawOther)).Draw(t,
			"record")
		p := placed{build: rapid.StringMatching(`[0-9a-f]{16}`).Draw(t, "build"),
			sitting: rapid.IntRange(1, mostSittings).Draw(t, "sitting"),
			seq:     rapid.Int64Range(1, 1<<31).Draw(t, "number"), simulated: rec.Simulated,
			shift: rapid.OneOf(rapid.Just(time.Duration(0)), spans).Draw(t, "shift")}
		l, err := rec.withAt(rec.At().Add(p.shift)).line(p)
		if err != nil {
			t.Fatal(err)
		}
		sums := newSummer()
		b, check, err := appendChained(nil, sums, "0123456789abcdef", l)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Count(b, []byte("\n")) != 1 {
			t.Fatalf("not one line: %q", b)
		}
		b = bytes.TrimSuffix(b, []byte("\n"))
		at, ok := lookAt(b)
		if !ok || at.build != p.build || at.sitting != p.sitting || at.seq != p.seq || at.version != Version ||
			at.check != check || !sums.fits("0123456789abcdef", b, at) {
			t.Fatalf("%s: looks like %+v", b, at)
		}
		back, err := decodeLine(b)
		if err != nil {
			t.Fatalf("%s: %v", b, err)
		}
		d := decoder{chained: true, described: map[string]instruments.Description{}}
		got, err := d.decode(back)
		if err != nil {
			t.Fatalf("%s: %v", b, err)
		}
		if !reflect.DeepEqual(got, rec) {
			t.Fatalf("line %s\ngot  %+v\nwant %+v", b, got, rec)
		}
	})
}
