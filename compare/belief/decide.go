package belief

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sealworthy/compare/fault"
	"sealworthy/compare/linear"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

// Verdict is the outcome of the decision rule over several readings. The zero
// Verdict is no valid answer.
type Verdict string

// What the rule can say.
const (
	Pass      Verdict = "pass"
	FailLow   Verdict = "fail low"
	FailHigh  Verdict = "fail high"
	Undecided Verdict = "undecided"
)

// Decision is a verdict with the numbers that it rests on.
type Decision struct {
	Verdict Verdict
	// Chi is the distance from healthy in standard deviations, over all readings;
	// ChiLimit is where the rule fails it.
	Chi, ChiLimit float64
	// DPrime is the distance between healthy and the fault of interest that is
	// nearest to being missed; Z is where the readings lie on that way: 0 healthy,
	// DPrime the fault. It passes as long as |Z| is at most DPrime less the guard.
	DPrime, Z float64
	// Hardest is that fault, an index in Ensemble.Hypotheses; -1: none can be named.
	Hardest int
	// CanPass: a healthy group could pass at all with these readings.
	CanPass bool
	// ByLook: the current alone is undecided, the look passed it.
	ByLook bool
}

// interest is a fault that must be excluded before a group passes: the loss of
// the least branch of one light.
type interest struct {
	hyp     int
	variant int
	reel    string
	delta   []float64 // by voltage
}

// interests are the least branches of each light.
func (s *side) interests(hs []Hypothesis, vs []*variant, m *moments) []interest {
	var out []interest
	for i, v := range vs {
		k := hs[v.hyp].Faults[0].Kind
		if v.how != altered || k != fault.OpenBranch && k != fault.DarkSegment {
			continue
		}
		x := interest{hyp: v.hyp, delta: make([]float64, m.n)}
		rep := &s.list[v.branch]
		x.reel = reelOf(&s.p.Groups[rep.group].Lights[rep.light])
		for k := range x.delta {
			least := rep.i[k]
			for j := range s.list {
				if b := &s.list[j]; b.id >= 0 && b.group == rep.group && b.light == rep.light {
					least = math.Min(least, b.i[k])
				}
			}
			if rep.i[k] > 0 {
				x.delta[k] = (m.of[i].mean[k] - m.healthy.mean[k]) * least / rep.i[k]
			}
		}
		out = append(out, x)
	}
	return out
}

// surePass: a look passes a group only if nothing wrong is this probable with it.
const surePass = 0.9

// Decide applies the decision rule to all readings jointly, with guards k and
// guard of a single one (3.29 and 1.64). With D the readings less their healthy
// means and C their covariance if healthy (plan, bench, model and meter):
//
//	fail:  D' C^-1 D >= q,  P(chi2_n >= q) = P(|z| >= k)
//	pass:  not fail, and |z_j| <= d'_j - guard for every fault of interest j,
//	       z_j = delta_j' C^-1 D / d'_j,  d'_j = sqrt(delta_j' C^-1 delta_j)
//
// n is the number of voltages, delta_j what fault j does to the draw at each of
// them. So the false alarm is that of one reading whatever their number, and a
// fault of interest passes no more often than the guard allows: once in 20. With
// one reading this is the rule of a single number: D >= k u fails, |D| <=
// I_min - guard u passes (JCGM 106:2012 for guard bands). It fails high or low by
// the reading that is farthest off.
//
// A look that finds all lit passes what the current leaves undecided if it makes
// healthy 0.9 probable; it can't pass what fails. A look that finds something
// dark never passes.
func (e *Ensemble) Decide(rs []Reading, l look.Look, k, guard float64) (Decision, error) {
	if !(k > 0) || !(guard > 0) || math.IsInf(k, 0) || math.IsInf(guard, 0) {
		return Decision{}, fmt.Errorf("a decision rule needs two positive guards, got k=%g and guard=%g", k, guard)
	}
	v, err := e.look(rs)
	if err != nil {
		return Decision{}, err
	}
	if len(v.at) == 0 {
		return Decision{}, fmt.Errorf("no reading to decide on")
	}
	d := e.decide(v, k, guard)
	switch {
	case l.Saw == look.SomeDark && d.Verdict == Pass:
		d.Verdict = Undecided
	case l.Saw == look.AllLit && d.Verdict == Undecided:
		r, err := e.Posterior(rs, l)
		if err != nil {
			return Decision{}, err
		}
		if r.None >= surePass {
			d.Verdict, d.ByLook = Pass, true
		}
	}
	return d, nil
}

