package compare

import (
	"strings"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
)

// A strip that draws like a shorter one may be behind a bad joint: both are said, nothing is settled
// while a count would part them, and somebody who counts or sees it dim parts them.
func TestAWrongPlanAndABadJointAreBothSaid(t *testing.T) {
	three := newYard(t, strings.Replace(cutter, "segments = 4", "segments = 3", 1))
	amps := three.expected("windows", Fitted)
	five := strings.Replace(cutter, "segments = 4", "segments = 5", 1)
	for _, x := range []struct {
		seen, says string
		first      fault.Kind
		settled    bool
	}{
		{"", "Count the segments. Five? Then there's a bad joint or a thin place in the wire to \"windows\".",
			fault.CountOff,
			false},
		{"windows: all right, 5 lit", "There's a bad joint or a thin place in the wire to \"windows\".",
			fault.BadJoint, true},
		{"windows: dim",
			"Count the segments. Five? Then there's a bad joint or a thin place in the wire to \"windows\".",
			fault.BadJoint, false},
	} {
		y := newYard(t, five)
		y.j.PlanSource = []byte(five)
		y.measure("windows", Fitted, amps)
		if x.seen != "" {
			y.look("hull", x.seen)
		}
		_, groups := y.verdicts()
		f := groups["windows"]
		if f.Verdict != Low || len(f.Causes) == 0 || f.Causes[0].Name != string(x.first) ||
			!strings.HasPrefix(f.Causes[0].Text, x.says) {
			t.Errorf("%q: %s %+v", x.seen, f.Verdict, f.Causes)
		}
		ds, err := y.j.Next(y.h, "hull", "")
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range ds {
			if d.Group != "windows" {
				continue
			}
			asked := len(d.Next) > 0 && strings.Contains(d.Next[0].What, "count the segments of \"windows\"")
			if d.Settled != x.settled || asked == x.settled || d.Settled && strings.Contains(d.Answer, "?") {
				t.Errorf("%q: settled %v, %q, next %+v", x.seen, d.Settled, d.Answer, d.Next)
			}
		}
	}
}

// One eye at the bench and at a return: what is dim weighs alike.
func TestDimWeighsAtTheBenchAsAtAReturn(t *testing.T) {
	r, dim := look.DefaultRates(), look.Look{Saw: look.Otherwise, What: look.Dim}
	for _, is := range []look.Lights{{Of: 5}, {Dim: 5, Of: 5}, {Dark: 2, Of: 5}, {Dim: 2, Dark: 1, Of: 5}} {
		if a, b := r.LogOf(dim, is.Dark, is.Dim, is.Of), r.LogSaw(dim, is); a != b || a == 0 {
			t.Errorf("%+v: %g, at a return %g", is, a, b)
		}
	}
	if a := r.LogOf(dim, 0, 5, 5); a <= r.LogOf(dim, 0, 0, 5) {
		t.Errorf("dim lights are called dim no more often than good ones: %g", a)
	}
	if a := r.LogOfFaint(dim, 0, 0, 5); a <= 0 {
		t.Errorf("faint: %g", a)
	}
}
