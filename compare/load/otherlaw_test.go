package load_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
)

// oneLight is a plan of one light on a wire of next to no resistance.
func oneLight(t *testing.T, volts float64, light string) *plan.Plan {
	return parse(t, fmt.Sprintf(`build = "One"
[jack.main]
volts = %g
[closure.hull]
[[group]]
name = "bow"
closure = "hull"
joint = "main"
wire = { mm2 = 1, length_mm = 10 }
lights = [ %s ]
`, volts, light))
}

// drawn is the draw of "bow" at a voltage and time.
func drawn(t *testing.T, p *plan.Plan, law load.Law, seed uint64, volts float64, since time.Duration,
	fs ...fault.Fault) float64 {
	t.Helper()
	l, err := load.New(p, fs, seed, load.Options{Law: law})
	if err != nil {
		t.Fatal(err)
	}
	s := on(l, "bow", since)
	s.Volts = volts
	a := l.Current(s)
	if l.Err() != nil {
		t.Fatal(l.Err())
	}
	return a
}

const forGood = time.Hour

// At service voltage a part of the other law draws what the plan says: the same
// pieces under either law differ by little against the tolerance.
func TestTheOtherLawKeepsTheServiceDraw(t *testing.T) {
	for _, x := range plan.BuiltIn().Parts() {
		var light string
		switch {
		case x.Kind == plan.PartStrip:
			light = fmt.Sprintf("{ part = %q, segments = 1 }", x.Name)
		case x.Kind == plan.PartSMD:
			light = fmt.Sprintf("{ part = %q, count = 1 }", x.Name)
		default:
			continue
		}
		p := oneLight(t, x.RatedVolts, light)
		for seed := range uint64(10) {
			by, other := drawn(t, p, load.PlanLaw, seed, x.RatedVolts, 0),
				drawn(t, p, load.OtherLaw, seed, x.RatedVolts, 0)
			// sqrt(share) + sqrt(1-share) of the tolerance is the most that two
			// rectangular deviations make of it.
			most := x.Tolerance * (math.Sqrt(x.Share) + math.Sqrt(1-x.Share))
			if math.Abs(other/x.Amps-1) > most+0.002 {
				t.Errorf("%s, seed %d: %.2f mA, planned %.2f ± %.0f %%", x.Name, seed, other*1e3, x.Amps*1e3,
					100*x.Tolerance)
			}
			if math.Abs(other/by-1) > 0.02 {
				t.Errorf("%s, seed %d: %.3f mA, the same piece by the plan's law %.3f", x.Name, seed, other*1e3,
					by*1e3)
			}
			warm := drawn(t, p, load.OtherLaw, seed, x.RatedVolts, forGood)/other - 1
			least, most := 0.001, 0.035
			if x.HoldVolts > 0 {
				least, most = -0.025, 0.01 // a regulator's own coefficient, either way
			}
			if !(warm > least && warm < most) {
				t.Errorf("%s, seed %d: warms up by %.2f %%", x.Name, seed, 100*warm)
			}
		}
	}
}

// Bare LEDs, at two currents in one plan, keep to the spread of their part.
func TestTheOtherLawKeepsTheSpreadOfALED(t *testing.T) {
	p := parse(t, `build = "Two"
[jack.main]
volts = 12
[part."reel"]
like = "warm white 3 mm"
spread_volts = 0.05
[closure.hull]
[[group]]
name = "bow"
closure = "hull"
joint = "main"
wire = { mm2 = 1, length_mm = 10 }
lights = [ { part = "reel", in_series = 3, ohms = 3300, ohms_tolerance = 0.01 } ]
[[group]]
name = "stern"
closure = "hull"
joint = "main"
wire = { mm2 = 1, length_mm = 10 }
lights = [ { part = "reel", in_series = 3, ohms = 330, ohms_tolerance = 0.01 } ]
`)
	for seed := range uint64(40) {
		a, err := load.New(p, nil, seed, load.Options{})
		if err != nil {
			t.Fatal(err)
		}
		b, err := load.New(p, nil, seed, load.Options{Law: load.OtherLaw})
		if err != nil {
			t.Fatal(err)
		}
		for name, ohms := range map[string]float64{"bow": 3300, "stern": 330} {
			off := (b.Current(on(b, name, 0)) - a.Current(on(a, name, 0))) * ohms / 3 // V of one LED, nearly
			if math.Abs(off) > 0.05 {
				t.Errorf("seed %d, %s: %.3f V off the plan's law, ± 0.05 stated", seed, name, off)
			}
		}
	}
}

// simulator is one row of the models published for circuit simulators.
type simulator struct {
	name          string
	slopeV, ohms  float64
	ideality      float64
	fallV, printV float64 // from 5 mA to 0.05 mA: computed here, and as printed
}

