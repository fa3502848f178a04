package circuit

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

func drawNet(t *rapid.T, converters bool) *Net {
	n := randomNet(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3)), converters)
	if rapid.Bool().Draw(t, "real outputs") { // as boards of a plan have them
		for k := range n.el {
			n.el[k].out.Reflect, n.el[k].out.AtMostSupply = 1, true
		}
	}
	return n
}

func mustSolve(t *rapid.T, s *Solver, src Source, p *Point) {
	if err := s.Solve(src, p); err != nil {
		t.Fatalf("%+v: %v", src, err)
	}
}

func TestMoreVoltageNeverMeansLessCurrent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := drawNet(t, false)
		s, p := NewSolver(n), n.NewPoint()
		limit := rapid.SampledFrom([]float64{0, 0.5}).Draw(t, "limit")
		last := math.Inf(-1)
		for v := 2.0; v <= 15; v += rapid.Float64Range(0.1, 2).Draw(t, "step") {
			mustSolve(t, s, Source{EmfV: v, Ohms: 0.1, LimitA: limit}, p)
			if p.SourceA < last-1e-9-1e-7*math.Abs(last) {
				t.Fatalf("%.12g A at %g V after %.12g A", p.SourceA, v, last)
			}
			last = p.SourceA
		}
	})
}

func TestOpeningABranchNeverRaisesTheDraw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := drawNet(t, false)
		if n.Branches() == 0 {
			return
		}
		for k := range n.el { // an output of fixed voltage is a source of its own
			n.el[k].out.FollowsSupply = true
		}
		s, p := NewSolver(n), n.NewPoint()
		src := Source{EmfV: rapid.Float64Range(3, 15).Draw(t, "volts"), Ohms: 0.1}
		mustSolve(t, s, src, p)
		before := p.SourceA
		n.SetBranchOpen(BranchID(rapid.IntRange(0, n.Branches()-1).Draw(t, "branch")), true)
		mustSolve(t, s, src, p)
		if p.SourceA > before+1e-9+1e-7*math.Abs(before) {
			t.Fatalf("%.12g A rose to %.12g A", before, p.SourceA)
		}
	})
}

// Kirchhoff's current law at every node and return, the device laws of every
// element, and the sum at the source, converters included.
func TestCurrentsBalanceEverywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := drawNet(t, true)
		s, p := NewSolver(n), n.NewPoint()
		src := Source{EmfV: rapid.Float64Range(0, 15).Draw(t, "volts"), Ohms: 0.2,
			LimitA: rapid.SampledFrom([]float64{0, 2}).Draw(t, "limit")}
		mustSolve(t, s, src, p)
		balance(t, n, src, p)
	})
}

func balance(t *rapid.T, n *Net, src Source, p *Point) {
	left := append([]float64(nil), p.ElementA...)
	back := make([]float64, len(n.gnd))
	for k := len(n.el) - 1; k > 0; k-- {
		e := &n.el[k]
		left[e.parent] -= p.InputA[k]
		if e.kind == converterElement || e.kind == outputElement {
			back[e.ret] += p.InputA[k] - p.ElementA[k]
		}
		drop := p.NodeV[e.parent] - p.NodeV[k]
		switch e.kind {
		case resistorElement:
			if d := drop - n.ohms[k]*p.ElementA[k]; math.Abs(d) > 1e-9 {
				t.Fatalf("element %d is %g V off Ohm's law", k, d)
			}
		case diodeElement:
			if i := p.ElementA[k]; i > 1e-6 && math.Abs(e.diode.VoltsAt(i)-drop) > 1e-6 {
				t.Fatalf("diode %d drops %g V at %g A", k, drop, i)
			}
		case converterElement:
			in := p.NodeV[e.parent] - p.GroundV[e.ret]
			if got := p.NodeV[k] - p.GroundV[e.ret]; !p.OutOfRegulation[k] && math.Abs(got-e.conv.OutV) > 1e-9 {
				t.Fatalf("converter %d gives %g V", k, got)
			}
			if want := p.ElementA[k] * e.conv.OutV / e.conv.Efficiency; !p.OutOfRegulation[k] && !e.conv.Linear &&
				math.Abs((p.InputA[k]-e.conv.IdleA)*in-want) > 1e-7*(1+want) {
				t.Fatalf("converter %d takes %g W for %g W", k, (p.InputA[k]-e.conv.IdleA)*in, want)
			}
		}
	}
	take := func(at Node, ret Ground, i float64) {
		left[at] -= i
		back[ret] += i
	}
	for k, b := range n.branches {
		take(b.at, b.ret, p.BranchA[k])
		if i := p.BranchA[k]; i > 1e-9 {
			v, _ := n.mixedVolts(&n.branches[k], i)
			if !b.reg.IsZero() {
				// Held, the current tells nothing of the voltage across the regulator.
				if i >= 0.9999*b.factor*b.reg.Amps {
					continue
				}
				v += b.reg.VoltsAt(i / b.factor)
			}
			if math.Abs(v-n.BranchVolts(p, BranchID(k))) > 1e-6 {
				t.Fatalf("branch %d needs %g V and has %g V", k, v, n.BranchVolts(p, BranchID(k)))
			}
		}
	}
	for k, d := range n.draws {
		take(d.at, d.ret, p.DrawA[k])
	}
	for k, d := range n.shunts {
		take(d.at, d.ret, p.ShuntA[k])
	}
	for k, i := range left {
		if math.Abs(i) > 1e-8 {
			t.Fatalf("%g A lost at node %d", i, k)
		}
	}
	for g := len(n.gnd) - 1; g > 0; g-- {
		if math.Abs(back[g]-p.ReturnA[g]) > 1e-8 {
			t.Fatalf("return %d carries %g A for %g A", g, p.ReturnA[g], back[g])
		}
		if d := p.GroundV[g] - p.GroundV[n.gnd[g].parent] - n.gnd[g].ohms*back[g]; math.Abs(d) > 1e-7 {
			t.Fatalf("return %d is %g V off Ohm's law", g, d)
		}
		back[n.gnd[g].parent] += back[g]
	}
	if math.Abs(p.EmfV-src.Ohms*p.SourceA-p.NodeV[0]) > 1e-9 {
		t.Fatalf("source: %g V behind %g ohm gives %g V at %g A", p.EmfV, src.Ohms, p.NodeV[0], p.SourceA)
	}
	if src.LimitA > 0 && p.SourceA > src.LimitA*(1+1e-9) {
		t.Fatalf("%g A over a limit of %g A", p.SourceA, src.LimitA)
	}
}

