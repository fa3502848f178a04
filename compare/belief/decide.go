package belief

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"sealworthy/compare/fault"
	"sealworthy/compare/linear"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
)

// Decision is a verdict with the numbers that it rests on.
type Decision struct {
	Verdict rule.Outcome // of all readings and the look
	// Chi is the distance from healthy in standard deviations, over all readings;
	// ChiLimit is where the rule fails it.
	Chi, ChiLimit float64
	// DPrime is the distance between healthy and the fault of interest that is
	// nearest to being missed; Z is where the readings lie on that way: 0 healthy,
	// DPrime the fault. It passes as long as Z is at most DPrime less the guard.
	DPrime, Z float64
	// Hardest is that fault, an index in Ensemble.Hypotheses; -1: none can be named.
	Hardest int
	// CanPass: readings as they are expected of a healthy group would pass.
	CanPass bool
	// Healthy is the probability that nothing is wrong, the look included; of several groups
	// with the one that is asked for, unless all of them fail together. No
	// verdict is at odds with it: what passes has SurePass or more, what fails
	// a half or less.
	Healthy float64
	// ByLook: the current alone is undecided, the look passed it.
	ByLook bool
	// OnlyAbove: it would pass, but for what may be wrong above it.
	OnlyAbove bool
	// Excluded is what of a group that passes the readings leave possible.
	Excluded Excluded
}

// Excluded is how small a fault the readings still exclude, at the guard of the rule.
type Excluded struct {
	LossA    float64 // the least loss of current at the highest voltage; 0: none is
	JointOhm float64 // no joint in the group's wire below so many ohms is excluded; 0: not known
}

// leastToldLoss, of the guard, is the least loss in standard uncertainties of which it's said that it
// would have shown, however much speaks against it (our own choice: a tenth is within the rounding).
const leastToldLoss = 0.1

// SurePass is how probable it must be that nothing is wrong before anything passes.
const SurePass = 0.95

// sureOfAll: of groups that are read as one, each must be SurePass healthy and all of them
// together this: as sure as two are that are read apart. A branch that lacks somewhere lacks in the
// closure, though each of them is healthy with a good chance.
const sureOfAll = SurePass * SurePass

// sure: healthy enough to pass.
func (w *weighed) sure() bool { return w.ofOne >= SurePass && w.none >= sureOfAll }

// evenOdds: what is more probably healthy than not doesn't fail.
const evenOdds = 0.5

// Decide applies the decision rule to all readings jointly, with the guards k and
// guard of a single one. With D the readings less their healthy
// means and C their covariance if healthy (plan, bench, model and meter, and what
// other groups tell):
//
//	fail:  D' C^-1 D >= q,  P(chi2_n >= q) = P(|z| >= k), healthy isn't the likelier, and
//	       the draw at the highest voltage lies on that side by leastAside (not on the
//	       other one by as much, where healthy is hardlyHealthy and a known fault fits, or it's surelyNot)
//	pass:  not fail, z_j <= d'_j - guard for every fault of interest j, and healthy
//	       is SurePass probable;
//	       z_j = delta_j' C^-1 D / d'_j,  d'_j = sqrt(delta_j' C^-1 delta_j)
//
// n is the number of voltages, delta_j what fault j does to the draw at each of
// them. So the false alarm is that of one reading whatever their number, and a
// fault of interest passes no more often than the guard allows: once in 20. Each side
// excludes its own: below the loss of a branch, above what overloads an LED. With
// one reading this is the rule of a single number: D >= k u fails, D >= guard u -
// I_min passes (JCGM 106:2012 for guard bands). It fails low or high as the fault
// does that fits best.
//
// A look that finds all lit passes what the current leaves undecided if it makes
// healthy SurePass probable; it can't pass what lies too far off. A look that finds
// something dark never passes.
func (e *Ensemble) Decide(rs []Reading, l look.Look, by rule.Rule) (Decision, error) {
	if _, err := rule.New(by.K, by.Guard); err != nil {
		return Decision{}, err
	}
	w, err := e.weigh(rs, l)
	if err != nil {
		return Decision{}, err
	}
	v := w.view
	if len(v.at) == 0 {
		return Decision{}, fmt.Errorf("no reading to decide on")
	}
	r := e.ruler(v, by)
	d := r.at(v.all())
	d.Healthy = w.ofOne
	switch failed := d.Verdict == rule.FailLow || d.Verdict == rule.FailHigh; {
	case failed && w.none > evenOdds:
		d.Verdict = rule.Undecided
	case failed:
		d.Healthy = w.none // it's of all that was read as one
		verdict, known := e.side(w, d.Verdict)
		clear := w.none <= hardlyHealthy && known || w.none <= surelyNot
		if d.Verdict = verdict; !r.liesThere(v, verdict, clear) || w.none > 1-SurePass && !known {
			d.Verdict = rule.Undecided
		}
	default:
		fits := d.Verdict == rule.Pass && l.Saw != look.SomeDark
		lit := l.Saw == look.AllLit || l.Saw == look.NotLooked && e.passedThen(r, v)
		byLook := d.Verdict == rule.Undecided && lit && d.Chi < d.ChiLimit
		d.Verdict = rule.Undecided
		switch {
		case (fits || byLook) && w.sure():
			d.Verdict, d.ByLook = rule.Pass, byLook
		case fits || byLook:
			d.OnlyAbove = w.ofOne+sumOf(e.given.above) >= SurePass
		}
	}
	if d.Verdict == rule.Pass {
		d.Excluded = r.excluded(v)
	}
	return d, nil
}

