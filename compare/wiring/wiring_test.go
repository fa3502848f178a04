package wiring

import (
	"errors"
	"math"
	"strings"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
)

func exactly(x float64) plan.Value { return plan.Value{Nominal: x} }

func within(x, hw, share float64) plan.Value {
	return plan.Value{Nominal: x, HalfWidth: hw, Share: share}
}

func degC(c float64) *float64 { return &c }

func wireOf(ohms float64) plan.Wire { return plan.Wire{Ohms: exactly(ohms), AreaM2: 1e-7} }

// resistive is a light of one resistor: its circuit is done by hand.
func resistive(ohms float64, count int) plan.Light {
	return plan.Light{Part: "resistor", Kind: plan.LEDs, Count: count, Ohms: exactly(ohms)}
}

func white(ohms float64, series, count int) plan.Light {
	led := plan.LED{Part: "white", Points: []plan.VoltsAtAmps{{Volts: 2.63, Amps: 0.001}, {Volts: 2.8, Amps: 0.005},
		{Volts: 3.0, Amps: 0.02}},
		Volts: within(3.0, 0.1, 0.5), TempcoVPerK: -0.003}
	l := plan.Light{Part: "white", Kind: plan.LEDs, Count: count, Ohms: within(ohms, 0.05*ohms, 0.5), Reel: "A",
		BranchSpread: within(1, 0.1, 0.5)}
	for range series {
		l.Series = append(l.Series, led)
	}
	return l
}

func onePlan() *plan.Plan {
	return &plan.Plan{
		Jacks:  []plan.Jack{{Name: "main", Volts: 12, Pos: plan.Pos{Line: 3}}},
		Joints: []plan.Joint{{Name: "keel", From: "main", Wire: wireOf(0.5), Pos: plan.Pos{Line: 10}}},
		Groups: []plan.Group{
			{Name: "a", Joint: "keel", Wire: wireOf(1), Lights: []plan.Light{resistive(100, 2)},
				Pos: plan.Pos{Line: 20}},
			{Name: "b", Joint: "keel", Wire: wireOf(2), Lights: []plan.Light{resistive(200, 1)},
				Pos: plan.Pos{Line: 30}},
		},
	}
}

func build(t *testing.T, p *plan.Plan, o Options) *Wired {
	t.Helper()
	w, err := Build(p, "main", o)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func solve(t *testing.T, w *Wired, volts float64) *circuit.Point {
	t.Helper()
	if err := w.Solve(circuit.Source{EmfV: volts}); err != nil {
		t.Fatal(err)
	}
	return w.Point
}

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-9+1e-8*math.Abs(want)) {
		t.Errorf("%s: %.10g, want %.10g", what, got, want)
	}
}

// Ohm's law by hand; copper at 20 degC so that the wires are as planned.
func TestResistorsByHand(t *testing.T) {
	w := build(t, onePlan(), Options{AmbientC: degC(20), SeriesOhm: 0.7})
	p := solve(t, w, 12)
	ra, rb := 2*1+50.0, 2*2+200.0
	par := ra * rb / (ra + rb)
	i := 12 / (0.7 + 2*0.5 + par)
	near(t, "jack", w.JackAmps(p), i)
	near(t, "a", w.GroupAmps(p, 0), i*par/ra)
	near(t, "b", w.FeedAmps(p, 1), i*par/rb)
	near(t, "joint amps", w.JointAmps(p, 0), i)
	near(t, "joint volts", w.JointVolts(p, 0), i*par)
	near(t, "far volts of a", p.NodeV[w.Groups[0].Far], i*par/ra*50)
	w.SetOn(0, false)
	p = solve(t, w, 12)
	near(t, "b alone", w.JackAmps(p), 12/(0.7+1+rb))
	near(t, "a off", w.GroupAmps(p, 0), 0)
}

func TestCopperWarms(t *testing.T) {
	for _, c := range []float64{-20, 0, 25, 70} {
		w := build(t, onePlan(), Options{AmbientC: degC(c)})
		p := solve(t, w, 12)
		near(t, "drop of b's wire per ampere", (w.JointVolts(p, 0)-p.NodeV[w.Groups[1].Far])/w.GroupAmps(p, 1),
			4*(1+0.00393*(c-20)))
	}
	if c := (Options{}).RoomC(); c != 25 {
		t.Errorf("a room of which nothing is known is at %g degC", c)
	}
}

