package returns

import (
	"math"
	"os"
	"slices"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// What all groups together answer to a warmer room is what the plan's circuit draws
// more in it: each group sits behind wires that the others drop volts in, so that its
// knee lies higher in the whole model than alone, and warm copper takes some back.
func TestGroupsAnswerToWarmthAsTheWholeModelDoes(t *testing.T) {
	src, err := os.ReadFile("../../testdata/brackwater/plan.toml")
	if err != nil {
		t.Fatal(err)
	}
	p, problems := plan.Parse("plan.toml", src)
	if p == nil {
		t.Fatal(problems)
	}
	p = p.InService()
	s, err := byPlan(p, p.Jacks[0].Name)
	if err != nil {
		t.Fatal(err)
	}
	volts := grid(2, 12, 0.5)
	m, err := newModel(p, s, "", volts)
	if err != nil {
		t.Fatal(err)
	}
	whole := func(roomC float64) []float64 {
		w, err := wiring.Build(p, p.Jacks[0].Name, wiring.Options{AmbientC: &roomC})
		if err != nil {
			t.Fatal(err)
		}
		w.SetAll(true)
		w.LightAll(false)
		y, err := solved(w, volts)
		if err != nil {
			t.Fatal(err)
		}
		return y
	}
	room := wiring.Options{}.RoomC()
	want := minus(whole(room+1), whole(room))
	got := make([]float64, len(volts))
	for _, g := range m.groups {
		if g.board < 0 {
			got = added(got, g.warm)
		}
	}
	top := slices.Max(want)
	for i, v := range volts {
		if off := math.Abs(got[i] - want[i]); off > 0.05*top {
			t.Errorf("at %.1f V: %.4f mA a kelvin, by the whole circuit %.4f", v, 1e3*got[i], 1e3*want[i])
		}
	}
}
