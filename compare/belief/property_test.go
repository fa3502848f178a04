package belief

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sealworthy/compare/look"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

// anyEnsemble is a small one of an invented group.
func anyEnsemble(t *rapid.T) *Ensemble {
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "group"), 1))
	p := randomGroup(r)
	volts := []float64{12, 6, 9}[:rapid.IntRange(1, 3).Draw(t, "voltages")]
	e, err := New(p, []string{"windows"}, volts, scene.Scene{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func anyReadings(t *rapid.T, e *Ensemble) []Reading {
	var rs []Reading
	for range rapid.IntRange(0, 5).Draw(t, "readings") {
		i := rapid.IntRange(0, len(e.Volts)-1).Draw(t, "at")
		rs = append(rs, Reading{Volts: e.Volts[i] + rapid.Float64Range(-0.05, 0.05).Draw(t, "off"),
			Amps: e.HealthyA[i]*rapid.Float64Range(-0.1, 3).Draw(t, "times") + rapid.Float64Range(-1e-3, 1e-3).Draw(t,
				"plus"),
			U: math.Exp(rapid.Float64Range(-14, -4).Draw(t, "u")), GainU: rapid.Float64Range(0, 0.02).Draw(t, "gain")})
	}
	return rs
}

func anyLook(t *rapid.T) look.Look {
	return look.Look{Saw: look.Saw(rapid.IntRange(0, 2).Draw(t, "saw")), Dark: rapid.IntRange(0, 20).Draw(t, "dark"),
		Of: rapid.IntRange(0, 30).Draw(t, "of")}
}

func TestProbabilitiesAddUpInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := anyEnsemble(t)
		rs, l := anyReadings(t, e), anyLook(t)
		r, err := e.Posterior(rs, l)
		if err != nil {
			t.Fatal(err)
		}
		sum := r.None + r.Unknown
		for _, c := range r.Classes {
			if !(c.P >= 0 && c.P <= 1+1e-9) || len(c.Kinds) == 0 || c.Places < 1 || c.Count < 1 ||
				len(c.PredictedA) != len(e.Volts) {
				t.Fatalf("%+v", c)
			}
			sum += c.P
		}
		if math.Abs(sum-1) > 1e-9 || !(r.None >= 0) || !(r.Unknown >= 0) {
			t.Fatalf("none %g, unknown %g, all %g", r.None, r.Unknown, sum)
		}
		if !slices.IsSortedFunc(r.Classes[:max(0, len(r.Classes)-1)], func(a, b Class) int { return cmp.Compare(b.P, a.P) }) {
			t.Fatal("not the likeliest first")
		}
		back := slices.Clone(rs)
		slices.Reverse(back)
		q, err := e.Posterior(back, l)
		if err != nil {
			t.Fatal(err)
		}
		if q.None != r.None || q.Unknown != r.Unknown || len(q.Classes) != len(r.Classes) {
			t.Fatalf("in another order: none %g and %g", q.None, r.None)
		}
		if len(rs) == 0 {
			return
		}
		d, err := e.Decide(rs, l, rule.Rule{K: k, Guard: guard})
		if err != nil {
			t.Fatal(err)
		}
		if math.IsNaN(d.Chi) || !(d.ChiLimit >= k) || !(d.DPrime >= 0) || d.Verdict == rule.Pass &&
			(d.Chi >= d.ChiLimit || l.Saw == look.SomeDark || d.Healthy < SurePass) ||
			(d.Verdict == rule.FailLow || d.Verdict == rule.FailHigh) && d.Healthy > evenOdds || d.Healthy != r.None ||
			d.Verdict == "" {
			t.Fatalf("%+v", d)
		}
		bits, err := e.Information(rs, l, []Reading{{Volts: e.Volts[0]}, {Volts: e.Volts[len(e.Volts)-1], U: 1e-4}})
		if err != nil {
			t.Fatal(err)
		}
		for _, b := range bits {
			if !(b >= 0 && b < 12) {
				t.Fatalf("%g bits", b)
			}
		}
	})
}

// More tolerance in the plan never makes what is said surer, on the average over
// builds of the smaller tolerance.
func TestMoreToleranceIsNeverSurer(t *testing.T) {
	statistics(t)
	narrow, wide := mixed(0.5), mixed(0.5)
	for i := range wide.Groups[0].Lights {
		l := &wide.Groups[0].Lights[i]
		l.Ohms.HalfWidth *= 2
		for j := range l.Series {
			l.Series[j].Volts.HalfWidth *= 2
		}
	}
	volts := []float64{12, 6}
	a := ensemble(t, narrow, volts, scene.Scene{}, Options{})
	b := ensemble(t, wide, volts, scene.Scene{}, Options{})
	w, err := wiring.Build(narrow, "main", wiring.Options{})
	if err != nil {
		t.Fatal(err)
	}
	x := truth{r: rand.New(rand.NewPCG(8, 8)), w: w, tol: 1, gain: 0.005, count: 2e-5}
	var sureA, sureB float64
	for range 300 {
		rs, err := x.read(volts, spoilt(x.r, a, rand.New(x.r).IntN(len(a.Hypotheses))))
		if err != nil {
			t.Fatal(err)
		}
		best := func(e *Ensemble) float64 {
			r, err := e.Posterior(rs, look.Look{})
			if err != nil {
				t.Fatal(err)
			}
			return math.Max(r.None, slices.Max(r.Weighed))
		}
		sureA += best(a) / 300
		sureB += best(b) / 300
	}
	t.Logf("the likeliest has %.3f on the average; with twice the tolerance %.3f", sureA, sureB)
	if sureB > sureA {
		t.Errorf("twice the tolerance is surer: %.3f, %.3f", sureB, sureA)
	}
	if one, two := a.HealthyU[0], b.HealthyU[0]; two < 1.5*one {
		t.Errorf("twice the tolerance gives u of %.3g, was %.3g", two, one)
	}
}
