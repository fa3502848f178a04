package belief

import (
	"math"
	"slices"

	"sealworthy/compare/fault"
)

// Others is what the readings of other groups say of what a group shares with them.
// A nil *Others says nothing.
type Others struct {
	keys   []FactorKey // of the factors of every cloud
	worlds []othersWorld
	common []commonLack
	above  map[fault.Kind]float64 // how probable it is that a cause above the group is felt in it
}

// Loose is what they say of pieces that weren't joined yet: nothing was above them.
func (o *Others) Loose() *Others {
	if o == nil {
		return nil
	}
	x := *o
	x.above = nil
	return &x
}

// othersWorld is one way in which all groups may hang together, by all readings
// but those of the group itself.
type othersWorld struct {
	log        float64 // prior, and evidence of the others
	dispersion dispersion
	cloud      cloud
	lack       *lack // what the group has in common with others then; nil: anything of its own
}

// lack is the loss of so many of the least branches of one light.
type lack struct {
	interest int // of Ensemble.interest
	times    int
	reel     string
}

// given is an ensemble's view of what others say.
type given struct {
	e      *Ensemble
	keys   []FactorKey // that the clouds know
	keep   []int       // factors that the clouds know, indices in Ensemble.keys; the last one may be the gain
	fold   []int       // all others
	number []int       // by keep: in the clouds
	gain   bool        // the meter's gain is one of them
	worlds []othersWorld
	expect []othersWorld // those by which a healthy draw is expected, weights adding up to 1
	common []commonLack
	above  map[fault.Kind]float64
}

// Given is the ensemble with what other groups say of what they share with it.
// Healthy is expected by them, too. The ensemble itself doesn't change.
func (e *Ensemble) Given(o *Others) *Ensemble {
	if o == nil {
		return e
	}
	out := *e
	out.given = e.givenBy(o)
	n := len(e.Volts)
	out.HealthyA, out.HealthyU = make([]float64, n), make([]float64, n)
	v := e.everywhere()
	mean, cov := out.given.expects(v, &e.m.healthy)
	for k := range n {
		out.HealthyA[k], out.HealthyU[k] = mean[k], math.Sqrt(cov[k*n+k])
	}
	return &out
}

// everywhere is a view of all voltages by a meter without any doubt.
func (e *Ensemble) everywhere() *view {
	n := len(e.Volts)
	v := &view{y: make([]float64, n), u2: make([]float64, n), gain: make([]float64, n), off: make([]float64, n),
		model: e.priors.Model}
	for k := range n {
		v.at = append(v.at, k)
	}
	return v
}

// alone is what is given where nobody else tells anything.
func (e *Ensemble) alone() *given {
	g := &given{e: e}
	for f := range e.keys {
		g.fold = append(g.fold, f)
	}
	none := newCloud(0)
	g.worlds = []othersWorld{{log: logOf(1 - e.priors.Loose), dispersion: dispersion{1, 0}, cloud: none}}
	g.expect = []othersWorld{{dispersion: dispersion{1, 0}, cloud: none}}
	if e.priors.Loose > 0 {
		g.worlds = append(g.worlds, othersWorld{log: logOf(e.priors.Loose), dispersion: dispersion{looseBy, 0},
			cloud: none})
	}
	return g
}

func (e *Ensemble) givenBy(o *Others) *given {
	g := &given{e: e, common: o.common, above: o.above}
	g.know(o.keys)
	top := math.Inf(-1)
	for _, w := range o.worlds {
		top = math.Max(top, w.log)
	}
	var logs []float64
	for _, w := range o.worlds {
		w.log -= top
		g.worlds = append(g.worlds, w)
		if w.lack == nil {
			g.expect, logs = append(g.expect, w), append(logs, w.log)
		}
	}
	total := logSum(logs)
	for i := range g.expect {
		g.expect[i].log -= total
	}
	return g
}

// know finds the factors that clouds know.
func (g *given) know(keys []FactorKey) {
	g.keys = keys
	for f, k := range g.e.keys {
		if i := slices.Index(keys, k); i >= 0 {
			g.keep, g.number = append(g.keep, f), append(g.number, i)
		} else {
			g.fold = append(g.fold, f)
		}
	}
	if i := slices.Index(keys, FactorKey{GainFactor, g.e.bench.Meter}); i >= 0 {
		g.gain, g.number = true, append(g.number, i)
	}
}

