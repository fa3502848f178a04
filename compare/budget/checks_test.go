package budget

import (
	"math"
	"strings"
	"testing"

	"sealworthy/compare/plan"
)

// tidy is a plan that works: nothing in it is wrong or risky.
func tidy() *plan.Plan {
	p := bench()
	p.Joints[0].Wire.WorkAmps, p.Joints[0].Wire.FuseAmps = 0.5, 8
	p.Joints[0].Holds[0].RatedAmps = 0.16
	hang(p, "cabin", own(4, 3, led("white", 2.9, 0.1, 0.5), 330, 0.01, 0.5))
	hang(p, "anchor", own(4, 1, led("red", 1.9, 0.1, 0.5), 1200, 0.01, 0.5))
	p = beacon(p, plan.Alternate)
	p.Boards[0].Paces[1].PeriodS = 0.8
	return p
}

func checksOf(t *testing.T, p *plan.Plan) []Check {
	t.Helper()
	return of(t, p, At{Trials: 50}).Checks
}

func find(cs []Check, kind string) (Check, bool) {
	for _, c := range cs {
		if c.Kind == kind {
			return c, true
		}
	}
	return Check{}, false
}

func TestTidyPlanIsQuiet(t *testing.T) {
	for _, c := range checksOf(t, tidy()) {
		if c.Severity == Wrong || c.Severity == Risky {
			t.Errorf("%s: %s", c.Severity, c.Text)
		}
	}
}

