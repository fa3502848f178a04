package plots_test

import (
	"log"
	"os"
	"path/filepath"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/instruments"
	"sealworthy/plots"
)

func sheet() plots.SheetData {
	c, ambient := deckhouse(), 20.5
	steps := []capture.StepRecord{steady(), blinking()}
	for i := range steps {
		steps[i].Stage, steps[i].AmbientC = "fitted", &ambient
		steps[i].Step.PlanRevision = "3f9ac01b22de"
		steps[i].Instruments = map[string]instruments.Description{
			"meter": {Profile: "bench meter, SCPI", Identity: "INVENTED,BENCH METER,0017,1.0", Simulated: true,
				Ranges: []instruments.Range{
					{Quantity: instruments.Current, Max: 0.2, Accuracy: instruments.Accuracy{OfReading: 0.002,
						Floor: 5e-5}, BurdenOhm: 1.7},
					{Quantity: instruments.Current, Max: 2, Accuracy: instruments.Accuracy{OfReading: 0.005,
						Floor: 5e-4}, BurdenOhm: 0.1}}},
			"supply": {Profile: "bench supply, SCPI", Identity: "INVENTED,SUPPLY,0042,2.1", Simulated: true,
				SetAccuracy: instruments.Accuracy{OfReading: 0.0005, Floor: 0.01}},
		}
	}
	for i, g := range c.Groups {
		switch {
		case g.Verdict == compare.Low:
			c.Groups[i].StepID = "cabin windows"
		case g.Pace == "fast":
			c.Groups[i].StepID, c.Groups[i].Board = "port beacon", "beacon"
			c.Groups[i].PeriodS, c.Groups[i].PeriodU, c.Groups[i].PlanPeriodS = 0, 0, 0.8
		case g.Pace == "slow":
			c.Groups[i].PeriodS, c.Groups[i].PeriodU, c.Groups[i].PlanPeriodS = 2.003, 0.004, 2
		}
	}
	lantern := compare.ClosureFinding{Build: "Brackwater", Closure: "lantern house", Inside: "deckhouse",
		Verdict: compare.ReadyToClose,
		Reasons: []string{"every group is in band at 12.0 V and was looked at"},
		Groups:  []compare.Finding{finding("lantern", compare.InBand, 21.1, 0.1, 21.4, 19, 24)}}
	hull := compare.ClosureFinding{Build: "Brackwater", Closure: "hull", Verdict: compare.NotSettled,
		Reasons: []string{"bow lamp was not measured"},
		Groups:  []compare.Finding{finding("bow lamp", compare.NotMeasured, 0, 0, 8.4, 7.9, 8.9)}}
	hull.Groups[0].Looked = false
	hull.Items = []compare.Item{{Name: "keel", Kind: compare.ItemJoint, By: compare.ByTest,
		Feeds: []string{"bow lamp"}}, {Name: "bow lamp", Kind: compare.ItemGroup},
		{Name: "ballast", Kind: compare.ItemThing, By: compare.ByHand}}
	lantern.Simulated = true
	tree := feedTree()
	return plots.SheetData{Build: "Brackwater", Scale: "1:96", PlanRevision: "3f9ac01b22de",
		Made:     time.Date(2026, 11, 25, 9, 30, 0, 0, time.UTC),
		Closures: []compare.ClosureFinding{lantern, c, hull}, Steps: steps, Tree: &tree,
		Cautions: []string{"beacon flashes 1.3 times a second at pace fast, below three times a second."},
		Warnings: []string{"20261125T064500Z-fitted.lp: the last line was torn; it was cut and is kept"},
		Levels: func(s capture.StepRecord) []plots.Level {
			if s.Step.Pace != "" {
				return beacon
			}
			return []plots.Level{{Band: band(98, 121)}}
		},
		Style: style()}
}

// ExampleSheet writes the sheet of a build.
func ExampleSheet() {
	if pictures == "" {
		return
	}
	w, err := os.Create(filepath.Join(pictures, "sheet.html"))
	if err != nil {
		log.Fatal(err)
	}
	if err := plots.Sheet(w, sheet()); err != nil {
		log.Fatal(err)
	}
	if err := w.Close(); err != nil {
		log.Fatal(err)
	}
	// Output:
}
