package belief

import (
	"math"
	"math/rand/v2"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

// drawnAt draws readings of one variant from its own density; -1: healthy.
func drawnAt(r *rand.Rand, e *Ensemble, v *view, i int) []float64 {
	m := &e.m.healthy
	if i >= 0 {
		m = &e.m.of[i]
	}
	s := e.scatter(v, m)
	p := s.parts[0]
	if len(s.parts) > 1 && r.Float64() >= p.weight {
		p = s.parts[1]
	}
	z, y := make([]float64, len(s.mean)), make([]float64, len(s.mean))
	for a := range z {
		z[a] = r.NormFloat64()
		y[a] = s.mean[a]
		for b := range a + 1 {
			y[a] += p.c[a*len(z)+b] * z[b]
		}
	}
	return y
}

// TestSlipsAgainstDraws: what is said to pass of every hypothesis is what Decide
// passes of readings drawn from its density, with one, two and four voltages.
func TestSlipsAgainstDraws(t *testing.T) {
	statistics(t)
	draws, slack := 150, 4.0
	if long() {
		draws = 20000
	}
	r := rand.New(rand.NewPCG(17, 4))
	for _, volts := range [][]float64{{12}, {12, 7.5}, {12, 9, 7.5, 6}} {
		n := len(volts)
		for range 2 {
			e := ensemble(t, randomGroup(r), volts, scene.Scene{}, Options{})
			var rs []Reading
			for k, at := range volts {
				rs = append(rs, Reading{Volts: at, Amps: e.HealthyA[k], U: 2e-5, GainU: 0.003})
			}
			of, healthy, err := e.Slips(rs, rule.Rule{K: k, Guard: guard}, 512)
			if err != nil {
				t.Fatal(err)
			}
			v, err := e.look(rs)
			if err != nil {
				t.Fatal(err)
			}
			check := func(what string, said float64, passed int) {
				sd := math.Sqrt(math.Max(said*(1-said), 1e-3) / float64(draws))
				seen := float64(passed) / float64(draws)
				if math.Abs(seen-said) > slack*sd+0.05*said+0.002 {
					t.Errorf("%d voltages, %s: said %.4f, passed %.4f of %d", n, what, said, seen, draws)
				}
			}
			count := func(is func() int) (alone, blind int) {
				for range draws {
					y := drawnAt(r, e, v, is())
					for a := range rs {
						rs[a].Amps = y[a]
					}
					d, err := e.Decide(rs, look.Look{Saw: look.AllLit}, rule.Rule{K: k, Guard: guard})
					if err != nil {
						t.Fatal(err)
					}
					if d.Verdict == rule.Pass {
						blind++
					}
					if d, err = e.Decide(rs, look.Look{}, rule.Rule{K: k, Guard: guard}); err != nil {
						t.Fatal(err)
					} else if d.Verdict == rule.Pass {
						alone++
					}
				}
				return alone, blind
			}
			alone, blind := count(func() int { return -1 })
			check("healthy", healthy.Current, alone)
			check("healthy, looked at", healthy.Blind, blind)
			for h := range e.Hypotheses {
				name := string(e.Hypotheses[h].Kinds[0])
				alone, blind := count(func() int {
					x := r.Float64()
					last := 0
					for i, v := range e.variants {
						if v.hyp == h {
							last = i
							if x -= v.weight; x < 0 {
								break
							}
						}
					}
					return last
				})
				check(name, of[h].Current, alone)
				check(name+", looked at", of[h].Blind, blind)
			}
		}
	}
}

// TestSlipsOfOneReading: the rule lets the least branch pass no more than once in
// twenty, whatever it is worth beside the doubt; what puts out a light is seen by
// the eye but for the share that is overlooked.
func TestSlipsOfOneReading(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 2))
	for range 20 {
		e := ensemble(t, randomGroup(r), []float64{12}, scene.Scene{}, Options{})
		of, healthy, err := e.Slips([]Reading{{Volts: 12, U: 2e-5, GainU: 0.003}}, rule.Rule{K: k, Guard: guard}, 512)
		if err != nil {
			t.Fatal(err)
		}
		for h, s := range of {
			x := e.Hypotheses[h]
			for what, p := range map[string]float64{"by current": s.Current, "blindly": s.Blind, "by the eye": s.Eye,
				"in all": s.Whole} {
				if !(p >= 0 && p <= 1) {
					t.Errorf("%s passes %s with %g", x.Kinds[0], what, p)
				}
			}
			if s.Current > s.Blind+1e-9 || s.Whole > s.Blind+1e-9 || s.Whole > s.Eye+1e-9 {
				t.Errorf("%s: %+v", x.Kinds[0], s)
			}
			dark := x.Kinds[0] == fault.OpenBranch || x.Kinds[0] == fault.DarkSegment
			if dark && s.Current > 0.08 {
				t.Errorf("one dark branch passes by current with %.3f", s.Current)
			}
			if dark && s.Eye > e.priors.Eye.Overlooked+1e-9 {
				t.Errorf("one dark branch is overlooked with %.3f", s.Eye)
			}
		}
		if healthy.Blind < 0.5 {
			t.Errorf("a healthy group that is looked at passes with %.3f", healthy.Blind)
		}
	}
}
