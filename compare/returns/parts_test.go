package returns

import (
	"math"
	"testing"

	"sealworthy/compare/blink"
	"sealworthy/compare/fault"
	"sealworthy/compare/linear"
	"sealworthy/compare/plan"
)

// Ohm's law by hand: 100 ohm behind 100 ohm draws half.
func TestACurveBehindAResistor(t *testing.T) {
	c := Curve{Volts: []float64{0, 6, 12}, Amps: []float64{0, 0.06, 0.12}}
	for i, a := range c.behind(100, []float64{3, 6, 12}) {
		if want := []float64{0.015, 0.03, 0.06}[i]; math.Abs(a-want) > 1e-6 {
			t.Errorf("%g A, want %g", a, want)
		}
	}
}

// The lemma of Woodbury against the covariance written out, in two dimensions.
func TestTheLowRankTermAgainstTheWholeCovariance(t *testing.T) {
	d, w := []float64{1.3, -0.7}, []float64{0.8, 0.5}
	got := logLikelihood(linear.Dot(d, d), []float64{linear.Dot(w, d)}, []float64{linear.Dot(w, w)})
	a, b, c := 1+w[0]*w[0], w[0]*w[1], 1+w[1]*w[1]
	det := a*c - b*b
	q := (c*d[0]*d[0] - 2*b*d[0]*d[1] + a*d[1]*d[1]) / det
	if want := -(q + math.Log(det)) / 2; math.Abs(got-want) > 1e-12 {
		t.Errorf("%g, want %g", got, want)
	}
}

func TestTheAdapter(t *testing.T) {
	p := &plan.Plan{Jacks: []plan.Jack{{Name: "main", Volts: 12, LowVolts: 11.4, HighVolts: 12.6}}}
	s := &Signature{Jack: "main", Whole: []Whole{{Sweep: Curve{Volts: []float64{12}, Amps: []float64{0.45}}}}}
	v := func(x float64) *float64 { return &x }
	for _, c := range []struct {
		a      Adapter
		want   string
		faulty bool
	}{
		{Adapter{}, "not sent", false},
		{Adapter{Sent: true}, "not measured", false},
		{Adapter{Sent: true, Reversed: true, OpenV: v(12)}, "reversed", true},
		{Adapter{Sent: true, OpenV: v(12.1)}, "good", false},
		{Adapter{Sent: true, OpenV: v(9.1)}, "low", true},
		{Adapter{Sent: true, OpenV: v(16.5)}, "high", true},
		{Adapter{Sent: true, OpenV: v(12.1), LoadedV: v(11.9), LoadOhm: 24}, "good", false},
		{Adapter{Sent: true, OpenV: v(12.1), LoadedV: v(10.2), LoadOhm: 24}, "sags", true},
	} {
		if got := c.a.Says(p, s); got.Verdict != c.want || got.Faulty != c.faulty || got.Text == "" {
			t.Errorf("%+v: %+v, want %s", c.a, got, c.want)
		}
	}
}

// A drop is told from noise, and by which group it could be.
func TestDropsInATrace(t *testing.T) {
	p := &plan.Plan{Jacks: []plan.Jack{{Name: "main", Volts: 12}}}
	s := &Signature{Jack: "main", Groups: []GroupCurve{{Group: "saloon", Lit: Curve{Volts: []float64{12},
		Amps: []float64{0.06}}}, {Group: "lamp", Lit: Curve{Volts: []float64{12}, Amps: []float64{0.01}}}}}
	r := &Return{WindowS: 0.1, Volts: 12}
	for i := range 300 {
		at := 0.1 * float64(i)
		a := 0.4 + 5e-5*math.Sin(17*at)
		if at > 12 && at < 12.5 || at > 25 && at < 25.3 {
			a -= 0.06
		}
		r.Trace = append(r.Trace, blink.Sample{AtS: at, Amps: a})
	}
	got := drops(p, s, r)
	if len(got) != 2 || math.Abs(got[0].AtS-12) > 0.2 || math.Abs(got[1].AtS-25) > 0.2 || len(got[0].Groups) != 1 ||
		got[0].Groups[0] != "saloon" {
		t.Errorf("%+v", got)
	}
	for i := range r.Trace {
		r.Trace[i].Amps = 0.4 + 5e-5*math.Sin(17*r.Trace[i].AtS)
	}
	if got := drops(p, s, r); len(got) != 0 {
		t.Errorf("drops in a steady trace: %+v", got)
	}
}

// The first reading at 12 V; the next voltage that the information names must
// lead to the right group sooner than going down in order.
func TestTheNextVoltageNamesTheGroup(t *testing.T) {
	volts := grid(2, 12.5, 0.25)
	r := testRand(41)
	p := populations(t, 1, r, volts)[0]
	n, pr := DefaultNuisances().SameMeter(), fault.DefaultPriors().Return
	f := trueFault{"red5", fault.OpenBranch, 1}
	y := sameBench().sweep(p.ls, volts, r, nil, f).Amps
	noise := p.lib.noise(n, 4, nil)
	measured := []int{40} // 12 V
	for range 5 {
		hs := p.lib.weigh(y, measured, n, noise, pr)
		bits := p.lib.Information(y, measured, n, noise, hs)
		best := 0
		for i, b := range bits {
			if b > bits[best] {
				best = i
			}
		}
		measured = append(measured, best)
	}
	by := map[string]float64{}
	for _, h := range p.lib.weigh(y, measured, n, noise, pr) {
		place := string(fault.Nothing)
		if h.Index >= 0 {
			place = p.lib.Hypotheses[h.Index].at()
		}
		by[place] += h.P
	}
	if by["red5"] < 0.6 {
		t.Errorf("after readings at %v: red5 has %.2f of %v", measured, by["red5"], by)
	}
}
