package capture

import (
	"context"
	"encoding/json"
	"testing"
)

// TestLeadsAreRecordedWithEachStep: those of the bench, not what an earlier step had; none where
// they aren't known.
func TestLeadsAreRecordedWithEachStep(t *testing.T) {
	for _, l := range []*Leads{nil, {Ohm: 0.3, HalfOhm: 0.02}} {
		b := newBench(t, led)
		of := b.Bench()
		of.Leads = l
		s := ledStep("1", "nav lights")
		s.Leads = &Leads{Ohm: 7}
		rec := &record{}
		recs, err := Run(context.Background(), of, &guide{steps: []Step{s}}, &face{}, rec, seeded())
		if err != nil {
			t.Fatal(err)
		}
		begun := 0
		for _, m := range rec.marks {
			if m.Kind != MarkBegin {
				continue
			}
			begun++
			text, err := json.Marshal(m.Step)
			if err != nil {
				t.Fatal(err)
			}
			var back Step
			if err := json.Unmarshal(text, &back); err != nil {
				t.Fatal(err)
			}
			for _, is := range []*Leads{back.Leads, recs[0].Step.Leads} {
				if (is == nil) != (l == nil) || l != nil && *is != *l {
					t.Errorf("leads %v, want %v", is, l)
				}
			}
		}
		if begun != 1 {
			t.Errorf("%d begins", begun)
		}
	}
}
