package together_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"sealworthy/compare/budget"
	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/together"
	"sealworthy/compare/wiring"
)

// twoJacks is an invented plan with a converter and a second jack.
const twoJacks = `build = "invented"
[jack.main]
volts = 12.0
[jack.usb]
volts = 5.0
source = "usb"
[closure.hull]
[joint.entry]
from = "main"
[joint."five volts"]
from = "entry"
holds = [ { converter = "step-down", out_volts = 5.0 } ]
[joint.stern]
from = "usb"
[[group]]
name = "saloon"
closure = "hull"
joint = "entry"
lights = [ { part = "smd warm white 12 V", tolerance = 0.1, count = 4 } ]
[[group]]
name = "bridge"
closure = "hull"
joint = "five volts"
lights = [ { part = "smd warm white 5 V", tolerance = 0.1, count = 3 } ]
[[group]]
name = "galley"
closure = "hull"
joint = "five volts"
lights = [ { part = "smd cold white 5 V", tolerance = 0.1, count = 5 } ]
[[group]]
name = "screw light"
closure = "hull"
joint = "stern"
lights = [ { part = "smd red 5 V", tolerance = 0.1, count = 2 } ]
[[group]]
name = "rudder light"
closure = "hull"
joint = "stern"
lights = [ { part = "smd green 5 V", tolerance = 0.1, count = 2 } ]
`

// readings are of a model at its nominal values, each group alone or with others on.
func readings(t *testing.T, p *plan.Plan, wrong func(w *wiring.Wired), with []string) []together.Seen {
	t.Helper()
	bud, err := budget.Of(p, budget.At{FeedsOnly: true, Trials: 200}, 1)
	if err != nil {
		t.Fatal(err)
	}
	var out []together.Seen
	for _, j := range p.Jacks {
		w, err := wiring.Build(p, j.Name, wiring.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for gi, g := range bud.Groups {
			if !w.Groups[gi].Here || g.Board != "" || slices.Contains(with, g.Group) {
				continue
			}
			amps := func(on bool) float64 {
				w.SetAll(false)
				for i, x := range w.Terminals {
					w.SetOn(i, x.Name == g.Group && on || slices.Contains(with, x.Name))
				}
				if err := w.Solve(circuit.Source{EmfV: j.Volts}); err != nil {
					t.Fatal(err)
				}
				return w.JackAmps(w.Point)
			}
			adds := func() float64 {
				if len(with) > 0 {
					return amps(true) - amps(false)
				}
				return amps(true)
			}
			s := together.FromBudget(together.Seen{Volts: j.Volts, On: with}, g)
			s.ExpectedA = adds()
			wrong(w)
			s.MeasuredA = adds()
			s.MeasuredU = 0.002 * math.Abs(s.MeasuredA)
			w.Reset()
			out = append(out, s)
		}
	}
	return out
}

func TestBehindAConverter(t *testing.T) {
	p := parse(t, twoJacks)
	healthy := find(t, p, readings(t, p, func(*wiring.Wired) {}, nil))
	if healthy.Alarm || healthy.None < .5 {
		t.Errorf("healthy: alarm %v, none %.2f", healthy.Alarm, healthy.None)
	}
	for _, c := range []struct {
		joint  string
		shows  []string
		places []together.Place
	}{
		{"five volts", []string{"bridge", "galley"}, []together.Place{{Kind: together.AtJoint, Name: "five volts"}}},
		{"stern", []string{"screw light", "rudder light"}, []together.Place{{Kind: together.AtJack, Name: "usb"}, {Kind: together.AtJoint, Name: "stern"}}},
	} {
		i := jointOf(t, p, c.joint)
		res := find(t, p, readings(t, p, func(w *wiring.Wired) { w.JointSeries(i, math.Inf(1)) }, nil))
		if !res.Alarm || !slices.Equal(res.Causes[0].Places, c.places) || !slices.Equal(res.Causes[0].Shows, c.shows) {
			t.Errorf("%s: alarm %v: %+v", c.joint, res.Alarm, res.Causes[0])
		}
	}
}

// Read with other groups on, a joint carries their current too: its drop is
// larger, and the resistance comes out the same.
func TestWithOthersOn(t *testing.T) {
	p := ship(t)
	plate := jointOf(t, p, "deck plate")
	with := []string{"galley lamps", "saloon"}
	res := find(t, p, readings(t, p, func(w *wiring.Wired) { w.JointSeries(plate, 4.7) }, with))
	top := res.Causes[0]
	if !res.Alarm || !slices.Contains(top.Places, together.Place{Kind: together.AtJoint, Name: "deck plate"}) || top.Ohms < 3 || top.Ohms > 7.5 {
		t.Errorf("alarm %v, P %.2f, %g ohm: %s", res.Alarm, top.P, top.Ohms, top.Text)
	}
}

// Whatever is read, the probabilities are ones.
func TestAnyReadings(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for range 12 {
		p := parse(t, randomTree(r))
		seen := readings(t, p, func(*wiring.Wired) {}, nil)
		for i := range seen {
			switch r.IntN(6) {
			case 0:
				seen[i].MeasuredA = 0
			case 1:
				seen[i].MeasuredA *= 4 * r.Float64()
			case 2:
				seen[i].MeasuredU, seen[i].ExpectedU, seen[i].BenchU, seen[i].Reels = 0, 0, 0, nil
			case 3:
				seen[i].MeasuredA *= -1
			case 4:
				seen[i].ExpectedU *= 100
			}
		}
		res := find(t, p, seen)
		sum := res.None + res.One + res.Several
		for _, c := range res.Causes {
			if !(c.P >= 0 && c.P <= 1) || math.IsNaN(c.Ohms) || math.IsInf(c.Ohms, 0) || math.IsNaN(c.Factor) || math.IsNaN(c.Volts) || c.Text == "" || c.Look == "" {
				t.Errorf("%+v", c)
			}
			sum += c.P
		}
		if !(math.Abs(sum-1) < 1e-9) {
			t.Errorf("the probabilities add up to %g", sum)
		}
	}
}
