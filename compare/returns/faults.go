package returns

import (
	"maps"
	"math"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

// Resistances of what can go wrong, ohm: a quarter to half a decade apart, with an extra
// vector for what lies between.
var (
	jointOhms = []float64{3, 5.6, 10, 18, 32, 56, 100, 180, 320, 560, 1000}
	leakOhms  = []float64{1e3, 3e3, 10e3, 30e3}
	plugOhms  = []float64{1, 3, 10, 30}
	trunkOhms = []float64{1, 1.8, 3, 5.6, 10, 18, 32, 56, 100}
)

// How uncertain a fault itself is.
const (
	betweenOhms = 0.3  // of the difference to the neighbours on the grid
	kneeV       = 0.12 // where the knee of a branch with a shorted LED lies
	stuckRel    = 0.02 // of the step of a stuck blinker
	modelV      = 0.04 // where any fault sets in
)

// hypotheses lists every single fault; each prior is a weight yet.
func (m *model) hypotheses(healthy []float64, pr fault.ReturnPriors) ([]Hypothesis, error) {
	var out []Hypothesis
	base, err := m.whole()
	if err != nil {
		return nil, err
	}
	for i := range m.groups {
		if err := m.feedback(&m.groups[i], base); err != nil {
			return nil, err
		}
	}
	for i := range m.groups {
		b := &m.groups[i]
		hs, err := m.ofBranches(b, base, pr)
		if err != nil {
			return nil, err
		}
		out = append(out, hs...)
		if b.board >= 0 {
			out = append(out, m.ofOutput(b, pr)...)
		} else {
			out = append(out, Hypothesis{Place: b.g.Name, Class: fault.OpenWire, Prior: pr.Of(fault.OpenWire),
				DeltaA: scaled(-1, b.inWhole), lights: m.unlit(b.g.Name)})
		}
		if !b.g.AsFound || b.board < 0 {
			out = append(out, m.joints(b, pr)...)
		}
	}
	for _, b := range m.boards {
		out = append(out, m.ofBoard(b, pr))
	}
	out = append(out, m.trunks(pr)...)
	var leaks [][]float64
	for _, r := range leakOhms {
		leaks = append(leaks, scaled(1/r, m.volts))
	}
	wholeA := healthy[m.atService()]
	hs := graded(Hypothesis{Class: fault.Leak, Prior: pr.Of(fault.Leak)}, leakOhms, leaks)
	for i := range hs {
		m.markSlight(&hs[i], wholeA*slightLeak/slightShare)
		hs[i].hidden = 1
	}
	out = append(out, hs...)
	var plugs [][]float64
	y0 := Curve{Volts: m.volts, Amps: healthy}
	for _, r := range plugOhms {
		plugs = append(plugs, minus(y0.behind(r, m.volts), healthy))
	}
	hs = graded(Hypothesis{Class: fault.BadPlug, Prior: pr.Of(fault.BadPlug)}, plugOhms, plugs)
	for i := range hs {
		m.behindJoint(&hs[i], wholeA, m.names()...)
	}
	out = append(out, hs...)
	for i := range out {
		// The model of a fault is a model: where it sets in is known to some
		// hundredths of a volt.
		out[i].extra = append(out[i].extra, scaled(modelV, slope(m.volts, out[i].DeltaA)))
	}
	return out, nil
}

// graded makes one hypothesis for each step of a grid; its weight is shared
// among them, and what lies between two steps is an extra vector.
func graded(h Hypothesis, params []float64, deltas [][]float64) []Hypothesis {
	var out []Hypothesis
	weight := h.Prior / float64(len(params))
	for i := range params {
		lo, hi := max(0, i-1), min(len(params)-1, i+1)
		x := h
		x.Param, x.Prior, x.DeltaA = params[i], weight, deltas[i]
		if hi > lo {
			x.extra = [][]float64{scaled(betweenOhms/float64(hi-lo), minus(deltas[hi], deltas[lo]))}
		}
		out = append(out, x)
	}
	return out
}

// joints are ohms in a group's own wire: the curve as built, seen through them.
func (m *model) joints(b *builtGroup, pr fault.ReturnPriors) []Hypothesis {
	var deltas [][]float64
	var steps []float64
	for _, r := range jointOhms {
		d := minus(b.curve.behind(r, b.seenV), b.curve.at(b.seenV))
		for i := range d {
			d[i] *= b.ratio[i]
		}
		deltas = append(deltas, scaled(b.duty, d))
		steps = append(steps, 1+d[len(d)-1]/math.Max(b.onA, 1e-9))
	}
	hs := graded(Hypothesis{Place: b.g.Name, Class: fault.BadJoint, Prior: pr.Of(fault.BadJoint)}, jointOhms, deltas)
	for i := range hs {
		m.behindJoint(&hs[i], b.duty*b.inWhole[m.atService()], b.g.Name)
		if b.periodS > 0 {
			hs[i].steps = map[string]float64{b.g.Name: steps[i]}
		}
	}
	return hs
}

// ofOutput are the faults of a board's output.
func (m *model) ofOutput(b *builtGroup, pr fault.ReturnPriors) []Hypothesis {
	dark := Hypothesis{Place: b.g.Name, Class: fault.StuckDark, Prior: pr.Of(fault.StuckDark),
		DeltaA: scaled(-b.duty, b.inWhole), lights: m.unlit(b.g.Name)}
	dark.extra = [][]float64{scaled(stuckRel, dark.DeltaA)}
	if b.periodS == 0 {
		dark.Class = fault.OpenWire
		return []Hypothesis{dark}
	}
	dark.steps = map[string]float64{b.g.Name: 0}
	lit := Hypothesis{Place: b.g.Name, Class: fault.StuckLit, Prior: pr.Of(fault.StuckLit),
		DeltaA: scaled(1-b.duty, b.inWhole), steps: dark.steps,
		lights: map[string]look.Lights{b.g.Name: {Of: max(1, lightsOf(m.p, b.g.Name)), Steady: true}}}
	lit.extra = [][]float64{scaled(stuckRel, lit.DeltaA)}
	return []Hypothesis{lit, dark}
}

// ofBoard: a board that does nothing at all.
func (m *model) ofBoard(b builtBoard, pr fault.ReturnPriors) Hypothesis {
	h := Hypothesis{Place: b.b.Name, Class: fault.DeadBoard, Prior: pr.Of(fault.DeadBoard), DeltaA: scaled(-1, b.dark),
		steps: map[string]float64{}, lights: map[string]look.Lights{}}
	for _, g := range m.groups {
		if g.board == b.i {
			h.DeltaA = minus(h.DeltaA, scaled(g.duty, g.inWhole))
			h.steps[g.g.Name] = 0
			maps.Copy(h.lights, m.unlit(g.g.Name))
		}
	}
	h.extra = [][]float64{scaled(stuckRel/2, h.DeltaA)}
	return h
}

// feedback finds by the plan how much less the whole model draws without a group than the
// group draws in it, since the others get a little more; what it draws in it tells its own curve.
func (m *model) feedback(b *builtGroup, base []float64) error {
	n := len(m.volts)
	b.ratio = make([]float64, n)
	for i := range b.ratio {
		b.ratio[i] = 1
	}
	b.planned = b.nominal
	if !b.g.AsFound && b.nominal[n-1] > 0 {
		with, without := base, base
		var err error
		if b.board >= 0 {
			with, err = m.lit(b)
		} else {
			m.w.GroupSeries(b.i, math.Inf(1))
			without, err = m.whole()
			m.w.Reset()
		}
		if err != nil {
			return err
		}
		if b.planned, err = m.own(b); err != nil {
			return err
		}
		for i := n - 1; i >= 0; i-- {
			switch {
			case b.planned[i] > 0.02*b.planned[n-1]:
				b.ratio[i] = math.Min(1, math.Max(0.3, (with[i]-without[i])/b.planned[i]))
			case i < n-1:
				b.ratio[i] = b.ratio[i+1]
			}
		}
	}
	b.inWhole = make([]float64, n)
	for i := range b.inWhole {
		b.inWhole[i] = b.ratio[i] * b.shape[i]
	}
	b.onA = b.inWhole[n-1]
	return nil
}

// own is what a group draws in the whole model by the plan, lit.
func (m *model) own(b *builtGroup) ([]float64, error) {
	m.lighten(b)
	defer m.w.Reset()
	out := make([]float64, len(m.volts))
	for i, v := range m.volts {
		if v <= 0 {
			continue
		}
		if err := m.w.Solve(circuit.Source{EmfV: v}); err != nil {
			return nil, err
		}
		for _, br := range m.w.Groups[b.i].Branches {
			out[i] += m.w.Point.BranchA[br.ID]
		}
	}
	return out, nil
}

// whole is the nominal draw of the whole model with every output dark.
func (m *model) whole() ([]float64, error) {
	m.w.SetAll(true)
	m.w.LightAll(false)
	return solved(m.w, m.volts)
}

// lit is whole with one group's output lit.
func (m *model) lit(b *builtGroup) ([]float64, error) {
	m.lighten(b)
	return solved(m.w, m.volts)
}

// lighten switches everything on, with no output lit but a group's.
func (m *model) lighten(b *builtGroup) {
	m.w.SetAll(true)
	m.w.LightAll(false)
	if b.board >= 0 {
		for o, out := range m.p.Boards[b.board].Outputs {
			if out.Number == b.g.Output {
				m.w.SetLit(b.board, o, true)
			}
		}
	}
}

// ofBranches are the faults of single branches, one for each kind of light.
func (m *model) ofBranches(b *builtGroup, base []float64, pr fault.ReturnPriors) ([]Hypothesis, error) {
	if b.g.AsFound {
		return nil, nil
	}
	total := 0
	for _, l := range b.g.Lights {
		if l.Kind != plan.Envelope {
			total += l.Branches()
		}
	}
	healthy := base
	if b.board >= 0 {
		var err error
		if healthy, err = m.lit(b); err != nil {
			return nil, err
		}
	}
	var out []Hypothesis
	for li, l := range b.g.Lights {
		if l.Kind == plan.Envelope || l.Branches() == 0 {
			continue
		}
		share := float64(l.Branches()) / float64(total)
		at := m.branchesOf(b, li)
		rel := branchRel(l)
		if total >= 2 {
			h, err := m.open(b, healthy, at[:1], rel)
			if err != nil {
				return nil, err
			}
			h.Prior, h.lights = pr.Of(fault.OpenBranch)*share, m.oneKind(fault.OpenBranch, b.g.Name, li, 1)
			out = append(out, h)
		}
		if len(at) >= 2 && total >= 3 {
			h, err := m.open(b, healthy, at[:2], rel/math.Sqrt2)
			if err != nil {
				return nil, err
			}
			h.Prior, h.lights = pr.Of(fault.OpenBranch)*pr.SecondBranch*share,
				m.oneKind(fault.OpenBranch, b.g.Name, li, 2)
			out = append(out, h)
		}
		if len(l.Series) >= 2 {
			h, err := m.shorted(b, healthy, at[0], rel)
			if err != nil {
				return nil, err
			}
			h.Prior, h.lights = pr.Of(fault.ShortedLED)*share, m.oneKind(fault.ShortedLED, b.g.Name, li, 1)
			out = append(out, h)
		}
	}
	return out, nil
}

// branchesOf lists the branches of a light, from the middle on: a segment in
// the middle of a strip stands for all of them.
func (m *model) branchesOf(b *builtGroup, light int) []int {
	var all []int
	for i, x := range m.w.Groups[b.i].Branches {
		if x.Light == light {
			all = append(all, i)
		}
	}
	mid := len(all) / 2
	return append(append([]int{}, all[mid:]...), all[:mid]...)
}

// branchRel is the standard uncertainty of one branch's draw against the mean
// of its kind: its resistor, with a fifth on top for the LEDs, and the spread of the part.
func branchRel(l plan.Light) float64 {
	r := 0.0
	if l.Ohms.Nominal > 0 {
		r = 1.2 * l.Ohms.HalfWidth / l.Ohms.Nominal
	}
	own := l.BranchSpread.HalfWidth * math.Sqrt(math.Max(0, 1-l.BranchSpread.Share))
	return math.Hypot(r, own) / math.Sqrt(3)
}

// open is what branches that draw nothing change: the share of the group by
// the plan, of the draw as built.
func (m *model) open(b *builtGroup, healthy []float64, branches []int, rel float64) (Hypothesis, error) {
	for _, x := range branches {
		m.w.Open(b.i, x, true)
	}
	y, err := m.lit(b)
	m.w.Reset()
	h := Hypothesis{Place: b.g.Name, Class: fault.OpenBranch, Param: float64(len(branches))}
	if err != nil {
		return h, err
	}
	d := minus(y, healthy)
	last := len(d) - 1
	for i := range d {
		// Below the knee the plan's share is nothing over nothing: take that at
		// service voltage, where all branches are alike.
		share := d[last] / b.planned[last]
		if b.planned[i] > 0.02*b.planned[last] {
			share = d[i] / b.planned[i]
		}
		d[i] = b.duty * share * b.shape[i]
	}
	h.DeltaA, h.extra = d, [][]float64{scaled(rel, d)}
	if b.periodS > 0 {
		h.steps = map[string]float64{b.g.Name: 1 + d[last]/(b.duty*math.Max(b.onA, 1e-9))}
	}
	return h, nil
}

// shorted is one LED bridged: from the plan, brought onto the curve as built.
func (m *model) shorted(b *builtGroup, healthy []float64, branch int, rel float64) (Hypothesis, error) {
	h := Hypothesis{Place: b.g.Name, Class: fault.ShortedLED, Param: 1}
	at := make([]float64, len(m.volts))
	for i, v := range m.volts {
		at[i] = math.Max(0.01, v-b.shiftV)
	}
	volts := m.volts
	m.volts = at
	ok, err := m.lit(b)
	if err == nil {
		m.w.SetLED(b.i, branch, 0, circuit.Shorted)
		var y []float64
		if y, err = m.lit(b); err == nil {
			h.DeltaA = scaled(b.duty*b.factor, minus(y, ok))
		}
	}
	m.volts = volts
	m.w.Reset()
	if err != nil {
		return h, err
	}
	h.extra = [][]float64{scaled(rel, h.DeltaA), scaled(kneeV, slope(m.volts, h.DeltaA))}
	if last := len(h.DeltaA) - 1; b.periodS > 0 {
		h.steps = map[string]float64{b.g.Name: 1 + h.DeltaA[last]/(b.duty*math.Max(b.onA, 1e-9))}
	}
	return h, nil
}
