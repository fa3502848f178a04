package belief

import (
	"cmp"
	"math"
	"slices"
)

// alternative is one thing that may be so of a unit: nothing is wrong, or one of
// its faults. Its readings are
//
//	y = mean + load' z + e,  z ~ N(0, 1) by factor, e ~ N(0, cov)
//
// after JCGM 100:2008, 5.1.2, with what several readings share kept by name
// instead of within their covariance.
type alternative struct {
	logPrior float64   // of the prior and the look
	mean     []float64 // by reading of its unit, A
	cov      []float64 // n x n, by rows, A²: own pieces, the model, noise; not what factors explain
	load     []float64 // by factor of its unit, then reading: A for one standard deviation of the factor
	// flat: it predicts nothing, logDensity is its density at the readings, and they
	// tell nothing of the factors.
	flat       bool
	logDensity float64
}

// unit is a group, or groups whose draws can't be told apart, with what was read of it.
type unit struct {
	name    string
	y       []float64 // readings, A
	factors []int     // numbers of the factors that load its alternatives
	alts    []alternative
}

// world is one way in which all units may hang together: each with its own faults,
// or with something that they have in common, which then stands among the
// alternatives of each in place of its own.
type world struct {
	name     string
	logPrior float64
	units    []unit
	s        dispersion
	cause    *cause // that they have in common; nil: nothing
}

// jointly is what all readings of all units say together.
type jointly struct {
	worlds []worldWeighed
}

type worldWeighed struct {
	log   float64 // of its prior and the evidence of all readings
	p     float64 // of the world
	units []unitWeighed
}

type unitWeighed struct {
	p []float64 // by alternative, in this world; they add up to 1
	// others is what the readings of all other units say of the factors.
	others cloud
}

// weighJointly weighs the worlds by all readings, factors of number 0 to factors-1
// integrated out. No unit is taken for healthy first: what the others say of the
// factors is a mixture over all that may be so of them.
func weighJointly(factors int, worlds []world) jointly {
	out := jointly{make([]worldWeighed, len(worlds))}
	for i := range worlds {
		out.worlds[i].units = make([]unitWeighed, len(worlds[i].units))
		r := run{units: worlds[i].units, out: out.worlds[i].units}
		out.worlds[i].log = worlds[i].logPrior + r.all(newCloud(factors))
	}
	out.level()
	return out
}

// level makes the probabilities of the worlds add up to 1.
func (j *jointly) level() {
	logs := make([]float64, len(j.worlds))
	for i := range logs {
		logs[i] = j.worlds[i].log
	}
	total := logSum(logs)
	for i, l := range logs {
		j.worlds[i].p = math.Exp(l - total)
	}
}

// run weighs one world.
type run struct {
	units []unit
	out   []unitWeighed
	order []int   // of the units: those that leave least in doubt first
	live  [][]int // by unit: alternatives that can matter
	logZ  float64
}

// outOfQuestion: an alternative that is by so much less probable than the best, by
// what the plan alone says of the factors, is left out (e-folds). What the others
// tell narrows the factors and can't make good for as much.
const outOfQuestion = 35

// all weighs every unit, and gives the logarithm of the evidence.
func (r *run) all(start cloud) float64 {
	r.sort(start, outOfQuestion)
	if len(r.units) > 0 {
		r.split(0, len(r.units), start)
	}
	return r.logZ
}

// sort puts the units in order, and leaves out what is out of question.
func (r *run) sort(start cloud, out float64) {
	doubt := make([]float64, len(r.units))
	r.live = make([][]int, len(r.units))
	for i := range r.units {
		u := &r.units[i]
		r.order = append(r.order, i)
		logs := make([]float64, len(u.alts))
		for a := range u.alts {
			logs[a] = start.logDensity(u, a)
		}
		top := slices.Max(logs)
		for a, l := range logs {
			if a == 0 || l > top-out {
				r.live[i] = append(r.live[i], a)
			}
		}
		doubt[i] = 1 - math.Exp(top-logSum(logs))
	}
	slices.SortStableFunc(r.order, func(a, b int) int { return cmp.Compare(doubt[a], doubt[b]) })
}

// split halves the units: each half is weighed with the other one added, so that
// every unit is left out of what the others say in n log n steps.
func (r *run) split(from, to int, c cloud) {
	if to-from == 1 {
		r.leaf(r.order[from], c)
		return
	}
	mid := (from + to) / 2
	r.split(from, mid, r.add(c, mid, to))
	r.split(mid, to, r.add(c, from, mid))
}

func (r *run) add(c cloud, from, to int) cloud {
	for _, i := range r.order[from:to] {
		c = c.after(&r.units[i], r.live[i])
	}
	return c
}

// leaf weighs one unit by what all others say.
func (r *run) leaf(i int, others cloud) {
	u := &r.units[i]
	logs := make([]float64, len(u.alts))
	for a := range logs {
		logs[a] = math.Inf(-1)
	}
	for _, a := range r.live[i] {
		logs[a] = others.logDensity(u, a)
	}
	total := logSum(logs)
	p := make([]float64, len(logs))
	for a, l := range logs {
		p[a] = math.Exp(l - total)
	}
	r.out[i] = unitWeighed{p, others}
	r.logZ = others.logZ + total // the same at every unit, but for what merging leaves out
}

// logSum is the logarithm of the sum of exponentials.
func logSum(logs []float64) float64 {
	if len(logs) == 0 {
		return math.Inf(-1)
	}
	top := slices.Max(logs)
	if math.IsInf(top, -1) {
		return top
	}
	s := 0.0
	for _, l := range logs {
		s += math.Exp(l - top)
	}
	return top + math.Log(s)
}
