package plots

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/instruments"
)

func at(s ...float64) []Sample {
	var out []Sample
	for _, x := range s {
		out = append(out, Sample{S: x, A: 0.01})
	}
	return out
}

func lengths(d TraceData) []int {
	var out []int
	for _, s := range d.segments() {
		out = append(out, len(s))
	}
	return out
}

func TestAPauseIsNoMeasurement(t *testing.T) {
	for name, c := range map[string]struct {
		d    TraceData
		want []int
	}{
		"even":           {TraceData{Samples: at(0, 1, 2, 3)}, []int{4}},
		"uneven by 30 %": {TraceData{Samples: at(0, 0.7, 2, 2.7, 4, 4.7)}, []int{6}},
		"a pause":        {TraceData{Samples: at(0, 1, 2, 12, 13, 14)}, []int{3, 3}},
		"two pauses":     {TraceData{Samples: at(0, 1, 2, 12, 13, 14, 30, 31)}, []int{3, 3, 2}},
		"one reading":    {TraceData{Samples: at(5)}, []int{1}},
		"none":           {TraceData{}, nil},
		"an overload":    {TraceData{Samples: at(0, 1, 2, 3), Overloads: []float64{1.5}}, []int{2, 2}},
		"another spacing": {TraceData{Samples: at(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 12.1, 12.2, 12.3, 12.4,
			12.5, 12.6, 12.7, 12.8, 12.9, 13)}, []int{23}},
		"fast, then pause": {TraceData{Samples: at(0, 0.1, 0.2, 0.3, 0.4, 0.5, 1.5, 1.6, 1.7, 1.8)}, []int{6, 4}},
	} {
		if got := lengths(c.d); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}

// TestThinKeepsExtremes: one sample out of line among 100 000 is still drawn.
func TestThinKeepsExtremes(t *testing.T) {
	var seg []Sample
	for i := range 100_000 {
		seg = append(seg, Sample{S: float64(i) / 1000, A: 0.02})
	}
	seg[51234].A, seg[70000].A = 0.001, 0.05
	got := thin(seg, 0, 100, 500)
	if len(got) > 4*501 {
		t.Fatalf("%d samples left", len(got))
	}
	low, high := 1.0, 0.0
	for i, x := range got {
		low, high = min(low, x.A), max(high, x.A)
		if i > 0 && x.S < got[i-1].S {
			t.Fatalf("sample %d is out of order", i)
		}
	}
	if low != 0.001 || high != 0.05 || got[0] != seg[0] || got[len(got)-1] != seg[len(seg)-1] {
		t.Fatalf("from %g to %g A, first %v, last %v", low, high, got[0], got[len(got)-1])
	}
}

func TestAxisHoldsAll(t *testing.T) {
	never := math.NaN()
	for name, c := range map[string]struct {
		d               TraceData
		toS, lowA, high float64
	}{
		"flat": {TraceData{Samples: []Sample{{0, 0.02}, {10, 0.02}}, SettledS: 1, TrippedS: never}, 10,
			0, 0.02},
		"nothing drawn": {TraceData{Samples: []Sample{{0, 0}, {10, 0}}, SettledS: never, TrippedS: never}, 10,
			0, 1e-3},
		"a high band": {TraceData{Samples: []Sample{{0, 0.02}}, Levels: []Level{{Band: compare.Band{HighA: 0.1}}},
			SettledS: 4, TrippedS: 5}, 5, 0, 0.1},
		"below zero": {TraceData{Samples: []Sample{{0, -0.01}, {1, 0.02}}, SettledS: never, TrippedS: never}, 1,
			-0.01, 0.02},
		"overload only": {TraceData{Overloads: []float64{3}, SettledS: never, TrippedS: never}, 3, 0, 1e-3},
	} {
		toS, lowA, highA := c.d.limits()
		if toS != c.toS || math.Abs(lowA-1.08*c.lowA) > 1e-12 || math.Abs(highA-headroom*c.high) > 1e-12 {
			t.Errorf("%s: to %g s, %g to %g A", name, toS, lowA, highA)
		}
	}
}

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		want      string
	}{
		{0, 16, "0 5 10 15"}, {0, 130.7, "0 20 40 60 80 100 120"}, {0, 1.08, "0.0 0.2 0.4 0.6 0.8 1.0"},
		{-10.8, 21.6, "-10 -5 0 5 10 15 20"}, {0, 0.0108, "0.000 0.002 0.004 0.006 0.008 0.010"},
		{0, 7, "0 1 2 3 4 5 6 7"}, {1, 1, ""},
	} {
		var got []string
		for _, x := range (ticks{}).Ticks(c.low, c.high) {
			got = append(got, x.Label)
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%g to %g: %s, want %s", c.low, c.high, s, c.want)
		}
	}
}

