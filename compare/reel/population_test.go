package reel

import (
	"math"
	"math/rand/v2"
	"testing"

	"sealworthy/compare/plan"
)

// The decision rule of the findings: fail beyond k u, pass where the smallest
// fault is excluded by guard u.
const (
	ruleK     = 3.29
	ruleGuard = 1.64
)

// tally counts what became of healthy groups and of such with one dark branch.
type tally struct{ healthy, cant, alarm, dark, missed, caught int }

func (c *tally) add(dark bool, d, u, least float64) {
	fail, pass := math.Abs(d) >= ruleK*u, math.Abs(d) < ruleK*u && math.Abs(d) <= least-ruleGuard*u
	if dark {
		c.dark++
		if pass {
			c.missed++
		} else if fail {
			c.caught++
		}
		return
	}
	c.healthy++
	if fail {
		c.alarm++
	} else if !pass {
		c.cant++
	}
}

// believe is how likely a group is healthy rather than one branch dark, when
// one in ten is not (an invented prior), by how far it lies from what is expected.
func believe(d, u, least float64) float64 {
	f := func(x float64) float64 { return math.Exp(-x * x / (2 * u * u)) }
	h := 0.9 * f(d)
	return h / (h + 0.1*f(d+least) + 1e-12)
}

// Builds of eight groups of ten of one reel, in half of them one group with a
// dark branch. Each group is judged by what the others have told: looked at
// (their health is known), or by current alone, judging and learning in turn.
func TestPopulation(t *testing.T) {
	skipStatistics(t)
	builds := 25
	if long {
		builds = 1000
	}
	const rep, gain, n, groups = 0.0005, 0.003, 10, 8
	for _, c := range []struct {
		name          string
		tol, plan, is float64 // tolerance, share as planned and as it is
	}{
		{"SMD ±15 %, s = 0.5", 0.15, 0.5, 0.5}, {"SMD ±15 %, s = 0.5, is 0.9", 0.15, 0.5, 0.9}, {"SMD ±15 %, s = 0.5, is 0.25", 0.15, 0.5, 0.25},
		{"strip ±10 %, s = 0.9", 0.10, 0.9, 0.9}, {"strip ±30 %, s = 0.9", 0.30, 0.9, 0.9}, {"strip ±30 %, s = 0.9, is 0.98", 0.30, 0.9, 0.98},
	} {
		p := groupsOf(groups, smd(n, 1, 2.95, 820, c.tol, c.plan))
		var obs []Observation
		for i := range p.Groups {
			o := seenAs(t, p, p.Groups[i].Name, 1)
			o.UA, o.GainU = rep*o.ExpectedA, gain
			obs = append(obs, o)
		}
		all, err := Prepare(p, obs, Options{Weighted: true})
		if err != nil {
			t.Fatal(err)
		}
		least := all.obs[0].ExpectedA / n
		rnd := rand.New(rand.NewPCG(7, uint64(1000*c.is)+uint64(100*c.tol)))
		var none, looked, taught tally
		for range builds {
			x, dark := aBuild(rnd, all, p, c.tol, c.is, rep, gain)
			judge := func(l *Learner, i int) (d, u float64) {
				known := l.Without(l.obs[i].Group)
				o := &l.obs[i]
				mean, u := predicted(known, l.factors, o.sense)
				return o.AmpsA - o.ExpectedA - mean, math.Hypot(u, math.Hypot(rep, gain)*o.ExpectedA)
			}
			blank := *all
			for i := range p.Groups {
				blank.obs = x.obs[i : i+1]
				d, u := judge(&blank, 0)
				none.add(i == dark, d, u, least)
			}
			sure := map[string]float64{}
			for i, g := range p.Groups {
				if sure[g.Name] = 1; i == dark {
					sure[g.Name] = 0
				}
			}
			known := x.Believing(sure)
			for i := range p.Groups {
				d, u := judge(known, i)
				looked.add(i == dark, d, u, least)
			}
			// By current alone: what is believed of each follows from the others.
			var d, u [groups]float64
			for range 4 {
				for i, g := range p.Groups {
					d[i], u[i] = judge(x, i)
					sure[g.Name] = believe(d[i], u[i], least)
				}
				x = x.Believing(sure)
			}
			for i := range p.Groups {
				taught.add(i == dark, d[i], u[i], least)
			}
		}
		show := func(how string, x tally) {
			h, k := float64(x.healthy)/100, math.Max(1, float64(x.dark))/100
			t.Logf("%-28s %-17s healthy: can't tell %5.1f %%, false alarm %.2f %%; dark: caught %5.1f %%, passed %.1f %%", c.name, how,
				float64(x.cant)/h, float64(x.alarm)/h, float64(x.caught)/k, float64(x.missed)/k)
		}
		show("nothing learned", none)
		show("others looked at", looked)
		show("by current alone", taught)
		for how, x := range map[string]tally{"looked": looked, "taught": taught} {
			if h := float64(x.healthy); float64(x.alarm)/h > 0.01+3*math.Sqrt(0.01/h) {
				t.Errorf("%s, %s: %d false alarms of %d", c.name, how, x.alarm, x.healthy)
			}
			if k := float64(x.dark); float64(x.missed)/k > 0.05+3*math.Sqrt(0.05/k) {
				t.Errorf("%s, %s: %d of %d dark ones passed", c.name, how, x.missed, x.dark)
			}
		}
		if !(looked.cant <= none.cant) {
			t.Errorf("%s: %d can't tell with learning, %d without", c.name, looked.cant, none.cant)
		}
	}
}

// aBuild makes one: its meter's gain, its reel and its groups are drawn; in
// half of the builds one group has a dark branch. Its own number, else -1.
func aBuild(rnd *rand.Rand, all *Learner, p *plan.Plan, tol, share, rep, gain float64) (*Learner, int) {
	x := *all
	x.obs = append([]observed(nil), all.obs...)
	dark := -1
	if rnd.IntN(2) == 0 {
		dark = rnd.IntN(len(p.Groups))
	}
	c, g := 2*rnd.Float64()-1, 1+gain*rnd.NormFloat64()
	for i := range x.obs {
		n, lost := 10, 0.0
		if i == dark {
			n, lost = 9, 0.1
		}
		x.obs[i].AmpsA = x.obs[i].ExpectedA * g * (1 - lost) * draw(rnd, n, tol, share, c, rep)
	}
	return &x, dark
}
