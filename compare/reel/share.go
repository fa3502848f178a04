package reel

import (
	"math"
	"slices"

	"sealworthy/compare/linear"
)

// doubt is the default of Options.Doubt (common practice, no source: the shares
// themselves are no more than that). openness widens it once the groups
// speak for themselves.
const (
	doubt    = 0.8
	openness = 2.0
)

// leastGroups of one reel are needed before their scatter says something of its share.
const leastGroups = 4

// The own deviations are widened until no more than tailP lie beyond tailZ of
// them, whatever the share may be. A planned share is no more than a guess: there
// the tail is half of that.
const (
	tailZ       = 3.29
	tailP       = 0.001
	tailPlanned = tailP / 2
)

// shared is what was found for one reel: the shift of the log-odds of planned shares.
type shared struct {
	Share
	commonBy, ownBy float64
}

func (s shared) common(planned float64) float64 { return shifted(planned, s.commonBy) }
func (s shared) own(planned float64) float64    { return shifted(planned, s.ownBy) }

// found is the shares by reel of lights.
type found struct {
	order []string
	by    map[string]shared
}

// of gives the share of a factor; only reels of lights are learned of.
func (f found) of(k Factor) shared {
	if !ofLights(k.Kind) {
		return shared{}
	}
	return f.by[k.Reel]
}

// shares finds what is to be taken for the share of each reel that was met.
func (l *Learner) shares(obs []observed, st *state) found {
	f := found{by: map[string]shared{}}
	for i := range obs {
		for _, p := range obs[i].pulls {
			if k := l.factors[p.factor]; ofLights(k.Kind) && !slices.Contains(f.order, k.Reel) {
				f.order = append(f.order, k.Reel)
			}
		}
	}
	for _, name := range f.order {
		f.by[name] = l.share(name, obs, st)
	}
	return f
}

// share estimates one reel's share on a grid of its log-odds, the others' as
// planned.
func (l *Learner) share(name string, obs []observed, st *state) shared {
	var mine []observed
	var groups []string
	sum, weight := 0.0, 0.0
	for _, o := range obs {
		met := false
		for _, p := range o.pulls {
			if k := l.factors[p.factor]; k.Reel == name && ofLights(k.Kind) {
				met = true
				w := p.square / (o.amps * o.amps)
				sum, weight = sum+w*p.share, weight+w
			}
		}
		if met {
			mine = append(mine, o)
			if !slices.Contains(groups, o.Group) {
				groups = append(groups, o.Group)
			}
		}
	}
	x := shared{Share: Share{Planned: sum / weight, Groups: len(groups)}}
	x.Best, x.Own = x.Planned, x.Planned
	if l.o.Shares == AsPlanned || x.Planned <= 0 || x.Planned >= 1 {
		x.Certain = true
		return x
	}
	centre, width := 0.0, l.o.Doubt
	if !(width > 0) {
		width = doubt
	}
	if was, ok := l.o.Prior.Shares()[name]; ok && was.Estimated && was.Best > 0 && was.Best < 1 {
		centre = logit(was.Best) - logit(x.Planned)
		width = math.Min(width, was.U/(was.Best*(1-was.Best)))
	}
	if x.Estimated = len(groups) >= leastGroups; x.Estimated {
		width *= openness
	}
	by, weights := grid(centre, width)
	if x.Estimated {
		l.weigh(name, mine, st, by, weights)
	}
	s := make([]float64, len(by))
	for i := range by {
		s[i] = shifted(x.Planned, by[i])
	}
	mean, sd := moments(s, weights)
	x.Best, x.U = mean, sd
	if !x.Estimated && centre == 0 {
		x.Best = x.Planned
	}
	tail := tailPlanned
	if x.Estimated {
		tail = tailP
	}
	x.Own = math.Min(x.Best, lowShare(s, weights, tail))
	if x.Best == x.Planned {
		x.ownBy = logit(x.Own) - logit(x.Planned)
		return x
	}
	x.commonBy, x.ownBy = logit(x.Best)-logit(x.Planned), logit(x.Own)-logit(x.Planned)
	return x
}

// grid covers six standard deviations of log-odds either way, normal weights.
func grid(centre, width float64) (by, weights []float64) {
	const steps = 48
	span := 6 * math.Max(width, doubt/4)
	for i := range steps + 1 {
		d := span * (2*float64(i)/steps - 1)
		by = append(by, centre+d)
		weights = append(weights, math.Exp(-d*d/(2*width*width)))
	}
	return by, weights
}

// weigh multiplies the weights by the likelihood of the observations of a reel
// at each shift of its share: D ~ N(H m, H P H' + N).
func (l *Learner) weigh(name string, obs []observed, st *state, by, weights []float64) {
	log := make([]float64, len(by))
	best := math.Inf(-1)
	for i, d := range by {
		f := found{by: map[string]shared{name: {commonBy: d, ownBy: d}}}
		log[i] = l.likelihood(obs, st, f)
		best = math.Max(best, log[i])
	}
	for i := range weights {
		weights[i] *= math.Exp(log[i] - best)
	}
}

// likelihood is the logarithm of the density of observations, but for a constant.
func (l *Learner) likelihood(obs []observed, st *state, f found) float64 {
	n := len(obs)
	h := make([][]float64, n)
	v := make([]float64, n*n)
	d := make([]float64, n)
	ph := make([]float64, len(st.mean))
	for i := range obs {
		h[i] = l.row(&obs[i], f)
		d[i] = obs[i].differs(h[i])
		clear(ph)
		for a, row := range st.cov {
			if h[i][a] == 0 && st.mean[a] == 0 && row[a] == 0 {
				continue
			}
			d[i] -= h[i][a] * st.mean[a]
			for b, x := range row {
				if x != 0 {
					ph[a] += x * h[i][b]
				}
			}
		}
		for j := range i + 1 {
			for a, x := range ph {
				v[i*n+j] += x * h[j][a]
			}
		}
		for j := range i + 1 {
			v[i*n+j] += l.noise(&obs[i], &obs[j], f)
		}
	}
	if !linear.Factor(v, n) {
		return math.Inf(-1)
	}
	linear.Forward(v, n, d)
	return -linear.Dot(d, d)/2 - linear.HalfLogDet(v, n)
}

// moments of a weighted grid.
func moments(s, weights []float64) (mean, sd float64) {
	sum, sq, w := 0.0, 0.0, 0.0
	for i, x := range s {
		sum, w = sum+weights[i]*x, w+weights[i]
	}
	mean = sum / w
	for i, x := range s {
		sq += weights[i] * (x - mean) * (x - mean)
	}
	return mean, math.Sqrt(sq / w)
}

// lowShare is the share whose own deviations have no more than tail beyond
// tailZ under the weights of all shares: the quantile of the mixture of normals
// of variance 1-s.
func lowShare(s, weights []float64, tail float64) float64 {
	w := 0.0
	for _, x := range weights {
		w += x
	}
	low, high := 0.0, 1.0 // of the variance 1-s
	for range 40 {
		mid := (low + high) / 2
		p := 0.0
		for i, x := range s {
			if x < 1 {
				p += weights[i] / w * math.Erfc(tailZ*math.Sqrt(mid/(1-x)/2))
			}
		}
		if p > tail {
			low = mid
		} else {
			high = mid
		}
	}
	return 1 - high
}
