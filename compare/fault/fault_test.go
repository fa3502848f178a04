package fault_test

import (
	"math/rand/v2"
	"strings"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

func twoGroups() *plan.Plan {
	return &plan.Plan{
		Boards: []plan.Board{{Name: "beacon", Paces: []plan.Pace{{Name: "slow", PeriodS: 2, Duty: .3}}}},
		Groups: []plan.Group{
			{Name: "cabin windows", Lights: []plan.Light{{Kind: plan.Strip, Count: 1, Segments: 6,
				Series: make([]plan.LED, 3)}}},
			{Name: "port beacon", Board: "beacon", Output: 1,
				Lights: []plan.Light{{Kind: plan.LEDs, Count: 2, Series: make([]plan.LED, 1),
					Ohms: plan.Value{Nominal: 470}}}},
		},
	}
}

func TestParse(t *testing.T) {
	p := twoGroups()
	r := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		in, want string // want: the kind, or what the error must say
		ok       bool
	}{
		{"cabin windows=dark segment", "dark segment", true},
		{"cabin windows=Dark-Segment", "dark segment", true},
		{"port beacon=overloaded_output", "overloaded output", true},
		{"port beacon=resistor a decade off", "resistor a decade off", true},
		{"cabin windows=missing resistor", "can't have it; it can have: bad joint, short", false},
		{"cabin windows=overloaded output", "can't have it", false},
		{"cabin=short", "it has: cabin windows, port beacon", false},
		{"cabin windows", "write GROUP=FAULT", false},
		{"cabin windows=gremlin", "there are: open branch", false},
	} {
		f, err := fault.Parse(p, c.in, r)
		switch {
		case c.ok && (err != nil || string(f.Kind) != c.want):
			t.Errorf("%q: got %v, %v, want %s", c.in, f.Kind, err, c.want)
		case !c.ok && (err == nil || !strings.Contains(err.Error(), c.want)):
			t.Errorf("%q: got error %v, want one with %q", c.in, err, c.want)
		}
	}
}

func TestParseReachesEveryPlace(t *testing.T) {
	p := twoGroups()
	r := rand.New(rand.NewPCG(3, 4))
	seen := map[int]bool{}
	for range 200 {
		f, err := fault.Parse(p, "cabin windows=dark segment", r)
		if err != nil {
			t.Fatal(err)
		}
		seen[f.Branch] = true
	}
	if len(seen) != 6 {
		t.Errorf("200 seeds darkened %d of 6 segments", len(seen))
	}
}

func TestPossibleFollowsTheParts(t *testing.T) {
	p := twoGroups()
	count := map[fault.Kind]int{}
	for _, f := range fault.Possible(p, p.Groups[1]) {
		count[f.Kind]++
	}
	for k, want := range map[fault.Kind]int{fault.OpenBranch: 2, fault.DecadeOff: 4, fault.MissingOhms: 2,
		fault.DarkSegment: 0, fault.Overloaded: 1, fault.StuckDark: 1} {
		if count[k] != want {
			t.Errorf("%s: %d places, want %d", k, count[k], want)
		}
	}
}
