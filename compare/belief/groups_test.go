package belief

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

// reelOfStrips is a plan of groups of one reel of strip, whose draw at rated voltage
// is known to a tolerance.
func reelOfStrips(tolerance, share float64, segments ...int) *plan.Plan {
	p := &plan.Plan{Jacks: []plan.Jack{{Name: "main", Volts: 12}}}
	for i, n := range segments {
		l := light("strip", 3, 1, 150, 0)
		l.Kind, l.Segments, l.Ohms.HalfWidth = plan.Strip, n, 0
		spread(&l, tolerance, share)
		for k := range l.Series {
			l.Series[k].Volts.HalfWidth = 0
		}
		p.Groups = append(p.Groups, plan.Group{Name: fmt.Sprint("group ", i), Joint: "main", Lights: []plan.Light{l}})
	}
	return p
}

// yard measures builds of such a plan, each group alone on the clip.
type yard struct {
	p  *plan.Plan
	w  *wiring.Wired
	r  *rand.Rand
	es []*Ensemble
}

func newYard(t *testing.T, p *plan.Plan, seed uint64) *yard {
	t.Helper()
	w, err := wiring.Build(p, "main", wiring.Options{})
	if err != nil {
		t.Fatal(err)
	}
	y := &yard{p: p, w: w, r: rand.New(rand.NewPCG(seed, 77))}
	for _, g := range p.Groups {
		e, err := New(p, []string{g.Name}, []float64{12}, scene.Scene{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		y.es = append(y.es, e)
	}
	return y
}

// build draws one build, with so many segments dark in each group, and measures it.
func (y *yard) build(t *testing.T, dark ...int) []Measured {
	t.Helper()
	w, r := y.w, y.r
	w.Reset()
	w.SetAll(true)
	u := func() float64 { return 2*r.Float64() - 1 }
	c := make([]float64, w.Commons)
	for i := range c {
		c[i] = u()
	}
	warm := u() * scene.Scene{}.RoomOr().HalfC
	for i, q := range w.Params {
		dev := q.Value.HalfWidth * (math.Sqrt(q.Value.Share)*c[q.Common] + math.Sqrt(1-q.Value.Share)*u())
		if q.Kind == wiring.LEDVolts {
			dev += -0.003 * warm
		}
		w.Apply(i, dev)
	}
	for i := range y.p.Groups {
		for n := range dark[i] {
			if err := fault.Apply(w, fault.Fault{Kind: fault.DarkSegment, Group: y.p.Groups[i].Name,
				Branch: n}); err != nil {
				t.Fatal(err)
			}
		}
	}
	volts, gain := 12+u()*0.010, 1+0.005*u()
	var out []Measured
	for i := range y.p.Groups {
		w.Alone(i)
		a, err := w.AddsAmps(i, circuit.Source{EmfV: volts})
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, Measured{Ensemble: y.es[i],
			Readings: []Reading{{Volts: 12, Amps: a*gain + 2e-5*u(), U: 1.2e-5, GainU: 0.005 / math.Sqrt(3)}}})
	}
	return out
}

// decisions judges each group by all of them.
func decisions(t *testing.T, p *plan.Plan, ms []Measured) ([]Decision, []Result) {
	t.Helper()
	all, err := Together(p, ms, fault.DefaultPriors().Common)
	if err != nil {
		t.Fatal(err)
	}
	ds, rs := make([]Decision, len(ms)), make([]Result, len(ms))
	for i, m := range ms {
		e := m.Ensemble.Given(all.Others[i])
		ds[i] = decision(t, e, m.Readings, m.Look)
		if rs[i], err = e.Posterior(m.Readings, m.Look); err != nil {
			t.Fatal(err)
		}
	}
	return ds, rs
}

// count is how groups came out.
type count struct{ pass, low, high, open int }

func (c *count) add(d Decision) {
	switch d.Verdict {
	case rule.Pass:
		c.pass++
	case rule.FailLow:
		c.low++
	case rule.FailHigh:
		c.high++
	default:
		c.open++
	}
}

func (c count) String() string {
	return fmt.Sprintf("passed %d, can't tell %d, low %d, high %d", c.pass, c.open, c.low, c.high)
}

// TestALackInEveryGroupOfAReelNeverPasses: three groups of 8 segments of one reel of
// ±10 %, one dark in each. To each other they look like a reel that draws an eighth less.
func TestALackInEveryGroupOfAReelNeverPasses(t *testing.T) {
	statistics(t)
	builds, seed := 20, uint64(1)
	if long() {
		builds, seed = 200, uint64(os.Getpid())
	}
	for _, x := range []struct {
		name           string
		segments, dark []int
		mayPass        int
	}{
		{"one dark in each of three", []int{8, 8, 8}, []int{1, 1, 1}, 0},
		{"one of 8 and two of 16", []int{8, 16}, []int{1, 2}, 0},
		{"nothing wrong", []int{8, 8, 8}, []int{0, 0, 0}, 3 * builds},
		{"one dark in one", []int{8, 8, 8}, []int{1, 0, 0}, 3 * builds},
	} {
		y := newYard(t, reelOfStrips(0.10, 0.5, x.segments...), seed)
		var lacking, healthy count
		for range builds {
			ds, _ := decisions(t, y.p, y.build(t, x.dark...))
			for i, d := range ds {
				if x.dark[i] > 0 {
					lacking.add(d)
				} else {
					healthy.add(d)
				}
			}
		}
		t.Logf("%s, seed %d: lacking %v; healthy %v", x.name, seed, lacking, healthy)
		if lacking.pass > 0 {
			t.Errorf("%s: %d of %d that lack a segment pass", x.name, lacking.pass,
				lacking.pass+lacking.low+lacking.high+lacking.open)
		}
		if n := healthy.low + healthy.high; n > builds/20 {
			t.Errorf("%s: %d healthy groups are called wrong", x.name, n)
		}
	}
}

// TestOneLookAnchorsTheReel: once all of one group is seen lit it tells what the reel
// draws, and the others pass by that.
func TestOneLookAnchorsTheReel(t *testing.T) {
	statistics(t)
	y := newYard(t, reelOfStrips(0.10, 0.9, 8, 8, 8), 5)
	var without, with, lacking count
	for range 40 {
		ms := y.build(t, 0, 0, 0)
		ds, _ := decisions(t, y.p, ms)
		without.add(ds[1])
		ms[0].Look = look.Look{Saw: look.AllLit}
		ds, _ = decisions(t, y.p, ms)
		with.add(ds[1])
		ms = y.build(t, 0, 1, 1)
		ms[0].Look = look.Look{Saw: look.AllLit}
		ds, _ = decisions(t, y.p, ms)
		lacking.add(ds[1])
	}
	t.Logf("without a look %v, with one %v; lacking %v", without, with, lacking)
	if with.pass <= without.pass || with.pass < 30 {
		t.Errorf("one look lets %d of 40 pass, without it %d", with.pass, without.pass)
	}
	if lacking.pass > 0 {
		t.Errorf("%d that lack a segment pass beside a group that was seen lit", lacking.pass)
	}
}

// TestTwoGroupsDontBlameEachOther: of two groups of a reel one draws an eighth less.
// Either it lacks a segment, or the other has one too many: the same is said of both,
// and never one low and the other high.
func TestTwoGroupsDontBlameEachOther(t *testing.T) {
	y := newYard(t, reelOfStrips(0.10, 0.9, 8, 8), 3)
	for range 40 {
		ds, rs := decisions(t, y.p, y.build(t, 1, 0))
		if ds[0].Verdict == rule.FailLow && ds[1].Verdict == rule.FailHigh {
			t.Errorf("one low, the other high: %+v", ds)
		}
		if ds[0].Verdict == rule.Pass {
			t.Errorf("what lacks a segment passes: healthy %.3f", rs[0].None)
		}
	}
}

// TestAReelTellsWhatItDraws: four groups that draw 6 % more than planned.
func TestAReelTellsWhatItDraws(t *testing.T) {
	p := reelOfStrips(0.10, 0.9, 8, 8, 6, 10)
	y := newYard(t, p, 4)
	var ms []Measured
	for _, e := range y.es {
		ms = append(ms, Measured{Ensemble: e,
			Readings: []Reading{{Volts: 12, Amps: 1.06 * e.HealthyA[0], U: 1e-5, GainU: 0.002}}})
	}
	reels, err := Reels(ms)
	if err != nil {
		t.Fatal(err)
	}
	if len(reels) != 1 || len(reels[0].Groups) != 4 {
		t.Fatalf("%+v", reels)
	}
	r := reels[0]
	if math.Abs(r.Rel-0.06) > 2*r.U || !(r.U > 0.002 && r.U < 0.02) || r.Beyond {
		t.Errorf("the reel draws %.3f ±%.3f more", r.Rel, r.U)
	}
	base := plan.Part{Name: "strip", Kind: plan.PartStrip, Amps: 0.018, Tolerance: 0.10, Share: 0.9}
	r.parts[0].factor.Part = "strip"
	got, err := r.Part(base, "strip of May", "learned")
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got.Amps/base.Amps-1.06) > 2*r.U || !(got.Tolerance < 0.06 && got.Tolerance > 0.01) ||
		!(got.Share > 0 && got.Share < 0.9) {
		t.Errorf("%+v", got)
	}
	if _, err := r.Part(plan.Part{Name: "other", Kind: plan.PartStrip}, "x", ""); err == nil {
		t.Error("a part that the reel was never used as")
	}
}
