package belief

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
	"sealworthy/compare/words"
)

func ship(t testing.TB) *plan.Plan {
	t.Helper()
	src, err := os.ReadFile("../../testdata/brackwater/plan.toml")
	if err != nil {
		t.Fatal(err)
	}
	return parse(t, string(src))
}

func jointOf(t testing.TB, p *plan.Plan, name string) int {
	t.Helper()
	i := slices.IndexFunc(p.Joints, func(j plan.Joint) bool { return j.Name == name })
	if i < 0 {
		t.Fatalf("no joint %q", name)
	}
	return i
}

func find(t testing.TB, p *plan.Plan, ms []Measured) Above {
	t.Helper()
	all, err := Together(p, ms, fault.DefaultPriors().Common)
	if err != nil {
		t.Fatal(err)
	}
	return all.Above
}

func without(ms []Measured, groups ...string) []Measured {
	return slices.DeleteFunc(slices.Clone(ms), func(m Measured) bool {
		return slices.Contains(groups, m.Ensemble.Groups[0])
	})
}

// TestBrackwater: what is said of one cause on the demo's tree, which has boards
// and a brass mast as return.
func TestBrackwater(t *testing.T) {
	p := ship(t)
	ring, plate := jointOf(t, p, "lantern ring"), jointOf(t, p, "deck plate")
	for _, c := range []struct {
		name        string
		loose       bool
		wrong       func(w *wiring.Wired)
		leaveOut    []string
		places      []fault.Spot
		shows, text []string // among those that show it; in text or look
		open        bool
		ohms        float64
	}{
		{"deck plate open", false, func(w *wiring.Wired) { w.JointSeries(plate, math.Inf(1)) }, nil,
			[]fault.Spot{{Kind: fault.SpotJoint, Name: "deck plate"}},
			[]string{"saloon", "chart table", "galley lamps", "port beacon", "lantern", "masthead light"},
			[]string{`Nothing gets past joint "deck plate"`, `before and after joint "deck plate"`}, true, 0},
		{"deck plate 12 ohm, known since loose", true, func(w *wiring.Wired) { w.JointSeries(plate, 12) }, nil,
			[]fault.Spot{{Kind: fault.SpotJoint, Name: "deck plate"}}, []string{"saloon", "chart table"},
			[]string{"ohm too many", `joint "deck plate"`}, false, 12},
		// Mast foot and lantern ring lie in series with no group between.
		{"lantern ring 100 ohm", true, func(w *wiring.Wired) { w.JointSeries(ring, 100) }, nil,
			[]fault.Spot{{Kind: fault.SpotJoint, Name: "mast foot"}, {Kind: fault.SpotJoint, Name: "lantern ring"},
				{Kind: fault.SpotReturn, Name: "brass mast"}},
			[]string{"lantern", "gallery lamps"},
			[]string{"measure volts from the jack down", "it lies where they fall"}, false, 100},
		{"brass mast open", false, func(w *wiring.Wired) { w.ReturnSeries(0, math.Inf(1)) }, nil,
			[]fault.Spot{{Kind: fault.SpotJoint, Name: "mast foot"}, {Kind: fault.SpotJoint, Name: "lantern ring"},
				{Kind: fault.SpotReturn, Name: "brass mast"}},
			[]string{"lantern", "gallery lamps", "masthead light"}, []string{"Nothing gets past"}, true, 0},
		{"the beacon's own wire", true, func(w *wiring.Wired) { w.BoardSeries(0, 150) }, nil,
			[]fault.Spot{{Kind: fault.SpotBoard, Name: "beacon"}}, []string{"port beacon", "starboard beacon"},
			[]string{`the wire of board "beacon"`}, false, 150},
		{"not all behind it are measured", false, func(w *wiring.Wired) { w.JointSeries(plate, math.Inf(1)) },
			[]string{"galley lamps", "lantern"}, []fault.Spot{{Kind: fault.SpotJoint, Name: "deck plate"}},
			[]string{"saloon"}, []string{`Not measured there yet: "galley lamps" and "lantern"`}, true, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			if underRace && !c.open {
				t.Skip("too slow with the race detector; the open ones run")
			}
			b := newBuild(t, p, rand.New(rand.NewPCG(7, 7)))
			b.joint = c.wrong
			var loose []Measured
			if c.loose {
				loose = b.measure(t, true)
			}
			ms := b.measure(t, false)
			if c.loose {
				ms = since(loose, ms)
			}
			res := find(t, p, without(ms, c.leaveOut...))
			if !res.Alarm {
				t.Fatalf("no alarm: %+v", res)
			}
			top := res.Causes[0]
			if !slices.Equal(top.Spots, c.places) {
				t.Errorf("places %v, want %v", top.Spots, c.places)
			}
			for _, g := range c.shows {
				if !slices.Contains(top.Shows, g) {
					t.Errorf("%q doesn't show it, only %q", g, top.Shows)
				}
				if _, ok := res.Explains(g); !ok {
					t.Errorf("%q isn't explained by it", g)
				}
			}
			if len(top.Against) > 0 || len(top.Besides) > 0 {
				t.Errorf("against it %q, besides it %q", top.Against, top.Besides)
			}
			text, look := words.InCommon(top.Common)
			for _, w := range c.text {
				if !strings.Contains(text+" | "+look, w) {
					t.Errorf("%q | %q lacks %q", text, look, w)
				}
			}
			if top.Open != c.open || !c.open && math.Abs(math.Log(top.Ohms/c.ohms)) > math.Log(1.5) {
				t.Errorf("open %v, %g ohm, want %v, %g", top.Open, top.Ohms, c.open, c.ohms)
			}
			t.Logf("%.2f %s | %s", top.P, text, look)
		})
	}
}

