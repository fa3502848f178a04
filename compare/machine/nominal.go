package machine

import (
	"math"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// nominal is what a plan says of a group's draw alone at the jack, all in A.
type nominal struct {
	amps  float64
	u     float64 // standard uncertainty from the plan's tolerances
	least float64 // the least change that a dark branch makes
}

// Figures of the rule that the verdicts are made by (the decision rule with guard
// bands, after JCGM 106:2012): what the oracle holds them to.
const (
	ruleK     = 3.29
	ruleGuard = 1.64
	// ownNoise: beyond the limit by so many of the reading's own.
	ownNoise = 6.0
	// lawRel is what the device law is taken to be off, a standard uncertainty as a
	// fraction of the draw.
	lawRel = 0.005
)

// nominals works out every group of a plan: the draw by solving the circuit with
// nominal parts, its uncertainty by moving one part after another.
func nominals(p *plan.Plan) (map[string]nominal, error) {
	w, err := wiring.Build(p, p.Jacks[0].Name, wiring.Options{})
	if err != nil {
		return nil, err
	}
	volts := p.Jacks[0].Volts
	out := map[string]nominal{}
	for gi, g := range p.Groups {
		w.Alone(gi)
		draw := func() (float64, error) {
			if err := w.Solve(circuit.Source{EmfV: volts}); err != nil {
				return 0, err
			}
			return w.JackAmps(w.Point), nil
		}
		a, err := draw()
		if err != nil {
			return nil, err
		}
		own, common := 0.0, make([]float64, w.Commons)
		for i, q := range w.Params {
			const part = 0.1 // of the half-width: small enough to be straight
			w.Apply(i, part*q.Value.HalfWidth)
			b, err := draw()
			w.Apply(i, 0)
			if err != nil {
				return nil, err
			}
			moved := (b - a) / part // by the whole half-width
			own += moved * moved * (1 - q.Value.Share) / 3
			if q.Common >= 0 {
				common[q.Common] += moved * math.Sqrt(q.Value.Share)
			}
		}
		for _, c := range common {
			own += c * c / 3
		}
		out[g.Name] = nominal{amps: a, u: math.Sqrt(own)}
	}
	return out, leasts(w, out, volts)
}

// leasts adds the least change that opening one branch makes.
func leasts(w *wiring.Wired, by map[string]nominal, volts float64) error {
	for gi, g := range w.Plan.Groups {
		n := by[g.Name]
		n.least = math.Inf(1)
		w.Alone(gi)
		for bi := range w.Groups[gi].Branches {
			w.Open(gi, bi, true)
			err := w.Solve(circuit.Source{EmfV: volts})
			w.Open(gi, bi, false)
			if err != nil {
				return err
			}
			n.least = min(n.least, n.amps-w.JackAmps(w.Point))
		}
		by[g.Name] = n
	}
	return nil
}

// deviation is how far a group really is from the plan.
type deviation struct {
	delta float64 // A, true draw less the plan's
	u     float64 // A, of the difference as the rule takes it
	own   float64 // A, of the reading alone
	least float64
}

// visible: beyond the limit of any pass by six of the reading's own noise.
func (d deviation) visible() bool { return math.Abs(d.delta) > ruleK*d.u+ownNoise*d.own }

// inside: well within what passes by current, whatever the reading's noise.
func (d deviation) inside() bool {
	most := min(ruleK*d.u, d.least-ruleGuard*d.u)
	return math.Abs(d.delta) < most-2*d.own
}
