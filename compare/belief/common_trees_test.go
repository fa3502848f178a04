package belief

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
	"sealworthy/compare/words"
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

// readings are of a model at its nominal values, each group alone.
func readings(t *testing.T, p *plan.Plan, wrong func(w *wiring.Wired)) []Measured {
	t.Helper()
	var out []Measured
	for _, j := range p.Jacks {
		w, err := wiring.Build(p, j.Name, wiring.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for gi, g := range p.Groups {
			if !w.Groups[gi].Here || g.Board != "" || g.AsFound {
				continue
			}
			e, err := New(p, []string{g.Name}, []float64{j.Volts}, scene.Scene{}, Options{})
			if err != nil {
				t.Fatal(err)
			}
			wrong(w)
			w.Alone(gi)
			a, err := w.AddsAmps(gi, circuit.Source{EmfV: j.Volts})
			if err != nil {
				t.Fatal(err)
			}
			w.Reset()
			out = append(out, Measured{Ensemble: e, Readings: []Reading{meterReads(j.Volts, a, 0.002)}})
		}
	}
	return out
}

func TestCommonBehindAConverter(t *testing.T) {
	p := parse(t, twoJacks)
	healthy := find(t, p, readings(t, p, func(*wiring.Wired) {}))
	if healthy.Alarm || healthy.None < .5 {
		t.Errorf("healthy: alarm %v, none %.2f", healthy.Alarm, healthy.None)
	}
	for _, c := range []struct {
		joint  string
		shows  []string
		places []fault.Spot
	}{
		{"five volts", []string{"bridge", "galley"}, []fault.Spot{{Kind: fault.SpotJoint, Name: "five volts"}}},
		{"stern", []string{"screw light", "rudder light"},
			[]fault.Spot{{Kind: fault.SpotJack, Name: "usb"}, {Kind: fault.SpotJoint, Name: "stern"}}},
	} {
		i := jointOf(t, p, c.joint)
		res := find(t, p, readings(t, p, func(w *wiring.Wired) { w.JointSeries(i, math.Inf(1)) }))
		if !res.Alarm || !slices.Equal(res.Causes[0].Spots, c.places) || !slices.Equal(res.Causes[0].Shows, c.shows) {
			t.Errorf("%s: alarm %v: %+v", c.joint, res.Alarm, res.Causes[0])
		}
	}
}

// Whatever is read, the probabilities are ones.
func TestAnyReadings(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for range 12 {
		p := parse(t, randomTree(r))
		ms := readings(t, p, func(*wiring.Wired) {})
		for i := range ms {
			x := &ms[i].Readings[0]
			switch r.IntN(6) {
			case 0:
				x.Amps = 0
			case 1:
				x.Amps *= 4 * r.Float64()
			case 2:
				x.U, x.GainU = 1e-12, 0
			case 3:
				x.Amps *= -1
			case 4:
				x.U *= 1e4
			}
		}
		res := find(t, p, ms)
		sum := res.None + res.Own
		for _, c := range res.Causes {
			text, _ := words.InCommon(c.Common)
			size := c.Ohms + c.Factor + c.Volts
			if !(c.P >= 0 && c.P <= 1) || math.IsNaN(size) || math.IsInf(size, 0) || text == "" {
				t.Errorf("%+v", c)
			}
			sum += c.P
		}
		if !(math.Abs(sum-1) < 1e-9) {
			t.Errorf("the probabilities add up to %g", sum)
		}
	}
}

// A joint that two groups hang on, one of which lets nothing flow by a fault of its own: what
// that one reads says nothing against the joint, however sharp a reading of nothing is.
func TestAJointBesideADarkGroup(t *testing.T) {
	for _, seed := range []uint64{68, 86} {
		for _, loose := range []bool{false, true} {
			var bins saidRight
			var r aboveRates
			one(t, "joint and one", loose, nil, seed, &r, &bins)
			if said := bins[0].n; r.first != 1 || said > 0 {
				t.Errorf("tree %d, loose before %v: %v, said %v", seed, loose, r, &bins)
			}
		}
	}
}
