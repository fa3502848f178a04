package belief

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distmv"
	"gonum.org/v1/gonum/stat/distuv"
)

// drawUnits makes units of which each reading is drawn from one of its alternatives.
func drawUnits(rng *rand.Rand, units, readings, alts, factors int, apart float64) []unit {
	z := make([]float64, factors)
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	var out []unit
	for range units {
		u := unit{y: make([]float64, readings)}
		for f := range factors {
			u.factors = append(u.factors, f)
		}
		for a := range alts {
			x := alternative{logPrior: math.Log(0.7)}
			if a > 0 {
				x.logPrior = math.Log(0.3 / float64(alts-1))
			}
			for range readings {
				x.mean = append(x.mean, 10-apart*float64(a)+0.2*rng.NormFloat64())
			}
			x.cov = make([]float64, readings*readings)
			for i := range readings {
				for j := range readings {
					x.cov[i*readings+j] = 0.1
				}
				x.cov[i*readings+i] += 0.2 + 0.1*float64(a)
			}
			for range factors * readings {
				x.load = append(x.load, rng.NormFloat64())
			}
			u.alts = append(u.alts, x)
		}
		t := &u.alts[0]
		if rng.Float64() < 0.3 {
			t = &u.alts[1]
		}
		for i := range readings {
			u.y[i] = t.mean[i] + 0.5*rng.NormFloat64()
			for k := range factors {
				u.y[i] += t.load[k*readings+i] * z[k]
			}
		}
		out = append(out, u)
	}
	return out
}

// dense is the logarithm of the density of all readings of some units with one
// alternative each, and what is then expected of another unit: one normal
// distribution of all of them at once, by gonum.
func dense(t *testing.T, factors int, us []unit, pick []int, then *unit, alt int) (log float64, mean []float64) {
	t.Helper()
	type row struct {
		u *unit
		a *alternative
		i int
	}
	var rows []row
	prior := 0.0
	for k := range us {
		a := &us[k].alts[pick[k]]
		prior += a.logPrior
		for i := range us[k].y {
			rows = append(rows, row{&us[k], a, i})
		}
	}
	seen := len(rows)
	if then != nil {
		for i := range then.y {
			rows = append(rows, row{then, &then.alts[alt], i})
		}
	}
	n := len(rows)
	mu, c := make([]float64, n), mat.NewSymDense(n, nil)
	for p, x := range rows {
		mu[p] = x.a.mean[x.i]
		for q, y := range rows[:p+1] {
			s := 0.0
			if x.u == y.u {
				s = x.a.cov[x.i*len(x.u.y)+y.i]
			}
			for f := range factors {
				s += x.a.load[f*len(x.u.y)+x.i] * y.a.load[f*len(y.u.y)+y.i]
			}
			c.SetSym(p, q, s)
		}
	}
	norm, ok := distmv.NewNormal(mu, c, nil)
	if !ok {
		t.Fatal("not positive definite")
	}
	if then == nil {
		y := make([]float64, n)
		for p, x := range rows {
			y[p] = x.u.y[x.i]
		}
		return prior + norm.LogProb(y), nil
	}
	var at []int
	var values []float64
	for p, x := range rows[:seen] {
		at, values = append(at, p), append(values, x.u.y[x.i])
	}
	cond, ok := norm.ConditionNormal(at, values, nil)
	if !ok {
		t.Fatal("can't be conditioned")
	}
	log, _ = dense(t, factors, us, pick, nil, 0)
	return log, cond.Mean(nil)
}

// patterns calls for every choice of one alternative a unit.
func patterns(us []unit, do func(pick []int)) {
	pick := make([]int, len(us))
	for {
		do(pick)
		i := 0
		for ; i < len(us); i++ {
			if pick[i]++; pick[i] < len(us[i].alts) {
				break
			}
			pick[i] = 0
		}
		if i == len(us) {
			return
		}
	}
}

// TestJointAgainstAllPatterns: every choice of one alternative a unit, each by one
// dense normal distribution of all readings.
func TestJointAgainstAllPatterns(t *testing.T) {
	const factors = 3
	for seed := range uint64(8) {
		rng := rand.New(rand.NewPCG(seed, 1))
		us := drawUnits(rng, 4, 2, 3, factors, 2)
		got := weighJointly(factors, []world{{units: us}})
		total := math.Inf(-1)
		marginal := make([][]float64, len(us))
		for i := range us {
			marginal[i] = make([]float64, len(us[i].alts))
		}
		patterns(us, func(pick []int) {
			l, _ := dense(t, factors, us, pick, nil, 0)
			total = logSum([]float64{total, l})
			for i, a := range pick {
				marginal[i][a] += math.Exp(l)
			}
		})
		r := run{units: us, out: make([]unitWeighed, len(us))}
		if l := r.all(newCloud(factors)); math.Abs(l-total) > 0.01 {
			t.Errorf("seed %d: evidence %.4f, by all patterns %.4f", seed, l, total)
		}
		for i := range us {
			for a, p := range marginal[i] {
				if p /= math.Exp(total); math.Abs(p-got.worlds[0].units[i].p[a]) > 0.005 {
					t.Errorf("seed %d, unit %d, alternative %d: %.4f, by all patterns %.4f", seed, i, a,
						got.worlds[0].units[i].p[a], p)
				}
			}
		}
		// What the others expect of the last one if nothing is wrong with it.
		others, last := us[:3], &us[3]
		want, weight := make([]float64, 2), math.Inf(-1)
		patterns(others, func(pick []int) {
			l, m := dense(t, factors, others, pick, last, 0)
			sum := logSum([]float64{weight, l})
			for i := range want {
				want[i] = want[i]*math.Exp(weight-sum) + m[i]*math.Exp(l-sum)
			}
			weight = sum
		})
		mean, cov := got.worlds[0].units[3].others.predict(last, 0)
		for i := range want {
			if math.Abs(mean[i]-want[i]) > 0.02*math.Sqrt(cov[i*2+i]) {
				t.Errorf("seed %d: the others expect %.4f at %d, by all patterns %.4f", seed, mean[i], i, want[i])
			}
		}
	}
}

