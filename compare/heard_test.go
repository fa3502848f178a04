package compare_test

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/load"
	"sealworthy/compare/rule"
)

// What is said of a step while it is measured is what the findings say of it when all that
// was read so far is on the record: by the same readings of the same groups, loose ones and
// those of an earlier sitting too.
func TestATestSaysWhatTheFindingsSay(t *testing.T) {
	for _, seed := range []uint64{4} { // boards and groups that share reels, loose and fitted
		s, err := measureTwice(context.Background(), seed, randomPlan(seed), nil, false, load.OtherLaw)
		if err != nil {
			t.Fatal(err)
		}
		// Half of it is on the record when the test goes on.
		all := append(slices.Clone(s.fitted.records), s.fitted.looks()...)
		half := len(all) / 2
		before := append(ordered(s.loose.records, 1, compare.Loose), ordered(all[:half], 2, compare.Fitted)...)
		now := ordered(all[half:], 3, compare.Fitted)
		j, err := compare.NewJudge(s.fitted.judge.Expected, rule.Default(), benchLeads)
		if err != nil {
			t.Fatal(err)
		}
		g := compare.NewGuide(j, nil, nil, true).After(compare.History{Steps: before})
		for i, r := range now {
			dark := r // whoever looks ahead changes nothing, whatever he sees
			dark.Readings = slices.Clone(r.Readings)
			for k := range dark.Readings {
				dark.Readings[k].Value = new(float64)
			}
			for _, other := range now {
				if other.Step.ID != r.Step.ID && other.Step.Kind == capture.Power {
					other.Readings = slices.Clone(other.Readings)
					for k := range other.Readings {
						other.Readings[k].Value = new(float64)
					}
					g.Preview(other)
					break
				}
			}
			g.Preview(dark)
			early := g.Preview(r)
			said := g.Judge(r)
			if fmt.Sprint(early) != fmt.Sprint(said) {
				t.Errorf("build %d, step %d: so far\n  %v\nsaid\n  %v", seed, i, early, said)
			}
			j, err := compare.NewJudge(s.fitted.judge.Expected, rule.Default(), benchLeads)
			if err != nil {
				t.Fatal(err)
			}
			closures, err := j.Findings(compare.History{Steps: append(before[:len(before):len(before)],
				now[:i+1]...)}, "")
			if err != nil {
				t.Fatal(err)
			}
			found := map[[2]string]capture.Said{}
			for _, c := range closures {
				for _, f := range c.Groups {
					found[[2]string{f.Group, f.Pace}] = compare.Say(f)
				}
			}
			for _, x := range said {
				if is := found[[2]string{x.Group, x.Pace}]; fmt.Sprint(is) != fmt.Sprint(x) {
					t.Errorf("build %d, step %d: said\n  %v\nthe findings say\n  %v", seed, i, x, is)
				}
			}
			if r.Step.Kind == capture.Power && len(said) == 0 {
				t.Errorf("build %d, step %d: nothing is said of %q", seed, i, r.Step.Feed)
			}
		}
	}
}
