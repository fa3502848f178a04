package belief

import (
	"math"

	"sealworthy/compare/fault"
	"sealworthy/compare/linear"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
)

// Slip is what a test lets pass of one thing that may be so of a group, each as a
// probability over all that isn't known: the parts, the bench, the readings, and
// how bad it is.
type Slip struct {
	Current float64 // the current alone passes it
	Blind   float64 // it passes if a look finds nothing, whether or not there is something to see
	Eye     float64 // a look finds nothing
	Whole   float64 // a look finds nothing, and then it passes
}

// Slips grades a test before anything is measured: what of each hypothesis its
// readings (their Amps aren't used) and a look would let pass, and how much of what
// is healthy passes.
//
// It is of an ensemble by itself: nothing that other groups tell is known yet.
// That a fault passes is the integral of its density over the readings that pass.
// These lie in an ellipsoid around what is healthy, for outside of it the rule fails
// all. Where one voltage is read the ends of what passes are found, and the integral
// is exact; else it is a sum over so many points that fill the ellipsoid evenly (Halton
// 1960), the same points each time: with 512 it is uncertain by about 2 in 100 of what
// it gives with two voltages, and by 7 with four.
func (e *Ensemble) Slips(rs []Reading, by rule.Rule, points int) (of []Slip, healthy Slip, err error) {
	rs = append([]Reading(nil), rs...)
	for i := range rs {
		at, err := e.index(rs[i].Volts)
		if err != nil {
			return nil, Slip{}, err
		}
		rs[i].Amps = e.HealthyA[at]
	}
	if _, err := e.Decide(rs, look.Look{}, by); err != nil {
		return nil, Slip{}, err
	}
	v, err := e.look(rs)
	if err != nil {
		return nil, Slip{}, err
	}
	g := e.grader(v, by)
	alone, blind := g.passed(points)
	eye := func(dark, dim int) float64 {
		return math.Exp(e.priors.Eye.LogOf(look.Look{Saw: look.AllLit}, dark, dim, e.Lights))
	}
	clean := eye(0, 0)
	healthy = Slip{alone[0], blind[0], clean, clean * blind[0]}
	of = make([]Slip, len(e.Hypotheses))
	total := make([]float64, len(e.Hypotheses))
	for i, x := range e.variants {
		seen := eye(x.dark, x.dim)
		s := &of[x.hyp]
		s.Current += x.weight * alone[1+i]
		s.Blind += x.weight * blind[1+i]
		s.Eye += x.weight * seen
		s.Whole += x.weight * seen * blind[1+i]
		total[x.hyp] += x.weight
	}
	for i := range of {
		if w := total[i]; w > 0 {
			of[i] = Slip{of[i].Current / w, of[i].Blind / w, of[i].Eye / w, of[i].Whole / w}
		}
	}
	return of, healthy, nil
}

// grader holds the densities of all that may be so of a group, ready to be asked at
// any readings: healthy first, then the variants.
type grader struct {
	e     *Ensemble
	v     *view
	rule  *ruler
	of    []scatter
	prior []float64 // of a cause that isn't known last
	blind []float64 // the same with a look that finds nothing
	near  []int     // those of them that reach where anything passes
	at    []float64 // densities at the readings in hand
	w     []float64 // room to work in
}

// scatter is where readings lie if one thing is so: a mixture, over how wide the
// tolerances may be, of normal densities.
type scatter struct {
	mean  []float64
	parts []scatterPart
}

type scatterPart struct {
	weight float64   // of the mixture
	before float64   // what stands before the exponential, weight in
	c      []float64 // covariance, factored
}

func (e *Ensemble) grader(v *view, by rule.Rule) *grader {
	g := &grader{e: e, v: v, rule: e.ruler(v, by), w: make([]float64, len(v.at))}
	lit := look.Look{Saw: look.AllLit}
	add := func(m *moment, prior float64, dark, dim int) {
		g.of, g.prior = append(g.of, e.scatter(v, m)), append(g.prior, prior)
		g.blind = append(g.blind, prior*math.Exp(e.priors.Eye.LogOf(lit, dark, dim, e.Lights)))
	}
	add(&e.m.healthy, e.priors.None, 0, 0)
	for i, x := range e.variants {
		add(&e.m.of[i], e.Hypotheses[x.hyp].Prior*x.weight, x.dark, x.dim)
	}
	g.prior = append(g.prior, e.priors.Unknown)
	g.blind = append(g.blind, e.priors.Unknown*math.Exp(e.priors.Eye.LogOfUnknown(lit, e.Lights)))
	g.at = make([]float64, len(g.of))
	for i := range g.of {
		if g.of[i].reaches(g.rule) {
			g.near = append(g.near, i)
		}
	}
	return g
}

