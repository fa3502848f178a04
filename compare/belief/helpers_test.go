package belief

import (
	"math"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

func exactly(x float64) plan.Value { return plan.Value{Nominal: x} }

// device is the diode law that the reference figures were made with: V = vref +
// 52 mV ln(I/5 mA) + 8 ohm (I - 5 mA).
func device(vref, half, share float64) plan.LED {
	l := plan.LED{Part: "white", TempcoVPerK: -0.003, Volts: plan.Value{Nominal: vref, HalfWidth: half, Share: share}}
	for _, i := range []float64{0.001, 0.005, 0.020} {
		l.Points = append(l.Points, plan.VoltsAtAmps{Volts: vref + 0.052*math.Log(i/0.005) + 8*(i-0.005), Amps: i})
	}
	return l
}

// light is count branches of n LEDs with a resistor of 5 %.
func light(part string, n, count int, ohms, share float64) plan.Light {
	l := plan.Light{Part: part, Kind: plan.LEDs, Count: count, Reel: "reel",
		Ohms: plan.Value{Nominal: ohms, HalfWidth: 0.05 * ohms, Share: share}, BranchSpread: exactly(1)}
	for range n {
		l.Series = append(l.Series, device(2.9, 0.15, share))
	}
	return l
}

// onJack is a plan of one group without any wire.
func onJack(lights ...plan.Light) *plan.Plan {
	return &plan.Plan{Jacks: []plan.Jack{{Name: "main", Volts: 12}},
		Groups: []plan.Group{{Name: "windows", Joint: "main", Lights: lights}}}
}

// mixed is the population of the reference table: 6 x [white+1k] and 4 x [3 white+330R].
func mixed(share float64) *plan.Plan {
	return onJack(light("one white", 1, 6, 1000, share), light("three white", 3, 4, 330, share))
}

func ensemble(t testing.TB, p *plan.Plan, volts []float64, b scene.Scene, o Options) *Ensemble {
	t.Helper()
	var names []string
	for _, g := range p.Groups {
		names = append(names, g.Name)
	}
	e, err := New(p, names, volts, b, o)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// statistics are left to runs without the race detector.
func statistics(t *testing.T) {
	t.Helper()
	if underRace {
		t.Skip("statistics run without the race detector")
	}
}