// A warm start, a Home and a fresh solver find the same point, whatever was
// changed in between.
func TestStartDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := drawNet(t, true)
		s, p, q := NewSolver(n), n.NewPoint(), n.NewPoint()
		src := Source{EmfV: 12, Ohms: 0.1}
		mustSolve(t, s, src, p)
		if rapid.Bool().Draw(t, "home") {
			s.Home()
		}
		for range rapid.IntRange(1, 6).Draw(t, "changes") {
			change(t, n)
			src.EmfV = rapid.Float64Range(0, 15).Draw(t, "volts")
			src.LimitA = rapid.SampledFrom([]float64{0, 1.5}).Draw(t, "limit")
			mustSolve(t, s, src, p)
			mustSolve(t, NewSolver(n), src, q)
			for k := range p.NodeV {
				if math.Abs(p.NodeV[k]-q.NodeV[k]) > 1e-6 && !n.floats(p, Node(k)) {
					t.Fatalf("node %d: %.12g V warm, %.12g V fresh", k, p.NodeV[k], q.NodeV[k])
				}
			}
			for k := range p.BranchA {
				if math.Abs(p.BranchA[k]-q.BranchA[k]) > 1e-9+1e-6*math.Abs(q.BranchA[k]) {
					t.Fatalf("branch %d: %.12g A warm, %.12g A fresh", k, p.BranchA[k], q.BranchA[k])
				}
			}
		}
	})
}

// A leaky LED whose voltage lies below that of its kind has an operating point where
// nothing feeds it, too: its bounds were no number below 0 V.
func TestALeakyLEDThatNothingFeeds(t *testing.T) {
	n := randomNet(rand.New(rand.NewPCG(0, 3)), true)
	s, p := NewSolver(n), n.NewPoint()
	n.SetLEDShift(0, 0, -0.3)
	n.SetLEDLeak(0, 0, 500)
	for _, v := range []float64{0.5, 1, 1.5, 12} {
		if err := s.Solve(Source{EmfV: v, Ohms: 0.1}, p); err != nil {
			t.Errorf("at %g V: %v", v, err)
		}
	}
}

// A short behind a switching converter has an operating point at the supply's limit, at any
// voltage that is set: the converter's input sinks, whatever it was set to.
func TestALimitHoldsAnOverloadedConverter(t *testing.T) {
	n := randomNet(rand.New(rand.NewPCG(0x38, 3)), true)
	n.SetBranchOhms(7, 0)
	for v := 8.0; v <= 11; v += 0.25 { // at 12 V it takes less than the limit
		s, p := NewSolver(n), n.NewPoint()
		if err := s.Solve(Source{EmfV: v, Ohms: 0.1, LimitA: 1.5}, p); err != nil {
			t.Errorf("at %g V: %v", v, err)
			continue
		}
		if p.Mode != ConstantCurrent || math.Abs(p.SourceA-1.5) > 1e-9 || math.Abs(p.NodeV[0]-5.9547) > 1e-3 {
			t.Errorf("at %g V: %v, %g A at %g V", v, p.Mode, p.SourceA, p.NodeV[0])
		}
	}
}