// scatter takes the density of readings if m holds, as logLikelihood has it.
func (e *Ensemble) scatter(v *view, m *moment) scatter {
	k := len(v.at)
	s := scatter{mean: make([]float64, k)}
	for a, i := range v.at {
		s.mean[a] = m.mean[i]
	}
	for i := range e.given.worlds {
		x := &e.given.worlds[i]
		c := e.given.alternative(v, m, x.dispersion).cov
		linear.FactorHeld(c, k)
		weight := math.Exp(x.log)
		before := weight * math.Exp(-linear.HalfLogDet(c, k)-0.5*float64(k)*math.Log(2*math.Pi))
		s.parts = append(s.parts, scatterPart{weight, before, c})
	}
	return s
}

// density is that at y; w is room to work in.
func (s *scatter) density(y, w []float64) float64 {
	p := 0.0
	for i := range s.parts {
		x := &s.parts[i]
		for a := range y {
			w[a] = y[a] - s.mean[a]
		}
		linear.Forward(x.c, len(y), w)
		if d := linear.Dot(w, w); d < farOff {
			p += x.before * math.Exp(-0.5*d)
		}
	}
	return p
}

// farOff is a distance, squared, at which a density is nothing.
const farOff = 100

// pass says whether readings pass by their current alone, and with a look that
// finds nothing. What passes leaves its densities in g.at.
func (g *grader) pass(y []float64) (alone, blind bool) {
	copy(g.v.y, y)
	verdict := g.rule.at(y).Verdict
	if verdict != rule.Pass && verdict != rule.Undecided {
		return false, false
	}
	g.densities(y)
	alone = verdict == rule.Pass && g.healthy(g.prior) >= SurePass
	return alone, alone || g.healthy(g.blind) >= SurePass
}

// densities puts those of all that may be so at readings y into g.at.
func (g *grader) densities(y []float64) {
	for _, i := range g.near {
		g.at[i] = g.of[i].density(y, g.w)
	}
}

// reaches: it has any density where the rule doesn't fail all.
func (s *scatter) reaches(r *ruler) bool {
	n := len(s.mean)
	for a := range n {
		gap := math.Abs(s.mean[a]-r.mean[a]) - r.limit*r.sd[a]
		widest := 0.0
		for _, p := range s.parts {
			row := p.c[a*n : a*n+a+1]
			widest = math.Max(widest, linear.Dot(row, row))
		}
		if gap > 0 && gap*gap > farOff*widest {
			return false
		}
	}
	return true
}

// healthy is the probability that nothing is wrong at the readings in hand, by
// prior probabilities.
func (g *grader) healthy(prior []float64) float64 {
	all := prior[len(g.at)] * math.Exp(g.e.logUnknown(g.v))
	for i, p := range g.at {
		all += prior[i] * p
	}
	return prior[0] * g.at[0] / all
}

// passed integrates every density over what passes.
func (g *grader) passed(points int) (alone, blind []float64) {
	alone, blind = make([]float64, len(g.of)), make([]float64, len(g.of))
	if len(g.v.at) == 1 {
		g.overLine(alone, blind)
	} else {
		g.overBall(alone, blind, max(points, 1))
	}
	return alone, blind
}

// Points between which the line is looked at for an end of what passes, and halvings
// that find it.
const (
	linePoints = 64
	lineHalves = 12
)

