package belief

import (
	"math"

	"sealworthy/compare/linear"
	"sealworthy/compare/look"
)

// After is the ensemble with what was read, and seen, of the same pieces at an earlier stage:
// what the pieces are off by is the same in both, and so is what is wrong with them, unless
// it came since. Nothing makes a fault of then normal: whatever may be wrong may have been so
// always. Healthy is expected by what was read then, too. The ensemble itself doesn't change.
//
// By what two readings of the same healthy pieces differ: each meter, unless it's one in one
// range, supply, room, leads, and eachReading.
func (e *Ensemble) After(earlier Measured) (*Ensemble, error) {
	out := *e
	out.earlier = &earlier
	v := e.everywhere()
	b, err := newBefore(v, e.given, e.given.keys, &earlier)
	if err != nil || b == nil {
		return e, err
	}
	v.before = b
	out.HealthyA, out.HealthyU = e.byThen(v)
	return &out, nil
}

// byThen is what a healthy group is expected to read, with standard uncertainties, by what
// was read of it before. All is normal, and so conditioned on that: m + S C^-1 (y - my).
func (e *Ensemble) byThen(v *view) (amps, u []float64) {
	mean, cov := e.given.expectsAt(v, &e.m.healthy, sinceThen)
	n, all := len(v.at), len(mean)
	l := all - n
	c, off := make([]float64, l*l), make([]float64, l)
	for x := range l {
		copy(c[x*l:x*l+l], cov[(n+x)*all+n:(n+x)*all+all])
		off[x] = v.before.view.y[x] - mean[n+x]
	}
	linear.FactorHeld(c, l)
	linear.Forward(c, l, off)
	amps, u = make([]float64, n), make([]float64, n)
	cross := make([]float64, l)
	for k := range n {
		copy(cross, cov[k*all+n:k*all+all])
		linear.Forward(c, l, cross)
		amps[k] = mean[k] + linear.Dot(cross, off)
		u[k] = math.Sqrt(math.Max(0, cov[k*all+k]-linear.Dot(cross, cross)))
	}
	return amps, u
}

// Against is what a healthy group should read now by what was read of it before, in place of
// what was read, and the standard uncertainty of their difference. It isn't ok where nothing
// was read before.
func (e *Ensemble) Against(now Reading) (amps, u float64, ok bool, err error) {
	v, err := e.look([]Reading{now})
	if err != nil || v.before == nil {
		return 0, 0, false, err
	}
	a, us := e.byThen(v)
	return a[0], us[0], true, nil
}

// seenBefore is what the look of then makes of so many dark and dim lights.
func (e *Ensemble) seenBefore(dark, dim int) float64 {
	return e.priors.Eye.LogOf(e.earlier.Look.Counted(e.Lights), dark, dim, e.Lights)
}

// logHealthy is what readings and looks make of a group that is and was healthy.
func (e *Ensemble) logHealthy(v *view, l look.Look) float64 {
	s := e.given.logLikelihood(v, &e.m.healthy, sinceThen) + e.priors.Eye.LogOf(l, 0, 0, e.Lights)
	if v.before != nil {
		s += e.seenBefore(0, 0)
	}
	return s
}

// seenBeforeAlways is the same of what was so already then, beside the look of now. One eye that
// overlooks it now overlooked it then, too: of two looks that found all lit one counts.
func (e *Ensemble) seenBeforeAlways(now look.Look, dark, dim int) float64 {
	if now.Saw == look.AllLit && e.earlier.Look.Saw == look.AllLit {
		return 0
	}
	return e.seenBefore(dark, dim)
}

// logFaulty is what they make of a group with a fault. That it has had it always is as probable
// as it is without an earlier reading, which may tell nothing; it may have come since as well,
// half as probably. What is wrong with the plan was so always.
func (e *Ensemble) logFaulty(v *view, m *moment, l look.Look, dark, dim int, plan bool) float64 {
	now := e.priors.Eye.LogOf(l, dark, dim, e.Lights)
	if v.before == nil {
		return now + e.given.logLikelihood(v, m, onlyNow)
	}
	then := e.given.logLikelihood(v, m, fromThen) + e.seenBeforeAlways(l, dark, dim)
	if plan {
		return now + then
	}
	return now + logSum([]float64{then, e.given.logLikelihood(v, m, sinceThen) + e.seenBefore(0, 0) - math.Ln2})
}

// logUnknowable is the density of readings of which the cause isn't known, now or always.
func (e *Ensemble) logUnknowable(v *view, l look.Look) float64 {
	s, b := e.logUnknown(v), v.before
	if b == nil {
		return s
	}
	healthy := b.e.given.logLikelihood(b.view, &b.e.m.healthy, onlyNow) + e.seenBefore(0, 0)
	unknown := b.e.logUnknown(b.view)
	if l.Saw != look.AllLit || e.earlier.Look.Saw != look.AllLit {
		unknown += e.priors.Eye.LogOfUnknown(e.earlier.Look.Counted(e.Lights), e.Lights)
	}
	return s + logSum([]float64{healthy - math.Ln2, unknown})
}

// passedThen: all was seen lit then, and the readings exclude that anything of interest came
// since.
func (e *Ensemble) passedThen(r *ruler, v *view) bool {
	return v.before != nil && e.earlier.Look.Saw == look.AllLit && r.since(v) >= r.guard
}
