package reel

import (
	"math"
	"slices"

	"sealworthy/compare/linear"
)

// leastScatter: no reading repeats better, whatever is said of it (common
// practice, no source). It keeps repetitions from being taken for news.
const leastScatter = 1e-4

// again is what two observations of one group share by own deviations.
type again struct {
	obs     int // index in Learner.obs
	own     float64
	squares []pull // their square is the sum of products
}

// again finds what an observation shares with earlier ones of its group.
func (l *Learner) again(of *observed) []again {
	var out []again
	for n, o := range l.obs[:of.number] {
		if o.Group != of.Group {
			continue
		}
		x := again{obs: n}
		by := map[[2]float64]int{}
		for id, a := range of.each {
			b, ok := o.each[id]
			if !ok {
				continue
			}
			if a.factor < 0 {
				x.own += a.a * b.a / 3
				continue
			}
			key := [2]float64{float64(a.factor), a.share}
			k, ok := by[key]
			if !ok {
				k = len(x.squares)
				by[key] = k
				x.squares = append(x.squares, pull{factor: a.factor, share: a.share})
			}
			x.squares[k].square += a.a * b.a
		}
		out = append(out, x)
	}
	return out
}

// noise is the covariance of what two observations have that other groups
// don't share, A^2: nothing for different groups.
func (l *Learner) noise(a, b *observed, f found) float64 {
	u := math.Hypot(a.UA, leastScatter*a.amps)
	v, squares := a.own+a.curve+a.shift*a.shift+u*u, a.pulls
	if a.number != b.number {
		if a.number < b.number {
			a, b = b, a
		}
		k := slices.IndexFunc(a.before, func(x again) bool { return x.obs == b.number })
		if k < 0 {
			return 0
		}
		v, squares = a.before[k].own+math.Sqrt(a.curve*b.curve)+a.shift*b.shift, a.before[k].squares
	}
	for _, p := range squares {
		v += p.square * (1 - f.of(l.factors[p.factor]).own(p.share)) / 3
	}
	if l.o.Weighted {
		v /= math.Sqrt(a.PHealthy * b.PHealthy)
	}
	return v
}

// take takes observations in, those of one group together.
func (l *Learner) take(st *state, obs []observed, f found) {
	done := map[string]bool{}
	for i := range obs {
		if done[obs[i].Group] {
			continue
		}
		done[obs[i].Group] = true
		var same []*observed
		for j := i; j < len(obs); j++ {
			if obs[j].Group == obs[i].Group {
				same = append(same, &obs[j])
			}
		}
		l.takeGroup(st, same, f)
	}
}

// takeGroup makes the noise of one group's observations independent of each
// other and takes them in one by one.
func (l *Learner) takeGroup(st *state, same []*observed, f found) {
	n := len(same)
	noise := make([]float64, n*n)
	rows, differs := make([][]float64, n), make([]float64, n)
	for i, a := range same {
		for j, b := range same[:i+1] {
			noise[i*n+j] = l.noise(a, b, f)
		}
		rows[i] = l.row(a, f)
		differs[i] = a.differs(rows[i])
	}
	linear.FactorHeld(noise, n)
	chol := linear.Rows(noise, n)
	for i := range rows {
		for j := range i {
			differs[i] -= chol[i][j] * differs[j]
			for k := range rows[i] {
				rows[i][k] -= chol[i][j] * rows[j][k]
			}
		}
		differs[i] /= chol[i][i]
		for k := range rows[i] {
			rows[i][k] /= chol[i][i]
		}
		st.update(rows[i], differs[i], 1)
	}
}
