package compare

import (
	"math"
	"strings"
	"testing"

	"sealworthy/compare/coverage"
	"sealworthy/compare/fault"
	"sealworthy/compare/words"
)

// What may still be in a closure is what its groups leave: one less the product of how
// healthy each is, and its kinds make it up. A look leaves less, and a maker whose
// joints are bad more.
func TestSlipIsWhatItsGroupsLeave(t *testing.T) {
	y := newYard(t, cutter)
	y.healthy(Fitted)
	y.nothing()
	before, _ := y.verdicts()
	y.look("hull", "all right")
	y.look("cabin", "all right")
	y.nothing()
	cs, groups := y.verdicts()
	for name, c := range cs {
		if c.Slip == nil {
			t.Errorf("%s is %s %q and says nothing of what may slip", name, c.Verdict, c.Reasons)
			continue
		}
		healthy := 1.0
		for _, f := range c.Groups {
			healthy *= groups[f.Group].PHealthy
		}
		if math.Abs(c.Slip.P-(1-healthy)) > 1e-6 {
			t.Errorf("%s: slip %.6f, its groups leave %.6f", name, c.Slip.P, 1-healthy)
		}
		clear := 1.0
		for _, k := range c.Slip.Kinds {
			clear *= 1 - k.P
		}
		// Of one group two kinds exclude each other, so their product is a little off.
		if math.Abs((1-clear)/c.Slip.P-1) > 0.02 {
			t.Errorf("%s: slip %.6f, its kinds make up %.6f", name, c.Slip.P, 1-clear)
		}
		if b := before[name].Slip; b != nil && b.P <= c.Slip.P {
			t.Errorf("%s: slip %.6f, before it was looked at %.6f", name, c.Slip.P, b.P)
		}
		if c.Slip.Rates != coverage.CommonPractice {
			t.Errorf("%s: by the rates of %s", name, c.Slip.Rates)
		}
	}
	pr := fault.DefaultPriors()
	pr.Fault.BadJoint *= 2
	y.j.Priors, y.j.ensembles = &pr, nil
	after, _ := y.verdicts()
	if a, b := slipKind(after["hull"].Slip, fault.BadJoint), slipKind(cs["hull"].Slip, fault.BadJoint); a < 1.7*b ||
		a > 2.1*b {
		t.Errorf("bad joints in the hull %.6f, where they are twice as frequent %.6f", b, a)
	}
	if r := after["hull"].Slip.Rates; r != coverage.OwnPriors {
		t.Errorf("by the rates of %s", r)
	}
}

func slipKind(s *Slip, k fault.Kind) float64 {
	if s == nil {
		return 0
	}
	for _, x := range s.Kinds {
		if x.Kind == k {
			return x.P
		}
	}
	return 0
}

// What failed says nothing of a chance, and a group that was taken as it is isn't
// counted.
func TestSlipOfWhatDidNotPass(t *testing.T) {
	y := newYard(t, cutter)
	y.healthy(Fitted)
	y.measure("galley", Fitted, 0.5*y.expected("galley", Fitted))
	y.look("hull", "all right")
	y.look("cabin", "all right")
	y.nothing()
	cs, _ := y.verdicts()
	if s := cs["hull"].Slip; s != nil {
		t.Errorf("%s: slip %+v", cs["hull"].Verdict, *s)
	}
	y.accept("galley", "it is to be dim")
	y.nothing()
	cs, _ = y.verdicts()
	s := cs["hull"].Slip
	if s == nil || len(s.Uncounted) != 1 || s.Uncounted[0] != "galley" {
		t.Errorf("%s: slip %+v", cs["hull"].Verdict, s)
	}
	for _, want := range []string{"less than 1 in 10000 by what is counted", "Not counted: galley (taken as it is)."} {
		if got := s.Text(); !strings.Contains(got, want) {
			t.Errorf("%q isn't in %q", want, got)
		}
	}
}

// Where the chance that a fault slipped is no small one, the group that holds the largest part of it is named, and
// what would make it smaller: never a look at what was looked at.
func TestSlipNamesTheGroupThatHoldsIt(t *testing.T) {
	y := newYard(t, cutter)
	y.healthy(Fitted)
	y.look("hull", "all right")
	y.look("cabin", "all right")
	y.nothing()
	cs, _ := y.verdicts()
	s := cs["hull"].Slip
	if s == nil {
		t.Fatalf("%s: no slip", cs["hull"].Verdict)
	}
	if s.P < worthLowering {
		t.Fatalf("the chance is %g only: choose another test", s.P)
	}
	if s.Most == nil || s.Most.Group != "galley" || s.Most.P > s.P || s.Most.Lower == "" ||
		s.Most.Lower == words.LookAtIt || !strings.Contains(s.Text(), s.Most.Lower) {
		t.Errorf("most %+v in %q", s.Most, s.Text())
	}
	t.Log(s.Text())
}
