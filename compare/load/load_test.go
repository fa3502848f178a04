package load_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
	"sealworthy/instruments/rig"
	"sealworthy/testdata/brackwater"
)

func brackwaterPlan(t *testing.T) *plan.Plan {
	t.Helper()
	p, problems := plan.Parse("plan.toml", brackwater.Plan)
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	return p
}

// on switches one terminal on at 12 V.
func on(l *load.Load, name string, since time.Duration) rig.State {
	s := rig.State{Volts: 12, Since: since, On: make([]bool, len(l.Terminals()))}
	s.On[slices.Index(l.Terminals(), name)] = true
	return s
}

func TestDrawsDifferBySeedAndAreThere(t *testing.T) {
	p := brackwaterPlan(t)
	var first []float64
	for seed := uint64(1); seed <= 3; seed++ {
		l, err := load.New(p, nil, seed, load.Options{})
		if err != nil {
			t.Fatal(err)
		}
		var got []float64
		for _, name := range l.Terminals() {
			got = append(got, l.Current(on(l, name, time.Second)))
			if a := got[len(got)-1]; !(a > 0.001 && a < 0.2) {
				t.Errorf("seed %d: %q draws %g A", seed, name, a)
			}
		}
		if err := l.Err(); err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = got
		} else if slices.Equal(first, got) {
			t.Errorf("seed %d draws the same as seed 1", seed)
		}
	}
}

func TestTheSameSeedIsTheSameModel(t *testing.T) {
	p := brackwaterPlan(t)
	f := []fault.Fault{{Kind: fault.DarkSegment, Group: "cabin windows", Branch: 2}}
	a, err := load.New(p, f, 9, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := load.New(p, f, 9, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for s := range 50 {
		at := time.Duration(s) * 170 * time.Millisecond
		if x, y := a.Current(on(a, "beacon", at)), b.Current(on(b, "beacon", at)); x != y {
			t.Fatalf("at %v: %g and %g A", at, x, y)
		}
	}
}

// Loose and joined are the same pieces, each LED of a branch too: with short thick wires
// between them they draw the same.
func TestLooseIsOfTheSamePieces(t *testing.T) {
	p, problems := plan.Parse("plan.toml", []byte(`
build = "Same pieces"
[jack.main]
volts = 12
[closure.hull]
[joint.keel]
from = "main"
wire = { mm2 = 2.5, length_mm = 20 }
[[group]]
name = "mast"
closure = "hull"
joint = "keel"
lights = [ { part = "red 1.8 mm", in_series = 5, ohms = 220, count = 2 } ]
`))
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	for seed := range uint64(10) {
		var amps []float64
		for _, loose := range []bool{false, true} {
			l, err := load.New(p, nil, seed, load.Options{Loose: loose})
			if err != nil {
				t.Fatal(err)
			}
			amps = append(amps, l.Current(on(l, "mast", time.Second)))
		}
		if math.Abs(amps[1]/amps[0]-1) > 0.002 {
			t.Errorf("seed %d: joined %.3f mA, loose %.3f mA", seed, amps[0]*1e3, amps[1]*1e3)
		}
	}
}

func TestADarkSegmentDrawsASixthLess(t *testing.T) {
	p := brackwaterPlan(t)
	healthy, err := load.New(p, nil, 4, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	dark, err := load.New(p, []fault.Fault{{Kind: fault.DarkSegment, Group: "cabin windows", Branch: 5}}, 4,
		load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	h, d := healthy.Current(on(healthy, "cabin windows", 0)), dark.Current(on(dark, "cabin windows", 0))
	if r := d / h; math.Abs(r-5.0/6) > 0.02 {
		t.Errorf("%.2f mA of %.2f mA: %.3f, want about 5/6", d*1e3, h*1e3, r)
	}
}

// TestAloneIsTheDrawOfAFeed: what Alone says is what the feed draws at power-on.
func TestAloneIsTheDrawOfAFeed(t *testing.T) {
	p := brackwaterPlan(t)
	l, err := load.New(p, []fault.Fault{{Kind: fault.DarkSegment, Group: "cabin windows", Branch: 2}}, 7,
		load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, g := range p.Groups {
		if g.Board != "" {
			continue
		}
		n++
		got, err := l.Alone(g.Name, 12)
		if err != nil {
			t.Fatal(err)
		}
		if want := l.Current(on(l, g.Name, 0)); math.Abs(got-want) > 1e-9 {
			t.Errorf("%q: %.6f mA alone, %.6f mA as its feed", g.Name, got*1e3, want*1e3)
		}
	}
	if n == 0 {
		t.Fatal("no group hangs on a joint")
	}
	if _, err := l.Alone("no such group", 12); err == nil {
		t.Error("a group that isn't there draws something")
	}
}