// side is low or high as the fault does that fits best; where none is likelier than an
// unknown cause, it isn't known and as the readings lie. Then a group fails only where
// it is surely not healthy.
func (e *Ensemble) side(w *weighed, lies rule.Outcome) (side rule.Outcome, known bool) {
	best := -1
	for i, p := range w.of {
		if p > w.unknown && (best < 0 || p > w.of[best]) {
			best = i
		}
	}
	if best < 0 {
		return lies, false
	}
	top := w.view.at[0]
	for _, k := range w.view.at {
		if e.Volts[k] > e.Volts[top] {
			top = k
		}
	}
	switch off := e.m.of[best].mean[top] - e.m.healthy.mean[top]; {
	case off < -fewAmps:
		return rule.FailLow, true
	case off > fewAmps:
		return rule.FailHigh, true
	}
	return lies, true
}

// leastAside: nothing fails low or high whose reading at the highest voltage isn't that
// many standard deviations on that side itself; where it's hardlyHealthy probable that
// nothing is wrong, and a known fault fits, or surelyNot probable whatever fits, it must
// not lie as far on the other side. What
// only lower voltages tell hangs on what a curve is like near its knee (common practice,
// no source).
const (
	leastAside    = 0.5
	hardlyHealthy = 1e-3
	surelyNot     = 1e-5
)

// liesThere: the reading at the highest voltage lies on the side of a verdict, or where
// that is clear from the others not on the other side.
func (r *ruler) liesThere(v *view, verdict rule.Outcome, clear bool) bool {
	top := 0
	for a, k := range v.at {
		if r.e.Volts[k] > r.e.Volts[v.at[top]] {
			top = a
		}
	}
	z := (v.y[top] - r.mean[top]) / r.sd[top]
	if verdict == rule.FailLow {
		z = -z
	}
	if clear {
		return z > -leastAside
	}
	return z >= leastAside
}

// excluded is how small a fault the readings still exclude.
func (r *ruler) excluded(v *view) Excluded {
	var out Excluded
	top := 0
	for a, k := range v.at {
		if r.e.Volts[k] > r.e.Volts[v.at[top]] {
			top = a
		}
	}
	for i, dPrime := range r.dPrime {
		x := r.e.interest[i%len(r.e.interest)]
		if x.gain || !(dPrime > 0) {
			continue
		}
		// Of a loss t times as large z stays and d' grows with t. Where more flows than expected
		// even none is excluded; it's said of no smaller one than leastToldLoss of the guard.
		z := linear.Dot(r.delta[i], r.w) / dPrime
		if loss := math.Max(leastToldLoss*r.guard, z+r.guard) / dPrime * -x.delta[v.at[top]]; loss > out.LossA {
			out.LossA = loss
		}
	}
	out.JointOhm = r.leastJoint(v, onlyNow)
	if v.before == nil || out.JointOhm == 0 {
		return out
	}
	// It may have been there then, too: what isn't excluded of one isn't excluded.
	if then := r.leastJoint(v, fromThen); then == 0 || then > out.JointOhm {
		out.JointOhm = then
	}
	return out
}

