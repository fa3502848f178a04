package compare_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/load"
)

// TestOutputsInStepAgainstEachOfThemBefore: what two outputs draw together fitted, in step, is
// compared with what each drew loose. As healthy they pass; where they draw less together than
// they did, or one of them wasn't read by itself, it's left open, though the sum is in its band.
func TestOutputsInStepAgainstEachOfThemBefore(t *testing.T) {
	src := strings.NewReplacer(`"alternate"`, `"free"`, "period_s = 1.6", "period_s = 6.0").Replace(twoReds("0.55"))
	read := func(rs []capture.StepRecord, share float64) []capture.StepRecord {
		return readAs(rs, share, func(*capture.StepRecord) {})
	}
	// Outputs run free: whether they run in step is chance. The one ran so, the other didn't.
	together, err := measureTwice(context.Background(), 26, src, nil, false, load.PlanLaw)
	if err != nil {
		t.Fatal(err)
	}
	apart, err := measureTwice(context.Background(), 24, src, nil, false, load.PlanLaw)
	if err != nil {
		t.Fatal(err)
	}
	m := together.fitted
	sum := saidOf(t, m, stagesOf(m.records)).Groups[0]
	each := saidOf(t, m, stagesOf(apart.loose.records)).Groups
	if sum.FiguresOf != compare.OfOutputs || each[0].FiguresOf != "" || each[1].FiguresOf != "" {
		t.Fatalf("figures of %q, %q, %q: nothing is tested", sum.FiguresOf, each[0].FiguresOf, each[1].FiguresOf)
	}
	// As if they were one build, whose pieces drew as much, or more, when they were loose.
	const low = 0.955 // in its band still
	same := (each[0].MeasuredA + each[1].MeasuredA) / sum.MeasuredA
	loose := append(slices.Clone(apart.loose.records), apart.loose.looks()...)
	now := read(m.records, low)
	if f := saidOf(t, m, stagesOf(now)).Groups[0]; f.Verdict != compare.InBand {
		t.Fatalf("fitted alone: %s", inWords(f))
	}
	for _, c := range []struct {
		then float64
		want compare.Verdict
	}{{1, compare.InBand}, {1 / low, compare.CantTell}} {
		f := saidOf(t, m, stagesOf(now, read(loose, low*c.then/same))).Groups[0]
		if f.Verdict != c.want || c.want == compare.CantTell && !strings.Contains(f.Why, "together") {
			t.Errorf("each drew %g of it loose: %s %q", c.then, inWords(f), f.Why)
		}
		// The other way round.
		f = saidOf(t, m, stagesOf(apart.loose.records, read(m.records, same*c.then))).Groups[0]
		if f.Verdict != c.want {
			t.Errorf("together they drew %g of it loose: %s", c.then, inWords(f))
		}
	}
	// Where one of them was touched since, the other can't be compared.
	h := stagesOf(now, read(loose, low/same))
	h.Reworks = []compare.Rework{{What: "starboard beacon", Order: capture.OrderAt(1, 9999)}}
	for _, f := range saidOf(t, m, h).Groups {
		if want := map[string]compare.Verdict{"port beacon": compare.CantTell,
			"starboard beacon": compare.InBand}[f.Group]; f.Verdict != want {
			t.Errorf("one of them touched: %s", inWords(f))
		}
	}
}