func simulators(t *testing.T) []simulator {
	t.Helper()
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
	var out []simulator
	for _, row := range rows[1:] {
		var x [7]float64
		for i := range x {
			if x[i], err = strconv.ParseFloat(row[i+2], 64); err != nil {
				t.Fatal(err)
			}
		}
		m := simulator{name: row[0], ohms: x[1], ideality: x[2], slopeV: x[2] * 0.025693, printV: x[4] - x[6]}
		m.fallV = m.slopeV*math.Log((5e-3/x[0]+1)/(5e-5/x[0]+1)) + m.ohms*4.95e-3
		if math.Abs(m.fallV-m.printV) > 0.002 {
			t.Errorf("%s: falls by %.3f V, printed %.3f", m.name, m.fallV, m.printV)
		}
		out = append(out, m)
	}
	if len(out) == 0 {
		t.Fatal("no models")
	}
	return out
}

// At half the voltage a strip draws what its make's law says, and makes differ by
// as much as the models published for circuit simulators, every one of which lies
// within what this bench draws; the plan's own law holds those next to it alone.
func TestAtHalfTheVoltageMakesDifferAsPublishedModelsDo(t *testing.T) {
	p := oneLight(t, 12, `{ part = "strip warm white 12 V", segments = 1, tolerance = 0.001 }`)
	amps := p.Groups[0].Lights[0].Series[0].Points[0].Amps
	volts := p.Groups[0].Lights[0].Series[0].Points[0].Volts
	span := func(law load.Law) (low, high float64) {
		low, high = math.Inf(1), 0
		for seed := range uint64(400) {
			x := drawn(t, p, law, seed, 6, 0)
			low, high = math.Min(low, x), math.Max(high, x)
		}
		return low, high
	}
	ownLow, ownHigh := span(load.PlanLaw)
	low, high := span(load.OtherLaw)
	t.Logf("a segment of %.0f mA at 12 V draws at 6 V: plan's law %.2g to %.2g mA, other law %.2g to %.2g mA",
		amps*1e3,
		ownLow*1e3, ownHigh*1e3, low*1e3, high*1e3)
	for _, m := range simulators(t) {
		// Three of the model, moved so that they drop what the plan says at 16 mA,
		// by bisection in the current.
		saturation := amps / math.Expm1((volts-m.ohms*amps)/m.slopeV)
		a, b := 0.0, amps
		for range 200 {
			i := (a + b) / 2
			if 3*(m.slopeV*math.Log1p(i/saturation)+m.ohms*i)+i*(12-3*volts)/amps > 6 {
				b = i
			} else {
				a = i
			}
		}
		t.Logf("%-18s n %.2f, %5.2f ohm: %.2g mA", m.name, m.ideality, m.ohms, a*1e3)
		if a < low || a > high {
			t.Errorf("%s: %.3g mA, outside of the other law's %.3g to %.3g", m.name, a*1e3, low*1e3, high*1e3)
		}
		if m.ideality > 2.5 && a < ownHigh {
			t.Errorf("%s lies within the plan's own law: then the other one tells nothing new", m.name)
		}
	}
}

// Faults do under the other law what they do in the trade.
func TestFaultsUnderTheOtherLaw(t *testing.T) {
	p := oneLight(t, 12, `{ part = "strip warm white 12 V", segments = 4 }`)
	for seed := range uint64(10) {
		at := func(fs ...fault.Fault) float64 { return drawn(t, p, load.OtherLaw, seed, 12, 0, fs...) }
		healthy := at()
		for kind, want := range map[fault.Kind][2]float64{
			fault.DarkSegment: {0.7, 0.8}, fault.GroupReversed: {-0.001, 0.001},
		} {
			if x := at(fault.Fault{Kind: kind, Group: "bow"}) / healthy; x < want[0] || x > want[1] {
				t.Errorf("seed %d, %s: %.3f of the healthy draw, want %.3f to %.3f", seed, kind, x, want[0], want[1])
			}
		}
		for _, f := range fault.Possible(p, p.Groups[0]) {
			if _, err := load.New(p, []fault.Fault{f}, seed, load.Options{Law: load.OtherLaw}); err != nil {
				t.Errorf("seed %d, %+v: %v", seed, f, err)
			}
			x := at(f)
			if math.IsNaN(x) || x < 0 {
				t.Errorf("seed %d, %+v: draws %g", seed, f, x)
			}
		}
	}
}

// Nothing flows at 0 V, and the draw rises with the voltage.
func TestTheOtherLawRises(t *testing.T) {
	p := oneLight(t, 12, `{ part = "warm white 3 mm", in_series = 3, ohms = 330 }`)
	for seed := range uint64(20) {
		last := 0.0
		for v := 0.1; v <= 12; v += 0.1 {
			x := drawn(t, p, load.OtherLaw, seed, v, 0)
			if x < last {
				t.Fatalf("seed %d: %.3g A at %.1f V, %.3g A before", seed, x, v, last)
			}
			last = x
		}
	}
}