// overLine finds where on the line of one reading what passes begins and ends.
func (g *grader) overLine(alone, blind []float64) {
	sd := g.rule.sd[0]
	end := g.rule.limit
	y := []float64{0}
	pass := func(z float64) (bool, bool) {
		y[0] = g.rule.mean[0] + z*sd
		return g.pass(y)
	}
	add := func(to []float64, from, till float64) {
		for _, i := range g.near {
			to[i] += g.of[i].between(g.rule.mean[0]+from*sd, g.rule.mean[0]+till*sd)
		}
	}
	at := -end
	a, b := pass(at)
	for i := 1; i <= linePoints; i++ {
		till := -end + 2*end*float64(i)/linePoints
		a1, b1 := pass(till)
		g.step(alone, a, a1, at, till, add, func(z float64) bool { x, _ := pass(z); return x })
		g.step(blind, b, b1, at, till, add, func(z float64) bool { _, x := pass(z); return x })
		at, a, b = till, a1, b1
	}
}

// step adds what of a step passes: all, none, or up to where that changes.
func (g *grader) step(to []float64, was, is bool, from, till float64,
	add func([]float64, float64, float64), pass func(float64) bool) {
	switch {
	case was && is:
		add(to, from, till)
	case was != is:
		low, high := from, till
		for range lineHalves {
			if mid := (low + high) / 2; pass(mid) == was {
				low = mid
			} else {
				high = mid
			}
		}
		if was {
			add(to, from, low)
		} else {
			add(to, high, till)
		}
	}
}

// between is the probability of one reading from a to b.
func (s *scatter) between(a, b float64) float64 {
	p := 0.0
	for _, x := range s.parts {
		u := x.c[0] * math.Sqrt2
		p += x.weight * (math.Erf((b-s.mean[0])/u) - math.Erf((a-s.mean[0])/u)) / 2
	}
	return p
}

// overBall sums over points that fill the ellipsoid outside of which the rule fails.
func (g *grader) overBall(alone, blind []float64, points int) {
	n := len(g.v.at)
	each := ballVolume(n) * math.Pow(g.rule.limit, float64(n)) * math.Exp(linear.HalfLogDet(g.rule.c,
		n)) / float64(points)
	z, y := make([]float64, n), make([]float64, n)
	for i := range points {
		inBall(i+1, g.rule.limit, z)
		for a := range n {
			y[a] = g.rule.mean[a]
			for b := range a + 1 {
				y[a] += g.rule.c[a*n+b] * z[b]
			}
		}
		one, other := g.pass(y)
		if !other {
			continue
		}
		for j, p := range g.at {
			blind[j] += each * p
			if one {
				alone[j] += each * p
			}
		}
	}
	for j := range alone {
		alone[j], blind[j] = math.Min(1, alone[j]), math.Min(1, blind[j])
	}
}

// ballVolume is that of the ball of radius 1 in n dimensions.
func ballVolume(n int) float64 {
	return math.Pow(math.Pi, float64(n)/2) / math.Gamma(float64(n)/2+1)
}

// halton is the i-th number of Halton's sequence of a base (Numerische Mathematik 2,
// 1960, p. 84, from memory).
func halton(i, base int) float64 {
	x, f := 0.0, 1.0
	for ; i > 0; i /= base {
		f /= float64(base)
		x += f * float64(i%base)
	}
	return x
}

var haltonBases = [...]int{2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53}

// inBall is the i-th of points that fill a ball: a direction of normal numbers, and
// a radius by which every shell gets its share.
func inBall(i int, radius float64, z []float64) {
	n := len(z)
	sum := 0.0
	for a := range z {
		z[a] = math.Sqrt2 * math.Erfinv(2*halton(i, haltonBases[1+a])-1)
		sum += z[a] * z[a]
	}
	r := radius * math.Pow(halton(i, haltonBases[0]), 1/float64(n)) / math.Sqrt(sum)
	for a := range z {
		z[a] *= r
	}
}

// Shares are the parts of a hypothesis by kind of fault, by their priors.
func (h *Hypothesis) Shares(p *plan.Plan, pr fault.Priors) map[fault.Kind]float64 {
	out, total := map[fault.Kind]float64{}, 0.0
	for _, f := range h.Faults {
		g, _ := p.Group(f.Group)
		w := pr.Fault.In(g, f)
		out[f.Kind] += w
		total += w
	}
	for k, w := range out {
		if total > 0 {
			out[k] = w / total
		} else {
			out[k] = 1 / float64(len(out))
		}
	}
	return out
}
