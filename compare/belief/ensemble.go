package belief

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

// Hypothesis is one thing that can be wrong: faults that make the same of the
// draw at every voltage.
type Hypothesis struct {
	Faults []fault.Fault // one for each place and kind
	Kinds  []fault.Kind  // the likeliest first
	Group  string
	Prior  float64 // probability before anything is measured
	Places int     // branches or LEDs that it could be
	Lights []int   // lights that it could be in
	Dark   int     // lights that it darkens, as the eye counts
	Dim    int     // lights that it dims or makes far too bright
	// Suspect is set where it is the plan that may be wrong.
	Suspect *fault.Suspect
	// Apply puts it into a circuit; Wired.Reset takes it back. Where it has a grid,
	// at is one of its values: ohms, or how bad it is.
	Apply func(w *wiring.Wired, at float64) error
	// Grid are the values of what is unknown about it, with their weights; a
	// single one without a meaning where nothing is.
	Grid []Node
	// MeanA and U are the draw that it makes, by Ensemble.Volts, over its grid.
	MeanA, U []float64
}

// Node is one value of something unknown with its probability.
type Node struct {
	At, Weight float64 // the value in its own unit; its probability, 0 to 1
}

// Ensemble is what each possible fault of a group makes of its draw. It is
// only read after New.
type Ensemble struct {
	Groups     []string     // one, or those that are read as one
	Volts      []float64    // by which everything is indexed
	HealthyA   []float64    // mean
	HealthyU   []float64    // standard uncertainty: of the plan and the bench, without the meter
	Hypotheses []Hypothesis // possible faults, one or more of each kind
	Lights     int          // that the eye can count

	plan     *plan.Plan
	priors   fault.Priors
	bench    scene.Scene
	variants []*variant
	m        *moments
	perV     []float64 // change of the healthy draw with the voltage, A/V
	asideA   []float64 // of the nominal draw, what flows without the groups: a converter's idle current
	seenV    []float64 // nominal voltage over the groups' own branches
	interest []interest
	keys     []FactorKey // of the factors that load the moments
	shared   []float64   // their planned share; 0: none
	params   []param
	reels    map[string][]float64 // draw of the branches of each, by voltage
	given    *given
	earlier  *Measured // what was read of the same pieces before; nil: nothing
	of       string    // of several groups the one that is asked for; empty: all of them
}

// New computes what the possible faults of groups make of their draw at each of
// the voltages. Groups are judged together: one, or those on one output, or all
// that are on; the draw is their sum. On a board it is what lighting the outputs adds.
//
// Every part, the room, the leads and the setting of the supply move the draw by
// their sensitivities at the operating point of each hypothesis (JCGM 100:2008,
// 5.1.2). Of a fault in one branch only that branch is solved again, behind what its
// node gives way by; other faults are as uncertain as what they leave of the draw.
func New(p *plan.Plan, groups []string, volts []float64, b scene.Scene, o Options) (*Ensemble, error) {
	pr := fault.DefaultPriors()
	if o.Priors != nil {
		pr = *o.Priors
	}
	if err := pr.Validate(); err != nil {
		return nil, err
	}
	s, err := newSide(p, groups, volts, b)
	if err != nil {
		return nil, err
	}
	l, hs, err := s.hypotheses(pr, o.Suspects)
	if err != nil {
		return nil, err
	}
	vs := l.variants
	d := newUncertain(s, &l.pr)
	m, err := s.linear(vs, d)
	if err != nil {
		return nil, fmt.Errorf("the draw of %q with its tolerances: %w", groups[0], err)
	}
	e := &Ensemble{Groups: slices.Clone(groups), Volts: slices.Clone(volts), Hypotheses: hs, Lights: l.of, plan: p,
		priors: l.pr, bench: b, m: m, keys: d.keys}
	e.shared, e.params, e.reels = d.shared, d.params, s.ofReels()
	if e.perV, err = s.slopes(); err != nil {
		return nil, err
	}
	if e.asideA, err = s.aside(); err != nil {
		return nil, err
	}
	e.seenV = s.seen()
	e.interest = s.interests(hs, vs, m)
	e.variants = m.spread(s, hs, vs)
	for i := range e.interest {
		hyp := e.interest[i].hyp
		e.interest[i].variant = slices.IndexFunc(e.variants, func(v *variant) bool { return v.hyp == hyp })
	}
	e.HealthyA, e.HealthyU = m.healthy.mean, make([]float64, len(volts))
	for k := range volts {
		e.HealthyU[k] = math.Sqrt(m.healthy.cov[k*m.n+k])
	}
	e.given = e.alone()
	e.summarise()
	return e, nil
}

// ofReels is what the branches of each reel draw, by voltage.
func (s *side) ofReels() map[string][]float64 {
	out := map[string][]float64{}
	for i := range s.list {
		b := &s.list[i]
		if b.id < 0 {
			continue
		}
		name := reelOf(&s.p.Groups[b.group].Lights[b.light])
		if out[name] == nil {
			out[name] = make([]float64, len(s.volts))
		}
		for k := range s.volts {
			out[name][k] += b.i[k]
		}
	}
	return out
}

// summarise writes mean and uncertainty of each hypothesis over its grid.
func (e *Ensemble) summarise() {
	n := len(e.Volts)
	for i := range e.Hypotheses {
		h := &e.Hypotheses[i]
		h.MeanA, h.U = make([]float64, n), make([]float64, n)
	}
	for i, v := range e.variants {
		h := &e.Hypotheses[v.hyp]
		for k := range n {
			a := e.m.of[i].mean[k]
			h.MeanA[k] += v.weight * a
			h.U[k] += v.weight * (a*a + e.m.of[i].cov[k*n+k])
		}
	}
	for i := range e.Hypotheses {
		h := &e.Hypotheses[i]
		for k := range n {
			h.U[k] = math.Sqrt(math.Max(0, h.U[k]-h.MeanA[k]*h.MeanA[k]))
		}
	}
}

// slopes are the changes of the nominal draw with the voltage.
func (s *side) slopes() ([]float64, error) {
	const step = 0.005
	out := make([]float64, len(s.volts))
	for _, sign := range []float64{1, -1} {
		for k := range s.lit {
			if err := s.lit[k].solve(sign * step); err != nil {
				return nil, err
			}
			if s.dark != nil {
				if err := s.unlit[k].solve(sign * step); err != nil {
					return nil, err
				}
			}
			out[k] += sign * s.draw(k) / (2 * step)
		}
	}
	return out, nil
}
