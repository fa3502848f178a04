package belief

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/linear"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

// The law must be that of package circuit, whose own tolerance is 2e-8: single
// branches, in every state, over a range of voltages and deviations.
func TestLawAgreesWithTheCircuit(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, n := range []int{0, 1, 2, 3} {
		p := onJack(light("x", n, 1, 470, 0))
		w, err := wiring.Build(p, "main", wiring.Options{})
		if err != nil {
			t.Fatal(err)
		}
		w.SetAll(true)
		id := w.Groups[0].Branches[0].ID
		for state := range 4 {
			for range 40 {
				w.Reset()
				switch {
				case state == 1 && n > 0:
					w.SetLED(0, 0, n-1, circuit.Shorted)
				case state == 2:
					w.ScaleOhms(0, 0, 0.1)
				case state == 3:
					w.BranchSeries(0, 0, 300)
				}
				l := lawOf(w.Net.Branch(id))
				for k := range n {
					shift := 0.3 * (2*r.Float64() - 1)
					if !slices.Contains(l.gone, k) {
						l.base += shift
					}
					w.Net.SetLEDShift(id, k, shift)
				}
				volts := 0.5 + 13*r.Float64()
				if err := w.Solve(circuit.Source{EmfV: volts}); err != nil {
					t.Fatal(err)
				}
				got, want := l.amps(volts, 0), w.Point.BranchA[id]
				if math.Abs(got-want) > 3e-8*want+leastAmps {
					t.Errorf("%d LEDs, state %d, %.2f V: %.12g A, want %.12g", n, state, volts, got, want)
				}
			}
		}
	}
}

// wired is a plan with everything that makes the feed give way: a joint, wires, a
// strip with thin copper, and a group beside it.
func wired() *plan.Plan {
	strip := light("strip", 3, 1, 150, 0.5)
	strip.Kind, strip.Segments, strip.CopperOhms = plan.Strip, 12, plan.Value{Nominal: 0.05}
	p := onJack(strip, light("one white", 1, 4, 1000, 0.5))
	p.Joints = []plan.Joint{{Name: "keel", From: "main", Wire: wireOhms(0.8)}}
	p.Groups[0].Joint, p.Groups[0].Wire = "keel", wireOhms(0.5)
	return p
}

// Effects of single faults on the nominal circuit against a whole solve of each.
func TestNominalEffectsAreThoseOfTheWholeCircuit(t *testing.T) {
	p := wired()
	b := scene.Scene{BurdenOhm: 1}
	e := ensemble(t, p, []float64{12, 7}, b, Options{})
	w, err := wiring.Build(p, "main", wiring.Options{SeriesOhm: 1})
	if err != nil {
		t.Fatal(err)
	}
	gi := slices.IndexFunc(p.Groups, func(g plan.Group) bool { return g.Name == "windows" })
	seen := map[fault.Kind]bool{}
	for _, v := range e.variants {
		h := e.Hypotheses[v.hyp]
		if v.how != altered || v.at != 0 && v.at != 1 {
			continue
		}
		for _, k := range h.Kinds {
			seen[k] = true
		}
		rep := h.Faults[0]
		if rep.Kind == fault.DarkSegment || rep.Kind == fault.ReversedLED || rep.Kind == fault.ShortedLED {
			rep.Branch = v.branch // the strip comes first in the list
			if rep.Light == 1 {
				rep.Branch -= 12
			}
		}
		for i, volts := range e.Volts {
			w.Reset()
			w.Alone(gi)
			healthy, err := w.AddsAmps(gi, circuit.Source{EmfV: volts})
			if err != nil {
				t.Fatal(err)
			}
			if err := fault.Apply(w, rep); err != nil {
				t.Fatal(err)
			}
			faulty, err := w.AddsAmps(gi, circuit.Source{EmfV: volts})
			if err != nil {
				t.Fatal(err)
			}
			if d := faulty - healthy; math.Abs(v.delta[i]-d) > 2e-3*math.Abs(d)+2e-6 {
				t.Errorf("%v at %g V: %.4f mA, the whole circuit %.4f", rep, volts, 1e3*v.delta[i], 1e3*d)
			}
			if !slices.Contains(fault.Possible(p, p.Groups[gi]), rep) {
				t.Errorf("%+v isn't among the possible faults", rep)
			}
		}
	}
	for _, kind := range []fault.Kind{fault.DarkSegment, fault.ShortedLED, fault.MissingOhms, fault.DecadeOff,
		fault.ExtraBranch} {
		if !seen[kind] {
			t.Errorf("no %s among the hypotheses", kind)
		}
	}
}

// straight are priors that don't doubt the curves, as no trial of these tests does.
func straight() *fault.Priors {
	p := fault.DefaultPriors()
	p.Curve, p.KneeV = 0, 0
	return &p
}