func TestTraceOfTakesWhatWasRead(t *testing.T) {
	began := time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC)
	v := 0.02
	read := func(name string, q instruments.Quantity, s float64, ok bool) instruments.Reading {
		x := instruments.Reading{Instrument: name, Quantity: q, Status: instruments.OK, Value: &v,
			At: began.Add(time.Duration(s * 1e9))}
		if !ok {
			x.Status, x.Value = instruments.Overload, nil
		}
		return x
	}
	r := capture.StepRecord{Step: capture.Step{Feed: "beacon", Groups: []string{"port", "starboard"}, Pace: "slow",
		Volts: 12}, Began: began,
		Settled: began.Add(time.Second), Ended: began.Add(3 * time.Second), Outcome: capture.Tripped, TripVolts: 3,
		Reason: "too much at 3 V",
		Readings: []instruments.Reading{read("supply", "current", 1, true), read("meter", "voltage", 1, true),
			read("meter", "voltage", 2, true),
			read("meter", "current", 1, true), read("meter", "current", 2, false),
			read("meter", "current", 2.5, true)}}
	d, err := TraceOf(r, "", nil)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(d.Samples, []Sample{{1, v}, {2.5, v}}) || !reflect.DeepEqual(d.Overloads, []float64{2}) ||
		d.Title != "port, starboard (slow)" || d.SettledS != 1 || d.TrippedS != 3 || d.SetVolts != 3 {
		t.Fatalf("%+v", d)
	}
	if d, err = TraceOf(r, "supply", nil); err != nil || len(d.Samples) != 1 {
		t.Fatalf("%+v, %v", d, err)
	}
	if _, err = TraceOf(r, "relays", nil); err == nil {
		t.Fatal("a trace of an instrument that read nothing")
	}
}

func TestRowsAreInPercentOfExpected(t *testing.T) {
	ink := DefaultStyle().Colours
	r, err := findingRow(ink,
		compare.Finding{Group: "galley", Verdict: compare.Low, MeasuredA: 0.03, MeasuredU: 0.0005, ExpectedA: 0.04,
			Band: compare.Band{LowA: 0.036, HighA: 0.044}, Readings: 10})
	if err != nil {
		t.Fatal(err)
	}
	for name, x := range map[string][2]float64{"mark": {r.at, 75}, "from": {r.from, 72.5}, "to": {r.to, 77.5},
		"low": {r.low, 90}, "high": {r.high, 110}} {
		if math.Abs(x[0]-x[1]) > 1e-9 {
			t.Errorf("%s at %g %%, want %g", name, x[0], x[1])
		}
	}
	if r.mark != down || r.ink != ink.Bad || !reflect.DeepEqual(r.text, []string{"30.0 mA", "36 to 44", "low"}) {
		t.Errorf("%+v", r)
	}
	// The zero finding is not measured, not a draw of zero.
	if r, err = findingRow(ink, compare.Finding{Group: "x"}); err != nil || finite(r.at) ||
		r.text[2] != "not measured" || r.bare == "" {
		t.Errorf("%+v, %v", r, err)
	}
	// A dark blinker that was measured does have a point, at zero.
	r, err = findingRow(ink, compare.Finding{Group: "x", Verdict: compare.StuckDark, Readings: 9, ExpectedA: 0.02,
		Band: compare.Band{LowA: 0.018, HighA: 0.022}})
	if err != nil || r.at != 0 {
		t.Errorf("%+v, %v", r, err)
	}
	if _, err = findingRow(ink, compare.Finding{Group: "x", MeasuredA: math.NaN()}); err == nil {
		t.Error("NaN was drawn")
	}
}

