package belief

import (
	"math"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

// A dark branch is one line, whatever made it dark: open, turned round or dead.
func TestLookAlikesAreOneLine(t *testing.T) {
	e := ensemble(t, mixed(0.5), []float64{12, 6}, scene.Scene{}, Options{})
	for _, light := range []int{0, 1} {
		h := slices.IndexFunc(e.Hypotheses, func(h Hypothesis) bool {
			return slices.Contains(h.Kinds, fault.OpenBranch) && h.Lights[0] == light
		})
		r := posterior(t, e, at(e, e.Hypotheses[h].MeanA...), look.Look{})
		c := r.Classes[0]
		if c.P < 0.9 || c.Fault.Kind != fault.OpenBranch || c.Fault.Light != light || c.Count != 1 {
			t.Errorf("light %d: %+v", light, c)
		}
		for _, k := range []fault.Kind{fault.OpenBranch, fault.ReversedLED} {
			if !slices.Contains(c.Kinds, k) {
				t.Errorf("light %d: %v doesn't hold %q", light, c.Kinds, k)
			}
		}
		for _, other := range r.Classes[1:] {
			if slices.Contains(other.Kinds, fault.OpenBranch) && slices.Contains(other.Lights, light) {
				t.Errorf("light %d: a second line for the same: %+v", light, other)
			}
		}
	}
}

func TestWhatAReadingCantTellApartIsOneLine(t *testing.T) {
	e := ensemble(t, mixed(0.5), []float64{12, 6}, scene.Scene{}, Options{})
	one := posterior(t, e, []Reading{{Volts: 12, Amps: e.HealthyA[0] - 0.0093, U: 2e-5, GainU: 0.001}}, look.Look{})
	if c := one.Classes[0]; len(c.Lights) != 2 {
		t.Errorf("at 12 V alone an open branch of either light looks the same: %+v", c)
	}
}

func TestADeviationOutOfTheListIsUnknown(t *testing.T) {
	l := light("white", 1, 6, 1000, 0)
	l.Ohms.HalfWidth, l.Series[0].Volts.HalfWidth = 5, 0.01
	e := ensemble(t, onJack(l), []float64{12, 9, 6}, scene.Scene{SetVolts: scene.Is(0.001)}, Options{})
	// A smooth surplus that no branch, joint or short makes: it grows, then falls.
	r := posterior(t, e, at(e, e.HealthyA[0]*1.06, e.HealthyA[1]*1.25, e.HealthyA[2]*1.05), look.Look{})
	if r.Unknown < 0.9 {
		t.Errorf("unknown %.3f, none %.3g, %+v", r.Unknown, r.None, r.Classes)
	}
	if r := posterior(t, e, at(e, e.HealthyA...), look.Look{}); r.None < 0.9 || r.Unknown > 0.01 {
		t.Errorf("healthy: none %.3f, unknown %.3f", r.None, r.Unknown)
	}
}

func TestTwoFaultsAreALastResort(t *testing.T) {
	l := light("white", 1, 6, 1000, 0)
	l.Ohms.HalfWidth, l.Series[0].Volts.HalfWidth = 5, 0.01
	m := light("three", 3, 4, 330, 0)
	m.Ohms.HalfWidth = 1.6
	for i := range m.Series {
		m.Series[i].Volts.HalfWidth = 0.01
	}
	// curves that are sure
	e := ensemble(t, onJack(l, m), []float64{12, 6}, scene.Scene{SetVolts: scene.Is(0.001)},
		Options{Priors: straight()})
	open := func(light int) Hypothesis {
		return e.Hypotheses[slices.IndexFunc(e.Hypotheses, func(h Hypothesis) bool {
			return slices.Contains(h.Kinds, fault.OpenBranch) && h.Lights[0] == light
		})]
	}
	y := make([]float64, 2)
	for k := range y {
		y[k] = open(0).MeanA[k] + open(1).MeanA[k] - e.HealthyA[k]
	}
	r := posterior(t, e, at(e, y...), look.Look{})
	c := r.Classes[0]
	if !r.Double || c.Second == nil || c.P < 0.5 || c.Fault.Light == c.Second.Light {
		t.Errorf("one branch of each light dark: %v, %+v", r.Double, c)
	}
	one := posterior(t, e, at(e, open(0).MeanA...), look.Look{})
	if one.Double || one.Classes[0].Second != nil || one.Classes[0].Count != 1 {
		t.Errorf("a single fault explains it: %+v", one.Classes[0])
	}
}

func TestABadJointIsFoundWithItsOhms(t *testing.T) {
	e := ensemble(t, mixed(0.5), []float64{12, 6}, scene.Scene{}, Options{})
	n := 0
	for i, v := range e.variants {
		if v.how != feed || v.at < 40 || v.at > 200 {
			continue
		}
		n++
		r := posterior(t, e, at(e, e.m.of[i].mean...), look.Look{})
		if c := r.Classes[0]; c.Fault.Kind != fault.BadJoint || math.Abs(math.Log(c.Fault.Ohms/v.at)) > 0.7 ||
			c.P < 0.7 {
			t.Errorf("%.0f ohm: %+v", v.at, c)
		}
	}
	if n < 2 {
		t.Errorf("%d joints of 40 to 200 ohm among the hypotheses: too few to tell", n)
	}
}

func TestAGroupOnABoardIsWhatLightingItAdds(t *testing.T) {
	p := blinker()
	one, err := New(p, []string{"beacon"}, []float64{12}, scene.Scene{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	other, err := New(p, []string{"other"}, []float64{12}, scene.Scene{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	both, err := New(p, []string{"beacon", "other"}, []float64{12}, scene.Scene{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	// About 2 x 10 mA and 20 mA; the board's own 4 mA aren't in it.
	if one.HealthyA[0] < 0.015 || one.HealthyA[0] > 0.022 ||
		math.Abs(both.HealthyA[0]-one.HealthyA[0]-other.HealthyA[0]) > 1e-4 {
		t.Errorf("%.4f and %.4f A, together %.4f", one.HealthyA[0], other.HealthyA[0], both.HealthyA[0])
	}
	r := posterior(t, one, at(one, 0), look.Look{})
	if c := r.Classes[0]; !slices.Contains(c.Kinds, fault.StuckDark) || c.P < 0.9 {
		t.Errorf("nothing flows: %+v", c)
	}
	groups := map[string]bool{}
	for _, h := range both.Hypotheses {
		groups[h.Group] = true
	}
	if len(groups) != 2 {
		t.Errorf("groups of the hypotheses: %v", groups)
	}
}

func TestThePlanIsASuspect(t *testing.T) {
	p := onJack(light("one white", 1, 6, 1000, 0.25))
	e := ensemble(t, p, []float64{12, 6}, scene.Scene{},
		Options{Suspects: fault.Suspects(p, nil, "windows", plan.Options{}, fault.DefaultPriors().Plan)})
	more := slices.IndexFunc(e.Hypotheses, func(h Hypothesis) bool {
		return h.Suspect != nil && h.Suspect.Kind == fault.CountOff && h.Suspect.Value == 7
	})
	if more < 0 {
		t.Fatal("no plan with seven among the hypotheses")
	}
	r := posterior(t, e, at(e, e.Hypotheses[more].MeanA...), look.Look{Saw: look.AllLit})
	c := r.Classes[0]
	if c.P < 0.9 || c.Suspect == nil || c.Suspect.Kind != fault.CountOff ||
		!slices.Contains(c.Kinds, fault.ExtraBranch) {
		t.Errorf("one more than planned: %+v", c)
	}
}

func TestNewRefuses(t *testing.T) {
	p := mixed(0.5)
	found := onJack(light("x", 1, 1, 1000, 0))
	found.Groups[0].AsFound, found.Groups[0].Lights = true, nil
	two := blinker()
	two.Jacks = append(two.Jacks, plan.Jack{Name: "second", Volts: 5})
	two.Groups = append(two.Groups, plan.Group{Name: "aside", Joint: "second",
		Lights: []plan.Light{light("x", 1, 1, 100, 0)}})
	bad := fault.DefaultPriors()
	bad.None = 2
	hot := 200.0
	for _, x := range []struct {
		name   string
		p      *plan.Plan
		groups []string
		volts  []float64
		b      scene.Scene
		o      Options
		want   string
	}{
		{"no group", p, nil, []float64{12}, scene.Scene{}, Options{}, "no group"},
		{"unknown group", p, []string{"fish"}, []float64{12}, scene.Scene{}, Options{}, "fish"},
		{"no voltage", p, []string{"windows"}, nil, scene.Scene{}, Options{}, "no voltage"},
		{"twice the voltage", p, []string{"windows"}, []float64{12, 12}, scene.Scene{}, Options{}, "twice"},
		{"a negative voltage", p, []string{"windows"}, []float64{-1}, scene.Scene{}, Options{}, "-1 V"},
		{"as found", found, []string{"windows"}, []float64{12}, scene.Scene{}, Options{}, "as found"},
		{"two jacks", two, []string{"beacon", "aside"}, []float64{12}, scene.Scene{}, Options{}, "different jacks"},
		{"priors", p, []string{"windows"}, []float64{12}, scene.Scene{}, Options{Priors: &bad}, "none"},
		{"room", p, []string{"windows"}, []float64{12}, scene.Scene{Room: scene.Measured(&hot)}, Options{}, "200 degC"},
		{"leads", p, []string{"windows"}, []float64{12}, scene.Scene{BurdenOhm: math.NaN()}, Options{}, "burden_ohm"},
	} {
		t.Run(x.name, func(t *testing.T) {
			_, err := New(x.p, x.groups, x.volts, x.b, x.o)
			if err == nil || !strings.Contains(err.Error(), x.want) {
				t.Errorf("%v, want %q", err, x.want)
			}
		})
	}
}

// A joint of an ohm value between two that were computed is no less a joint.
func TestABadJointBetweenTheNodesOfItsGridIsFound(t *testing.T) {
	p := tight()
	e := ensemble(t, p, []float64{12, 6}, scene.Scene{SetVolts: scene.Is(0.001)}, Options{})
	w, err := wiring.Build(p, "main", wiring.Options{})
	if err != nil {
		t.Fatal(err)
	}
	w.SetAll(true)
	joint := slices.IndexFunc(e.Hypotheses, func(h Hypothesis) bool { return h.Kinds[0] == fault.BadJoint })
	grid := lognormal(fault.DefaultPriors().Joint.FeedOhms, 1, feedJointNodes)
	for i := 1; i < len(grid)-2; i++ {
		ohms := math.Sqrt(grid[i].At * grid[i+1].At)
		w.GroupSeries(0, ohms)
		y := make([]float64, 2)
		for k, v := range e.Volts {
			if err := w.Solve(circuit.Source{EmfV: v}); err != nil {
				t.Fatal(err)
			}
			y[k] = w.JackAmps(w.Point)
		}
		// Some look like a lost branch; none may be ruled out.
		r := posterior(t, e, at(e, y...), look.Look{})
		if r.Unknown > 0.05 || r.None < 0.5 && r.Weighed[joint] < 1e-3 {
			t.Errorf("%.0f ohm: unknown %.3f, none %.3f, a joint %.2g", ohms, r.Unknown, r.None, r.Weighed[joint])
		}
	}
}
