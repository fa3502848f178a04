package compare

import (
	"strings"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/words"
)

// replanned judges the same record by another plan.
func (y *yard) replanned(src string) {
	y.t.Helper()
	p, problems := plan.Parse("plan.toml", []byte(src))
	if len(problems) > 0 {
		y.t.Fatal(problems[0])
	}
	y.plan, y.exp = p, NewExpected(p)
	j, err := NewJudge(y.exp, rule.Default(), Leads{})
	if err != nil {
		y.t.Fatal(err)
	}
	y.j = j
}

// A reading that showed a bad joint is no proof of a plan that was changed to fit it: not by itself,
// not with a look that counts nothing, not measured once more, not after a touch. Who counts what is
// lit settles it. A plan that was put right before anything was measured is nobody's concern.
func TestAPlanChangedToFitAReadingIsCounted(t *testing.T) {
	five := strings.Replace(cutter, "segments = 4", "segments = 5", 1)
	three := strings.Replace(cutter, "segments = 4", "segments = 3", 1)
	for _, x := range []struct {
		name    string
		first   string // the plan of the reading; empty: it was measured by the plan of now
		events  func(y *yard, amps float64)
		verdict Verdict
		ready   bool
	}{
		{"plain look", five, func(y *yard, _ float64) { y.look("hull", "all right") }, CantTell, false},
		{"counted", five, func(y *yard, _ float64) { y.look("hull", "windows: all right, 3 lit; galley: all right") },
			InBand, true},
		{"counted as before", five, func(y *yard, _ float64) { y.look("hull", "windows: all right, 5 lit; galley: all right") },
			CantTell, false},
		{"measured again", five, func(y *yard, amps float64) {
			y.measure("windows", Fitted, amps)
			y.look("hull", "all right")
		}, CantTell, false},
		{"touched and measured again", five, func(y *yard, amps float64) {
			y.rework("windows")
			y.measure("windows", Fitted, amps)
			y.look("hull", "all right")
		}, CantTell, false},
		{"right from the start", "", func(y *yard, _ float64) { y.look("hull", "all right") }, InBand, true},
	} {
		t.Run(x.name, func(t *testing.T) {
			y := newYard(t, three)
			amps := y.expected("windows", Fitted) // of three, or of five behind a bad joint
			if x.first != "" {
				y.replanned(x.first)
			}
			y.measure("windows", Fitted, amps)
			y.measure("galley", Fitted, y.expected("galley", Fitted))
			if _, groups := y.verdicts(); x.first != "" && groups["windows"].Verdict != Low {
				t.Fatalf("by the plan of then: %s", groups["windows"].Verdict)
			}
			y.replanned(three)
			y.measure("chart lamp", Fitted, y.expected("chart lamp", Fitted))
			x.events(y, amps)
			y.look("cabin", "all right")
			y.nothing()
			closures, groups := y.verdicts()
			f := groups["windows"]
			if f.Verdict != x.verdict || (closures["hull"].Verdict == ReadyToClose) != x.ready {
				t.Errorf("%s, healthy %.4f, hull %s: %q", f.Verdict, f.PHealthy, closures["hull"].Verdict,
					closures["hull"].Reasons)
			}
			if x.ready {
				return
			}
			if !strings.Contains(f.Why, "the plan was changed only after that, from the 5 segments of sampled strip to the 3 "+
				"segments of sampled strip.") && x.name != "counted as before" {
				t.Errorf("why: %q", f.Why)
			}
			count := words.TellChanged("windows", 3, nil, "all right, 3 lit")
			if x.name != "counted as before" && (len(f.Settle) == 0 || f.Settle[0] != count) {
				t.Errorf("what to do: %q", f.Settle)
			}
			ds, err := y.j.Next(y.h, "hull", "")
			if err != nil {
				t.Fatal(err)
			}
			for _, d := range ds {
				if d.Group == "windows" && (d.Settled || d.Healthy != f.PHealthy || len(d.Causes) != 1 ||
					d.Causes[0].Name != string(fault.BadJoint)) {
					t.Errorf("next: %+v", d)
				}
			}
		})
	}
}