// One thing spoiled at a time; what is said of it, where, and what to do.
func TestChecks(t *testing.T) {
	for _, c := range []struct {
		name     string
		spoil    func(p *plan.Plan)
		kind     string
		severity Severity
		says     []string
	}{
		{"adapter too small", func(p *plan.Plan) { p.Jacks[0].AdapterAmps = 0.05 }, KindAdapter, Wrong,
			[]string{"50 mA", "too much"}},
		{"adapter over 80 %", func(p *plan.Plan) { p.Jacks[0].AdapterAmps = 0.13 }, KindAdapter, Risky,
			[]string{"80 %"}},
		{"rating not stated", func(p *plan.Plan) { p.Jacks[0].AdapterAmps = 0 }, KindAdapter, Advice,
			[]string{"at least 200 mA"}},
		{"coin cell", func(p *plan.Plan) { p.Jacks[0].Source, p.Jacks[0].AdapterAmps = "coin", 0 }, KindSource,
			Caution, []string{"child"}},
		{"lithium pack", func(p *plan.Plan) { p.Jacks[0].Source = "battery" }, KindSource, Caution,
			[]string{"lithium", "charge it outside"}},
		{"mains adapter", func(p *plan.Plan) {}, KindSource, Caution, []string{"regulated", "local codes"}},
		{"no fuse", func(p *plan.Plan) { p.Joints[0].Holds = nil }, KindFuse, Caution, []string{"no fuse", "160 mA"}},
		{"a group on the jack itself", func(p *plan.Plan) { p.Groups[0].Joint = "main" }, KindFuse, Caution,
			[]string{"no fuse", `and "cabin"`, "before all else"}},
		{"fuse blows", func(p *plan.Plan) { p.Joints[0].Holds[0].RatedAmps = 0.063 }, KindFuse, Wrong,
			[]string{"will blow", "use 160 mA"}},
		{"fuse tight", func(p *plan.Plan) { p.Joints[0].Holds[0].RatedAmps = 0.125 }, KindFuse, Risky,
			[]string{"use 160 mA"}},
		{"fuse too large", func(p *plan.Plan) { p.Joints[0].Holds[0].RatedAmps = 2 }, KindFuse, Risky,
			[]string{"would not blow in time"}},
		{"wire hot", func(p *plan.Plan) { p.Joints[0].Wire.WorkAmps = 0.05 }, KindWire, Risky,
			[]string{"in glued plastic"}},
		{"wire melts", func(p *plan.Plan) { p.Joints[0].Wire.FuseAmps = 0.08 }, KindWire, Wrong, []string{"melts"}},
		{"board starved", func(p *plan.Plan) { p.Boards[0].LowVolts = 11.6 }, KindBoard, Wrong,
			[]string{"lowest", "needs 11.6 V"}},
		{"board over its rating", func(p *plan.Plan) { p.Boards[0].HighVolts = 12 }, KindBoard, Wrong,
			[]string{"rated to 12 V"}},
		{"LED over its rating", func(p *plan.Plan) { p.Groups[1].Lights[0].Ohms.Nominal = 390 }, KindLED, Wrong,
			[]string{"rated 20 mA", "instead of 390 ohm"}},
		{"resistor over its rating", func(p *plan.Plan) { p.Groups[1].Lights[0].OhmsWatts = 0.0625 }, KindResistor,
			Wrong, []string{"use one of 0.25 W"}},
		{"resistor over half of it", func(p *plan.Plan) { p.Groups[1].Lights[0].OhmsWatts = 0.125 }, KindResistor,
			Risky, []string{"more than half"}},
		{"no resistor", func(p *plan.Plan) { p.Groups[1].Lights[0].Ohms = plan.Value{} }, KindNoLimit, Wrong,
			[]string{"nothing limits", "1.2 kohm"}},
		{"part for 5 V", func(p *plan.Plan) { p.Groups[1].Lights[0].RatedVolts = 5 }, KindRating, Wrong,
			[]string{"made for 5 V", "12.6 V"}},
		{"part for 24 V", func(p *plan.Plan) { p.Groups[1].Lights[0].RatedVolts = 24 }, KindRating, Wrong,
			[]string{"made for 24 V", "dark"}},
		{"four white in series", func(p *plan.Plan) {
			p.Groups[0].Lights[0] = own(4, 5, led("white", 2.9, 0.1, 0), 100,
				0.05, 0)
		}, KindFarEnd, Wrong, []string{"stays dark"}},
		{"fast flashes", func(p *plan.Plan) { p.Boards[0].Paces[1].PeriodS = 0.05 }, KindFlash, Caution,
			[]string{"20 times", "worst band", "red"}},
		{"two lights on the one resistor of an output", func(p *plan.Plan) {
			p.Groups[2].Lights[0].Count, p.Groups[2].Lights[0].Ohms = 2, plan.Value{}
			p.Boards[0].Outputs[0].Ohms.Nominal = 470
		}, KindOutput, Risky, []string{"2 branches without a resistor", "stays lit", "1.2 kohm in series with each"}},
		{"LED and resistor over their ratings", func(p *plan.Plan) {
			p.Groups[1].Lights[0].Ohms.Nominal, p.Groups[1].Lights[0].OhmsWatts = 100, 0.25
		}, KindResistor, Wrong, []string{"the one of 680 ohm wants 0.5 W"}},
		{"heat", func(p *plan.Plan) { p.Groups[0].Lights[0].Count = 12 }, KindHeat, Caution,
			[]string{`heat inside "hull"`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := tidy()
			c.spoil(p)
			b, err := Of(p, At{Trials: 20}, 1)
			if err != nil {
				t.Fatal(err)
			}
			var said []string
			for _, k := range b.Checks {
				said = append(said, string(k.Severity)+" "+k.Kind+": "+k.Text)
				if k.Kind != c.kind || k.Severity != c.severity {
					continue
				}
				all := true
				for _, s := range c.says {
					all = all && strings.Contains(k.Text, s)
				}
				if all {
					return
				}
			}
			t.Errorf("want %s %s saying %q, got:\n%s", c.severity, c.kind, c.says, strings.Join(said, "\n"))
		})
	}
}

