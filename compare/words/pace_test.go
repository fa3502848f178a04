package words

import (
	"testing"

	"sealworthy/compare/plan"
)

func TestPace(t *testing.T) {
	for want, p := range map[string]plan.Pace{
		"at its pace \"slow\", one flash each 2 s, lit for 0.6 s": {Name: "slow", PeriodS: 2, Duty: 0.3},
		"at its pace \"group\", lit 0.3 s, dark 0.3 s, lit 0.3 s, dark 3.1 s, and so on": {Name: "group", PeriodS: 4,
			Duty: 0.15, Flashes: []float64{0.3, 0.3, 0.3, 3.1}},
		"at its pace \"single\", one flash each 12.5 s, lit for 0.5 s": {Name: "single", PeriodS: 12.5, Duty: 0.04,
			Flashes: []float64{0.5, 12}},
		"at its pace \"on\", lit without a break": {Name: "on"},
	} {
		if got := Pace(p); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