// alternative is what the readings of a view are if m holds, with a dispersion.
func (g *given) alternative(v *view, m *moment, s dispersion) alternative {
	k, n := len(v.at), g.e.m.n
	a := alternative{mean: make([]float64, k), cov: make([]float64, k*k), load: make([]float64, len(g.number)*k)}
	own, fold := m.own[s.shift], g.fold
	if len(g.keep) == 0 && s.shift == 0 {
		own, fold = m.cov, nil
	}
	t2 := s.tolerance * s.tolerance
	for x, i := range v.at {
		a.mean[x] = m.mean[i]
		for y, j := range v.at[:x+1] {
			c := own[i*n+j]
			for _, f := range fold {
				if p := m.load[f*n+i] * m.load[f*n+j]; p != 0 {
					c += p * g.e.widerShare(f, s.shift)
				}
			}
			c = t2*c + v.model*v.model*modelCorrelation*m.mean[i]*m.mean[j] + v.off[x]*v.off[y]
			if !g.gain {
				c += v.gain[x] * v.gain[y] * m.mean[i] * m.mean[j]
			}
			if i == j {
				c += v.model * v.model * (1 - modelCorrelation) * m.mean[i] * m.mean[i]
			}
			if x == y {
				c += v.u2[x]
			}
			a.cov[x*k+y], a.cov[y*k+x] = c, c
		}
	}
	for q, f := range g.keep {
		by := s.tolerance * math.Sqrt(g.e.widerShare(f, s.shift))
		for x, i := range v.at {
			a.load[q*k+x] = by * m.load[f*n+i]
		}
	}
	if g.gain {
		for x, i := range v.at {
			a.load[len(g.keep)*k+x] = v.gain[x] * m.mean[i]
		}
	}
	return a
}

// widerShare is by how much the variance of a common factor is larger where shares
// are shifted.
func (e *Ensemble) widerShare(f, shift int) float64 {
	if s := e.shared[f]; s > 0 && shift > 0 {
		return shifted(s, shareShifts[shift].logit) / s
	}
	return 1
}

func (g *given) unit(v *view, alts ...alternative) *unit {
	return &unit{y: v.y, factors: g.number, alts: alts}
}

// when is since when something is so.
type when int

// modelCorrelation is that of what the device model is off, between two voltages (common
// practice, no source).
const modelCorrelation = 0.9

const (
	onlyNow   when = iota // of what was read now alone
	sinceThen             // since what was read of the same pieces before
	fromThen              // then and now
)

// density is that of the readings of a view, and of what was read of the same pieces before,
// if m holds in one world since when.
func (g *given) density(w *othersWorld, v *view, m *moment, at when) float64 {
	if len(v.at) == 0 {
		return 0
	}
	return w.cloud.logDensity(g.read(v, m, w.dispersion, at), 0)
}

// read is what was read, as a unit with m as its alternative.
func (g *given) read(v *view, m *moment, s dispersion, at when) *unit {
	b := v.before
	if b == nil || at == onlyNow {
		return g.unit(v, g.alternative(v, m, s))
	}
	var loose []float64
	if at == fromThen {
		loose = b.always(m)
	}
	factors := b.factors()
	return &unit{y: slices.Concat(v.y, b.view.y), factors: factors, alts: []alternative{b.twice(factors, m, loose, s)}}
}

// logLikelihood is that of the readings if m holds, over all worlds in which the
// group has nothing in common with others, by their weight.
func (g *given) logLikelihood(v *view, m *moment, at when) float64 {
	logs := make([]float64, 0, len(g.worlds))
	for i := range g.worlds {
		if w := &g.worlds[i]; w.lack == nil {
			logs = append(logs, w.log+g.density(w, v, m, at))
		}
	}
	return logSum(logs)
}

// expects is the mean and covariance of the readings if m holds, by what the others
// say.
func (g *given) expects(v *view, m *moment) (mean, cov []float64) { return g.expectsAt(v, m, onlyNow) }

// expectsAt is that with what was read before, too: the readings of now come first.
func (g *given) expectsAt(v *view, m *moment, at when) (mean, cov []float64) {
	k := len(v.at)
	if v.before != nil && at != onlyNow {
		k += len(v.before.view.at)
	}
	mean, cov = make([]float64, k), make([]float64, k*k)
	means := make([][]float64, len(g.expect))
	for i := range g.expect {
		w := &g.expect[i]
		p := math.Exp(w.log)
		mu, c := w.cloud.predict(g.read(v, m, w.dispersion, at), 0)
		means[i] = mu
		for a, x := range mu {
			mean[a] += p * x
		}
		for a, x := range c {
			cov[a] += p * x
		}
	}
	for i := range g.expect {
		p := math.Exp(g.expect[i].log)
		for a := range k {
			for b := range k {
				cov[a*k+b] += p * (means[i][a] - mean[a]) * (means[i][b] - mean[b])
			}
		}
	}
	return mean, cov
}

// of is what is lost, as a moment.
func (l *lack) of(e *Ensemble) moment {
	x := &e.m.of[e.interest[l.interest].variant]
	m := x.clone()
	if l.times > 1 {
		m.add(float64(l.times-1), x, &e.m.healthy)
	}
	return m
}
