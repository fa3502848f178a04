package plots_test

import (
	"os"
	"testing"

	"sealworthy/compare"
	"sealworthy/plots"
)

// finding is measured and expected in mA.
func finding(group string, v compare.Verdict, measured, u, expected, low, high float64) compare.Finding {
	return compare.Finding{Group: group, Closure: "deckhouse", Stage: "fitted", Verdict: v, VoltsSet: 12,
		MeasuredA: measured / 1e3, MeasuredU: u / 1e3,
		ExpectedA: expected / 1e3, Band: band(low, high), Readings: 80, Looked: true, At: began, Simulated: true}
}

func deckhouse() compare.ClosureFinding {
	f := compare.ClosureFinding{Build: "Brackwater", Closure: "deckhouse", Verdict: compare.KeepOpen,
		Reasons: []string{"saloon windows draws less than a healthy group: one segment is dark",
			"port beacon stays lit at pace fast", "mess lamps can't be told"},
		Groups: []compare.Finding{
			finding("saloon windows", compare.Low, 402, 0.9, 482, 446, 519),
			finding("chart room", compare.InBand, 9.12, 0.05, 9.04, 8.6, 9.5),
			finding("galley", compare.InBand, 37.6, 0.2, 37.9, 35.1, 40.8),
			finding("mess lamps", compare.CantTell, 61.3, 0.3, 66, 56, 76),
			finding("port beacon", compare.InBand, 21.7, 0.15, 21.4, 19, 24),
			finding("port beacon", compare.StuckLit, 21.9, 0.15, 21.4, 19, 24),
			finding("starboard beacon", compare.StuckDark, 0.02, 0.02, 21.4, 19, 24),
			finding("rail lamps, a name that a maker made much too long for a picture", compare.High, 96, 0.5, 18.1,
				17, 19.2),
			finding("wheelhouse", compare.OffPace, 18.2, 0.1, 18.1, 17, 19.2),
			finding("radio room", compare.InBand, 33, 0.2, 0, 0, 0),
			finding("bunk light", compare.NotMeasured, 0, 0, 8.4, 7.9, 8.9),
		}}
	for i := range f.Groups {
		switch g := &f.Groups[i]; {
		case g.Group == "port beacon" && g.Verdict == compare.InBand:
			g.Pace = "slow"
		case g.Group == "port beacon":
			g.Pace = "fast"
			g.Causes = []compare.Cause{{Name: "output overloaded",
				Text:  "the output is loaded so far that it stays lit: put 180 ohm in series on the plus side",
				Place: "board beacon, output 1", P: 0.83}}
		case g.Verdict == compare.Low:
			g.Causes = []compare.Cause{{Name: "dark segment",
				Text: "one segment of the strip is dark or cut: look along the strip", P: 0.91},
				{Name: "bad joint", Text: "a joint with some ohms too many", P: 0.05}}
		case g.Verdict == compare.CantTell:
			g.Settle = []string{"measure it alone at 6 V", "look whether all 7 lamps are lit"}
		case g.Verdict == compare.NotMeasured:
			g.Readings, g.Looked = 0, false
			g.Settle = []string{"measure it"}
		case g.Verdict == compare.InBand && g.ExpectedA == 0:
			g.Notes = []string{"built as found: a baseline for later, no expectation"}
		}
	}
	return f
}

// ExampleClosure draws measured against expected for a whole closure.
func ExampleClosure() {
	drawTo("closure", func(w *os.File, f plots.Format) error { return plots.Closure(w, f, style(), deckhouse()) })
	// Output:
}

// ExampleBands draws what a plan expects.
func ExampleBands() {
	d := plots.BandsData{Title: "Brackwater: expected draw at 12.0 V",
		Notes: []string{"At the meter, each group alone. Figures of parts of unknown make are wide."}}
	for _, r := range []struct {
		group               string
		a, low, high, least float64
	}{{"saloon windows", 482, 446, 519, 80}, {"chart room", 9.04, 8.6, 9.5, 9.04}, {"galley", 37.9, 35.1, 40.8, 9.5},
		{"mess lamps", 66, 56, 76, 9.4},
		{"port beacon", 21.4, 19, 24, 21.4}, {"radio room", 0, 0, 0, 0}} {
		d.Rows = append(d.Rows, plots.BandRow{Group: r.group, ExpectedA: r.a / 1e3, Band: band(r.low, r.high),
			SmallestA: r.least / 1e3})
	}
	d.Rows[5].Band = compare.Band{}
	drawTo("bands", func(w *os.File, f plots.Format) error { return plots.Bands(w, f, style(), d) })
	// Output:
}

func TestClosureGolden(t *testing.T) { golden(t, "closure", ExampleClosure) }
func TestBandsGolden(t *testing.T)   { golden(t, "bands", ExampleBands) }
