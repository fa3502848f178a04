package circuit

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}

func solved(t *testing.T, n *Net, src Source) *Point {
	t.Helper()
	p := n.NewPoint()
	if err := NewSolver(n).Solve(src, p); err != nil {
		t.Fatal(err)
	}
	return p
}

func TestFitGoesThroughItsPoints(t *testing.T) {
	d := Diode{SaturationA: 3e-19, SlopeV: 2.7 * ThermalVolts(25), SeriesOhm: 7}
	var pts []Sample
	for _, i := range []float64{0.001, 0.005, 0.01, 0.02, 0.03} {
		pts = append(pts, Sample{d.VoltsAt(i), i})
	}
	f, err := FitDiode(pts)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "slope", f.Diode.SlopeV/d.SlopeV, 1, 1e-9)
	near(t, "series", f.Diode.SeriesOhm, 7, 1e-6)
	near(t, "between", f.Diode.VoltsAt(0.015), d.VoltsAt(0.015), 1e-9)
	if f.Assumed != "" {
		t.Errorf("five points need no assumption: %s", f.Assumed)
	}
	for k := 1; k <= 2; k++ {
		f, err := FitDiode(pts[:k])
		if err != nil || f.Assumed == "" || f.RMSV > 1e-9 {
			t.Errorf("%d points: %+v, %v", k, f, err)
		}
	}
	near(t, "warmer", d.AtTemperature(-0.002, 10).VoltsAt(0.02), d.VoltsAt(0.02)-0.02, 1e-12)
}

// Points that no diode fits exactly are fitted within the bounds, and worse
// parameters near by are worse.
func TestFitIsTheLeastSquares(t *testing.T) {
	pts := []Sample{{2.60, 0.001}, {2.75, 0.005}, {2.90, 0.010}, {3.00, 0.020}, {3.40, 0.030}}
	f, err := FitDiode(pts)
	if err != nil {
		t.Fatal(err)
	}
	for _, dm := range []float64{0.99, 1, 1.01} {
		for _, dr := range []float64{0.99, 1, 1.01} {
			o := throughMean(pts, f.Diode.SlopeV*dm, f.Diode.SeriesOhm*dr)
			s := 0.0
			for _, p := range pts {
				s += math.Pow(o.VoltsAt(p.Amps)-p.Volts, 2)
			}
			if math.Sqrt(s/5) < f.RMSV-1e-12 && o.SlopeV >= ThermalVolts(25) {
				t.Errorf("slope x %g, ohms x %g fits better", dm, dr)
			}
		}
	}
	for _, bad := range [][]Sample{nil, {{0, 0.01}}, {{3, 0.01}, {2, 0.02}}, {{3, math.NaN()}}} {
		if _, err := FitDiode(bad); err == nil {
			t.Errorf("%v was fitted", bad)
		}
	}
}

func TestBadCircuitsSayWhere(t *testing.T) {
	led := LED{Diode: Diode{SaturationA: 1e-19, SlopeV: 0.07}}
	inf := math.Inf(1)
	for _, c := range []struct {
		name  string
		build func(n *Net)
		src   Source
		want  Problem
		at    Ref
	}{
		{"resistor of 0 ohm across the supply", func(n *Net) { n.AddShunt(n.AddResistor(0, 0), 0, 0) },
			Source{EmfV: 12}, ShortLoop, Ref{RefShunt, 0}},
		{"LED without any resistance", func(n *Net) {
			n.AddBranch(0, 0, Branch{Ohms: 330, LEDs: []LED{led}})
			n.AddBranch(0, 0, Branch{LEDs: []LED{led}})
		}, Source{EmfV: 12}, ShortLoop, Ref{RefBranch, 1}},
		{"draw without a way back", func(n *Net) { n.AddDraw(0, n.AddReturn(0, inf), 0.01, 0) },
			Source{EmfV: 12, Ohms: 1}, NoReturn, Ref{RefDraw, 0}},
		{"draws above the limit", func(n *Net) { n.AddDraw(0, 0, 0.6, 0); n.AddDraw(0, 0, 0.6, 0) },
			Source{EmfV: 12, LimitA: 1}, Collapsed, Ref{RefSource, 0}},
		{"negative resistor", func(n *Net) { n.AddResistor(0, -1) }, Source{EmfV: 12}, BadInput, Ref{RefNode, 1}},
		{"return that isn't there", func(n *Net) { n.AddBranch(0, 7, Branch{Ohms: 1}) }, Source{EmfV: 12}, BadInput,
			Ref{RefBranch, 0}},
		{"source of NaN", func(n *Net) {}, Source{EmfV: math.NaN()}, BadInput, Ref{RefSource, 0}},
	} {
		n := New()
		c.build(n)
		p := n.NewPoint()
		err := NewSolver(n).Solve(c.src, p)
		var e *Error
		if !errors.As(err, &e) || e.Problem != c.want || e.At != c.at || strings.Contains(err.Error(), "NaN ohm") {
			t.Errorf("%s: %#v", c.name, err)
		}
	}
}

