package plots_test

import (
	"bytes"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"sealworthy/compare"
	"sealworthy/compare/stages"
	"sealworthy/plots"
)

// years is an invented life of the invented lightship: all groups fade by about
// a hundredth until it comes back, the galley loses a lamp while it's closed.
func years() plots.TrendData {
	at := func(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 9, 0, 0, 0, time.UTC) }
	f := func(group, stage string, measured, u, expected float64, when time.Time) compare.Finding {
		return compare.Finding{Group: group, Stage: stage, Verdict: compare.InBand, MeasuredA: measured / 1e3,
			MeasuredU: u / 1e3, ExpectedA: expected / 1e3, Readings: 40, At: when, Simulated: true}
	}
	var fs []compare.Finding
	for i, g := range []string{"cabin windows", "crew portholes", "saloon", "galley lamps"} {
		a := []float64{98, 66, 82, 52}[i]
		loss := 0.0
		if g == "galley lamps" {
			loss = 10.2
		}
		fs = append(fs, f(g, compare.Loose, a, 0.0006*a, a*1.03, at(2026, 11, 2)),
			f(g, compare.Fitted, a*0.99, 0.0006*a, a*1.02, at(2026, 11, 9)),
			f(g, compare.Returned, 0.99*a*(0.988+0.001*float64(i))-loss, 0.001*a, a*1.02, at(2029, 5, 4)))
	}
	fs = append(fs, f("anchor light", compare.Loose, 8.9, 0.02, 9, at(2026, 11, 2)))
	part := func(before, expected, now, u float64, v stages.Verdict) []stages.Part {
		return []stages.Part{{What: "all that is always lit", BeforeA: before, BeforeU: u / 2, ExpectedA: expected,
			NowA: now, U: u, Verdict: v}, {What: "lantern", Groups: []string{"lantern"},
			BeforeA: 0.0372, ExpectedA: 0.0372, NowA: 0.03705, U: 0.0002, Verdict: stages.Unchanged}}
	}
	return plots.TrendOf("Brackwater", fs, []stages.Change{
		{Before: compare.Closed, Stage: compare.Delivered, BeforeAt: at(2026, 11, 20), At: at(2026, 12, 1),
			Parts: part(0.41, 0.4105, 0.4102, 0.0012, stages.Unchanged)},
		{Before: compare.Delivered, Stage: compare.Returned, BeforeAt: at(2026, 12, 1), At: at(2029, 5, 4),
			Parts: part(0.4102, 0.411, 0.3962, 0.0035, stages.Changed)},
	})
}

// ExampleTrend draws the draw of a model and its groups over its stages.
func ExampleTrend() {
	drawTo("trend", func(w *os.File, f plots.Format) error { return plots.Trend(w, f, style(), years()) })
	// Output:
}

func TestTrendGolden(t *testing.T) { golden(t, "trend", ExampleTrend) }

func TestASlowDriftOfAllIsToldFromAStepOfOne(t *testing.T) {
	var b bytes.Buffer
	if err := plots.Trend(&b, plots.SVG, style(), years()); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"cabin windows: drifts with the others: 1.2", "galley lamps: step when returned: 20",
		"lantern: as it was", "whole model, always lit: step when returned: 3.6",
		"Measured at one stage only: anchor light", plots.SimulatedBench} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is missing", want)
		}
	}
	// What the plan expects otherwise at another stage is no change of the group.
	for _, s := range years().Series {
		if s.Name == "saloon" && (s.Points[1].Stage != compare.Fitted || math.Abs(s.Points[1].Rel-1) > 0.001 ||
			s.Points[1].Step) {
			t.Errorf("saloon when fitted: %+v", s.Points[1])
		}
	}
}

func TestATrendThatCantBeDrawnIsRefused(t *testing.T) {
	for name, spoil := range map[string]func(*plots.TrendData){
		"one stage":  func(d *plots.TrendData) { d.Series = nil },
		"no number":  func(d *plots.TrendData) { d.Series[0].Points[1].Rel = math.NaN() },
		"unknown":    func(d *plots.TrendData) { d.Series[0].Points[1].Stage = "sunk" },
		"negative u": func(d *plots.TrendData) { d.Series[0].Points[1].U = -1 },
		"once only": func(d *plots.TrendData) {
			d.Series = d.Series[:1]
			d.Series[0].Points = d.Series[0].Points[:1]
		},
		"no whiskers?": func(d *plots.TrendData) { d.Series[0].Points[0].U = math.Inf(1) },
	} {
		d := years()
		spoil(&d)
		var b bytes.Buffer
		if err := plots.Trend(&b, plots.SVG, style(), d); err == nil || b.Len() > 0 {
			t.Errorf("%s: %v, %d bytes", name, err, b.Len())
		}
	}
}

// TestTheSheetGoesStageByStage: the whole model against the stage before stands
// on the sheet with its reason, and the trend as a picture.
func TestTheSheetGoesStageByStage(t *testing.T) {
	d, trend := sheet(), years()
	if strings.Contains(sheetText(t, d), "Stage by stage") {
		t.Error("a sheet of one stage has a trend")
	}
	d.Trend = &trend
	d.Changes = []stages.Change{
		{Stage: compare.Closed, Before: compare.Fitted, Verdict: stages.Changed,
			Text:   "all that is always lit draws 9 mA less than it should",
			Settle: []string{"look at these lit: anchor light"}},
		{Stage: compare.Delivered, Before: compare.Closed, Verdict: stages.CantTell,
			Text: "can't tell whether it changed", Why: "most of it is two meters"},
		{Stage: compare.Returned, Before: compare.Delivered, Verdict: stages.Unchanged,
			Text: "unchanged since it was delivered"},
	}
	s := sheetText(t, d)
	for _, want := range []string{"Stage by stage", `<span class="word bad">`, "9 mA less than it should",
		"look at these lit: anchor light", "most of it is two meters",
		"unchanged since it was delivered", "Draw of each group and of the whole model over the stages",
		"drifts with the others"} {
		if !strings.Contains(s, want) {
			t.Errorf("the sheet doesn't say %q", want)
		}
	}
}
