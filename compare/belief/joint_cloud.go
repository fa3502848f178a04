package belief

import (
	"cmp"
	"math"
	"slices"

	"sealworthy/compare/linear"
)

// cloud is a mixture of normal distributions over the factors, with the evidence
// of all that has been taken into it: a Gaussian-sum filter (Alspach and Sorenson,
// IEEE Trans. Autom. Control 17 (1972) 439, from memory).
type cloud struct {
	n     int     // factors
	most  int     // parts that it is kept to
	least float64 // mass that is left out
	parts []part
	logZ  float64
}

type part struct {
	logW float64 // of the mixture's parts; they add up to 1
	mean []float64
	cov  []float64 // n x n
	own  bool      // made just now: no other cloud holds its mean and cov
}

func newCloud(n int) cloud {
	p := part{mean: make([]float64, n), cov: make([]float64, n*n)}
	for i := range n {
		p.cov[i*n+i] = 1
	}
	return cloud{n: n, most: mostParts, least: leastMass, parts: []part{p}}
}

// innovation is what one part makes of the readings if an alternative holds.
type innovation struct {
	chol []float64 // n x n: of the readings' covariance
	rest []float64 // L^-1 (y - mean)
	log  float64   // density with the prior
	// For after, kept from one to the next.
	gain  []float64 // by factor: L^-1 of its row of G
	still []bool    // by factor: the readings tell nothing of it, its row is 0
}

// loaded lists the factors of a unit, by their place in it, that move a reading if an alternative
// holds: most don't.
func loaded(u *unit, a *alternative) []int {
	n := len(u.y)
	out := make([]int, 0, len(u.factors))
	for k := range u.factors {
		if slices.ContainsFunc(a.load[k*n:k*n+n], func(l float64) bool { return l != 0 }) {
			out = append(out, k)
		}
	}
	return out
}

// of fills in the density of the readings of a unit: S = C + A' P A for loads A. rows are the
// loaded factors.
func (v *innovation) of(p *part, factors int, u *unit, a *alternative, rows []int) {
	n := len(u.y)
	v.chol = append(v.chol[:0], a.cov...)
	v.rest = append(v.rest[:0], u.y...)
	for i := range n {
		v.rest[i] -= a.mean[i]
	}
	for at, k := range rows {
		f, lk := u.factors[k], a.load[k*n:k*n+n]
		if m := p.mean[f]; m != 0 {
			for i, x := range lk {
				v.rest[i] -= m * x
			}
		}
		cov := p.cov[f*factors : f*factors+factors]
		for _, h := range rows[:at+1] {
			if c := cov[u.factors[h]]; c != 0 {
				v.addPair(n, c, lk, a.load[h*n:h*n+n], h == k)
			}
		}
	}
	linear.FactorHeld(v.chol, n)
	linear.Forward(v.chol, n, v.rest)
	v.log = a.logPrior - 0.5*linear.Dot(v.rest, v.rest) - linear.HalfLogDet(v.chol,
		n) - 0.5*float64(n)*math.Log(2*math.Pi)
}

// addPair adds what two factors of covariance c make of the readings' covariance by their loads: c (k h' + h k'), and
// c k k' where it's one and the same. It is the innermost loop of a judgement.
func (v *innovation) addPair(n int, c float64, lk, lh []float64, same bool) {
	for i := range n {
		ck, ch, row := c*lk[i], c*lh[i], v.chol[i*n:i*n+i+1]
		if ck == 0 && ch == 0 { // most factors move few of the readings
			continue
		}
		if same {
			for j, x := range lh[:len(row)] {
				row[j] += ck * x
			}
			continue
		}
		with := lk[:len(row)]
		for j, x := range lh[:len(row)] {
			row[j] += ck*x + ch*with[j]
		}
	}
}

// logDensity is the logarithm of prior and density of one alternative of a unit.
func (c *cloud) logDensity(u *unit, alt int) float64 {
	a := &u.alts[alt]
	if a.flat {
		return a.logPrior + a.logDensity
	}
	if math.IsInf(a.logPrior, -1) {
		return a.logPrior
	}
	var v innovation
	logs, rows := make([]float64, len(c.parts)), loaded(u, a)
	for i := range c.parts {
		v.of(&c.parts[i], c.n, u, a, rows)
		logs[i] = c.parts[i].logW + v.log
	}
	return logSum(logs)
}

