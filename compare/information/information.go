// Package information says how much one more reading is expected to tell (Lindley
// 1956): the entropy of what may be the case now, less that expected after it. All
// in bits.
package information

import "math"

// Nodes are the nodes and weights of a 9-point Gauss-Hermite rule for a standard
// normal (Abramowitz and Stegun, table 25.10, scaled by the root of 2).
var Nodes = [9][2]float64{
	{-4.512745863399783, 2.234584400774658e-05}, {-3.205429002856470, 2.789141321231769e-03},
	{-2.076847978677830, 4.991640676521787e-02}, {-1.023255663789133, 2.440975028949394e-01},
	{0, 4.063492063492064e-01},
	{1.023255663789133, 2.440975028949394e-01}, {2.076847978677830, 4.991640676521787e-02},
	{3.205429002856470, 2.789141321231769e-03}, {4.512745863399783, 2.234584400774658e-05},
}

// Entropy of weights that need not add up to 1.
func Entropy(weights []float64) float64 {
	sum, h := 0.0, 0.0
	for _, p := range weights {
		sum += p
	}
	for _, p := range weights {
		if p > 0 {
			h -= p / sum * math.Log2(p/sum)
		}
	}
	return h
}

// farOff: a prediction so many standard deviations away weighs less than 1e-7
// of one that is met.
const farOff = 6.0

// tooRare: what is met so seldom is left out. Of a hundred that may be the case all
// of it together tells less than three thousandths of a bit.
const tooRare = 1e-6

// Question is what may be the case, each with its probability. Those of one answer,
// numbered from 0, are not told apart: which of them it is counts for nothing.
type Question struct {
	answer                []int
	p                     []float64
	mean, weight, inv, by []float64 // room to work in
}

// NewQuestion asks which answer holds.
func NewQuestion(answer []int, p []float64) *Question {
	n := len(answer)
	return &Question{answer: answer, p: p, mean: make([]float64, n), weight: make([]float64, n),
		inv: make([]float64, n), by: make([]float64, n)}
}

// Now is the entropy of the answers.
func (q *Question) Now() float64 {
	clear(q.by)
	for k, a := range q.answer {
		q.by[a] += q.p[k]
	}
	return Entropy(q.by)
}

// After is the entropy that is left to be expected after one reading: a mixture of
// the normal laws that each of what may be the case predicts for it.
func (q *Question) After(mean, sd func(k int) float64) float64 {
	for k, p := range q.p {
		s := sd(k)
		q.mean[k], q.inv[k], q.weight[k] = mean(k), 1/s, p/s
	}
	total := 0.0
	for k, p := range q.p {
		for _, node := range Nodes {
			if p*node[1] < tooRare {
				continue
			}
			x := q.mean[k] + node[0]/q.inv[k]
			clear(q.by)
			for j, m := range q.mean {
				if z := (x - m) * q.inv[j]; z < farOff && z > -farOff {
					q.by[q.answer[j]] += q.weight[j] * math.Exp(-z*z/2)
				}
			}
			total += p * node[1] * Entropy(q.by)
		}
	}
	return total
}

// AfterOneOf is the entropy that is left to be expected after an observation that is
// one of so many: each of what may be the case gives outcome o a probability.
func (q *Question) AfterOneOf(outcomes int, law func(k, o int) float64) float64 {
	total := 0.0
	for o := range outcomes {
		clear(q.by)
		sum := 0.0
		for k, p := range q.p {
			q.by[q.answer[k]] += p * law(k, o)
			sum += p * law(k, o)
		}
		total += sum * Entropy(q.by)
	}
	return total
}
