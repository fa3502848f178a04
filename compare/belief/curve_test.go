package belief

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

// onePoint is a white LED of which a data sheet gives 3.0 V at 20 mA.
func onePoint() plan.LED {
	return plan.LED{Part: "white", TempcoVPerK: -0.003, Volts: plan.Value{Nominal: 3, HalfWidth: 0.15, Share: 0.5},
		Points: []plan.VoltsAtAmps{{Volts: 3, Amps: 0.020}}}
}

// Each model that is published for circuit simulators (testdata/led, with the source of
// each in its row) must lie within what is held possible of an LED of which only its
// voltage at 20 mA is known: from there to 0.05 mA, within three standard
// deviations, as a root mean square between a half and two.
func TestPublishedModelsLieWithinWhatOnePointLeavesOpen(t *testing.T) {
	src, err := os.ReadFile("../../testdata/led/spice_models.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(src)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	head := map[string]int{}
	for i, name := range rows[0] {
		head[name] = i
	}
	sum, n := 0.0, 0.0
	for _, row := range rows[1:] {
		at := func(name string) float64 {
			x, err := strconv.ParseFloat(row[head[name]], 64)
			if err != nil {
				t.Fatal(err)
			}
			return x
		}
		volts := at("v_at_20mA")
		fit, err := circuit.FitDiode([]circuit.Sample{{Volts: volts, Amps: 0.020}})
		if err != nil {
			t.Fatal(err)
		}
		l := lawOf(circuit.Branch{LEDs: []circuit.LED{{Diode: fit.Diode}}})
		points := []plan.VoltsAtAmps{{Volts: volts, Amps: 0.020}}
		for _, x := range []struct {
			name string
			amps float64
		}{{"v_at_5mA", 5e-3}, {"v_at_0.5mA", 5e-4}, {"v_at_0.05mA", 5e-5}} {
			mean, v := l.drop(x.amps), 0.0
			for _, w := range []curveWay{{kind: SlopeFactor, far: ideality1, points: points},
				{kind: OhmsFactor, far: ohms1, points: points}} {
				more, less := l.bent(w, w.points[len(w.points)-1].Amps, w.far),
					l.bent(w, w.points[len(w.points)-1].Amps, -w.far)
				up, down := more.drop(x.amps), less.drop(x.amps)
				a, b := (up-down)/2, (up+down-2*l.drop(x.amps))/2
				mean, v = mean+b, v+a*a+2*b*b
			}
			z := (at(x.name) - mean) / math.Sqrt(v)
			t.Logf("%-18s %s: %.3f V, expected %.3f ±%.3f: %+.2f", row[0], x.name, at(x.name), mean, math.Sqrt(v), z)
			if math.Abs(z) > 3 {
				t.Errorf("%s at %s: %.3f V, expected %.3f ±%.3f", row[0], x.name, at(x.name), mean, math.Sqrt(v))
			}
			sum, n = sum+z*z, n+1
		}
	}
	if rms := math.Sqrt(sum / n); n < 18 || rms < 0.5 || rms > 2 {
		t.Errorf("root mean square %.2f over %.0f figures", rms, n)
	}
}

// The bent law goes through the known points, and one with three points leaves less open.
func TestACurveGoesThroughItsPoints(t *testing.T) {
	fit, err := circuit.FitDiode([]circuit.Sample{{Volts: 2.8, Amps: 0.002}, {Volts: 3.05, Amps: 0.020}})
	if err != nil {
		t.Fatal(err)
	}
	l := lawOf(circuit.Branch{LEDs: []circuit.LED{{Diode: fit.Diode}, {Diode: fit.Diode}}})
	w := curveWay{kind: SlopeFactor, far: 0.3, points: []plan.VoltsAtAmps{{Amps: 0.002}, {Amps: 0.020}}}
	for _, far := range []float64{0.3, -0.3, 1.5} {
		x := l.bent(w, w.points[len(w.points)-1].Amps, far)
		for _, p := range w.points {
			if math.Abs(x.drop(p.Amps)-l.drop(p.Amps)) > 0.002 {
				t.Errorf("by %g: %.4f V at %g A, was %.4f", far, x.drop(p.Amps), p.Amps, l.drop(p.Amps))
			}
		}
		if low, was := x.drop(1e-5), l.drop(1e-5); (low-was)*far > 0 {
			t.Errorf("by %g: %.3f V far below, was %.3f", far, low, was)
		}
	}
}

// A group of 6 x (3 white + 330 ohm) of one-point LEDs whose ideality is 3.5: near the
// knee it draws many times what ideality 2 has there. Neither it nor the sweep calls it wrong.
func TestAnotherIdealityIsNoFault(t *testing.T) {
	make1 := func(led plan.LED) *plan.Plan {
		l := plan.Light{Part: "white", Kind: plan.LEDs, Count: 6, Reel: "reel",
			Ohms: plan.Value{Nominal: 330, HalfWidth: 16.5, Share: 0.5}, BranchSpread: exactly(1)}
		for range 3 {
			l.Series = append(l.Series, led)
		}
		return onJack(l)
	}
	volts := []float64{12, 9, 8, 7}
	e := ensemble(t, make1(onePoint()), volts, scene.Scene{}, Options{})
	for _, ideality := range []float64{1.3, 2, 3.5} {
		led := onePoint()
		led.Points = nil
		for _, i := range []float64{1e-5, 1e-4, 1e-3, 0.005, 0.020} {
			led.Points = append(led.Points,
				plan.VoltsAtAmps{Volts: 3 + ideality*0.0257*math.Log(i/0.020) + 4*(i-0.020), Amps: i})
		}
		truth := ensemble(t, make1(led), volts, scene.Scene{}, Options{})
		rs := at(e, truth.HealthyA...)
		d := decision(t, e, rs, look.Look{})
		res, err := e.Posterior(rs, look.Look{})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("ideality %.1f: %.3f mA at 12 V, %.4f at 7 V (expected %.3f and %.4f): %s, chi %.2f, healthy %.3f",
			ideality,
			1e3*truth.HealthyA[0], 1e3*truth.HealthyA[3], 1e3*e.HealthyA[0], 1e3*e.HealthyA[3], d.Verdict, d.Chi,
			res.None)
		if d.Verdict == rule.FailLow || d.Verdict == rule.FailHigh || res.None < 0.5 {
			t.Errorf("ideality %.1f: %s, healthy %.4f", ideality, d.Verdict, res.None)
		}
	}
}

// Typical points of a red LED show no series resistance, for their slope makes up for it. Pieces
// of a make that has 28 ohm of it, and draws at service what the plan says, are no fault.
func TestTypicalPointsWithoutOhmsLeaveSomePossible(t *testing.T) {
	with := func(points ...plan.VoltsAtAmps) *plan.Plan {
		led := plan.LED{Part: "red", TempcoVPerK: -0.002, Volts: plan.Value{Nominal: 2.1, HalfWidth: 0.05, Share: 0.5},
			Points: points}
		return onJack(plan.Light{Part: "red", Kind: plan.LEDs, Count: 5, Reel: "reel",
			Ohms: plan.Value{Nominal: 470, HalfWidth: 4.7, Share: 0.5}, BranchSpread: exactly(1),
			Series: []plan.LED{led, led, led}})
	}
	volts := []float64{12, 9, 7.5, 6}
	e := ensemble(t, with(plan.VoltsAtAmps{Volts: 1.88, Amps: 0.001}, plan.VoltsAtAmps{Volts: 2, Amps: 0.005},
		plan.VoltsAtAmps{Volts: 2.1, Amps: 0.020}), volts, scene.Scene{}, Options{})
	service := e.HealthyA[0] / 5
	var make1 []plan.VoltsAtAmps
	for _, i := range []float64{1e-5, 1e-4, 1e-3, 0.005, 0.020} {
		make1 = append(make1, plan.VoltsAtAmps{Volts: 2.06 + 2*0.0257*math.Log(i/service) + 28*(i-service), Amps: i})
	}
	truth := ensemble(t, with(make1...), volts, scene.Scene{}, Options{})
	d := decision(t, e, at(e, truth.HealthyA...), look.Look{})
	if d.Verdict == rule.FailLow || d.Verdict == rule.FailHigh || d.Chi > d.ChiLimit || d.Healthy < 0.5 {
		t.Errorf("%.4g A where %.4g are expected, to %.2g: %s, chi %.2f of %.2f, healthy %.2g", truth.HealthyA,
			e.HealthyA, e.HealthyU, d.Verdict, d.Chi, d.ChiLimit, d.Healthy)
	}
}

// A strip behind a diode, whose LEDs have an ideality of 4 and 11 ohm in series: at 8 V, where
// the plan's curve has next to nothing, it draws 29 mA. Both readings are those of the simulated
// bench under its other law. What the diode's node gives way by at some microamperes holds none
// of it back.
func TestAnotherCurveBehindADiodeIsNoFault(t *testing.T) {
	p, problems := plan.Parse("plan.toml", []byte(`
build = "Cutter"
[jack.main]
volts = 12.0
[closure.hull]
[joint.keel]
from = "main"
closure = "hull"
wire = { awg = 24, length_mm = 100 }
holds = [ { diode = "schottky", amps = 1.0, drop_volts = 0.31, tolerance = 0.08 } ]
[[group]]
name = "saloon"
closure = "hull"
joint = "keel"
wire = { mm = 0.1, enamelled = true, length_mm = 270 }
lights = [ { part = "strip 5050 blue 12 V", segments = 4 } ]
`))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	e := ensemble(t, p, []float64{12, 8}, scene.Scene{}, Options{})
	for _, amps := range [][]float64{{0.2158, 0.0293}, {0.180, 0.0293}, {0.162, 0.015}} {
		rs := at(e, amps...)
		d := decision(t, e, rs, look.Look{})
		if d.Verdict == rule.FailLow || d.Verdict == rule.FailHigh || d.Healthy < 0.1 {
			t.Errorf("%.1f mA at 12 V, %.1f mA at 8 V: %s, healthy %.2g, expected %.1f ±%.1f and %.2f ±%.2f",
				1e3*amps[0], 1e3*amps[1], d.Verdict, d.Healthy, 1e3*e.HealthyA[0], 1e3*e.HealthyU[0],
				1e3*e.HealthyA[1], 1e3*e.HealthyU[1])
		}
	}
}
