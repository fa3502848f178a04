package compare

import (
	"testing"

	"sealworthy/compare/plan"
)

// An output that can't drive its load stays lit at every pace: one pace alone is
// neither an overload nor a pass.
func TestSteadyAtOnePaceAloneIsLeftOpen(t *testing.T) {
	b := plan.Board{Paces: []plan.Pace{{Name: "slow", PeriodS: 2, Duty: 0.4}, {Name: "fast", PeriodS: 0.5, Duty: 0.5},
		{Name: "on", PeriodS: 0, Duty: 1}}}
	if !b.Paces[2].Steady() || b.Paces[1].Steady() {
		t.Fatal("which pace is steady")
	}
	row := func(pace string, v Verdict) Finding {
		return Finding{Pace: pace, Verdict: v, Causes: []Cause{{Name: "overloaded output"}}}
	}
	for _, c := range []struct {
		fs   []Finding
		want Verdict
	}{
		{[]Finding{row("slow", StuckLit), row("fast", InBand)}, CantTell},
		{[]Finding{row("slow", StuckLit), row("fast", StuckLit)}, StuckLit},
		{[]Finding{row("slow", StuckLit), row("on", InBand)}, StuckLit}, // lit is as planned there
		{[]Finding{row("slow", StuckLit), row("fast", CantTell)}, StuckLit},
	} {
		agreeBetweenPaces(b, c.fs)
		if f := c.fs[0]; f.Verdict != c.want || (c.want == CantTell) != (f.Why != "") {
			t.Errorf("%+v: want %s", c.fs, c.want)
		}
	}
}