// TestEachVerdictHasAShapeOfItsOwn: words and shapes tell verdicts apart without colour.
func TestEachVerdictHasAShapeOfItsOwn(t *testing.T) {
	seen := map[shape]compare.Verdict{}
	for _, v := range []compare.Verdict{compare.InBand, compare.Low, compare.High, compare.StuckLit, compare.StuckDark,
		compare.OffPace,
		compare.CantTell, compare.NotMeasured} {
		s, _ := DefaultStyle().Colours.markOf(v)
		if other, twice := seen[s]; twice {
			t.Errorf("%s looks like %s", v, other)
		}
		seen[s] = v
	}
}

func TestScaleEndsPastWhatIsDrawn(t *testing.T) {
	for _, c := range []struct{ to, want float64 }{{90, 125}, {119, 125}, {121, 150}, {150, 175}, {199, 200},
		{530, 125}} {
		if got := (rowChart{rows: []row{{high: 110, at: c.to, to: math.NaN()}}}).end(); got != c.want {
			t.Errorf("a mark at %g %%: the scale ends at %g, want %g", c.to, got, c.want)
		}
	}
}

func TestBandRowsSayWhetherALossIsSeen(t *testing.T) {
	band := compare.Band{LowA: 0.036, HighA: 0.044, Coverage: 0.95}
	chart, err := bandChart(BandsData{Rows: []BandRow{{"a", 0.04, band, 0.01, 0.008}, {"b", 0.04, band, 0.003, 0.008},
		{"c", 0, compare.Band{}, 0, 0}, {"d", 0.04, band, 0.007, 0.008}}})
	if err != nil {
		t.Fatal(err)
	}
	if s := chart.rows[0]; s.text[2] != "shows" || math.Abs(s.tick-75) > 1e-9 {
		t.Errorf("%+v", s)
	}
	if s := chart.rows[1]; !strings.HasPrefix(s.text[2], "hides") {
		t.Errorf("%+v", s)
	}
	if s := chart.rows[2]; s.bare == "" || finite(s.tick) {
		t.Errorf("%+v", s)
	}
	// It leaves the band, yet a group that lost it may still lie there.
	if s := chart.rows[3]; s.text[2] != "too near: look" {
		t.Errorf("%+v", s)
	}
}

func TestFeedTreeOrder(t *testing.T) {
	d := FeedTreeData{Nodes: []TreeNode{{Name: "main", Kind: "jack"}, {Name: "keel", From: "main", Kind: "joint"},
		{Name: "bow", From: "main", Kind: "joint"},
		{Name: "galley", From: "keel", Kind: "group"}, {Name: "bow", From: "bow", Kind: "group"}}}
	depth, err := d.check()
	if err != nil || !reflect.DeepEqual(depth, []int{0, 1, 1, 2, 2}) ||
		!reflect.DeepEqual(d.order(), []int{0, 1, 3, 2, 4}) {
		t.Fatalf("%v, %v, %v", depth, d.order(), err)
	}
	for name, bad := range map[string][]TreeNode{
		"nothing":     nil,
		"no parent":   {{Name: "keel", From: "main", Kind: "joint"}},
		"child first": {{Name: "keel", From: "main", Kind: "joint"}, {Name: "main", Kind: "jack"}},
		"twice":       {{Name: "main", Kind: "jack"}, {Name: "main", Kind: "jack"}},
		"not finite":  {{Name: "main", Kind: "jack", CurrentA: math.Inf(1)}},
	} {
		if _, err := (FeedTreeData{Nodes: bad}).check(); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestLetters(t *testing.T) {
	for in, want := range map[string]string{"20 µA ±5 %": "20 uA +/-5 %", "470 Ω": "470 ohm",
		"Brücke — Café": "Brucke - Cafe", "灯": "?", "a\tb\n": "a b ",
		"e\u0301": "e", "plain": "plain"} {
		if got := ascii(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func TestEngineering(t *testing.T) {
	for in, want := range map[float64]string{0.2: "200 mA", 5e-5: "50 µA", 2: "2 A", 1: "1 A", 0.99999: "1 A",
		0.001: "1 mA", 2.5e-8: "25 nA", 0: "0 nA"} {
		if got := engineering(in, "A"); got != want {
			t.Errorf("%g: %s, want %s", in, got, want)
		}
	}
}
