package reel

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/plan"
)

// Learner has the observations of one build ready, so that leaving out each
// group in turn costs little. It doesn't change; goroutines may share it.
type Learner struct {
	p       *plan.Plan
	o       Options
	obs     []observed
	factors []Factor
	meters  []string
	left    []Left
	// halves of the bench, widest of all observations
	setHalfV, tempHalfC, seriesHalf float64
}

// observed is an observation with its sensitivities.
type observed struct {
	Observation
	*sense
	meter  int
	number int       // index in Learner.obs
	about  []float64 // c by factor where its sensitivities hold; nil: nominal
	// before are the earlier observations of the same group: what its pieces have
	// on their own is the same in all of them.
	before []again
}

// Prepare works out how the draws of all observations answer to what is
// uncertain. An error is one of the plan; an observation that can't count is no
// error, it stands in Learned.LeftOut.
func Prepare(p *plan.Plan, obs []Observation, o Options) (*Learner, error) {
	if p == nil {
		return nil, errors.New("nothing can be learned without a plan")
	}
	l := &Learner{p: p, o: o}
	s := newSenses(p)
	for _, x := range obs {
		if why := x.whyNot(); why != "" {
			l.left = append(l.left, Left{x.Group, why})
			continue
		}
		if x.AmbientHalfC == 0 {
			x.AmbientHalfC = defaultAmbientHalfC
		}
		if x.SetHalfV == 0 {
			x.SetHalfV = defaultSetHalfV
		}
		if !slices.ContainsFunc(p.Groups, func(g plan.Group) bool { return g.Name == x.Group && !g.AsFound }) {
			l.left = append(l.left, Left{x.Group, "the plan has no lights of that name"})
			continue
		}
		sn, err := s.of(x, nil)
		if err != nil {
			return nil, fmt.Errorf("learning from %q at %g V: %w", x.Group, x.Volts, err)
		}
		if !(sn.amps > 0) {
			l.left = append(l.left, Left{x.Group, "it draws nothing at that voltage"})
			continue
		}
		sn.amps, sn.nominal = sn.amps+sn.shift, sn.amps
		if !(math.Abs(x.ExpectedA-sn.amps) < farOff*sn.amps) {
			l.left = append(l.left, Left{x.Group, fmt.Sprintf("%.3g A were expected of it where the plan gives %.3g A", x.ExpectedA, sn.amps)})
			continue
		}
		m := slices.Index(l.meters, x.Meter)
		if m < 0 {
			m = len(l.meters)
			l.meters = append(l.meters, x.Meter)
		}
		l.obs = append(l.obs, observed{Observation: x, sense: sn, meter: m, number: len(l.obs)})
		last := &l.obs[len(l.obs)-1]
		last.before = l.again(last)
		l.setHalfV, l.tempHalfC, l.seriesHalf = max(l.setHalfV, x.SetHalfV), max(l.tempHalfC, x.AmbientHalfC), max(l.seriesHalf, x.SeriesHalfOhm)
	}
	l.factors = s.factors[:len(s.factors):len(s.factors)]
	if err := l.bend(s); err != nil {
		return nil, err
	}
	// What was known before stays known, also of reels that this build didn't meet yet.
	if o.Prior != nil {
		for _, f := range o.Prior.Factors {
			if _, ok := s.number[f.Factor]; !ok {
				l.factors = append(l.factors, f)
			}
		}
	}
	return l, nil
}

// bent is how much of its noise may come from the draw's bends before an
// observation is taken about what the reels were found to be.
const bent = 0.2

// bend works the sensitivities of observations near a knee out again, about
// what all of them tell: a straight line about nominal parts misses too much
// there. A group that is left out later has a say in where the line touches, and
// in nothing else; learning keeps it out of that as well.
func (l *Learner) bend(s *senses) error {
	for range 2 {
		known := l.Without("")
		if known.Empty() {
			return nil
		}
		about := make([]float64, len(l.factors))
		for i, f := range l.factors {
			about[i], _ = known.Common(f.Factor)
		}
		again := map[int]*sense{}
		for i := range l.obs {
			o := &l.obs[i]
			if o.about == nil && !(o.curve+o.shift*o.shift > bent*bent*l.noise(o, o, found{})) {
				continue
			}
			sn, err := s.of(o.Observation, known)
			if err != nil {
				return fmt.Errorf("learning from %q at %g V: %w", o.Group, o.Volts, err)
			}
			sn.amps, sn.nominal = sn.amps+sn.shift, o.nominal
			again[i] = sn
		}
		if len(again) == 0 {
			return nil
		}
		for i, sn := range again {
			l.obs[i].sense, l.obs[i].about = sn, about
		}
		for i := range l.obs {
			l.obs[i].before = l.again(&l.obs[i])
		}
	}
	return nil
}

// differs is by how much a reading differs from what its row gives for c = 0.
func (o *observed) differs(row []float64) float64 {
	d := o.AmpsA - o.amps
	for i, c := range o.about {
		d += row[i] * c
	}
	return d
}