// TestJointOfManyAgainstAnIntegral: of twenty units none is sure, so that no few
// patterns hold the probability. Given their one factor they are independent: the
// marginals are a quotient of two integrals over it, here by a fine grid.
func TestJointOfManyAgainstAnIntegral(t *testing.T) {
	const n = 20
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 2))
		us := drawUnits(rng, n, 1, 3, 1, 1.2)
		got := weighJointly(1, []world{{units: us}})
		likelihood := func(u *unit, a int, z float64) float64 {
			x := &u.alts[a]
			return math.Exp(x.logPrior) * distuv.Normal{Mu: x.mean[0] + z*x.load[0],
				Sigma: math.Sqrt(x.cov[0])}.Prob(u.y[0])
		}
		sums := make([][3]float64, n)
		whole := 0.0
		for z := -6.0; z <= 6; z += 0.002 {
			all, each := distuv.UnitNormal.Prob(z), make([]float64, n)
			for i := range us {
				for a := range 3 {
					each[i] += likelihood(&us[i], a, z)
				}
				all *= each[i]
			}
			whole += all
			for i := range us {
				for a := range 3 {
					sums[i][a] += all * likelihood(&us[i], a, z) / each[i]
				}
			}
		}
		for i := range us {
			for a := range 3 {
				if p := sums[i][a] / whole; math.Abs(p-got.worlds[0].units[i].p[a]) > 0.01 {
					t.Errorf("seed %d, unit %d, alternative %d: %.4f, by the integral %.4f", seed, i, a,
						got.worlds[0].units[i].p[a], p)
				}
			}
		}
	}
}

// TestWorlds: what all units have in common is weighed beside each one's own
// faults, and the order of the units doesn't matter.
func TestWorlds(t *testing.T) {
	// Three groups of eight pieces: 4.1 % of their draw they have in common, 1.4 % is each
	// one's own; one piece of eight is 12.5 %.
	group := func(draw float64) unit {
		alt := func(mean, prior float64) alternative {
			return alternative{math.Log(prior), []float64{mean}, []float64{1.44e-4 * mean * mean * 1.44},
				[]float64{0.041 * mean}, false, 0}
		}
		return unit{"", []float64{draw}, []int{0}, []alternative{alt(1, 0.9), alt(0.875, 0.08), alt(0.75, 0.02)}}
	}
	lackInEach := func(us []unit, p float64) world {
		w := world{name: "one dark in each", logPrior: math.Log(p)}
		for _, u := range us {
			a := u.alts[1]
			a.logPrior = 0
			w.units = append(w.units, unit{u.name, u.y, u.factors, []alternative{a}})
		}
		return w
	}
	weighed := func(draws ...float64) jointly {
		var us []unit
		for _, d := range draws {
			us = append(us, group(d))
		}
		return weighJointly(1, []world{{logPrior: math.Log(0.97), units: us}, lackInEach(us, 0.03)})
	}
	low := weighed(0.86, 0.88, 0.87)
	if low.worlds[1].p < 0.5 {
		t.Errorf("all an eighth low: one dark in each has %.3f", low.worlds[1].p)
	}
	right := weighed(1.02, 1.01, 1.02)
	if right.worlds[1].p > 0.001 || right.worlds[0].units[0].p[0] < 0.99 {
		t.Errorf("all right: one dark in each has %.4f, the first is healthy by %.3f", right.worlds[1].p,
			right.worlds[0].units[0].p[0])
	}
	one := weighed(1.02, 0.893, 1.02)
	if p := one.worlds[0].units[1].p; p[1] < 0.95 || one.worlds[0].units[0].p[0] < 0.95 {
		t.Errorf("one of three an eighth low: its dark piece has %.3f, the next is healthy by %.3f", p[1],
			one.worlds[0].units[0].p[0])
	}
	a, b := weighed(1.02, 0.893, 1.01), weighed(1.01, 1.02, 0.893)
	for x, y := range map[int]int{0: 1, 1: 2, 2: 0} {
		for k := range 3 {
			if p, q := a.worlds[0].units[x].p[k], b.worlds[0].units[y].p[k]; math.Abs(p-q) > 1e-3 {
				t.Errorf("in another order unit %d has %.4f instead of %.4f", x, q, p)
			}
		}
	}
}

// BenchmarkWeighJointly: units of three readings with twenty alternatives and eight factors.
func BenchmarkWeighJointly(b *testing.B) {
	for _, n := range []int{1, 13, 50, 200} {
		us := drawUnits(rand.New(rand.NewPCG(1, 1)), n, 3, 20, 8, 2)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				weighJointly(8, []world{{units: us}})
			}
		})
	}
}