// A mast of 3 ohm carries both groups back; the joint's minus carries nothing.
func TestReturnOfItsOwn(t *testing.T) {
	p := onePlan()
	p.Returns = []plan.Return{{Name: "mast", To: "main", Wire: wireOf(3)}}
	p.Groups[0].Return, p.Groups[1].Return = "mast", "mast"
	w := build(t, p, Options{AmbientC: degC(20)})
	pt := solve(t, w, 12)
	ra, rb := 1+50.0, 2+200.0
	i := 12 / (0.5 + ra*rb/(ra+rb) + 3)
	near(t, "jack", w.JackAmps(pt), i)
	near(t, "mast", w.ReturnVolts(pt, 0), 3*i)
	near(t, "mast amps", w.ReturnAmps(pt, 0), i)
	w.ReturnSeries(0, 5000)
	pt = solve(t, w, 12)
	near(t, "bad mast", w.JackAmps(pt), 12/(0.5+ra*rb/(ra+rb)+5003))
	w.ReturnSeries(0, math.Inf(1))
	near(t, "open mast", w.JackAmps(solve(t, w, 12)), 0)
	w.Reset()
	near(t, "after Reset", w.JackAmps(solve(t, w, 12)), i)
}

// One group back by the mast, one by the twin: the joint's two conductors carry
// different currents, so its plus drops i times 0.5 and its minus only ib times 0.5.
func TestTwinJointIsSplitWhereItMust(t *testing.T) {
	p := onePlan()
	p.Returns = []plan.Return{{Name: "mast", To: "main", Wire: wireOf(3)}}
	p.Groups[0].Return = "mast"
	w := build(t, p, Options{AmbientC: degC(20)})
	pt := solve(t, w, 12)
	// Unknown v at the joint's plus: ia = v/(51+3), ib = (v)/(204+0.5), i = (12-v)/0.5.
	v := (12 / 0.5) / (1/0.5 + 1/54.0 + 1/204.5)
	near(t, "a", w.GroupAmps(pt, 0), v/54)
	near(t, "b", w.GroupAmps(pt, 1), v/204.5)
	near(t, "jack", w.JackAmps(pt), v/54+v/204.5)
	near(t, "joint volts", w.JointVolts(pt, 0), v-0.5*v/204.5)
}

func TestBoardOutputsAndReturns(t *testing.T) {
	p := onePlan()
	p.Boards = []plan.Board{{Name: "beacon", Joint: "keel", Wire: wireOf(1), Standing: exactly(0.004), LowVolts: 6,
		Outputs: []plan.Output{{Number: 1, OpenVolts: exactly(8), Ohms: exactly(100), MaxAmps: 0.02},
			{Number: 2, FollowsSupply: true, Ohms: exactly(10)}},
		Paces: []plan.Pace{{Name: "slow", PeriodS: 1, Duty: 0.5}}, Pos: plan.Pos{Line: 40}}}
	p.Groups = append(p.Groups, plan.Group{Name: "port", Board: "beacon", Output: 1, Wire: wireOf(0),
		Lights: []plan.Light{resistive(300, 1)}},
		plan.Group{Name: "starboard", Board: "beacon", Output: 2, Wire: wireOf(0),
			Lights: []plan.Light{resistive(390, 1)}})
	w := build(t, p, Options{AmbientC: degC(20)})
	w.SetAll(false)
	w.SetOn(2, true)
	near(t, "standing", w.JackAmps(solve(t, w, 12)), 0.004)
	w.SetLit(0, 0, true)
	pt := solve(t, w, 12)
	near(t, "output 1", w.OutputAmps(pt, 0, 0), 8.0/400)
	near(t, "jack", w.JackAmps(pt), 0.024)
	near(t, "board volts", w.BoardVolts(pt, 0), 12-0.024*3)
	if w.Overloaded(pt, 0, 0) {
		t.Error("20 mA of 20 mA is not overloaded")
	}
	w.LoadOutput(0, 0, 900)
	if pt = solve(t, w, 12); !w.Overloaded(pt, 0, 0) {
		t.Error("more than 20 mA is overloaded")
	}
	w.Reset()
	w.SetLit(0, 1, true)
	pt = solve(t, w, 12)
	near(t, "output 2 follows", w.OutputAmps(pt, 0, 1)*400, w.BoardVolts(pt, 0))
	pt = solve(t, w, 3) // below its least voltage: half the standing draw at half of 6 V
	near(t, "browned out", w.FeedAmps(pt, 2)-w.OutputAmps(pt, 0, 0)-w.OutputAmps(pt, 0, 1),
		0.004*w.BoardVolts(pt, 0)/6)
}