// TestMomentsAgreeWithNaiveTrials compares mean and standard deviation of each
// kind of fault with trials in which the whole circuit is solved with the fault in it.
func TestMomentsAgreeWithNaiveTrials(t *testing.T) {
	statistics(t)
	trials := 1500
	if long() {
		trials = 30000
	}
	p := wired()
	b := scene.Scene{BurdenOhm: 1, LeadsHalfOhm: 0.3, SetVolts: scene.Is(0.05)}
	volts := []float64{12, 7}
	e := ensemble(t, p, volts, b, Options{Priors: straight()})
	w, err := wiring.Build(p, "main", wiring.Options{SeriesOhm: 1})
	if err != nil {
		t.Fatal(err)
	}
	done := map[fault.Kind]bool{}
	for i, v := range e.variants {
		h := &e.Hypotheses[v.hyp]
		kind := h.Kinds[0]
		switch {
		case done[kind] || v.how == fixed || v.weight < 0.1 && v.how != feed && v.law.plus == 0:
			continue
		case kind == fault.MissingOhms && v.at != 1:
			continue // no more than its least effect is known
		case v.how == feed && v.at < 20 || v.law.plus > 0 && v.at < 300:
			continue
		}
		done[kind] = true
		x := truth{r: rand.New(rand.NewPCG(11, 13)), w: w, bench: b, tol: 1}
		f := h.Faults[0]
		if v.how == altered && v.branch < 12 {
			f.Branch = v.branch
		}
		var s, q [2]float64
		for range trials {
			leads := 1 + 0.3*(2*x.r.Float64()-1)
			rs, err := x.read(volts, func(w *wiring.Wired) error {
				w.Net.SetOhms(w.Meter, leads)
				return apply(w, f, v.at)
			})
			if err != nil {
				t.Fatal(err)
			}
			for k, r := range rs {
				s[k] += r.Amps / float64(trials)
				q[k] += r.Amps * r.Amps / float64(trials)
			}
		}
		for k := range volts {
			sd := math.Sqrt(q[k] - s[k]*s[k])
			mine := e.m.of[i]
			u := math.Sqrt(mine.cov[k*2+k])
			// The naive trials have noise of their own. A grid is widened on purpose,
			// and so is a strip whose segments differ.
			if math.Abs(mine.mean[k]-s[k]) > 5*sd/math.Sqrt(float64(trials))+0.02*sd {
				t.Errorf("%s at %g V: mean %.4f mA, naive %.4f", kind, volts[k], 1e3*mine.mean[k], 1e3*s[k])
			}
			// What a wire of unsure ohms leaves of a current without a resistor is left to
			// how bad such a fault may get.
			if wide := v.how == feed || v.law.plus > 0; kind != fault.MissingOhms && u < sd*0.93 || u > sd*1.08 &&
				!wide {
				t.Errorf("%s at %g V: u %.4f mA, naive %.4f", kind, volts[k], 1e3*u, 1e3*sd)
			}
		}
	}
	if len(done) < 7 {
		t.Errorf("only %v were compared", done)
	}
}

// Standard deviations of 20 healthy branches by sensitivities against trials in which
// the whole circuit is solved, and against those of a prototype on the same device
// model (invented data, two independent ways: 1.2126 and 1.2118 mA, 2.107 and 2.104 mA).
func TestSensitivitiesAgreeWithTrials(t *testing.T) {
	statistics(t)
	still := scene.Scene{SetVolts: scene.Is(1e-9), Room: &scene.Room{C: 25, HalfC: 1e-9}}
	trials := 3000
	for _, x := range []struct {
		name   string
		p      *plan.Plan
		volts  float64
		wantMA float64 // 0: none known
	}{
		{"one white, own", onJack(light("x", 1, 20, 1000, 0)), 12, 1.2126},
		{"three white, own", onJack(light("x", 3, 20, 330, 0)), 12, 2.107},
		{"one white, half shared", onJack(light("x", 1, 20, 1000, 0.5)), 12, 0},
		{"three white, half shared", onJack(light("x", 3, 20, 330, 0.5)), 12, 0},
		{"three white, little headroom", onJack(light("x", 3, 20, 330, 0.5)), 9.5, 0},
	} {
		t.Run(x.name, func(t *testing.T) {
			e := ensemble(t, x.p, []float64{x.volts}, still, Options{Priors: straight()})
			w, err := wiring.Build(x.p, "main", wiring.Options{})
			if err != nil {
				t.Fatal(err)
			}
			by := truth{r: rand.New(rand.NewPCG(3, 1)), w: w, bench: still, tol: 1}
			sum, square := 0.0, 0.0
			for range trials {
				rs, err := by.read([]float64{x.volts}, nil)
				if err != nil {
					t.Fatal(err)
				}
				sum += rs[0].Amps
				square += rs[0].Amps * rs[0].Amps
			}
			n := float64(trials)
			mean := sum / n
			sd, u := math.Sqrt(square/n-mean*mean), e.HealthyU[0]
			t.Logf("%.4f ±%.4f mA by trials, %.4f ±%.4f by sensitivities (reference %.4f)", 1e3*mean, 1e3*sd,
				1e3*e.HealthyA[0], 1e3*u, x.wantMA)
			// Of so many trials the standard deviation is known to 1/sqrt(2n).
			if math.Abs(sd/u-1) > 0.01+3/math.Sqrt(2*n) {
				t.Errorf("%.4f mA by trials, %.4f by sensitivities", 1e3*sd, 1e3*u)
			}
			if math.Abs(mean-e.HealthyA[0]) > 0.002*mean+3*sd/math.Sqrt(n) {
				t.Errorf("means: %.4f and %.4f mA", 1e3*mean, 1e3*e.HealthyA[0])
			}
			if x.wantMA > 0 && math.Abs(1e3*u/x.wantMA-1) > 0.01 {
				t.Errorf("%.4f mA, want %.4f within 1 %%", 1e3*u, x.wantMA)
			}
		})
	}
}