// An output that is loaded too far: in these words, with the next preferred
// value that leaves a margin.
func TestOverloadedOutput(t *testing.T) {
	p := tidy()
	p.Groups[2].Lights[0] = own(3, 1, led("red", 1.9, 0.1, 0.5), 20, 0.05, 0.5)
	p.Boards[0].Outputs[0].Ohms.Nominal = 70
	c, ok := find(checksOf(t, p), KindOutput)
	if !ok || c.Severity != Wrong || c.Board != "beacon" || c.Output != 1 {
		t.Fatalf("got %+v", c)
	}
	if !strings.HasPrefix(c.Text, `"beacon": output 1 is loaded with 3`) ||
		!strings.Contains(c.Text, "it can give 25 mA: it will stay lit; ") ||
		!strings.Contains(c.Text, " ohm in series brings it to ") {
		t.Errorf("said: %s", c.Text)
	}
	t.Log(c.Text)
	// Put it in: the check falls silent, and one preferred value less would not do.
	p.Boards[0].Outputs[0].Ohms.Nominal += c.Instead
	if again, ok := find(checksOf(t, p), KindOutput); ok {
		t.Errorf("with %g ohm in series still: %s", c.Instead, again.Text)
	}
	for _, less := range e12 {
		if x := less * math.Pow10(int(math.Floor(math.Log10(c.Instead)))); x < c.Instead*0.99 {
			p.Boards[0].Outputs[0].Ohms.Nominal = 70 + x
			s := newState(p)
			k := &checker{p: p, low: newState(p), mid: s, high: newState(p)}
			w, err := newSide(p, 0, At{}.filled())
			if err != nil {
				t.Fatal(err)
			}
			if err := k.operate(w.w, 0); err != nil {
				t.Fatal(err)
			}
			if a := k.high.boards[0].outputs[0]; a <= outputMargin*0.025 {
				t.Errorf("%g ohm would have done: %g A", x, a)
			}
		}
	}
}

// What goes dark when a joint opens, and the currents of the feed tree add up.
func TestTree(t *testing.T) {
	p := tidy()
	p.Joints = append(p.Joints, plan.Joint{Name: "mast", From: "keel", Wire: wireOf(0.2)})
	p.Groups[1].Joint = "mast"
	b := of(t, p, At{Trials: 20})
	by := map[string]Joint{}
	for _, j := range b.Joints {
		by[j.Name] = j
	}
	if got := by["mast"].Dark; len(got) != 1 || got[0] != "anchor" {
		t.Errorf("mast opens: %v go dark", got)
	}
	if got := by["keel"].Dark; len(got) != 4 {
		t.Errorf("keel opens: %v go dark", got)
	}
	near(t, "mast carries its group", by["mast"].Amps, by["anchor"].Amps, 1e-9)
	near(t, "keel carries all", by["keel"].Amps, by["cabin"].Amps+by["mast"].Amps+by["beacon"].Amps, 1e-9)
	near(t, "jack", by["main"].Amps, by["keel"].Amps, 1e-9)
	near(t, "drop on the way to mast", by["mast"].Drop, 0.4*(1+5*0.00393)*by["mast"].Amps, 1e-9)
	near(t, "volts there", by["mast"].Volts, by["keel"].Volts-by["mast"].Drop, 1e-9)
}

// The series resistor by the diode law: 12 V, one red LED, 8.37 mA with 1.2 kohm.
func TestResistorFor(t *testing.T) {
	d := []plan.LED{led("red", 1.9, 0, 0)}
	r, err := ResistorFor(d, 12, 0.009, E12)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "ohm", r.Ohms, 1200, 0)
	near(t, "A", r.Amps, 0.00837, 0.00001)
	near(t, "W", r.Watts, r.Amps*r.Amps*1200, 1e-9)
	if r.ExactOhms > r.Ohms || r.Amps > 0.009 {
		t.Errorf("%+v gives more than wanted", r)
	}
	if _, err := ResistorFor([]plan.LED{d[0], d[0], d[0], d[0], d[0], d[0], d[0]}, 12, 0.009, E12); err == nil ||
		!strings.Contains(err.Error(), "use fewer") {
		t.Errorf("seven red LEDs on 12 V: %v", err)
	}
	if _, err := ResistorFor(d, 12, math.NaN(), E12); err == nil {
		t.Error("no current was wanted")
	}
}

// A linear converter turns the rest into heat.
func TestConverterHeat(t *testing.T) {
	p := tidy()
	p.Joints[0].Holds = append(p.Joints[0].Holds,
		plan.Hold{Kind: plan.HoldConverter, Linear: true, OutVolts: plan.Value{Nominal: 5},
			MinInVolts: 12, MaxOutAmps: 1})
	p.Groups = p.Groups[1:2]
	p.Boards = nil
	p.Groups[0].Lights[0] = lamp(40, 0, 0)
	var heat, starved bool
	for _, c := range checksOf(t, p) {
		heat = heat || c.Kind == KindHeat && c.Joint == "keel" && math.Abs(c.Value-0.125*7.6) < 0.03
		starved = starved || c.Kind == KindHold && c.Severity == Wrong && strings.Contains(c.Text, "needs 12 V")
	}
	if !heat || !starved {
		t.Errorf("heat %v, starved %v: %+v", heat, starved, checksOf(t, p))
	}
}