func TestConverterConservesPower(t *testing.T) {
	p := onePlan()
	p.Joints[0].Holds = []plan.Hold{{Kind: plan.HoldConverter, OutVolts: exactly(5), Efficiency: exactly(0.8),
		IdleAmps: exactly(0.002), MinInVolts: 6}}
	w := build(t, p, Options{AmbientC: degC(20)})
	pt := solve(t, w, 12)
	out := 5/52.0 + 5/204.0
	in := w.JointAmps(pt, 0)
	vin := 12 - in*1.0
	near(t, "input", (in-0.002)*vin*0.8, 5*out)
	near(t, "behind it", w.JointVolts(pt, 0), 5)
}

func TestEveryParamMovesAndResets(t *testing.T) {
	p := onePlan()
	p.Groups[0].Lights = []plan.Light{white(330, 3, 4),
		{Part: "strip", Kind: plan.Strip, Count: 1, Segments: 5, Series: white(1, 3, 1).Series,
			Ohms: within(150, 7, 0.5), CopperOhms: within(0.1, 0.05, 0.5), BranchSpread: within(1, 0.1, 0.9),
			Reel: "S"}}
	p.Groups[0].Wire.Ohms = within(1, 0.3, 0.5)
	p.Joints[0].Holds = []plan.Hold{{Kind: plan.HoldDiode, DropVolts: within(0.4, 0.05, 0), Ohms: within(0.5, 0.2, 0)},
		{Kind: plan.HoldFuse, Ohms: within(0.3, 0.1, 0)},
		{Kind: plan.HoldConverter, OutVolts: within(11, 0.2, 0), Efficiency: within(0.85, 0.05, 0),
			IdleAmps: within(0.003, 0.001, 0), MinInVolts: 5}}
	p.Boards = []plan.Board{{Name: "board", Joint: "keel", Wire: wireOf(0.1), Standing: within(0.004, 0.001, 0.5),
		LowVolts: 5,
		Outputs:  []plan.Output{{Number: 1, OpenVolts: within(8, 0.2, 0.5), Ohms: within(100, 10, 0.5)}}}}
	p.Groups = append(p.Groups, plan.Group{Name: "out", Board: "board", Output: 1, Wire: wireOf(0.1),
		Lights: []plan.Light{white(330, 1, 1)}},
		plan.Group{Name: "fire", Joint: "keel", Wire: wireOf(0.1),
			Lights: []plan.Light{{Part: "flicker", Kind: plan.Envelope,
				Envelope: &plan.Draw{LowAmps: 0.01, MeanAmps: 0.02, HighAmps: 0.03}}}})
	w := build(t, p, Options{})
	base := solve(t, w, 13).SourceA
	kinds := map[ParamKind]int{}
	for i := range w.Params {
		q := &w.Params[i]
		kinds[q.Kind]++
		if q.Common < 0 || q.Common >= w.Commons {
			t.Errorf("%s: common %d of %d", q.Name, q.Common, w.Commons)
		}
		w.Apply(i, q.Value.HalfWidth)
		up := solve(t, w, 13).SourceA
		w.Apply(i, -q.Value.HalfWidth)
		down := solve(t, w, 13).SourceA
		w.Apply(i, 0)
		if (up-base)*(down-base) >= 0 {
			t.Errorf("%s: %.9g, %.9g, %.9g A don't lie in order", q.Name, down, base, up)
		}
	}
	if len(kinds) != 15 {
		t.Errorf("%d kinds of 15: %v", len(kinds), kinds)
	}
	near(t, "all back", solve(t, w, 13).SourceA, base)
	if n := testing.AllocsPerRun(20, func() {
		for i := range w.Params {
			w.Apply(i, 0.1*w.Params[i].Value.HalfWidth)
		}
		_ = w.Solve(circuit.Source{EmfV: 13})
	}); n != 0 {
		t.Errorf("%v allocations per draw", n)
	}
}

// f times the parts in parallel carry f times the current at every voltage.
func TestSpreadScalesTheCurrentAtEveryVoltage(t *testing.T) {
	p := onePlan()
	p.Joints[0].Wire, p.Groups[0].Wire = wireOf(0), wireOf(0)
	p.Groups = p.Groups[:1]
	p.Groups[0].Lights = []plan.Light{white(330, 3, 1)}
	w := build(t, p, Options{})
	for i := range w.Params {
		if w.Params[i].Kind != BranchSpread {
			continue
		}
		for _, v := range []float64{7, 8.5, 12} {
			w.Apply(i, 0)
			one := solve(t, w, v).SourceA
			w.Apply(i, 0.2)
			near(t, "scaled", solve(t, w, v).SourceA, 1.2*one)
		}
	}
}