// A strip's draw at rated voltage is known by its tolerance; near the knee of its
// LEDs it is far less sure, and a curve that is bent there is no fault.
func TestNearTheKneeLessIsSure(t *testing.T) {
	strip := light("strip", 3, 1, 150, 0.9)
	strip.Kind, strip.Segments = plan.Strip, 6
	spread(&strip, 0.1, 0.9)
	for i := range strip.Series {
		strip.Series[i].Points = strip.Series[i].Points[2:] // 20 mA, about what it draws
	}
	volts := []float64{12, 9}
	sure := ensemble(t, onJack(strip), volts, scene.Scene{}, Options{Priors: straight()})
	e := ensemble(t, onJack(strip), volts, scene.Scene{}, Options{})
	if e.HealthyU[0] > 1.1*sure.HealthyU[0] {
		t.Errorf("at rated voltage: u %.3f mA, %.3f with sure curves", 1e3*e.HealthyU[0], 1e3*sure.HealthyU[0])
	}
	if e.HealthyU[1] < 1.5*sure.HealthyU[1] {
		t.Errorf("near the knee: u %.3f mA, %.3f with sure curves", 1e3*e.HealthyU[1], 1e3*sure.HealthyU[1])
	}
	// LEDs that start 0.1 V lower each, in a strip that draws as planned at 12 V.
	bent := light("strip", 3, 1, 150, 0)
	bent.Kind, bent.Segments = plan.Strip, 6
	spread(&bent, 0, 0)
	for i := range bent.Series {
		bent.Series[i].Points = []plan.VoltsAtAmps{{Volts: bent.Series[i].Points[2].Volts - 0.05, Amps: 0.02}}
	}
	b := ensemble(t, onJack(bent), volts, scene.Scene{}, Options{})
	scale := e.HealthyA[0] / b.HealthyA[0]
	rs := at(e, scale*b.HealthyA[0], scale*b.HealthyA[1])
	if d := decision(t, e, rs, look.Look{}); d.Chi >= d.ChiLimit {
		t.Errorf("bent curves are far off: %+v", d)
	}
	if d := decision(t, sure, rs, look.Look{}); d.Verdict != rule.FailHigh {
		t.Errorf("with sure curves they would: %+v", d)
	}
}

// Of three branches with a doubt that is all theirs together, two are lost: what is left of the
// doubt of three readings is still the covariance of something.
func TestADoubtThatBranchesShareStaysOne(t *testing.T) {
	n := 3
	with := func(branches float64) moment {
		m := newMoment(n, 0)
		for k := range n {
			m.mean[k] = branches * float64(n-k)
		}
		m.widen(branches, []float64{0.1, 0.7, 1})  // grows as they are more
		m.widen(branches, []float64{0.3, 0.1, -2}) // so does this
		for k := range n {
			for s := range m.own {
				m.own[s][k*n+k] += 1e-4 * branches
			}
		}
		m.total()
		return m
	}
	healthy, one := with(3), with(2)
	m := one.clone()
	m.add(1, &one, &healthy)
	for s := range m.own {
		if !linear.Factor(slices.Clone(m.own[s]), n) {
			t.Errorf("shift %d: %.3g is no covariance", s, m.own[s])
		}
		for k := range n {
			if !(m.own[s][k*n+k] > 0 && m.own[s][k*n+k] < one.own[s][k*n+k]) {
				t.Errorf("shift %d, reading %d: variance %.3g, of two branches %.3g", s, k, m.own[s][k*n+k],
					one.own[s][k*n+k])
			}
		}
	}
}
