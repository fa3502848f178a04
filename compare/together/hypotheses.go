package together

import (
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// hypothesis is one common cause at one size: what it makes of the readings and
// in which directions that is uncertain. The zero one is no common cause.
type hypothesis struct {
	kind  fault.Kind
	place Place
	part  string
	ohms  float64 // of a place; +Inf: open
	volts float64
	// factors, where the size is open: size 0 with a standard deviation along v.
	v, s  []float64
	mean  []float64
	wide  []float64 // half a step of the grid, as one direction
	blur  float64   // of the mean, each reading for itself
	prior float64
	hangs []bool // readings that it reaches
}

// The grid of a resistance that shouldn't be there, ohm: two to three steps an octave.
var gridOhms = []float64{0.5, 0.7, 1, 1.5, 2.2, 3.3, 4.7, 6.8, 10, 15, 22, 33, 47, 68, 100, 150, 220, 330, 470, 680, 1000}

// The grid of a supply that is off, V either way.
var gridVolts = []float64{0.1, 0.15, 0.22, 0.33, 0.5, 0.75, 1.1, 1.6, 2.4, 3.5}

const (
	// gridWide of the distance between a point's neighbours: what lies between
	// points of the grid (a uniform cell has 0.29 of its width as deviation).
	gridWide = 0.2
	// blurRel: what the parts' tolerances do to the effect of a cause, of the effect.
	blurRel = 0.05
	// partRel: the figures of a part may be off by this much more than they say
	// (one standard deviation), in two sizes.
	partSmall, partLarge = 0.1, 0.3
	meterSmall, meterBig = 0.02, 0.05
)

// hypotheses lists the common causes that at least two of the groups hang on.
func (m *model) hypotheses(pr fault.CommonPriors) []hypothesis {
	var out []hypothesis
	for _, s := range m.spots() {
		prior := pr.Joint
		switch s.place.Kind {
		case AtReturn:
			prior = pr.Return
		case AtJack, AtLeads:
			prior = pr.Jack
		}
		out = append(out, m.atPlace(s, prior, pr.Open)...)
	}
	out = append(out, m.supply(pr.Supply)...)
	if m.reaches(m.all()) >= 2 {
		for _, s := range []float64{meterSmall, meterBig} {
			v := make([]float64, len(m.r))
			for i, r := range m.r {
				v[i] = r.ExpectedA
			}
			out = append(out, hypothesis{kind: fault.MeterOff, v: v, s: []float64{s}, prior: pr.Meter / 2, hangs: m.all()})
		}
	}
	return append(out, m.parts(pr.PartFigures)...)
}

func (m *model) all() []bool {
	out := make([]bool, len(m.r))
	for i := range out {
		out[i] = true
	}
	return out
}

// reaches counts the groups among some readings.
func (m *model) reaches(hangs []bool) int {
	seen := map[int]bool{}
	for i, h := range hangs {
		if h {
			seen[m.r[i].gi] = true
		}
	}
	return len(seen)
}

// spot is a place with the way to put a resistance there.
type spot struct {
	place Place
	set   func(ohms float64)
}

// spots lists the places from the jack down.
func (m *model) spots() []spot {
	joined := func(set func(s *side, ohms float64)) func(float64) {
		return func(ohms float64) {
			for _, s := range m.sides {
				if !s.loose {
					set(s, ohms)
				}
			}
		}
	}
	leads := func(ohms float64) {
		for _, s := range m.sides {
			s.extraOhm = ohms
		}
	}
	out := []spot{{Place{AtLeads, "the bench's leads"}, leads}}
	for ji, j := range m.p.Jacks {
		out = append(out, spot{Place{AtJack, j.Name}, joined(func(s *side, ohms float64) {
			if s.w.Jack == ji {
				s.extraOhm = ohms
			}
		})})
	}
	for i, j := range m.p.Joints {
		out = append(out, spot{Place{AtJoint, j.Name}, joined(func(s *side, ohms float64) { s.w.JointSeries(i, ohms) })})
	}
	for i, r := range m.p.Returns {
		out = append(out, spot{Place{AtReturn, r.Name}, joined(func(s *side, ohms float64) { s.w.ReturnSeries(i, ohms) })})
	}
	for i, b := range m.p.Boards {
		out = append(out, spot{Place{AtBoard, b.Name}, joined(func(s *side, ohms float64) { s.w.BoardSeries(i, ohms) })})
	}
	return out
}

// atPlace makes the hypotheses of one place: each resistance of the grid, and open.
func (m *model) atPlace(s spot, prior, openShare float64) []hypothesis {
	defer s.set(0)
	s.set(100)
	probe, ok := m.effect(0, nil)
	if !ok {
		return nil
	}
	hangs := make([]bool, len(m.r))
	for i, r := range m.r {
		hangs[i] = math.Abs(probe[i]) > 1e-6*r.ExpectedA
	}
	if m.reaches(hangs) < 2 {
		return nil
	}
	var means [][]float64
	var ohms []float64
	for _, x := range gridOhms {
		s.set(x)
		if e, ok := m.effect(0, hangs); ok {
			means, ohms = append(means, e), append(ohms, x)
		}
	}
	var out []hypothesis
	kind := map[PlaceKind]fault.Kind{AtReturn: fault.BadReturn, AtJack: fault.BadJack, AtLeads: fault.BadJack}[s.place.Kind]
	if kind == "" {
		kind = fault.UpstreamJoint
	}
	for k := range means {
		out = append(out, hypothesis{kind: kind, place: s.place, ohms: ohms[k], mean: means[k], wide: between(means, k),
			blur: blurRel, prior: prior * (1 - openShare) / float64(len(means)), hangs: hangs})
	}
	// Open: nothing flows there any more. What else is on goes on.
	e := make([]float64, len(m.r))
	for i, r := range m.r {
		if hangs[i] {
			e[i] = -r.ExpectedA
		}
	}
	return append(out, hypothesis{kind: kind, place: s.place, ohms: math.Inf(1), mean: e, blur: 0.003, prior: prior * openShare, hangs: hangs})
}

// between is the direction from one neighbour on the grid to the other, as the
// doubt of a size between them.
func between(means [][]float64, k int) []float64 {
	low, high := means[max(0, k-1)], means[min(len(means)-1, k+1)]
	out := make([]float64, len(low))
	for i := range out {
		out[i] = gridWide * (high[i] - low[i])
	}
	return out
}

// supply: its voltage is off, up or down, for all readings alike.
func (m *model) supply(prior float64) []hypothesis {
	all := m.all()
	if m.reaches(all) < 2 {
		return nil
	}
	var out []hypothesis
	for _, sign := range []float64{-1, 1} {
		var means [][]float64
		var volts []float64
		for _, x := range gridVolts {
			if e, ok := m.effect(sign*x, nil); ok {
				means, volts = append(means, e), append(volts, sign*x)
			}
		}
		for k := range means {
			out = append(out, hypothesis{kind: fault.SupplyOff, volts: volts[k], mean: means[k], wide: between(means, k),
				blur: blurRel, prior: prior / 2 / float64(len(means)), hangs: all})
		}
	}
	return out
}

// parts: the figures of one reel or part are off, in every group made of it.
func (m *model) parts(prior float64) []hypothesis {
	var reels []string
	for _, r := range m.r {
		for _, l := range m.p.Groups[r.gi].Lights {
			if !slices.Contains(reels, l.Reel) {
				reels = append(reels, l.Reel)
			}
		}
	}
	var out []hypothesis
	for _, reel := range reels {
		const step = 0.02
		m.factor(reel, 1+step)
		e, ok := m.effect(0, nil)
		m.factor(reel, 1)
		if !ok {
			continue
		}
		hangs := make([]bool, len(m.r))
		for i, r := range m.r {
			e[i] /= step
			hangs[i] = math.Abs(e[i]) > 1e-3*r.ExpectedA
		}
		if m.reaches(hangs) < 2 {
			continue
		}
		for _, s := range []float64{partSmall, partLarge} {
			out = append(out, hypothesis{kind: fault.PartFigures, part: reel, v: e, s: []float64{s}, prior: prior / 2, hangs: hangs})
		}
	}
	return out
}

// factor scales the branches of one reel in every circuit.
func (m *model) factor(reel string, f float64) {
	for _, s := range m.sides {
		for gi, g := range s.w.Groups {
			for _, b := range g.Branches {
				if l := m.p.Groups[gi].Lights[b.Light]; l.Reel == reel && l.Kind != plan.Envelope {
					s.w.Net.SetBranchFactor(b.ID, f)
				}
			}
		}
	}
}
