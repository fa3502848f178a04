package belief

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
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
				d := deviation{factor: 1 + 0.2*(2*r.Float64()-1), shifts: make([]float64, n)}
				d.mLog = math.Log(d.factor)
				w.Net.SetBranchFactor(id, d.factor)
				for k := range n {
					d.shifts[k] = 0.3 * (2*r.Float64() - 1)
					d.shift += d.shifts[k]
					w.Net.SetLEDShift(id, k, d.shifts[k])
				}
				volts := 0.5 + 13*r.Float64()
				if err := w.Solve(circuit.Source{EmfV: volts}); err != nil {
					t.Fatal(err)
				}
				rr, v0 := l.at(&d)
				got := l.solve(volts, rr, v0, spot{})
				want := w.Point.BranchA[id]
				if math.Abs(got-want) > 3e-8*want+leastAmps {
					t.Errorf("%d LEDs, state %d, %.2f V: %.12g A, want %.12g", n, state, volts, got, want)
				}
				// From a spot nearby, as trials do.
				_, from := l.point(volts*1.02, rr, v0, spot{})
				if warm := l.solve(volts, rr, v0, from); math.Abs(warm-want) > 3e-8*want+leastAmps {
					t.Errorf("%d LEDs, state %d, %.2f V, warm: %.12g A, want %.12g", n, state, volts, warm, want)
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
	b := Bench{SeriesOhm: 1}
	e := ensemble(t, p, []float64{12, 7}, b, Options{Seed: 1, Samples: 20})
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
	for _, kind := range []fault.Kind{fault.DarkSegment, fault.ShortedLED, fault.MissingOhms, fault.DecadeOff, fault.ExtraBranch} {
		if !seen[kind] {
			t.Errorf("no %s among the hypotheses", kind)
		}
	}
}

// straight are priors that don't doubt the curves, as no trial of these tests does.
func straight() *Priors {
	p := DefaultPriors()
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
	b := Bench{SeriesOhm: 1, SeriesHalfOhm: 0.3, SetHalfV: 0.05}
	volts := []float64{12, 7}
	e := ensemble(t, p, volts, b, Options{Seed: 1, Samples: 4 * trials, Priors: straight()})
	w, err := wiring.Build(p, "main", wiring.Options{SeriesOhm: 1})
	if err != nil {
		t.Fatal(err)
	}
	done := map[fault.Kind]bool{}
	for i, v := range e.variants {
		h := &e.Hypotheses[v.hyp]
		kind := h.Kinds[0]
		switch {
		case done[kind] || v.how == fixed || v.weight < 0.1 && v.how != feed && !v.some:
			continue
		case kind == fault.MissingOhms && v.at != 1:
			continue // no more than its least effect is known
		case v.how == feed && v.at < 20 || v.some && v.at < 300:
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
			if wide := v.how == feed || v.some; kind != fault.MissingOhms && u < sd*0.93 || u > sd*1.08 && !wide {
				t.Errorf("%s at %g V: u %.4f mA, naive %.4f", kind, volts[k], 1e3*u, 1e3*sd)
			}
		}
	}
	if len(done) < 7 {
		t.Errorf("only %v were compared", done)
	}
}

// Standard deviations of 20 healthy branches by sensitivities and by trials,
// against those of a prototype on the same device model (invented data, two
// independent ways: 1.2126 and 1.2118 mA, 2.107 and 2.104 mA).
func TestSensitivitiesAgreeWithTrials(t *testing.T) {
	statistics(t)
	still := Bench{SetHalfV: 1e-9, AmbientHalfC: 1e-9}
	samples := 10000
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
			trials := ensemble(t, x.p, []float64{x.volts}, still, Options{Seed: 3, Samples: samples, Priors: straight()})
			lin := ensemble(t, x.p, []float64{x.volts}, still, Options{Linear: true, Priors: straight()})
			s, l := 1e3*trials.HealthyU[0], 1e3*lin.HealthyU[0]
			t.Logf("%.4f mA by trials, %.4f by sensitivities (reference %.4f), means %.4f and %.4f", s, l, x.wantMA, 1e3*trials.HealthyA[0], 1e3*lin.HealthyA[0])
			if math.Abs(s/l-1) > 0.01+1.5/math.Sqrt(float64(samples)) {
				t.Errorf("%.4f mA by trials, %.4f by sensitivities", s, l)
			}
			if math.Abs(trials.HealthyA[0]/lin.HealthyA[0]-1) > 0.002 {
				t.Errorf("means: %.4f and %.4f mA", 1e3*trials.HealthyA[0], 1e3*lin.HealthyA[0])
			}
			if x.wantMA > 0 && math.Abs(l/x.wantMA-1) > 0.01 {
				t.Errorf("%.4f mA, want %.4f within 1 %%", l, x.wantMA)
			}
			for i, v := range lin.variants {
				a, b := &trials.m.of[i], &lin.m.of[i]
				if v.how != altered || v.some || v.at == 0.5 || v.at > 1 {
					continue
				}
				ua, ub := math.Sqrt(a.cov[0]), math.Sqrt(b.cov[0])
				if kind := lin.Hypotheses[v.hyp].Kinds[0]; kind != fault.MissingOhms && (math.Abs(ua-ub) > 0.03*ub+1e-6 || math.Abs(a.mean[0]-b.mean[0]) > 0.1*ub+1e-6) {
					t.Errorf("%s: %.4f ±%.4f mA by trials, %.4f ±%.4f by sensitivities", kind, 1e3*a.mean[0], 1e3*ua, 1e3*b.mean[0], 1e3*ub)
				}
			}
		})
	}
}

func TestTheSameSeedGivesTheSameAnswer(t *testing.T) {
	a := ensemble(t, wired(), []float64{12, 6}, Bench{}, Options{Seed: 5, Samples: 100})
	b := ensemble(t, wired(), []float64{12, 6}, Bench{}, Options{Seed: 5, Samples: 100})
	for i := range a.m.of {
		for k := range a.m.of[i].mean {
			if a.m.of[i].mean[k] != b.m.of[i].mean[k] || a.m.of[i].cov[k] != b.m.of[i].cov[k] {
				t.Fatalf("variant %d differs", i)
			}
		}
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
	sure := ensemble(t, onJack(strip), volts, Bench{}, Options{Seed: 1, Priors: straight()})
	e := ensemble(t, onJack(strip), volts, Bench{}, Options{Seed: 1})
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
	b := ensemble(t, onJack(bent), volts, Bench{}, Options{Seed: 1, Linear: true})
	scale := e.HealthyA[0] / b.HealthyA[0]
	rs := at(e, scale*b.HealthyA[0], scale*b.HealthyA[1])
	if d := decision(t, e, rs, Look{}); d.Verdict == FailLow || d.Verdict == FailHigh {
		t.Errorf("bent curves fail: %+v", d)
	}
	if d := decision(t, sure, rs, Look{}); d.Verdict != FailHigh {
		t.Errorf("with sure curves they would: %+v", d)
	}
}