// leastMass: of what a mixture may be, the least probable that make up no more than this
// together are left out.
const leastMass = 1e-4

// choice is one part of a mixture with one alternative of a unit.
type choice struct {
	part, alt int
	log       float64 // weight of the part, prior and density
}

// after is the cloud once the readings of a unit have been taken in, over those
// of its alternatives that are live.
func (c cloud) after(u *unit, live []int) cloud {
	all := make([]choice, 0, len(c.parts)*len(live))
	logs := make([]float64, 0, cap(all))
	rows := make([][]int, len(u.alts))
	for _, k := range live {
		if a := &u.alts[k]; !a.flat {
			rows[k] = loaded(u, a)
		}
	}
	var v innovation
	for i := range c.parts {
		for _, k := range live {
			a := &u.alts[k]
			l := a.logPrior + a.logDensity
			if !a.flat {
				v.of(&c.parts[i], c.n, u, a, rows[k])
				l = v.log
			}
			l += c.parts[i].logW
			all, logs = append(all, choice{i, k, l}), append(logs, l)
		}
	}
	total := logSum(logs)
	out := cloud{n: c.n, most: c.most, least: c.least, logZ: c.logZ + total}
	for _, x := range likely(all, total, c.least) {
		p := &c.parts[x.part]
		if a := &u.alts[x.alt]; a.flat {
			out.parts = append(out.parts, part{logW: x.log, mean: p.mean, cov: p.cov})
		} else {
			v.of(p, c.n, u, a, rows[x.alt])
			out.parts = append(out.parts, p.after(c.n, u, a, rows[x.alt], &v, x.log))
		}
	}
	if len(out.parts) == 0 { // nothing explains it: then it tells nothing
		out.parts = c.parts
		return out
	}
	out.reduce()
	return out
}

// likely are the choices that make up all but a mass of the total, the most
// probable first.
func likely(all []choice, total, mass float64) []choice {
	if math.IsInf(total, -1) {
		return nil
	}
	least := total + math.Log(mass/float64(len(all))) // all below it together are less than that
	all = slices.DeleteFunc(all, func(x choice) bool { return x.log < least })
	slices.SortStableFunc(all, func(a, b choice) int { return cmp.Compare(b.log, a.log) })
	return all
}

// after is a part once the readings of a unit were taken in: with G = P A,
// mean += G S^-1 r, P -= G S^-1 G' (the Kalman filter's update).
func (p *part) after(factors int, u *unit, a *alternative, rows []int, v *innovation, logW float64) part {
	n := len(u.y)
	out := part{logW, slices.Clone(p.mean), slices.Clone(p.cov), true}
	v.gain, v.still = slices.Grow(v.gain[:0], factors*n)[:factors*n], slices.Grow(v.still[:0], factors)[:factors]
	w, still := v.gain, v.still
	clear(w)
	for i := range factors {
		g := w[i*n : i*n+n]
		still[i] = true
		for _, k := range rows {
			if x := p.cov[i*factors+u.factors[k]]; x != 0 {
				still[i] = false
				for j, l := range a.load[k*n : k*n+n] {
					g[j] += x * l
				}
			}
		}
		if still[i] {
			continue
		}
		linear.Forward(v.chol, n, g)
		out.mean[i] += linear.Dot(g, v.rest)
	}
	for i := range factors {
		if still[i] {
			continue
		}
		for j := range i + 1 {
			if still[j] {
				continue
			}
			x := linear.Dot(w[i*n:i*n+n], w[j*n:j*n+n])
			out.cov[i*factors+j] -= x
			if i != j {
				out.cov[j*factors+i] -= x
			}
		}
	}
	return out
}

// How a mixture is kept small: parts whose means are nearer than nearPart standard
// deviations in every factor, with like variances, are one; of more than the cloud is kept to the
// lightest is merged with the nearest. Merging keeps mean and covariance of
// the whole.
const (
	nearPart  = 0.1
	likeVar   = 1.1
	mostParts = 8
)

