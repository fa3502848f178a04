package belief

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// Sizes that causes above groups are tried at; what lies between two of them is the
// size factor's. Ohms from what a poor crimp has to what a corroded strand leaves
// (common practice, no source): a joint that several groups flow through shows at less than
// one in a group's own wire.
var (
	aboveOhms = []float64{0.5, 0.9, 1.6, 2.8, 5, 9, 16, 28, 50, 90, 160, 280, 500, 1000}
	offVolts  = []float64{0.1, 0.15, 0.22, 0.33, 0.5, 0.75, 1.1, 1.6, 2.4, 3.5} // up or down
)

const (
	// probeOhms tell whether two places make the same of a draw, within alikeEffect
	// of what they make of it.
	probeOhms   = 100.0
	alikeEffect = 0.01
)

// tap is the circuit of a group as its readings were made, with the group lit alone.
type tap struct {
	w       *wiring.Wired
	group   int
	loose   bool
	ohms    float64 // of meter and leads
	volts   []float64
	nominal []float64 // A
	curves  []curveAt
}

// curveAt is what ohms at some place leave of a group's draws, by node of aboveOhms and
// reading; nil where the circuit has no solution.
type curveAt struct {
	probe []float64
	left  [][]float64
}

// taps makes the circuits of what was read joined and of what was read loose; nil where
// nothing was.
func (t *together) taps() (joined, loose []*tap, err error) {
	type key struct {
		p    *plan.Plan
		jack string
	}
	made := map[key]*wiring.Wired{}
	tapOf := func(e *Ensemble, v *view) (*tap, error) {
		gi := slices.IndexFunc(e.plan.Groups, named(e.Groups[0]))
		k := key{e.plan, e.plan.JackOf(e.plan.JointOf(e.plan.Groups[gi]))}
		if made[k] == nil {
			room := e.bench.RoomOr()
			w, err := wiring.Build(k.p, k.jack, wiring.Options{AmbientC: &room.C, SeriesOhm: e.bench.SeriesOhm()})
			if err != nil {
				return nil, err
			}
			made[k] = w
		}
		x := &tap{w: made[k], group: gi, loose: e.plan != t.p, ohms: e.bench.SeriesOhm()}
		for _, at := range v.at {
			x.volts = append(x.volts, e.Volts[at])
		}
		x.alone()
		var err error
		if x.nominal, err = x.draws(0); err != nil {
			return nil, fmt.Errorf("group %q: %w", e.Groups[0], err)
		}
		return x, nil
	}
	loose = make([]*tap, len(t.ms))
	for i := range t.ms {
		if !t.alone(i) {
			joined = append(joined, nil)
			continue
		}
		x, err := tapOf(t.ms[i].Ensemble, t.views[i])
		if err != nil {
			return nil, nil, err
		}
		joined = append(joined, x)
		if b := t.before[i]; b != nil {
			if loose[i], err = tapOf(b.e, b.view); err != nil {
				return nil, nil, err
			}
		}
	}
	return joined, loose, nil
}

// alone lights the group and nothing else, behind its own meter and leads.
func (x *tap) alone() {
	x.w.Alone(x.group)
	x.w.Net.SetOhms(x.w.Meter, x.ohms)
}

// draws are what the circuit makes of the readings, with the supply off by some volts. A.
func (x *tap) draws(off float64) ([]float64, error) {
	out := make([]float64, len(x.volts))
	for k, v := range x.volts {
		a, err := x.w.AddsAmps(x.group, circuit.Source{EmfV: math.Max(0, v+off)})
		if err != nil {
			return nil, err
		}
		out[k] = a
	}
	return out, nil
}

// put sets ohms at a place. It is false where the circuit doesn't have it.
func (x *tap) put(s fault.Spot, ohms float64) bool {
	p := x.w.Plan
	switch s.Kind {
	case fault.SpotLeads:
		x.w.Net.SetOhms(x.w.Meter, x.ohms+ohms)
		return true
	case fault.SpotJack:
		if x.loose || p.Jacks[x.w.Jack].Name != s.Name {
			return false
		}
		x.w.Net.SetOhms(x.w.Meter, x.ohms+ohms)
		return true
	case fault.SpotJoint:
		i := p.JointAt(s.Name)
		if i >= 0 {
			x.w.JointSeries(i, ohms)
		}
		return i >= 0
	case fault.SpotReturn:
		i := p.ReturnAt(s.Name)
		if i >= 0 {
			x.w.ReturnSeries(i, ohms)
		}
		return i >= 0
	}
	i := p.BoardAt(s.Name)
	if i >= 0 && !x.loose {
		x.w.BoardSeries(i, ohms)
	}
	return i >= 0 && !x.loose
}

// left is what a change leaves of the draws; nil where the circuit then has no solution.
func (x *tap) left(off float64) []float64 {
	a, err := x.draws(off)
	if err != nil {
		return nil
	}
	for k := range a {
		if x.nominal[k] > fewAmps {
			a[k] = math.Max(0, a[k]/x.nominal[k])
		} else {
			a[k] = 1
		}
	}
	return a
}

// curve is the number of what ohms at a place leave, in curves. It is false where they
// make nothing of the group's draws; behind a converter they let it draw more.
// Places that make the same of them share one.
func (x *tap) curve(s fault.Spot) (int, bool) {
	x.alone()
	if !x.put(s, probeOhms) {
		return 0, false
	}
	defer x.put(s, 0)
	probe := x.left(0)
	if probe == nil || !slices.ContainsFunc(probe, func(l float64) bool { return math.Abs(1-l) > 1e-6 }) {
		return 0, false
	}
	same := func(c curveAt) bool {
		for k, l := range probe {
			if math.Abs(l-c.probe[k]) > alikeEffect*math.Abs(1-l)+1e-9 {
				return false
			}
		}
		return true
	}
	if i := slices.IndexFunc(x.curves, same); i >= 0 {
		return i, true
	}
	c := curveAt{probe: probe}
	for _, ohms := range aboveOhms {
		x.put(s, ohms)
		c.left = append(c.left, x.left(0))
	}
	x.curves = append(x.curves, c)
	return len(x.curves) - 1, true
}
