package belief

import (
	"math"
	"math/rand/v2"
	"testing"

	"sealworthy/compare/linear"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

const (
	k     = 3.29
	guard = 1.64
)

// window is a group whose single branches stand out: six windows of 5 % parts.
func window(count int) *plan.Plan { return onJack(light("white", 1, count, 1000, 0.5)) }

func TestOneReadingReducesToTheRuleOfASingleNumber(t *testing.T) {
	e := ensemble(t, mixed(0.5), []float64{12}, scene.Scene{}, Options{})
	r := Reading{Volts: 12, U: 2e-4, GainU: 0.003}
	u := math.Sqrt(e.HealthyU[0]*e.HealthyU[0] + r.U*r.U +
		(r.GainU*r.GainU+e.priors.Model*e.priors.Model)*e.HealthyA[0]*e.HealthyA[0])
	loss, gain := math.Inf(1), math.Inf(1)
	for _, x := range e.interest {
		if x.gain {
			gain = math.Min(gain, x.delta[0])
		} else {
			loss = math.Min(loss, -x.delta[0])
		}
	}
	if len(e.interest) != 4 || !(loss > 0) || !(gain > 0) {
		t.Fatalf("%d faults of interest, want a loss and a gain for each light: %.4f and %.4f A", len(e.interest),
			loss, gain)
	}
	for d := -0.02; d < 0.02; d += 0.0001 {
		r.Amps = e.HealthyA[0] + d
		want := rule.Undecided
		switch {
		case d <= -k*u:
			want = rule.FailLow
		case d >= k*u:
			want = rule.FailHigh
		case -d <= loss-guard*u && d <= gain-guard*u:
			want = rule.Pass
		}
		got, err := e.Decide([]Reading{r}, look.Look{}, rule.Rule{K: k, Guard: guard})
		if err != nil {
			t.Fatal(err)
		}
		switch {
		case want == rule.Pass && got.Verdict == rule.Undecided && got.Healthy < SurePass:
		case want != rule.Pass && want != rule.Undecided && got.Verdict == rule.Undecided && got.Healthy > evenOdds:
		case got.Verdict != want:
			t.Errorf("%.2f mA off, u %.2f, least faults %.2f and %.2f: %s (healthy %.3f), want %s", 1e3*d, 1e3*u,
				1e3*loss, 1e3*gain, got.Verdict, got.Healthy, want)
		}
		if got.CanPass != (min(loss, gain) > guard*u) {
			t.Errorf("can pass: %v", got.CanPass)
		}
	}
}

// The survival function of chi-square with two degrees of freedom is exp(-x/2).
func TestChiLimitKeepsTheFalseAlarm(t *testing.T) {
	alpha := math.Erfc(k / math.Sqrt2)
	if got, want := chiLimit(k, 2), math.Sqrt(-2*math.Log(alpha)); math.Abs(got-want) > 1e-6 {
		t.Errorf("two readings: %.6f, want %.6f", got, want)
	}
	if chiLimit(k, 1) != k {
		t.Error("one reading must keep k to the last bit")
	}
	last := k
	for n := 2; n < 9; n++ {
		c := chiLimit(k, n)
		if c <= last {
			t.Errorf("%d readings: %.3f, not above %.3f", n, c, last)
		}
		last = c
	}
}

// TestJointFalseAlarm draws readings of healthy groups from the very law that the
// rule assumes: no more may fail than by a single reading, 1 in 1000.
func TestJointFalseAlarm(t *testing.T) {
	statistics(t)
	e := ensemble(t, mixed(0.5), []float64{12, 6, 8.5}, scene.Scene{}, Options{})
	trials := 10000
	if long() {
		trials = 300000
	}
	for _, n := range []int{1, 2, 3} {
		r := rand.New(rand.NewPCG(uint64(n), 5))
		var rs []Reading
		for i := range n {
			rs = append(rs, Reading{Volts: e.Volts[i], Amps: e.HealthyA[i], U: 1e-4, GainU: 0.003})
		}
		v, err := e.look(rs)
		if err != nil {
			t.Fatal(err)
		}
		_, c := e.given.expects(v, &e.m.healthy)
		linear.FactorHeld(c, n)
		fails := 0
		for range trials {
			z := make([]float64, n)
			for i := range z {
				z[i] = r.NormFloat64()
			}
			for i, at := range v.at {
				v.y[i] = e.HealthyA[at] + linear.Dot(c[i*n:i*n+i+1], z[:i+1])
			}
			if d := e.decide(v, rule.Rule{K: k, Guard: guard}); d.Verdict == rule.FailLow ||
				d.Verdict == rule.FailHigh {
				fails++
			}
		}
		rate := float64(fails) / float64(trials)
		t.Logf("%d voltages: %d of %d healthy groups fail, %.2f in 1000", n, fails, trials, 1e3*rate)
		if limit := 0.001 + 4*math.Sqrt(0.001/float64(trials)); rate > limit {
			t.Errorf("%d voltages: false alarm of %.5f, at most %.5f", n, rate, limit)
		}
	}
}

func TestASecondVoltageMakesASmallerFaultVisible(t *testing.T) {
	e := ensemble(t, mixed(0.5), []float64{12, 6}, scene.Scene{}, Options{})
	one := Reading{Volts: 12, Amps: e.HealthyA[0], U: 1e-4, GainU: 0.003}
	two := Reading{Volts: 6, Amps: e.HealthyA[1], U: 1e-4, GainU: 0.003}
	a, _ := e.Decide([]Reading{one}, look.Look{}, rule.Rule{K: k, Guard: guard})
	b, _ := e.Decide([]Reading{one, two}, look.Look{}, rule.Rule{K: k, Guard: guard})
	if !(b.DPrime > a.DPrime) {
		t.Errorf("d' of the hardest fault: %.2f with two voltages, %.2f with one", b.DPrime, a.DPrime)
	}
	t.Logf("d' of the hardest fault: %.2f at 12 V, %.2f at 12 and 6 V", a.DPrime, b.DPrime)
	if b.Verdict != rule.Pass {
		t.Errorf("a healthy group at two voltages: %+v", b)
	}
}

func TestAnExcludedFaultDoesntPass(t *testing.T) {
	e := ensemble(t, mixed(0.5), []float64{12, 6}, scene.Scene{}, Options{})
	for _, x := range e.interest {
		h := e.Hypotheses[x.hyp]
		var rs []Reading
		for i, v := range e.Volts {
			rs = append(rs, Reading{Volts: v, Amps: e.HealthyA[i] + x.delta[i], U: 1e-4, GainU: 0.003})
		}
		d, err := e.Decide(rs, look.Look{}, rule.Rule{K: k, Guard: guard})
		if err != nil {
			t.Fatal(err)
		}
		if d.Verdict == rule.Pass {
			t.Errorf("%v of light %v passes: %+v", h.Kinds, h.Lights, d)
		}
	}
}

// The more flows, the smaller is the loss that would have shown; of any is never said to be of none.
func TestMoreThanExpectedExcludesALoss(t *testing.T) {
	e := ensemble(t, window(3), []float64{12}, scene.Scene{}, Options{})
	last, passed := math.Inf(1), 0
	for more := 0.99; more < 1.5; more += 0.001 {
		var rs []Reading
		for i, v := range e.Volts {
			rs = append(rs, Reading{Volts: v, Amps: more * e.HealthyA[i], U: 1e-4, GainU: 0.003})
		}
		d, err := e.Decide(rs, look.Look{}, rule.Rule{K: k, Guard: guard})
		if err != nil {
			t.Fatal(err)
		}
		if d.Verdict != rule.Pass {
			continue
		}
		passed++
		if x := d.Excluded.LossA; !(x > 0) || x > last {
			t.Errorf("%.4f of what is expected: a loss from %g A is excluded, %g at less", more, x, last)
		}
		last = d.Excluded.LossA
	}
	if passed < 3 {
		t.Errorf("%d pass", passed)
	}
	t.Logf("%d pass, the last excludes %.3g mA", passed, 1e3*last)
}

func TestDecideRefusesAGuardOfZeroAndNoReading(t *testing.T) {
	e := ensemble(t, window(3), []float64{12}, scene.Scene{}, Options{})
	r := []Reading{{Volts: 12, Amps: 0.02, U: 1e-4}}
	for _, g := range [][2]float64{{0, guard}, {k, 0}, {math.NaN(), guard}, {k, math.Inf(1)}} {
		if _, err := e.Decide(r, look.Look{}, rule.Rule{K: g[0], Guard: g[1]}); err == nil {
			t.Errorf("guards %v are taken", g)
		}
	}
	if _, err := e.Decide(nil, look.Look{}, rule.Rule{K: k, Guard: guard}); err == nil {
		t.Error("a verdict without a reading")
	}
	for _, bad := range []Reading{{Volts: 9, Amps: 0.02, U: 1e-4}, {Volts: 12, Amps: math.NaN(), U: 1e-4},
		{Volts: 12, Amps: 0.02}, {Volts: 12, Amps: 0.02, U: 1e-4, GainU: -1}} {
		if _, err := e.Decide([]Reading{bad}, look.Look{}, rule.Rule{K: k, Guard: guard}); err == nil {
			t.Errorf("%+v is taken", bad)
		}
	}
}

// What only a lower voltage tells hangs on what curves are like: unless it's next to
// sure, nothing fails whose draw at service lies on the other side.
func TestTheSideIsThatOfTheDrawAtService(t *testing.T) {
	strip := light("strip", 3, 1, 150, 0.9)
	strip.Kind, strip.Segments = plan.Strip, 6
	spread(&strip, 0.1, 0.9)
	for i := range strip.Series {
		strip.Series[i].Points = strip.Series[i].Points[2:]
	}
	e := ensemble(t, onJack(strip), []float64{12, 10}, scene.Scene{}, Options{})
	seen := 0
	for part := 1.0; part > 0; part -= 0.01 {
		d := decision(t, e, at(e, 1.02*e.HealthyA[0], part*e.HealthyA[1]), look.Look{})
		switch {
		case d.Chi >= d.ChiLimit && d.Healthy > hardlyHealthy:
			seen++
			if d.Verdict != rule.Undecided {
				t.Errorf("a fiftieth more at service, %.2f of it at 10 V: %+v", part, d)
			}
		case d.Healthy < hardlyHealthy/10 && d.Verdict != rule.FailLow && d.Verdict != rule.FailHigh:
			t.Errorf("next to surely wrong, %.2f at 10 V: %+v", part, d)
		}
	}
	if seen == 0 {
		t.Error("never in doubt")
	}
	// As planned at service, and more below it than any fault that is known makes it: only
	// where next to nothing speaks for a healthy one.
	unsure := 0
	for part := 1.0; part < 3; part += 0.01 {
		d := decision(t, e, at(e, e.HealthyA[0], part*e.HealthyA[1]), look.Look{})
		switch doubted := d.Chi >= d.ChiLimit && d.Healthy > surelyNot; {
		case doubted && d.Healthy < hardlyHealthy:
			unsure++
			fallthrough
		case doubted:
			if d.Verdict != rule.Undecided {
				t.Errorf("as planned at service, %.2f times as much at 10 V: %+v", part, d)
			}
		}
	}
	if unsure == 0 {
		t.Error("never hardly healthy")
	}
	// A good deal more at service and hardly anything below it is neither.
	if d := decision(t, e, at(e, e.HealthyA[0]+e.HealthyU[0], 0.01*e.HealthyA[1]),
		look.Look{}); d.Verdict != rule.Undecided {
		t.Errorf("high at service, dark at 10 V: %+v", d)
	}
}

func (e *Ensemble) decide(v *view, by rule.Rule) Decision { return e.ruler(v, by).at(v.all()) }