// farOff is how far a mean prediction may lie from that of nominal parts before
// the two can't mean the same conditions: steep chains differ by a few per cent.
const farOff = 0.3

// state is the joint normal distribution of all that observations share:
// factors, then gains, then volts, temperature, leads.
type state struct {
	mean []float64
	cov  [][]float64
}

// Without is what all groups but one tell.
func (l *Learner) Without(group string) *Learned {
	out := &Learned{Build: l.p.Build, LeftOut: slices.Clone(l.left)}
	var obs []observed
	for _, o := range l.obs {
		if group != "" && o.Group == group {
			continue
		}
		if why := o.whyIll(l.o.Weighted); why != "" {
			out.LeftOut = append(out.LeftOut, Left{o.Group, why})
			continue
		}
		obs = append(obs, o)
	}
	k := len(l.factors)
	st := l.start()
	found := l.shares(obs, st)
	l.take(st, obs, found)
	touched := l.touched(obs)
	var keep []int
	for i, f := range l.factors {
		if !touched[i] && l.o.Prior.index(f.Factor) < 0 {
			continue
		}
		x := found.of(f)
		f.CommonShare, f.OwnShare = x.common(f.Share), x.own(f.Share)
		f.Mean, f.SD = st.mean[i], math.Sqrt(math.Max(0, st.cov[i][i]))
		keep = append(keep, i)
		out.Factors = append(out.Factors, f)
	}
	for _, i := range keep {
		row := make([]float64, len(keep))
		for n, j := range keep {
			row[n] = st.cov[i][j]
		}
		out.Covariance = append(out.Covariance, row)
	}
	l.reels(out, obs, st, found)
	out.bench = l.bench(st, keep, k)
	return out
}

// start is what is known before any reading of this build.
func (l *Learner) start() *state {
	k := len(l.factors)
	n := k + len(l.meters) + 3
	st := &state{mean: make([]float64, n), cov: make([][]float64, n)}
	at, ratio := make([]int, k), make([]float64, k)
	for i := range st.cov {
		st.cov[i] = make([]float64, n)
		st.cov[i][i] = 1
		if i >= k {
			continue
		}
		st.cov[i][i] = prior * prior
		if at[i] = l.o.Prior.index(l.factors[i].Factor); at[i] < 0 || !(l.factors[i].HalfWidth > 0) {
			at[i] = -1
			continue
		}
		was := l.o.Prior.Factors[at[i]]
		ratio[i] = was.HalfWidth / l.factors[i].HalfWidth
		st.mean[i] = was.Mean * ratio[i]
		for j := range i + 1 {
			if at[j] >= 0 {
				v := l.o.Prior.Covariance[at[i]][at[j]] * ratio[i] * ratio[j]
				st.cov[i][j], st.cov[j][i] = v, v
			}
		}
	}
	return st
}

// row is dI/dstate of an observation, with the shares as found.
func (l *Learner) row(o *observed, f found) []float64 {
	k := len(l.factors)
	h := make([]float64, k+len(l.meters)+3)
	for _, p := range o.pulls {
		h[p.factor] += p.sum * math.Sqrt(f.of(l.factors[p.factor]).common(p.share))
	}
	h[k+o.meter] = o.amps * o.GainU
	b := k + len(l.meters)
	h[b] = o.perV * o.SetHalfV / math.Sqrt(3)
	h[b+1] = o.perK * o.AmbientHalfC / math.Sqrt(3)
	h[b+2] = o.perOhm * o.SeriesHalfOhm / math.Sqrt(3)
	return h
}

// update takes one observation in: what differs from the expectation, A, its
// row and its noise.
func (st *state) update(h []float64, differs, noise float64) {
	ph := make([]float64, len(h))
	s := noise
	for i, row := range st.cov {
		for j, x := range h {
			ph[i] += row[j] * x
		}
		s += h[i] * ph[i]
		differs -= h[i] * st.mean[i]
	}
	if !(s > 0) {
		return // it says nothing, and nothing is uncertain about it
	}
	for i := range ph {
		st.mean[i] += ph[i] / s * differs
		for j := range ph {
			st.cov[i][j] -= ph[i] * ph[j] / s
		}
	}
}

// touched marks the factors that some observation pulls at.
func (l *Learner) touched(obs []observed) []bool {
	t := make([]bool, len(l.factors))
	for _, o := range obs {
		for _, p := range o.pulls {
			t[p.factor] = true
		}
	}
	return t
}

// bench keeps the joint distribution with meter, supply and room.
func (l *Learner) bench(st *state, keep []int, k int) *bench {
	at := slices.Clone(keep)
	for i := k; i < len(st.mean); i++ {
		at = append(at, i)
	}
	b := &bench{gains: l.meters, setHalfV: l.setHalfV, tempHalfC: l.tempHalfC, seriesHalfO: l.seriesHalf}
	for _, i := range at {
		b.mean = append(b.mean, st.mean[i])
		row := make([]float64, len(at))
		for n, j := range at {
			row[n] = st.cov[i][j]
		}
		b.cov = append(b.cov, row)
	}
	return b
}