func TestFaultHooks(t *testing.T) {
	p := onePlan()
	p.Groups[0].Lights = []plan.Light{white(330, 3, 4)}
	w := build(t, p, Options{})
	base := solve(t, w, 12).SourceA
	one := w.BranchAmps(w.Point, 0, 0)
	for _, c := range []struct {
		name string
		do   func()
		low  float64 // bounds of the change, in branches
		high float64
	}{
		{"open", func() { w.Open(0, 0, true) }, -1.01, -0.97},
		{"reversed", func() { w.SetLED(0, 0, 1, circuit.Reversed) }, -1.01, -0.97},
		{"shorted LED", func() { w.SetLED(0, 0, 1, circuit.Shorted) }, 0.5, 1.5},
		{"no resistor", func() { w.ScaleOhms(0, 0, 0) }, 3, 50},
		{"ten times", func() { w.ScaleOhms(0, 0, 10) }, -0.95, -0.8},
		{"extra", func() { w.Extra(0, 0, true) }, 0.9, 1.01},
		{"bad joint in a branch", func() { w.BranchSeries(0, 0, 500) }, -0.8, -0.3},
		{"bad joint", func() { w.GroupSeries(0, 100) }, -3, -1},
		{"feed joint", func() { w.JointSeries(0, 30) }, -4, -0.5},
		{"leak", func() { w.Short(0, 12/one) }, 0.9, 1.1},
		{"wire open", func() { w.GroupSeries(0, math.Inf(1)) }, -4.2, -3.8},
	} {
		c.do()
		change := (solve(t, w, 12).SourceA - base) / one
		if !(change > c.low && change < c.high) {
			t.Errorf("%s changes the draw by %.3g branches", c.name, change)
		}
		w.Reset()
		near(t, c.name+" taken back", solve(t, w, 12).SourceA, base)
	}
	w.Short(0, 0)
	if err := w.Solve(circuit.Source{EmfV: 12, LimitA: 1}); err != nil || w.Point.Mode != circuit.ConstantCurrent {
		t.Errorf("short under a limit: %v, %v", err, w.Point.Mode)
	}
	c := w.Clone()
	c.Reset()
	near(t, "a clone is independent", solve(t, c, 12).SourceA, base)
	if err := w.Solve(circuit.Source{EmfV: 12, LimitA: 1}); err != nil {
		t.Fatal(err)
	}
	if w.GroupAmps(w.Point, 0) < 0.9 {
		t.Error("the original lost its short")
	}
}

func TestBadPlansNameGroupAndLine(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(p *plan.Plan)
		want  string
	}{
		{"no return path", func(p *plan.Plan) { p.Groups[1].Return = "mast" }, "group b (plan line 30)"},
		{"unknown joint", func(p *plan.Plan) { p.Groups[1].Joint = "mizzen" }, "group b (plan line 30)"},
		{"no resistance", func(p *plan.Plan) {
			p.Joints[0].Wire, p.Groups[1].Wire = wireOf(0), wireOf(0)
			p.Groups[1].Lights = []plan.Light{{Part: "link", Kind: plan.LEDs, Count: 1}}
		}, "group b (plan line 30)"},
		{"not a number", func(p *plan.Plan) { p.Groups[0].Lights[0].Ohms.Nominal = math.NaN() },
			"group a (plan line 20)"},
	} {
		p := onePlan()
		c.spoil(p)
		_, err := Build(p, "main", Options{})
		var e *Error
		if !errors.As(err, &e) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	p := onePlan()
	p.Joints[0].Wire, p.Groups[1].Wire = wireOf(0), wireOf(0)
	w := build(t, p, Options{})
	w.Short(1, 0)
	err := w.Solve(circuit.Source{EmfV: 12})
	var ce *circuit.Error
	if !errors.As(err, &ce) || ce.Problem != circuit.ShortLoop ||
		!strings.Contains(err.Error(), "group b (plan line 30)") {
		t.Errorf("zero-resistance loop: %v", err)
	}
}

func TestAsFoundIsUnknown(t *testing.T) {
	p := onePlan()
	p.Groups[0].AsFound, p.Groups[0].Lights = true, nil
	w := build(t, p, Options{AmbientC: degC(20)})
	if len(w.Unknown) != 1 || w.Unknown[0] != "a" || !w.Groups[0].Unknown {
		t.Errorf("unknown: %v", w.Unknown)
	}
	near(t, "only b", w.JackAmps(solve(t, w, 12)), 12/205.0)
}