// ruler is the rule at one set of voltages, ready for any readings there.
type ruler struct {
	e            *Ensemble
	limit, guard float64
	mean, sd     []float64 // of what is healthy
	c            []float64 // its covariance, factored
	delta        [][]float64
	dPrime       []float64 // by fault of interest, as delta
	w            []float64 // room for the readings
}

func (e *Ensemble) ruler(v *view, k, guard float64) *ruler {
	n := len(v.at)
	r := &ruler{e: e, limit: chiLimit(k, n), guard: guard, sd: make([]float64, n), w: make([]float64, n)}
	r.mean, r.c = e.given.expects(v, &e.m.healthy)
	for a := range n {
		r.sd[a] = math.Sqrt(r.c[a*n+a])
	}
	linear.FactorHeld(r.c, n)
	for _, x := range e.interest {
		delta := make([]float64, n)
		for a, i := range v.at {
			delta[a] = x.delta[i]
		}
		linear.Forward(r.c, n, delta)
		r.delta, r.dPrime = append(r.delta, delta), append(r.dPrime, math.Sqrt(linear.Dot(delta, delta)))
	}
	return r
}

func (e *Ensemble) decide(v *view, k, guard float64) Decision { return e.ruler(v, k, guard).at(v.y) }

// at decides on readings.
func (r *ruler) at(y []float64) Decision {
	worst, sign := 0.0, 0.0
	diff := r.w
	for a := range y {
		diff[a] = y[a] - r.mean[a]
		if z := diff[a] / r.sd[a]; math.Abs(z) > worst {
			worst, sign = math.Abs(z), z
		}
	}
	linear.Forward(r.c, len(y), diff)
	d := Decision{Verdict: Undecided, Hardest: -1, Chi: math.Sqrt(linear.Dot(diff, diff)), ChiLimit: r.limit}
	least := math.Inf(1)
	for i, dp := range r.dPrime {
		z := 0.0
		if dp > 0 {
			z = linear.Dot(r.delta[i], diff) / dp
		}
		if room := dp - math.Abs(z); room < least {
			least = room
			d.DPrime, d.Z, d.Hardest = dp, z, r.e.interest[i].hyp
		}
		d.CanPass = (d.CanPass || i == 0) && dp > r.guard
	}
	switch {
	case d.Chi >= d.ChiLimit && sign < 0:
		d.Verdict = FailLow
	case d.Chi >= d.ChiLimit:
		d.Verdict = FailHigh
	case d.Hardest >= 0 && least >= r.guard && r.e.given.excludesCommon():
		d.Verdict = Pass
	}
	return d
}

// excludesCommon: no lack that all groups of a reel may have alike is left in question.
func (g *given) excludesCommon() bool {
	for _, c := range g.common {
		if c.z > c.dPrime-commonGuard {
			return false
		}
	}
	return true
}

// reelOf is the reel of a light; its part stands in where none is named.
func reelOf(l *plan.Light) string {
	if l.Reel != "" {
		return l.Reel
	}
	return l.Part
}

// chiLimit is where n readings are as far from healthy as one is at k.
func chiLimit(k float64, n int) float64 {
	if n == 1 {
		return k
	}
	tail := math.Erfc(k / math.Sqrt2)
	c := distuv.ChiSquared{K: float64(n)}
	lo, hi := 0.0, k*k+20*float64(n)
	for range 100 {
		mid := (lo + hi) / 2
		if c.Survival(mid) > tail {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.Sqrt(hi)
}