func TestOpenReturnCarriesNothing(t *testing.T) {
	n := New()
	g := n.AddReturn(0, 1)
	n.AddBranch(0, g, Branch{Ohms: 330, LEDs: []LED{whiteLED(), whiteLED()}})
	n.AddDraw(0, g, 0.004, 5)
	n.AddBranch(0, 0, Branch{Ohms: 1000})
	s, p := NewSolver(n), n.NewPoint()
	if err := s.Solve(Source{EmfV: 12}, p); err != nil {
		t.Fatal(err)
	}
	before := p.SourceA
	n.SetReturnOhms(g, math.Inf(1))
	if err := s.Solve(Source{EmfV: 12}, p); err != nil {
		t.Fatal(err)
	}
	near(t, "only the other one", p.SourceA, 0.012, 1e-9)
	n.SetReturnOhms(g, 47e3) // kilohms: what little flows obeys Ohm
	if err := s.Solve(Source{EmfV: 12}, p); err != nil {
		t.Fatal(err)
	}
	near(t, "through 47 kilohm", p.ReturnA[g]*47e3, p.GroundV[g], 1e-6)
	n.SetReturnOhms(g, 1)
	if err := s.Solve(Source{EmfV: 12}, p); err != nil {
		t.Fatal(err)
	}
	near(t, "closed again", p.SourceA, before, 1e-9)
}

func TestLEDStates(t *testing.T) {
	n := New()
	id := n.AddBranch(0, 0, Branch{Ohms: 470, LEDs: []LED{whiteLED(), {Diode: whiteLED().Diode, Reverse: Silicon()}}})
	src := Source{EmfV: 12}
	d := whiteLED().Diode
	check := func(what string, i float64, leds float64) {
		t.Helper()
		p := solved(t, n, src)
		near(t, what, p.BranchA[id], i, 1e-9+1e-7*i)
		near(t, what+": voltage", 470*p.BranchA[id]+leds, 12, 1e-6)
	}
	p := solved(t, n, src)
	check("ok", p.SourceA, 2*d.VoltsAt(p.SourceA))
	n.SetLEDState(id, 1, Reversed)
	p = solved(t, n, src)
	check("reversed, protected", p.SourceA, d.VoltsAt(p.SourceA)+Silicon().VoltsAt(p.SourceA))
	n.SetLEDState(id, 1, Shorted)
	p = solved(t, n, src)
	check("shorted", p.SourceA, d.VoltsAt(p.SourceA))
	n.SetLEDState(id, 0, Reversed)
	near(t, "reversed blocks", solved(t, n, src).SourceA, 0, 1e-15)
	n.SetLEDLeak(id, 0, 1500)
	near(t, "reversed and leaky", solved(t, n, src).SourceA, 12/1970.0, 1e-12)
	n.SetLEDState(id, 0, OK)
	p = solved(t, n, src)
	v := n.LEDVolts(p, id, 0)
	near(t, "leaky: diode and leak add up", d.VoltsAt(p.SourceA-v/1500), v, 1e-9)
	n.SetLEDState(id, 0, Open)
	near(t, "open", solved(t, n, src).SourceA, 0, 0)
}

func TestConverterOutOfRegulationSaysSo(t *testing.T) {
	n := New()
	c := n.AddConverter(0, 0, Converter{OutV: 5, Efficiency: 0.9, IdleA: 0.001, MinInV: 6})
	n.AddShunt(c, 0, 100)
	p := solved(t, n, Source{EmfV: 9})
	near(t, "power", (p.SourceA-0.001)*9*0.9, 0.25, 1e-9)
	if p.OutOfRegulation[c] {
		t.Error("9 V is enough")
	}
	p = solved(t, n, Source{EmfV: 3})
	near(t, "half the voltage", p.NodeV[c], 2.5, 1e-9)
	if !p.OutOfRegulation[c] {
		t.Error("3 V is not enough")
	}
}

func TestSolveAllocatesNothing(t *testing.T) {
	n := model(12)
	s, p := NewSolver(n), n.NewPoint()
	d := deviate(n, 2)
	k := 0
	if a := testing.AllocsPerRun(50, func() {
		d.set(n, k&1)
		n.SetBranchOpen(BranchID(k%100), k&1 == 0)
		k++
		if err := s.Solve(Source{EmfV: 12}, p); err != nil {
			t.Fatal(err)
		}
	}); a != 0 {
		t.Errorf("%v allocations per solve", a)
	}
}
