package reel

import (
	"math"
	"strings"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// scalar is the textbook update for one kind of part: a gain g of the reel with
// prior N(1, s t^2/3), each group of n adding a reading r of variance
// (1-s) t^2/(3n) + rep^2 (Kalman's update for a constant).
func scalar(s, t, rep float64, n int, r ...float64) (g, v float64) {
	g, v = 1, s*t*t/3
	for _, x := range r {
		vj := (1-s)*t*t/3/float64(n) + rep*rep
		w := 1 / (1/v + 1/vj)
		g, v = w*(g/v+x/vj), w
	}
	return g, v
}

// For one kind of part, learning is the textbook's scalar update.
func TestScalar(t *testing.T) {
	for _, c := range []struct{ t, s float64 }{{0.15, 0.5}, {0.3, 0.9}, {0.1, 0.25}} {
		p := groupsOf(4, smd(10, 1, 2.95, 820, c.t, c.s))
		const rep = 0.0005
		rel := []float64{0.96, 0.97, 0.94}
		var obs []Observation
		for i, r := range rel {
			o := seenAs(t, p, p.Groups[i].Name, r)
			o.UA = rep * o.ExpectedA
			obs = append(obs, o)
		}
		l := learn(t, p, obs, "", Options{Shares: AsPlanned})
		g, v := scalar(c.s, c.t, rep, 10, rel...)
		if len(l.Reels) != 1 || len(l.Reels[0].Groups) != 3 {
			t.Fatalf("reels: %+v", l.Reels)
		}
		near(t, "gain", 1+l.Reels[0].Rel, g, 2e-5)
		near(t, "u", l.Reels[0].U, math.Sqrt(v), 2e-3*math.Sqrt(v))
		mean, sd := l.Common(wiring.Factor{Kind: wiring.BranchSpread, Reel: "reel of May", Part: "SMD warm"})
		near(t, "c", mean*c.t*math.Sqrt(c.s), g-1, 2e-5)
		near(t, "sd of c", sd*c.t*math.Sqrt(c.s), math.Sqrt(v), 2e-3*math.Sqrt(v))
	}
}

// The group under judgement has no say in its own expectation.
func TestLeavesOut(t *testing.T) {
	p := groupsOf(6, smd(10, 1, 2.95, 820, 0.15, 0.5))
	var obs []Observation
	for i, r := range []float64{0.95, 0.96, 0.97, 0.955, 0.4} {
		obs = append(obs, seenAs(t, p, p.Groups[i].Name, r))
	}
	// The same group at another voltage is the same group.
	again := obs[4]
	again.Volts, again.AmpsA = 10, 0.3*again.ExpectedA
	obs = append(obs, again)
	got := learn(t, p, obs, p.Groups[4].Name, Options{})
	want := learn(t, p, obs[:4], "", Options{})
	ready, err := Prepare(p, obs, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if x := ready.Without(p.Groups[4].Name); len(x.Reels) != 1 || math.Abs(x.Reels[0].Rel-want.Reels[0].Rel) > 1e-9 || math.Abs(x.Reels[0].U-want.Reels[0].U) > 1e-9 {
		t.Errorf("left out of all: %+v\nwithout: %+v", x.Reels, want.Reels)
	}
	if len(got.Reels) != 1 || got.Reels[0].Rel != want.Reels[0].Rel || got.Reels[0].U != want.Reels[0].U ||
		got.Reels[0].Share != want.Reels[0].Share {
		t.Errorf("with the group: %+v\nwithout: %+v", got.Reels, want.Reels)
	}
}

// Measuring one group again, or at another voltage, is no second group: its
// pieces' own deviations are the same. Yet a second voltage tells resistors from LEDs.
func TestAgain(t *testing.T) {
	p := groupsOf(2, chain(10, 3, 330, 0.05, 0.15, 0.5))
	o := Options{Shares: AsPlanned}
	once := seenAs(t, p, "windows 1", 0.95)
	once.UA = 0.0005 * once.AmpsA
	twice := learn(t, p, []Observation{once, once, once, once}, "", o)
	one := learn(t, p, []Observation{once}, "", o)
	near(t, "u of the same four times", twice.Reels[0].U, one.Reels[0].U, 0.01*one.Reels[0].U)
	low := once
	low.Volts = 10
	s, err := newSenses(p).of(Observation{Group: "windows 1", Volts: 10}, nil)
	if err != nil {
		t.Fatal(err)
	}
	low.ExpectedA, low.AmpsA, low.UA = s.amps, 0.9*s.amps, 0.0005*s.amps
	both := learn(t, p, []Observation{once, low}, "", o)
	if both.Reels[0].U < 0.6*one.Reels[0].U || both.Reels[0].Share.Groups != 1 {
		t.Errorf("two voltages of one group: %+v, one %+v", both.Reels[0], one.Reels[0])
	}
	for i, f := range both.Factors {
		if f.Kind == wiring.BranchOhms && !(f.SD < 0.97*one.Factors[i].SD) {
			t.Errorf("resistors: ± %g by one voltage, ± %g by two", one.Factors[i].SD, f.SD)
		}
	}
	// The order doesn't matter.
	other := learn(t, p, []Observation{low, once}, "", o)
	near(t, "mean in another order", other.Reels[0].Rel, both.Reels[0].Rel, 1e-6)
	near(t, "u in another order", other.Reels[0].U, both.Reels[0].U, 1e-6)
}

// Unsure groups don't count, or count for less.
func TestHealth(t *testing.T) {
	p := groupsOf(3, smd(10, 1, 2.95, 820, 0.15, 0.5))
	sure, unsure, bad := seenAs(t, p, "windows 1", 0.95), seenAs(t, p, "windows 2", 0.95), seenAs(t, p, "windows 3", 0.95)
	unsure.PHealthy, bad.PHealthy = 0.8, 0.1
	strict := learn(t, p, []Observation{sure, unsure, bad}, "", Options{})
	if len(strict.Reels[0].Groups) != 1 || len(strict.LeftOut) != 2 {
		t.Errorf("groups %v, left out %v", strict.Reels[0].Groups, strict.LeftOut)
	}
	o := Options{Weighted: true}
	weighted := learn(t, p, []Observation{sure, unsure, bad}, "", o)
	unsure.PHealthy = 1
	full := learn(t, p, []Observation{sure, unsure}, "", o)
	if !(weighted.Reels[0].U < strict.Reels[0].U && weighted.Reels[0].U > full.Reels[0].U) || len(weighted.LeftOut) != 1 {
		t.Errorf("u: %g strict, %g weighted, %g in full", strict.Reels[0].U, weighted.Reels[0].U, full.Reels[0].U)
	}
	for _, x := range []Observation{{Group: "windows 1", Volts: math.NaN(), PHealthy: 1}, {Group: "attic", Volts: 12, ExpectedA: 1, PHealthy: 1},
		{Group: "windows 1", Volts: 12, PHealthy: 1}, {Group: "windows 1", Volts: 12, ExpectedA: 1, AmpsA: 1, UA: -1, PHealthy: 1}} {
		if l := learn(t, p, []Observation{x}, "", Options{}); len(l.LeftOut) != 1 || !l.Empty() {
			t.Errorf("%+v counts", x)
		}
	}
}

// What all readings of one meter share doesn't average out over groups.
func TestGainStays(t *testing.T) {
	p := groupsOf(9, smd(40, 1, 2.95, 820, 0.15, 0.9))
	const gain = 0.02
	var obs []Observation
	for i := range 8 {
		o := seenAs(t, p, p.Groups[i].Name, 0.97)
		o.GainU = gain
		obs = append(obs, o)
	}
	one := learn(t, p, obs, "", Options{Shares: AsPlanned}).Reels[0]
	if one.U < 0.95*gain {
		t.Errorf("u = %g below the meter's gain of %g", one.U, gain)
	}
	for i := range obs {
		obs[i].Meter = string(rune('a' + i)) // eight meters
	}
	if many := learn(t, p, obs, "", Options{Shares: AsPlanned}).Reels[0]; many.U > gain/2 {
		t.Errorf("u = %g by eight meters", many.U)
	}
	for i := range obs {
		obs[i].GainU, obs[i].Meter, obs[i].SetHalfV = 0, "", 0.3
	}
	perV := nominal(t, p, "windows 1")
	if volts := learn(t, p, obs, "", Options{Shares: AsPlanned}).Reels[0]; volts.U < 0.9*perV.perV/perV.amps*0.3/math.Sqrt(3) {
		t.Errorf("u = %g, the supply's voltage alone gives %g", volts.U, perV.perV/perV.amps*0.3/math.Sqrt(3))
	}
}

// Two reels in one group are told apart by groups of one alone; sums are known
// better than their parts.
func TestTwoReels(t *testing.T) {
	a, b := smd(10, 1, 2.95, 820, 0.15, 0.9), smd(10, 1, 2.95, 820, 0.15, 0.9)
	b.Reel, b.Part = "reel of June", "SMD cold"
	p := groupsOf(1, a)
	p.Groups[0].Lights = []plan.Light{a, b}
	p.Groups = append(p.Groups, build(a, b).Groups...)
	p.Groups[1].Name, p.Groups[2].Name = "bridge", "saloon"
	both := seenAs(t, p, "windows 1", 0.95)
	l := learn(t, p, []Observation{both}, "", Options{Shares: AsPlanned})
	if len(l.Factors) != 2 || l.Covariance[0][1] >= 0 {
		t.Fatalf("%+v, together %v", l.Factors, l.Covariance)
	}
	near(t, "halves", l.Reels[0].Rel, l.Reels[1].Rel, 1e-9)
	bridge := seenAs(t, p, "bridge", 0.9)
	l = learn(t, p, []Observation{both, bridge}, "", Options{Shares: AsPlanned})
	if !(l.Reels[0].Rel < -0.07 && l.Reels[1].Rel > -0.03) {
		t.Errorf("reels: %+v", l.Reels)
	}
}

// A chain's resistors and LEDs can't be told apart at one voltage, yet their sum can.
func TestChain(t *testing.T) {
	p := groupsOf(4, chain(10, 3, 330, 0.05, 0.15, 0.5))
	var obs []Observation
	for i := range 3 {
		obs = append(obs, seenAs(t, p, p.Groups[i].Name, 0.9))
	}
	l := learn(t, p, obs, "", Options{Shares: AsPlanned})
	if len(l.Reels) != 1 || len(l.Factors) != 2 {
		t.Fatalf("%+v", l)
	}
	r := l.Reels[0]
	s := nominal(t, p, "windows 1")
	v := 0.0 // of what is common
	for _, x := range s.pulls {
		v += x.sum * x.sum * x.share / 3 / s.amps / s.amps
	}
	if !(r.Rel < -0.08 && r.U < 0.5*math.Sqrt(v)) {
		t.Errorf("%+v, before %g", r, math.Sqrt(v))
	}
	for _, f := range l.Factors {
		if f.Kind == wiring.BranchOhms && !(f.SD > 0.8*prior) {
			t.Errorf("a resistor is known to %g by the sum alone", f.SD)
		}
	}
}

// A second build starts from what the first has learned.
func TestPrior(t *testing.T) {
	p := groupsOf(6, smd(10, 1, 2.95, 820, 0.15, 0.5))
	var obs []Observation
	for i, r := range []float64{0.95, 0.96, 0.94, 0.97} {
		obs = append(obs, seenAs(t, p, p.Groups[i].Name, r))
	}
	o := Options{Shares: AsPlanned}
	first := learn(t, p, obs[:2], "", o)
	o.Prior = first
	got := learn(t, p, obs[2:], "", o)
	o.Prior = nil
	want := learn(t, p, obs, "", o)
	near(t, "mean", got.Reels[0].Rel, want.Reels[0].Rel, 1e-5)
	near(t, "u", got.Reels[0].U, want.Reels[0].U, 1e-5)
	// Another plan without the reel doesn't forget it.
	q := build(chain(4, 3, 330, 0.05, 0.15, 0.5))
	o.Prior = first
	if kept := learn(t, q, nil, "", o); len(kept.Factors) != 1 || kept.Factors[0].Mean != first.Factors[0].Mean {
		t.Errorf("%+v", kept.Factors)
	}
	// A plan with half the tolerance means the same deviation.
	q = groupsOf(2, smd(10, 1, 2.95, 820, 0.075, 0.5))
	w, err := wiring.Build(q, "main", wiring.Options{})
	if err != nil {
		t.Fatal(err)
	}
	f := first.For(w)
	near(t, "in half-widths of this plan", f.Mean[0], 2*first.Factors[0].Mean, 1e-12)
	// And so does one with another share.
	q = groupsOf(2, smd(10, 1, 2.95, 820, 0.15, 0.8))
	if w, err = wiring.Build(q, "main", wiring.Options{}); err != nil {
		t.Fatal(err)
	}
	f = first.For(w)
	common, own := f.Split(w.Params[0])
	near(t, "the same deviation", common*f.Mean[0], math.Sqrt(0.5)*first.Factors[0].Mean, 1e-12)
	near(t, "whole", common*common+own*own, 1, 1e-12)
}

// More doubt about the planned share is more uncertainty for the next group;
// none is the share as planned.
func TestDoubt(t *testing.T) {
	p := groupsOf(2, smd(10, 1, 2.95, 820, 0.15, 0.9))
	obs := []Observation{seenAs(t, p, "windows 1", 0.95)}
	own := func(o Options) float64 { return learn(t, p, obs, "", o).Factors[0].OwnShare }
	little, usual, much, none := own(Options{Doubt: 0.2}), own(Options{}), own(Options{Doubt: 2}), own(Options{Shares: AsPlanned})
	if !(much < usual && usual < little && little < none) || none != 0.9 || own(Options{Doubt: 0.8}) != usual {
		t.Errorf("own share: %g with much doubt, %g usually, %g with little, %g with none", much, usual, little, none)
	}
}

// A reel further off than a reel can be is another part, and is said to be.
func TestBeyond(t *testing.T) {
	p := groupsOf(4, smd(10, 1, 2.95, 820, 0.1, 0.5))
	for _, c := range []struct {
		rel  float64
		want bool
	}{{0.95, false}, {1.06, false}, {0.8, true}, {1.3, true}} {
		var obs []Observation
		for i := range 3 {
			obs = append(obs, seenAs(t, p, p.Groups[i].Name, c.rel))
		}
		l := learn(t, p, obs, "", Options{})
		if text := strings.Join(l.Text(), "\n"); l.Reels[0].Beyond != c.want || strings.Contains(text, "another part") != c.want {
			t.Errorf("%g: %+v", c.rel, l.Reels[0])
		}
	}
}

func TestText(t *testing.T) {
	p := groupsOf(4, smd(10, 1, 2.95, 820, 0.15, 0.9))
	p.Groups[0].Name, p.Groups[1].Name, p.Groups[2].Name = "cabin windows", "bridge", "saloon"
	var obs []Observation
	for i, r := range []float64{0.961, 0.958, 0.962} {
		obs = append(obs, seenAs(t, p, p.Groups[i].Name, r))
	}
	text := strings.Join(learn(t, p, obs, "", Options{}).Text(), "\n")
	if !strings.HasPrefix(text, "reel of May: this reel draws 4 % less than its data sheet (±1.") || !strings.Contains(text, "learned from: cabin windows, bridge, saloon") {
		t.Error(text)
	}
	t.Log(text)
}