// leastJoint is the least joint in the group's own wire that the readings exclude, ohm,
// between two nodes of its grid by the logarithm; 0: none.
func (r *ruler) leastJoint(v *view, at when) float64 {
	was, room := 0.0, 0.0
	for i, x := range r.e.variants {
		if x.how != feed || r.e.Hypotheses[x.hyp].Kinds[0] != fault.BadJoint {
			continue
		}
		delta := make([]float64, len(v.at))
		for a, k := range v.at {
			delta[a] = r.e.m.of[i].mean[k] - r.e.m.healthy.mean[k]
		}
		delta = r.lasting(v, delta, at)
		linear.Forward(r.c, len(delta), delta)
		dp := math.Sqrt(linear.Dot(delta, delta))
		now := dp - r.guard
		if dp > 0 {
			now -= linear.Dot(delta, r.w) / dp
		}
		if now >= 0 {
			if was == 0 {
				return x.at
			}
			return was * math.Pow(x.at/was, -room/(now-room))
		}
		was, room = x.at, now
	}
	return 0
}

// ruler is the rule at one set of voltages, ready for any readings there.
type ruler struct {
	e            *Ensemble
	now          int // readings that aren't of before
	limit, guard float64
	mean, sd     []float64 // of what is healthy
	c            []float64 // its covariance, factored
	delta        [][]float64
	dPrime       []float64 // by fault of interest, as delta
	w            []float64 // room for the readings
}

func (e *Ensemble) ruler(v *view, by rule.Rule) *ruler {
	r := &ruler{e: e, now: len(v.at), guard: by.Guard}
	r.mean, r.c = e.given.expectsAt(v, &e.m.healthy, sinceThen)
	n := len(r.mean)
	r.limit, r.sd, r.w = chiLimit(by.K, n), make([]float64, n), make([]float64, n)
	for a := range n {
		r.sd[a] = math.Sqrt(r.c[a*n+a])
	}
	linear.FactorHeld(r.c, n)
	for _, at := range []when{sinceThen, fromThen} {
		if at == fromThen && v.before == nil {
			break
		}
		for _, x := range e.interest {
			delta := make([]float64, len(v.at))
			for a, i := range v.at {
				delta[a] = x.delta[i]
			}
			delta = r.lasting(v, delta, at)
			linear.Forward(r.c, n, delta)
			r.delta, r.dPrime = append(r.delta, delta), append(r.dPrime, math.Sqrt(linear.Dot(delta, delta)))
		}
	}
	return r
}

// lasting is what a fault does to all readings that did so much to those of now.
func (r *ruler) lasting(v *view, now []float64, at when) []float64 {
	out := make([]float64, len(r.mean))
	copy(out, now)
	if v.before == nil || at != fromThen {
		return out
	}
	for y, a := range v.before.near {
		if was := r.e.m.healthy.mean[v.at[a]]; was > fewAmps {
			out[len(now)+y] = now[a] / was * r.mean[len(now)+y]
		}
	}
	return out
}

// since is how far the readings are from what isn't excluded to have come since what was read
// before, in standard deviations: the least over the faults of interest.
func (r *ruler) since(v *view) float64 {
	diff := slices.Clone(v.all())
	for a := range diff {
		diff[a] -= r.mean[a]
	}
	linear.Forward(r.c, len(diff), diff)
	least := math.Inf(1)
	for i := range r.e.interest {
		if dp := r.dPrime[i]; dp > 0 {
			least = math.Min(least, dp-linear.Dot(r.delta[i], diff)/dp)
		} else {
			least = 0
		}
	}
	if len(r.e.interest) == 0 {
		return 0
	}
	return least
}

// at decides on readings.
func (r *ruler) at(y []float64) Decision {
	worst, sign := 0.0, 0.0
	diff := r.w
	for a := range y {
		diff[a] = y[a] - r.mean[a]
		if z := diff[a] / r.sd[a]; a < r.now && math.Abs(z) > worst {
			worst, sign = math.Abs(z), z
		}
	}
	linear.Forward(r.c, len(y), diff)
	d := Decision{Verdict: rule.Undecided, Hardest: -1, Chi: math.Sqrt(linear.Dot(diff, diff)), ChiLimit: r.limit}
	least := math.Inf(1)
	for i, dp := range r.dPrime {
		z := 0.0
		if dp > 0 {
			z = linear.Dot(r.delta[i], diff) / dp
		}
		if room := dp - z; room < least {
			least = room
			d.DPrime, d.Z, d.Hardest = dp, z, r.e.interest[i%len(r.e.interest)].hyp
		}
		d.CanPass = (d.CanPass || i == 0) && dp > r.guard
	}
	switch {
	case d.Chi >= d.ChiLimit && sign < 0:
		d.Verdict = rule.FailLow
	case d.Chi >= d.ChiLimit:
		d.Verdict = rule.FailHigh
	case d.Hardest >= 0 && least >= r.guard && r.e.given.excludesCommon():
		d.Verdict = rule.Pass
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