// Without a way back there is no operating point: an error by group and line.
func TestNoWayBack(t *testing.T) {
	p := tidy()
	p.Jacks = append(p.Jacks, plan.Jack{Name: "aft", Volts: 12})
	p.Returns = append(p.Returns, plan.Return{Name: "mast", To: "aft", Wire: wireOf(0.1)})
	p.Groups[0].Return = "mast"
	_, err := Of(p, At{}, 1)
	if err == nil || !strings.Contains(err.Error(), "cabin") || !strings.Contains(err.Error(), "line 10") ||
		!strings.Contains(err.Error(), "way back") {
		t.Errorf("got %v", err)
	}
}

// Volts through wire, diode and fuse, worked out by hand: 12 V, 0.1 ohm of wire
// (both ways), a diode of 0.7 V at 20 mA, a fuse of 2 ohm, 20 mA.
func TestVoltsThroughTheFeed(t *testing.T) {
	p := bench()
	p.Joints[0].Wire.Ohms = plan.Value{Nominal: 0.05}
	p.Joints[0].Holds = []plan.Hold{{Kind: plan.HoldDiode, Text: "silicon diode", DropVolts: plan.Value{Nominal: 0.7}},
		{Kind: plan.HoldFuse, Text: "resettable fuse", Ohms: plan.Value{Nominal: 2}, RatedAmps: 0.04}}
	hang(p, "lamp", lamp(11.26/0.020-0.2*1.01965, 0, 0))
	p.Groups[0].Wire.Ohms = plan.Value{Nominal: 0.1}
	p.Returns = append(p.Returns, plan.Return{Name: "mast", To: "main", Wire: wireOf(0)})
	b := of(t, p, At{Trials: 10})
	keel, lampNode := b.Joints[1], b.Joints[2]
	near(t, "current", keel.Amps, 0.020, 2e-5)
	near(t, "volts behind diode and fuse", keel.Volts, 12-0.002-0.7-0.04, 0.002)
	near(t, "drop", keel.Drop, 0.742, 0.002)
	near(t, "drop on the group's wire", lampNode.Drop, 0.020*0.2*1.01965, 1e-5)
	near(t, "far end", b.Groups[0].FarVolts, lampNode.Volts, 1e-9)
	if len(keel.Holds) != 2 || keel.Holds[0] != "silicon diode" {
		t.Errorf("holds: %v", keel.Holds)
	}
	// Behind a return of its own the same lamp lies on the mast.
	p.Returns[0].Wire.Ohms = plan.Value{Nominal: 10}
	p.Groups[0].Return = "mast"
	b = of(t, p, At{Trials: 10})
	mast := b.Joints[3]
	near(t, "mast carries the lamp", mast.Amps, b.Joints[2].Amps, 1e-9)
	near(t, "mast stands above the minus", mast.Volts, 10*1.01965*mast.Amps, 1e-4)
	if len(mast.Dark) != 1 || mast.Dark[0] != "lamp" {
		t.Errorf("mast opens: %v go dark", mast.Dark)
	}
}

// Behind the resistor of an output the volts at the LED say nothing of what a
// resistor more would do: 3.9 ohm changes nothing in series with 300 ohm.
func TestResistorBehindAnOutput(t *testing.T) {
	p := tidy()
	l := &p.Groups[2].Lights[0]
	l.Count, l.Ohms, l.Series[0].MaxAmps = 1, plan.Value{}, 0.005
	p.Boards[0].Outputs[0].Ohms.Nominal, p.Boards[0].Outputs[0].MaxAmps = 300, 0.1
	c, ok := find(checksOf(t, p), KindLED)
	if !ok || c.Group != p.Groups[2].Name || !strings.Contains(c.Text, "in series brings it to") || c.Instead < 200 {
		t.Fatalf("got %+v", c)
	}
	l.Ohms.Nominal = c.Instead
	if again, ok := find(checksOf(t, p), KindLED); ok {
		t.Errorf("with %g ohm in series still: %s", c.Instead, again.Text)
	}
}
