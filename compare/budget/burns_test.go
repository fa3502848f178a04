package budget

import (
	"math"
	"strings"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

func burns(t *testing.T, b *Budget, l Load) []Check {
	t.Helper()
	cs, err := b.Burns(l)
	if err != nil {
		t.Fatal(err)
	}
	return cs
}

// A tidy plan burns nowhere, by feed, all together, loose or joined.
func TestNothingBurnsInATidyPlan(t *testing.T) {
	for _, loose := range []bool{false, true} {
		b := of(t, tidy(), At{Scene: scene.Scene{Loose: loose}, Trials: 10})
		for _, on := range [][]string{{"cabin"}, {"anchor"}, {"beacon"}, {"cabin", "anchor", "beacon"}} {
			for _, c := range burns(t, b, Load{On: on, Volts: []float64{3, 12}}) {
				t.Errorf("%q, loose %v: %s", on, loose, c.Text)
			}
		}
	}
}

// What burns is told of the load that it's in and at the load's own voltage, by
// the same name as in the plan. 100 ohm, a red LED of 1.9 V: at 4 V some 20 mA,
// within its rating; at 12 V about 100 mA.
func TestBurnsAtItsOwnVoltage(t *testing.T) {
	p := tidy()
	p.Groups[1].Lights[0].Ohms.Nominal = 100
	for _, loose := range []bool{false, true} {
		b := of(t, p, At{Scene: scene.Scene{Loose: loose}, Trials: 10})
		if cs := burns(t, b, Load{On: []string{"cabin", "beacon"}, Volts: []float64{12}}); len(cs) > 0 {
			t.Errorf("not in this load: %s", cs[0].Text)
		}
		if cs := burns(t, b, Load{On: []string{"anchor"}, Volts: []float64{1, 3.5}}); len(cs) > 0 {
			t.Errorf("not at this voltage: %s", cs[0].Text)
		}
		cs := burns(t, b, Load{On: []string{"anchor"}, Volts: []float64{3.5, 12, 6}})
		if len(cs) == 0 || cs[0].Name != "LED current: anchor" || !cs[0].Concerns(p.Groups[1].Closure) ||
			!strings.Contains(cs[0].Fact, "at 12 V") || !strings.Contains(cs[0].Cure, "instead of 100 ohm") {
			t.Fatalf("loose %v: %+v", loose, cs)
		}
		if plans, ok := b.CheckNamed("LED current: anchor"); !ok ||
			!(cs[0].Value > 0.09 && cs[0].Value < plans.Value) {
			t.Errorf("%g A at 12 V, the plan's check says %g A at the jack's highest", cs[0].Value, plans.Value)
		}
	}
}

// Alone at a long wire a group gets more than with all that shares the wire.
func TestBurnsAloneOnly(t *testing.T) {
	p := tidy()
	p.Joints[0].Wire.Ohms.Nominal = 20
	p.Groups[1].Lights[0].RatedVolts = 8
	b := of(t, p, At{Trials: 10})
	if cs := burns(t, b, Load{On: []string{"cabin", "anchor", "beacon"}, Volts: []float64{12}}); len(cs) > 0 {
		t.Fatalf("all together: %s", cs[0].Text)
	}
	if cs := burns(t, b, Load{On: []string{"anchor"}, Volts: []float64{12}}); len(cs) != 1 ||
		cs[0].Name != "voltage rating: anchor" {
		t.Errorf("alone: %+v", cs)
	}
}

// An output that isn't connected has nothing to overload; loose, a joint's wire
// carries nothing.
func TestBurnsOnlyWhatIsConnected(t *testing.T) {
	p := tidy()
	p.Boards[0].Outputs[1].MaxAmps = 0.001
	p.Joints[0].Wire.WorkAmps, p.Joints[0].Wire.FuseAmps = 0.001, 0.002
	b := of(t, p, At{Scene: scene.Scene{Loose: true}, Trials: 10})
	if cs := burns(t, b, Load{On: []string{"beacon"}, Outputs: []int{1}, Volts: []float64{12}}); len(cs) > 0 {
		t.Errorf("output 2 isn't connected: %s", cs[0].Text)
	}
	if cs := burns(t, b, Load{On: []string{"beacon"}, Volts: []float64{12}}); len(cs) != 1 ||
		cs[0].Name != "board output: beacon, output 2" {
		t.Errorf("%+v", cs)
	}
	fitted := of(t, p, At{Trials: 10})
	if cs := burns(t, fitted, Load{On: []string{"anchor"}, Volts: []float64{12}}); len(cs) != 1 ||
		cs[0].Name != "wire: joint keel" {
		t.Errorf("%+v", cs)
	}
}

// A converter that has less at its input draws more: the lower voltage is the worse.
func TestBurnsAtALowerVoltage(t *testing.T) {
	p := tidy()
	p.Joints[0].Holds = append(p.Joints[0].Holds,
		plan.Hold{Kind: plan.HoldConverter, Text: "converter", OutVolts: plan.Value{Nominal: 5},
			Efficiency: plan.Value{Nominal: 0.85}, MaxOutAmps: 1, MinInVolts: 6})
	p.Groups, p.Boards = p.Groups[1:2], nil
	p.Groups[0].Lights[0] = lamp(50, 0, 0)
	p.Joints[0].Wire.WorkAmps, p.Joints[0].Wire.FuseAmps = 0.07, 0.13
	b := of(t, p, At{Trials: 10})
	if cs := burns(t, b, Load{On: []string{"anchor"}, Volts: []float64{12}}); len(cs) > 0 {
		t.Fatalf("at 12 V: %s", cs[0].Text)
	}
	if cs := burns(t, b, Load{On: []string{"anchor"}, Volts: []float64{12, 7}}); len(cs) != 1 ||
		cs[0].Name != "wire: joint keel" {
		t.Errorf("at 7 V: %+v", cs)
	}
}

func TestBurnsRefuses(t *testing.T) {
	b := of(t, tidy(), At{Trials: 10})
	for _, v := range []float64{0, -1, math.NaN(), math.Inf(1), 61} {
		if _, err := b.Burns(Load{On: []string{"anchor"}, Volts: []float64{v}}); err == nil {
			t.Errorf("%g V was taken", v)
		}
	}
	if _, err := (&Budget{}).Burns(Load{}); err == nil {
		t.Error("a budget without a circuit")
	}
}