// A dead segment and a dead lamp behind one joint are two faults, not a bad joint.
func TestTwoFaultsAreNoJoint(t *testing.T) {
	p := ship(t)
	b := newBuild(t, p, rand.New(rand.NewPCG(3, 3)))
	b.both = func(w *wiring.Wired) {
		for _, f := range []fault.Fault{
			{Kind: fault.DarkSegment, Group: "crew portholes"}, {Kind: fault.OpenBranch, Group: "hold lamps"},
		} {
			if err := fault.Apply(w, f); err != nil {
				t.Fatal(err)
			}
		}
	}
	res := find(t, p, b.measure(t, false))
	// The crew portholes may hang on a bad joint: the anchor light can't show it.
	if res.Alarm || res.Own < .5 || res.None > .01 {
		t.Errorf("alarm %v, own %.2f, none %.2f", res.Alarm, res.Own, res.None)
	}
	slices.Sort(res.Off)
	if !slices.Equal(res.Off, []string{"crew portholes", "hold lamps"}) {
		t.Errorf("own faults in %q", res.Off)
	}
}

// A group that hangs on a joint and draws as planned speaks against it.
func TestContradiction(t *testing.T) {
	p := ship(t)
	b := newBuild(t, p, rand.New(rand.NewPCG(5, 5)))
	good := b.measure(t, false)
	b.joint = func(w *wiring.Wired) { w.JointSeries(jointOf(t, p, "deck plate"), math.Inf(1)) }
	bad := b.measure(t, false)
	var ms []Measured
	for i, m := range bad {
		if m.Ensemble.Groups[0] == "saloon" {
			m = good[i]
		}
		ms = append(ms, m)
	}
	res := find(t, p, ms)
	top := res.Causes[0]
	if !res.Alarm || !slices.Equal(top.Spots, []fault.Spot{{Kind: fault.SpotJoint, Name: "deck plate"}}) ||
		!slices.Equal(top.Against, []string{"saloon"}) || len(top.Besides) > 0 || len(top.Shows) < 6 {
		t.Errorf("alarm %v, P %.2f: %+v", res.Alarm, top.P, top.Common)
	}
}

// What can't be judged is left out, and said to be nothing.
func TestLeftOut(t *testing.T) {
	p := ship(t)
	if res := find(t, p, nil); res.Alarm || res.None != 1 {
		t.Errorf("no readings: %+v", res)
	}
	both, err := New(p, []string{"saloon", "chart table"}, []float64{12}, scene.Scene{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	sum := Measured{Ensemble: both, Readings: []Reading{{Volts: 12, Amps: .1, U: 1e-4}}}
	if res := find(t, p, []Measured{sum, sum}); res.Alarm || res.None != 1 {
		t.Errorf("no group was alone: %+v", res)
	}
	// What is too faint for any law says nothing, and breaks nothing.
	var faint []Measured
	for _, g := range []string{"saloon", "chart table", "hold lamps"} {
		e, err := New(p, []string{g}, []float64{12, 2}, scene.Scene{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		m := Measured{Ensemble: e, Readings: []Reading{{Volts: 2, Amps: 2e-6, U: 1e-5}}}
		m.Loose = &Measured{Ensemble: e, Readings: m.Readings}
		faint = append(faint, m)
	}
	if res := find(t, p, faint); res.Alarm || len(res.Off) > 0 {
		t.Errorf("faint draws: %+v", res)
	}
	// A bridge in one group is that group's own, whatever it reads.
	b := newBuild(t, p, rand.New(rand.NewPCG(9, 9)))
	b.both = func(w *wiring.Wired) {
		if err := fault.Apply(w, fault.Fault{Kind: fault.Short, Group: "saloon", Ohms: .05}); err != nil {
			t.Fatal(err)
		}
	}
	res := find(t, p, b.measure(t, false))
	if res.Alarm || res.None > 1e-9 || !slices.Equal(res.Off, []string{"saloon"}) {
		t.Errorf("alarm %v, none %g, own %q", res.Alarm, res.None, res.Off)
	}
}

// BenchmarkTogetherOnTheDemo is what weighing the demo's groups together costs, each read
// loose and joined.
func BenchmarkTogetherOnTheDemo(b *testing.B) {
	p := ship(b)
	bench := newBuild(b, p, rand.New(rand.NewPCG(7, 7)))
	ms := since(bench.measure(b, true), bench.measure(b, false))
	for b.Loop() {
		if _, err := Together(p, ms, fault.DefaultPriors().Common); err != nil {
			b.Fatal(err)
		}
	}
}
