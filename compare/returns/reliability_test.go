package returns

import (
	"math"
	"math/rand/v2"
	"testing"

	"sealworthy/compare/fault"
)

// reliability counts how often the place that is said first is right, by how
// sure it is said. "Nothing wrong" is counted apart: every model of these
// populations is broken, some too little to be seen.
type reliability struct {
	n, right            [3]int
	sum                 [3]float64 // of what was said
	inSet, all, setSize int
	nothing, asItLeft   int // said first; said with 0.95 and more
}

// Bins of the table: from .5, from .7, above .9. What is less sure isn't said.
var binsFrom = [3]float64{0.5, 0.7, 0.9}

func (r *reliability) add(d *Diagnosis, f trueFault) {
	top := d.Ranked[0]
	hit := top.Place == f.place && top.Second == ""
	if d.Verdict == AsItLeft {
		r.asItLeft++
	}
	if top.Place == string(fault.Nothing) {
		r.nothing++
	}
	for i := len(binsFrom) - 1; i >= 0; i-- {
		if top.P > binsFrom[i] && top.Place != string(fault.Nothing) {
			r.n[i]++
			r.sum[i] += top.P
			if hit {
				r.right[i]++
			}
			break
		}
	}
	r.all++
	r.setSize += len(d.Set)
	for _, c := range d.Set {
		if c.Place == f.place || c.Second == f.place {
			r.inSet++
			break
		}
	}
}

func (r *reliability) rate(i int) float64 { return float64(r.right[i]) / float64(max(1, r.n[i])) }

func (r *reliability) said(i int) float64 { return r.sum[i] / float64(max(1, r.n[i])) }

func (r *reliability) log(t *testing.T, name string) {
	t.Logf("%s, %d faults:", name, r.all)
	for i, words := range []string{"said .5 to .7", "said .7 to .9", "said above .9"} {
		t.Logf("    %s  %3d times, in the mean %.3f; right %.3f", words, r.n[i], r.said(i), r.rate(i))
	}
	t.Logf("    in the set %.3f (of %.1f places); nothing wrong said first %d times, as it left %d times",
		float64(r.inSet)/float64(r.all), float64(r.setSize)/float64(r.all), r.nothing, r.asItLeft)
}

// How often it is right when it says so: over the population of the table of
// single faults, and over another one, with other seeds, every group a little
// aged, and joints from 3 ohm on. Both by the meter of then and by another one.
// In each bin it must be right as often as it says, less three binomial
// standard deviations.
func TestHowSureItIsIsHowOftenItIsRight(t *testing.T) {
	if raceDetector {
		t.Skip("statistics: without -race")
	}
	faults, models := 20, 2
	if long() {
		faults, models = 368, 24
	}
	volts := grid(2, 12.5, 0.25)
	for _, c := range []struct {
		name string
		seed uint64
		draw func(r *rand.Rand) trueFault
	}{
		{"as the prototype's", 7, drawFault},
		{"hold-out, joints from 3 ohm", 101, func(r *rand.Rand) trueFault {
			f := drawFault(r)
			if f.class == fault.BadJoint {
				f.param = 3 * math.Pow(1000.0/3, r.Float64())
			}
			return f
		}},
	} {
		for _, m := range []struct {
			name string
			b    bench
			n    Nuisances
		}{{"other meter", otherBench(), DefaultNuisances()},
			{"same meter", sameBench(), DefaultNuisances().SameMeter()}} {
			r := rand.New(rand.NewPCG(c.seed, 11))
			ps := populations(t, models, r, volts)
			var rel reliability
			for i := range faults {
				p := ps[i%len(ps)]
				f := c.draw(r)
				rel.add(p.diagnose(t, m.b.sweep(p.ls, volts, r, nil, f), m.n), f)
			}
			rel.log(t, c.name+", "+m.name)
			for i := range rel.n {
				if rel.rate(i) < rel.said(i)-0.02-3*sd(rel.said(i), rel.n[i]) {
					t.Errorf("%s, %s: said %.2f, right %.2f of %d", c.name, m.name, rel.said(i), rel.rate(i), rel.n[i])
				}
			}
		}
	}
}