// reduce wants the heaviest part first.
func (c *cloud) reduce() {
	var kept []part
	for _, p := range c.parts {
		if i := slices.IndexFunc(kept, func(q part) bool { return q.alike(&p, c.n) }); i >= 0 {
			kept[i] = kept[i].merged(&p, c.n)
			continue
		}
		kept = append(kept, p)
	}
	for len(kept) > c.most {
		last := kept[len(kept)-1]
		kept = kept[:len(kept)-1]
		best, near := 0, math.Inf(1)
		for i := range kept {
			if d := kept[i].far(&last, c.n); d < near {
				best, near = i, d
			}
		}
		kept[best] = kept[best].merged(&last, c.n)
		// It may be heavier than those before it now; the order only says which is lightest.
		for i := best; i > 0 && kept[i].logW > kept[i-1].logW; i-- {
			kept[i], kept[i-1] = kept[i-1], kept[i]
		}
	}
	logs := make([]float64, len(kept))
	for i := range kept {
		logs[i] = kept[i].logW
	}
	total := logSum(logs)
	for i := range kept {
		kept[i].logW, kept[i].own = kept[i].logW-total, false // others may hold this cloud from now on
	}
	c.parts = kept
}

// alike reports whether two parts say the same of every factor.
func (p *part) alike(q *part, n int) bool {
	for i := range n {
		v, w := p.cov[i*n+i], q.cov[i*n+i]
		if v > likeVar*w || w > likeVar*v {
			return false
		}
		if d := p.mean[i] - q.mean[i]; d*d > nearPart*nearPart*math.Min(v, w) {
			return false
		}
	}
	return true
}

// far is how far apart two parts are, in squared standard deviations, factor by factor.
func (p *part) far(q *part, n int) float64 {
	s := 0.0
	for i := range n {
		d := p.mean[i] - q.mean[i]
		s += d * d / (p.cov[i*n+i] + q.cov[i*n+i] + leastFactorVar)
	}
	return s
}

// leastFactorVar keeps factors that are known for sure out of a division by nothing.
const leastFactorVar = 1e-12

// merged is one part with the weight, mean and covariance of two. It takes the place of the
// first where that is its cloud's own.
func (p *part) merged(q *part, n int) part {
	out := part{logSum([]float64{p.logW, q.logW}), p.mean, p.cov, true}
	if !p.own {
		out.mean, out.cov = make([]float64, n), make([]float64, n*n)
	}
	a, b := math.Exp(p.logW-out.logW), math.Exp(q.logW-out.logW)
	for i := range n {
		di := p.mean[i] - q.mean[i]
		for j := range n {
			out.cov[i*n+j] = a*p.cov[i*n+j] + b*q.cov[i*n+j] + a*b*di*(p.mean[j]-q.mean[j])
		}
	}
	for i := range n { // after the covariance, which is about the means before
		out.mean[i] = a*p.mean[i] + b*q.mean[i]
	}
	return out
}

// predict is what the cloud expects of a unit if an alternative holds: mean and
// covariance, over all its parts, of readings with their own noise.
func (c *cloud) predict(u *unit, alt int) (mean, cov []float64) {
	a := &u.alts[alt]
	n := len(u.y)
	mean, cov = make([]float64, n), slices.Clone(a.cov)
	means := make([]float64, n*len(c.parts))
	for i := range c.parts {
		p, w := &c.parts[i], math.Exp(c.parts[i].logW)
		m := means[i*n : i*n+n]
		copy(m, a.mean)
		for k, f := range u.factors {
			lk := a.load[k*n : k*n+n]
			for x, l := range lk {
				m[x] += p.mean[f] * l
			}
			for h, g := range u.factors {
				c := w * p.cov[f*c.n+g]
				lh := a.load[h*n : h*n+n]
				for x := range n {
					for y := range n {
						cov[x*n+y] += c * lk[x] * lh[y]
					}
				}
			}
		}
		for x := range n {
			mean[x] += w * m[x]
		}
	}
	for i := range c.parts {
		w := math.Exp(c.parts[i].logW)
		for x := range n {
			for y := range n {
				cov[x*n+y] += w * (means[i*n+x] - mean[x]) * (means[i*n+y] - mean[y])
			}
		}
	}
	return mean, cov
}
