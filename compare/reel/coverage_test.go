package reel

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// predicted is what is expected of a group with what was learned: by how much
// it differs from nothing learned, and the standard uncertainty of that, A.
func predicted(l *Learned, factors []Factor, s *sense) (mean, u float64) {
	v := s.own
	h := make([]float64, len(l.Factors))
	for _, p := range s.pulls {
		if k := l.index(factors[p.factor].Factor); k >= 0 {
			x := l.Factors[k].shares()
			h[k] += p.sum * math.Sqrt(shifted(p.share, x.commonBy))
			v += p.square * (1 - shifted(p.share, x.ownBy)) / 3
		} else {
			v += (p.sum*p.sum*p.share + p.square*(1-p.share)) / 3
		}
	}
	for i, x := range h {
		mean += x * l.Factors[i].Mean
		for j, y := range h {
			v += x * y * l.Covariance[i][j]
		}
	}
	return mean, math.Sqrt(v)
}

// draw is a reading of a group of n pieces: its own deviations are rectangular,
// c is the reel's.
func draw(rnd *rand.Rand, n int, t, s, c, rep float64) float64 {
	sum := 0.0
	for range n {
		sum += 2*rnd.Float64() - 1
	}
	return 1 + t*(math.Sqrt(s)*c+math.Sqrt(1-s)*sum/float64(n)) + rep*rnd.NormFloat64()
}

// What is expected of the next healthy group after so many were learned from,
// when the true share is not the planned one: the RMS of z = D/u never lies above
// 1 by more than a few per cent, and 99.8 % lie within 3.29 u. Below 1 it lies
// where the pieces differ less than could be known. A share far below a planned
// 0.9 is beyond what the doubt allows for: there it's shown only.
func TestCoverage(t *testing.T) {
	skipStatistics(t)
	builds := 200
	if long {
		builds = 6000
	}
	const rep = 0.0005
	for _, planned := range []float64{0.5, 0.9} {
		const tol = 0.15
		p := groupsOf(9, smd(10, 1, 2.95, 820, tol, planned))
		var obs []Observation
		for i := range p.Groups {
			o := seenAs(t, p, p.Groups[i].Name, 1)
			o.UA = rep * o.ExpectedA
			obs = append(obs, o)
		}
		all, err := Prepare(p, obs, Options{})
		if err != nil {
			t.Fatal(err)
		}
		known := all.obs
		for _, s := range []float64{0.25, 0.5, 0.75, 0.95} {
			rnd := rand.New(rand.NewPCG(5, uint64(1000*s)+uint64(10*planned)))
			line := fmt.Sprintf("planned %.2f, true %.2f:", planned, s)
			for _, k := range []int{1, 2, 3, 4, 5, 8} {
				sq, out, est, n := 0.0, 0, 0.0, 0
				for range builds {
					c := 2*rnd.Float64() - 1
					x := *all
					x.obs = append([]observed(nil), known[:k]...)
					for i := range x.obs {
						x.obs[i].AmpsA = x.obs[i].ExpectedA * draw(rnd, 10, tol, s, c, rep)
					}
					l := x.Without("")
					mean, u := predicted(l, all.factors, known[8].sense)
					a := known[8].ExpectedA
					z := (a*draw(rnd, 10, tol, s, c, rep) - a - mean) / math.Hypot(u, rep*a)
					sq += z * z
					est += l.Reels[0].Share.Best
					if math.Abs(z) > 3.29 {
						out++
					}
					n++
				}
				rms, beyond := math.Sqrt(sq/float64(n)), float64(out)/float64(n)
				line += fmt.Sprintf("  %d: %.2f %.2f%% (s %.2f)", k, rms, 100*(1-beyond), est/float64(n))
				if s < planned-0.3 {
					continue
				}
				if limit := 1.07 + 3/math.Sqrt(2*float64(n)); rms > limit {
					t.Errorf("planned %g, true %g, %d groups: z has an RMS of %.3f", planned, s, k, rms)
				}
				if limit := 0.002 + 3*math.Sqrt(0.002/float64(n)); beyond > limit {
					t.Errorf("planned %g, true %g, %d groups: %.2f %% beyond 3.29 u", planned, s, k, 100*beyond)
				}
			}
			t.Log(line)
		}
	}
}
