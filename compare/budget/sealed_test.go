package budget

import (
	"math"
	"strings"
	"testing"

	"sealworthy/compare/plan"
)

// sealedWire is a tidy plan with a wire for a part still to come, tested with 470 ohm.
func sealedWire(watts float64) *plan.Plan {
	p := tidy()
	hang(p, "searchlight",
		plan.Light{Part: "470 ohm resistor", Kind: plan.TestLoad, Count: 1,
			Ohms:      plan.Value{Nominal: 470, HalfWidth: 23.5},
			OhmsWatts: watts, BranchSpread: plan.Value{Nominal: 1}, Reel: "test resistor of searchlight"})
	p.Groups[len(p.Groups)-1].Sealed = true
	return p
}

// Its band comes from the resistor and the wire: 12 V over 470 ohm, 0.2 ohm of
// wire and the feed; 5 % of it is 2.9 % in standard uncertainty.
func TestSealedWireHasABand(t *testing.T) {
	b := of(t, sealedWire(0.5), At{})
	g, ok := b.GroupNamed("searchlight")
	if !ok || g.TestLoad != "a 470 ohm resistor" {
		t.Fatalf("%+v", g)
	}
	near(t, "draw", g.Lit.NominalA, 12/470.4, 5e-5)
	near(t, "u", g.Lit.UA, g.Lit.NominalA*0.05/math.Sqrt(3), 3e-5)
	near(t, "what is lost when it's open", g.SmallestA, g.Lit.NominalA, 1e-9)
	plain := of(t, tidy(), At{})
	near(t, "the model in service", b.Jacks[0].AllLit.NominalA, plain.Jacks[0].AllLit.NominalA, 1e-9)
	if g.Service.NominalA != 0 {
		t.Errorf("in service %g A", g.Service.NominalA)
	}
	var s strings.Builder
	if err := b.Text(&s, 80); err != nil || !strings.Contains(strings.Join(strings.Fields(s.String()), " "),
		"sealed wires, with what is clipped across their ends for the test: searchlight: a 470 ohm resistor") {
		t.Errorf("%v\n%s", err, s.String())
	}
	for _, j := range b.Joints {
		if j.Kind != "group" && strings.Contains(strings.Join(j.Dark, " "), "searchlight") {
			t.Errorf("%s: %v go dark", j.Name, j.Dark)
		}
	}
}

// Its resistor must bear the test: 12.6 V over 470 ohm are 0.34 W.
func TestSealedWireBearsItsTest(t *testing.T) {
	for watts, want := range map[float64]string{0.25: "wrong", 0.5: "", 0: "advice"} {
		got := ""
		for _, c := range checksOf(t, sealedWire(watts)) {
			if c.Group == "searchlight" && c.Kind != KindInvisible {
				got += string(c.Severity)
				if !strings.Contains(c.Text, "470 ohm resistor for its test turns 0.34 W into heat") ||
					c.Instead != 0.5 || c.Burns != (got == "wrong") {
					t.Errorf("%g W: %+v", watts, c)
				}
			}
		}
		if got != want {
			t.Errorf("%g W: %q, want %q", watts, got, want)
		}
	}
	b := of(t, sealedWire(0.25), At{Trials: 10})
	if cs := burns(t, b, Load{On: []string{"searchlight"}, Volts: []float64{12}}); len(cs) != 1 ||
		cs[0].Name != "resistor heat: searchlight" {
		t.Errorf("%+v", cs)
	}
}