// change does one thing that a fault or a draw does.
func change(t *rapid.T, n *Net) {
	b := BranchID(0)
	if n.Branches() > 0 {
		b = BranchID(rapid.IntRange(0, n.Branches()-1).Draw(t, "branch"))
	}
	switch what := rapid.IntRange(0, 9).Draw(t, "what"); {
	case what == 0 && len(n.el) > 2:
		n.SetNodeOn(Node(rapid.IntRange(1, len(n.el)-1).Draw(t, "node")), rapid.Bool().Draw(t, "on"))
	case what == 1 && len(n.gnd) > 1:
		n.SetReturnOhms(Ground(rapid.IntRange(1, len(n.gnd)-1).Draw(t, "return")),
			rapid.SampledFrom([]float64{0, 0.5, 100}).Draw(t, "ohms"))
	case n.Branches() == 0:
	case what == 2:
		n.SetBranchOhms(b, rapid.SampledFrom([]float64{0, 47, 330, 3300}).Draw(t, "ohms"))
	case what == 3 && n.LEDs(b) > 0:
		n.SetLEDState(b, 0, rapid.SampledFrom([]LEDState{OK, Reversed, Shorted, Open}).Draw(t, "state"))
	case what == 4 && n.LEDs(b) > 0:
		n.SetLEDLeak(b, 0, rapid.SampledFrom([]float64{0, 500, 1e5}).Draw(t, "leak"))
	case what == 5 && n.LEDs(b) > 0:
		n.SetLEDShift(b, 0, rapid.Float64Range(-0.3, 0.3).Draw(t, "shift"))
	case what == 6:
		n.SetBranchFactor(b, rapid.Float64Range(0.5, 2).Draw(t, "factor"))
	case what == 7:
		n.SetBranchOn(b, rapid.Bool().Draw(t, "on"))
	default:
		n.SetBranchOpen(b, rapid.Bool().Draw(t, "open"))
	}
}

// No number, however wild, makes a NaN or a hang: a point or a typed error.
func FuzzWildNumbers(f *testing.F) {
	f.Add(12.0, 0.1, 0.5, 330.0, 1e-19, 0.05, 8.0, 0.1, 1000.0)
	f.Add(12.0, 0.0, 0.0, 0.0, 1e-19, 0.05, 0.0, 0.0, math.Inf(1))
	f.Add(-12.0, 0.0, 0.0, 10.0, 1e-300, 1e-3, 0.0, 0.0, 0.0)
	f.Add(math.NaN(), 1e300, 1e-300, 1e300, 1e300, 1e300, 1e300, 1e300, 1e-300)
	f.Add(14.0, 0.05, 0.001, 1e-3, 1e-9, 0.03, 0.01, 1e6, 1e9)
	f.Fuzz(func(t *testing.T, volts, ohms, limit, r, is, slope, rs, ret, leak float64) {
		n := New()
		g := n.AddReturn(0, ret)
		a := n.AddResistor(0, ohms)
		led := LED{Diode: Diode{SaturationA: is, SlopeV: slope, SeriesOhm: rs}}
		n.AddBranch(a, g, Branch{Ohms: r, LEDs: []LED{led, led}})
		led.LeakOhm = leak
		n.AddBranch(a, 0, Branch{Ohms: r, LEDs: []LED{led}})
		n.AddShunt(a, g, leak)
		s, p := NewSolver(n), n.NewPoint()
		err := s.Solve(Source{EmfV: volts, Ohms: ohms, LimitA: limit}, p)
		var e *Error
		if err != nil {
			if !errors.As(err, &e) || e.Problem == 0 || e.Text == "" {
				t.Fatalf("untyped error %v", err)
			}
			return
		}
		for _, x := range append(append(append(p.NodeV, p.BranchA...), p.ShuntA...), p.SourceA, p.EmfV, p.GroundV[1]) {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("%+v", p)
			}
		}
	})
}

func FuzzFitDiode(f *testing.F) {
	f.Add(2.6, 0.001, 2.8, 0.005, 3.0, 0.02)
	f.Add(1.0, 1e-3, 1.0, 1e-3, 1.0, 1e-3)
	f.Add(0.1, 1e-12, 100.0, 1e3, 101.0, 2e3)
	f.Add(math.Inf(1), math.NaN(), -1.0, 0.0, 1e308, 1e-308)
	f.Fuzz(func(t *testing.T, v1, i1, v2, i2, v3, i3 float64) {
		pts := []Sample{{v1, i1}, {v2, i2}, {v3, i3}}
		for k := range 4 {
			fit, err := FitDiode(pts[:k])
			if err != nil {
				continue
			}
			if e := fit.Diode.Valid(); e != nil || math.IsNaN(fit.RMSV) {
				t.Fatalf("%v of %v: %v", fit, pts[:k], e)
			}
		}
	})
}
