package plots_test

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/blink"
	"sealworthy/instruments"
	"sealworthy/plots"
)

// heaviest are the pictures of a model as large as a maker builds, in the worst case: twenty
// groups with long names, a tree with a joint for each, a day of readings that jump.
// Invented data.
func heaviest(t testing.TB) map[string]func(io.Writer, plots.Format) error {
	s := plots.DefaultStyle()
	out := map[string]func(io.Writer, plots.Format) error{}
	name := func(i int) string { return fmt.Sprintf("row %d of the windows, port side aft", i) }

	r := capture.StepRecord{Step: capture.Step{Kind: capture.Power, Feed: "cabin windows", Volts: 12}, Began: began,
		Settled: began, Outcome: capture.Measured, Kept: &capture.Series{}}
	r.Kept.SettledAt(began)
	for i := range 200000 {
		v := 0.04 + 0.02*wobble(i)
		x := instruments.Reading{Instrument: "meter", Quantity: instruments.Current, Status: instruments.OK,
			At: began.Add(time.Duration(i) * 100 * time.Millisecond), Value: &v}
		if i%50 == 49 {
			x.Status, x.Value = instruments.Overload, nil
		}
		r.Kept.Add(x)
	}
	trace, err := plots.TraceOf(r, "", beacon)
	if err != nil {
		t.Fatal(err)
	}
	out["trace"] = func(w io.Writer, f plots.Format) error { return plots.Trace(w, f, s, trace) }

	tree := plots.FeedTreeData{Title: "Brackwater: feed tree", Simulated: true,
		Nodes: []plots.TreeNode{{Name: "main", Kind: "jack", CurrentA: 1, VoltageV: 12}}}
	var bands plots.BandsData
	x := deckhouse()
	x.Groups = nil
	trend := years()
	trend.Series = nil
	shop := []compare.GroupYears{}
	for i := range 20 {
		joint := fmt.Sprintf("joint %d at the frame aft", i)
		tree.Nodes = append(tree.Nodes,
			plots.TreeNode{Name: joint, From: "main", Kind: "joint", Wire: "0.35 m AWG 26, diode", CurrentA: 0.5,
				VoltageV: 11.2, DropV: 0.8, Suspect: "bad joint, some 2 ohm"},
			plots.TreeNode{Name: name(i), From: joint, Kind: "group", Wire: "0.2 mm, 0.22 m", CurrentA: 0.04,
				VoltageV: 11.1, DropV: 0.05})
		bands.Rows = append(bands.Rows, plots.BandRow{Group: name(i), ExpectedA: 0.02, Band: band(19, 24),
			SmallestA: 0.02})
		for _, pace := range []string{"slow", "fast"} {
			g := finding(name(i), compare.Low, 402, 0.9, 482, 446, 519)
			g.Pace = pace
			x.Groups = append(x.Groups, g)
		}
		p := plots.TrendSeries{Name: name(i)}
		y := compare.GroupYears{Group: name(i)}
		for k, stage := range trend.Stages {
			p.Points = append(p.Points, plots.TrendPoint{Stage: stage.Name, Rel: 1 - 0.1*float64(k), U: 0.01,
				Step: k == 1})
		}
		for k := range 20 {
			y.Points = append(y.Points, compare.YearsPoint{At: began.AddDate(0, k, 0), Stage: "returned",
				Rel: 1 - 0.01*float64(k), RelU: 0.001, Changed: k > 0})
		}
		trend.Series, shop = append(trend.Series, p), append(shop, y)
	}
	out["tree"] = func(w io.Writer, f plots.Format) error { return plots.FeedTree(w, f, s, tree) }
	out["bands"] = func(w io.Writer, f plots.Format) error { return plots.Bands(w, f, s, bands) }
	out["closure"] = func(w io.Writer, f plots.Format) error { return plots.Closure(w, f, s, x) }
	out["trend"] = func(w io.Writer, f plots.Format) error { return plots.Trend(w, f, s, trend) }
	out["years"] = func(w io.Writer, f plots.Format) error {
		return plots.Years(w, f, s, plots.YearsOf("Brackwater", shop, nil))
	}
	read, apart := parted()
	for n := len(apart.Beats); n < 12; n++ {
		b := apart.Beats[n%2]
		b.Name = fmt.Sprint("board ", n)
		apart.Beats = append(apart.Beats, b)
	}
	read.Trace = nil
	for i := range 600 {
		at := 0.05 * float64(i)
		read.Trace = append(read.Trace, blink.Sample{AtS: at, Amps: apart.At(at) + 0.002*wobble(i)})
	}
	blinkers := plots.BlinkersOf("the whole model", read, apart)
	out["blinkers"] = func(w io.Writer, f plots.Format) error { return plots.Blinkers(w, f, s, blinkers) }
	back := comeBack()
	for v := 12.1; v < 30; v += 0.1 {
		back.Volts, back.MeasuredA, back.HealthyA, back.NoiseA = append(back.Volts, v), append(back.MeasuredA,
			0.1+0.01*math.Sin(40*v)), append(back.HealthyA, 0.1), append(back.NoiseA, 0.001)
		for i := range back.Ranked {
			back.Ranked[i].DeltaA = append(back.Ranked[i].DeltaA, 0.01*math.Cos(v))
		}
	}
	out["sweep"] = func(w io.Writer, f plots.Format) error { return plots.Sweep(w, f, s, plots.SweepOf(back)) }
	return out
}

// mostBytes a picture weighs, fonts and all.
const mostBytes = 100_000

// TestWeight: a picture of the largest model weighs less than 100 kB as an SVG and as a PDF,
// and carries the letters it shows.
func TestWeight(t *testing.T) {
	for name, paint := range heaviest(t) {
		for f, font := range map[plots.Format]string{plots.SVG: "@font-face", plots.PDF: "/FontFile2"} {
			var b bytes.Buffer
			if err := paint(&b, f); err != nil {
				t.Fatalf("%s as %s: %v", name, f, err)
			}
			if b.Len() > mostBytes || !strings.Contains(b.String(), font) {
				t.Errorf("%s as %s: %d bytes", name, f, b.Len())
			}
			t.Logf("%s as %s: %d bytes", name, f, b.Len())
		}
	}
}
