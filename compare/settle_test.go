package compare

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare/scene"
)

// galley is a plan of one group of so many lamps.
func galley(lamps int) string {
	return fmt.Sprintf(`build = "galley"
[jack.main]
volts = 12.0
[closure.house]
[[group]]
name = "lamps"
closure = "house"
lights = [ { part = "smd warm white 12 V", count = %d } ]
`, lamps)
}

func stepOf(t *testing.T, y *yard, r capture.StepRecord) step {
	t.Helper()
	b, err := y.exp.At(SceneOf(r, y.j.Leads))
	if err != nil {
		t.Fatal(err)
	}
	return step{j: y.j, r: r, b: b, t: traceOf(r)}
}

// What is said to shrink a doubt does so by as much: a group measured in two parts
// varies by what the plan of half of it says, and the first advice is the best one.
func TestAdviceShrinksTheDoubtByAsMuchAsItSays(t *testing.T) {
	y := newYard(t, galley(8))
	r := y.measure("lamps", Fitted, y.expected("lamps", Fitted))
	s := stepOf(t, y, *r)
	g, ok := s.b.GroupNamed("lamps")
	if !ok {
		t.Fatal("no such group")
	}
	f := Finding{Group: "lamps", ExpectedU: g.Lit.UA, MeasuredU: 1e-5}
	u := math.Hypot(f.ExpectedU, f.MeasuredU)
	all := s.remedies(f, g, u)
	if len(all) < 2 {
		t.Fatalf("%+v", all)
	}
	halves := 0
	for i, x := range all {
		if i > 0 && x.leaves < all[i-1].leaves {
			t.Errorf("not the best first: %+v", all)
		}
		if !strings.Contains(x.text, "two parts") {
			continue
		}
		halves++
		h := newYard(t, galley(4))
		b, err := h.exp.At(scene.Scene{})
		if err != nil {
			t.Fatal(err)
		}
		half, _ := b.GroupNamed("lamps")
		if want := math.Hypot(half.Lit.UA, f.MeasuredU); math.Abs(x.leaves/want-1) > 0.05 {
			t.Errorf("half of it varies by %g A, it is said to by %g A", want, x.leaves)
		}
	}
	if halves != 1 {
		t.Errorf("%+v", all)
	}
	// Ten pieces of 30 %, half of it in common, leave the group what its eight add by
	// themselves and what ten leave of their mean: sqrt(1/8 + 1/10) of one's own part.
	own := 0.3 / math.Sqrt(3) * math.Sqrt(0.5) * g.Lit.NominalA
	for _, x := range all {
		if want := own * math.Sqrt(1.0/8+1.0/10); strings.Contains(x.text, "sample") &&
			math.Abs(x.leaves/want-1) > 0.1 {
			t.Errorf("a sample leaves %g A, it is said to leave %g A", want, x.leaves)
		}
	}
}

// A meter is in the way only where it has a good part of the doubt.
func TestAMeterIsBlamedForItsShare(t *testing.T) {
	y := newYard(t, galley(8))
	s := stepOf(t, y, *y.measure("lamps", Fitted, y.expected("lamps", Fitted)))
	g, _ := s.b.GroupNamed("lamps")
	for _, c := range []struct {
		meter float64 // of the plan's doubt
		want  bool
	}{{0.1, false}, {0.4, false}, {1.5, true}} {
		f := Finding{Group: "lamps", ExpectedU: g.Lit.UA, MeasuredU: c.meter * g.Lit.UA}
		said := fmt.Sprint(s.remedies(f, g, math.Hypot(f.ExpectedU, f.MeasuredU)))
		if got := strings.Contains(said, "finer range"); got != c.want || strings.Contains(said, "once more") &&
			!c.want {
			t.Errorf("%g of it: %s", c.meter, said)
		}
	}
}
