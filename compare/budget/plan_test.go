package budget

import (
	"fmt"
	"math"
	"testing"

	"sealworthy/compare/plan"
)

// The parts and plans of the tests are invented.

// led is an LED whose forward voltage is v at 5 mA, with ideality 2 and 8 ohm.
func led(colour string, v, half, share float64) plan.LED {
	d := plan.LED{Part: colour + " 1.8 mm", Colour: colour, TempcoVPerK: -1.8e-3, MaxAmps: 0.020}
	if colour == "white" {
		d.TempcoVPerK = -3e-3
	}
	for _, a := range []float64{0.001, 0.005, 0.020} {
		d.Points = append(d.Points, plan.VoltsAtAmps{Volts: v + 0.052*math.Log(a/0.005) + 8*(a-0.005), Amps: a})
	}
	d.Volts = plan.Value{Nominal: d.Points[2].Volts, HalfWidth: half, Share: share}
	return d
}

// branch is a light of count equal branches of n LEDs with a resistor.
func own(count, n int, d plan.LED, r, tol, share float64) plan.Light {
	l := plan.Light{Part: d.Part, Kind: plan.LEDs, Count: count, Ohms: plan.Value{Nominal: r, HalfWidth: tol * r,
		Share: share},
		BranchSpread: plan.Value{Nominal: 1}, Reel: d.Part}
	for range n {
		l.Series = append(l.Series, d)
	}
	return l
}

// part is a light judged as a whole part: only its spread is uncertain.
func part(kind plan.LightKind, count, n int, v, r, spread, share float64) plan.Light {
	d := led("white", v, 0, 0)
	l := own(count, n, d, r, 0, 0)
	l.Part, l.Kind, l.Reel, l.RatedVolts = string(kind)+" warm white 12 V", kind, string(kind)+" reel", 12
	l.BranchSpread = plan.Value{Nominal: 1, HalfWidth: spread, Share: share}
	if kind == plan.Strip {
		l.Count, l.Segments = 1, count
	}
	for i := range l.Series {
		l.Series[i].MaxAmps = 0.030
	}
	return l
}

// wireOf is a thin wire of one conductor's ohms.
func wireOf(ohms float64) plan.Wire {
	return plan.Wire{Text: "0.2 mm, 200 mm", LengthM: 0.2, AreaM2: 0.0314e-6,
		Ohms: plan.Value{Nominal: ohms, HalfWidth: 0.1 * ohms}, WorkAmps: 0.2, FuseAmps: 2.5}
}

// bench is a plan of one jack of 12 V, one joint and nothing on it yet.
func bench() *plan.Plan {
	return &plan.Plan{Build: "Brackwater", Revision: "0123456789ab",
		Jacks: []plan.Jack{{Name: "main", Volts: 12, LowVolts: 11.4, HighVolts: 12.6, Source: "adapter",
			AdapterAmps: 1.5}},
		Joints: []plan.Joint{{Name: "keel", From: "main", Wire: wireOf(0.05), Holds: []plan.Hold{
			{Kind: plan.HoldFuse, Text: "fuse 1 A", RatedAmps: 1}}}},
		Closures: []plan.Closure{{Name: "hull"}, {Name: "deckhouse"}, {Name: "lantern house", Inside: "deckhouse"}},
	}
}

// hang adds a group to a plan.
func hang(p *plan.Plan, name string, lights ...plan.Light) *plan.Plan {
	p.Groups = append(p.Groups,
		plan.Group{Name: name, Closure: "hull", Joint: "keel", Wire: wireOf(0.1), Lights: lights,
			Pos: plan.Pos{Line: 10 + len(p.Groups)}})
	return p
}

// beacon adds a board with two outputs behind 100 ohm, one red LED on each.
func beacon(p *plan.Plan, run plan.OutputsRun) *plan.Plan {
	b := plan.Board{Name: "beacon", Part: "two-output blinker", Joint: "keel", Closure: "lantern house",
		Wire:     wireOf(0.1),
		Standing: plan.Value{Nominal: 0.004, HalfWidth: 0.001}, Run: run, LowVolts: 6, HighVolts: 15,
		Pos: plan.Pos{Line: 40},
		Paces: []plan.Pace{{Name: "slow", PeriodS: 2, Duty: 0.3, PeriodRelTol: 0.05, DutyTol: 0.03},
			{Name: "fast", PeriodS: 0.2, Duty: 0.3, PeriodRelTol: 0.05, DutyTol: 0.03, Pos: plan.Pos{Line: 47}}}}
	for n := 1; n <= 2; n++ {
		b.Outputs = append(b.Outputs, plan.Output{Number: n, OpenVolts: plan.Value{Nominal: 5, HalfWidth: 0.25},
			Ohms: plan.Value{Nominal: 100, HalfWidth: 5}, MaxAmps: 0.025})
		p.Groups = append(p.Groups,
			plan.Group{Name: fmt.Sprintf("beacon %d", n), Closure: "lantern house", Board: "beacon", Output: n,
				Wire: wireOf(0.1), Pos: plan.Pos{Line: 50 + n},
				Lights: []plan.Light{own(1, 1, led("red", 1.9, 0.15, 0.5), 100, 0.05, 0.5)}})
	}
	p.Boards = append(p.Boards, b)
	return p
}

// lightship is a plan of twelve groups and 120 branches, two of them on a board.
func lightship() *plan.Plan {
	p := bench()
	for i := range 4 {
		hang(p, fmt.Sprintf("strip %d", i+1), part(plan.Strip, 14, 3, 2.9, 150, 0.3, 0.9))
	}
	for i := range 3 {
		hang(p, fmt.Sprintf("lamps %d", i+1), part(plan.SMD, 10, 1, 2.95, 820, 0.3, 0.5))
	}
	hang(p, "cabin", own(12, 3, led("white", 2.9, 0.15, 0.5), 330, 0.05, 0.5))
	hang(p, "engine", own(10, 1, led("white", 2.9, 0.15, 0.5), 1000, 0.05, 0.5))
	hang(p, "anchor", own(10, 1, led("red", 1.9, 0.15, 0.5), 1200, 0.05, 0.5))
	return beacon(p, plan.Alternate)
}

// of makes a budget or ends the test.
func of(t testing.TB, p *plan.Plan, at At) *Budget {
	t.Helper()
	b, err := Of(p, at, 1)
	if err != nil {
		t.Fatal(err)
	}
	return b
}
