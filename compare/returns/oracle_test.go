package returns

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"sealworthy/compare/fault"
)

// oracle judges a sweep with what nobody has: the very parts of the model, the law
// that drew them and what the bench gets wrong, as one dense covariance. None of the
// engine's code is in it, only its priors' figures. It bounds what a sweep can tell.
type oracle struct {
	volts []float64
	place []string // by hypothesis; "" is nothing
	small []bool   // nobody sees it
	idle  []string // the blinker that doesn't run
	prior []float64
	mean  [][]float64
	cov   [][]float64 // of the readings of a healthy model
}

// idle is the blinker that doesn't run with a fault; "": all do.
func (f trueFault) idle() string {
	if f.class == fault.StuckLit || f.class == fault.StuckDark || f.class == fault.DeadBoard {
		return strings.TrimPrefix(f.place, "board ")
	}
	return ""
}

// sees is what the bench reads in the mean: half of what the plug may have is in it.
func (o *oracle) sees(ls []lamp, dV, dT, ohms float64, f trueFault) []float64 {
	out := make([]float64, len(o.volts))
	for i, v := range o.volts {
		a := mean(ls, v+dV, dT, f)
		out[i] = mean(ls, v+dV-ohms*a, dT, f)
	}
	return out
}

func newOracle(ls []lamp, volts []float64, b bench, pr fault.ReturnPriors) *oracle {
	o := &oracle{volts: volts}
	top := 0
	for i, v := range volts {
		if math.Abs(v-12) < math.Abs(volts[top]-12) {
			top = i
		}
	}
	healthy := o.sees(ls, 0, 0, 0.05, trueFault{})
	of := ls
	add := func(f trueFault, weight, placeA float64) {
		y := o.sees(of, 0, 0, 0.05, f)
		switch less := math.Abs(y[top] - healthy[top]); f.class {
		case fault.Leak:
			weight *= pr.Unnoticed
		case fault.BadJoint: // of those who get .1 to .5 less more and more notice
			noticed := math.Min(1, math.Max(0, (less*slightShare/placeA-0.1)/0.4))
			weight *= pr.Unnoticed + (1-pr.Unnoticed)*noticed*noticed
		}
		o.place, o.prior, o.mean = append(o.place, f.place), append(o.prior, weight), append(o.mean, y)
		o.idle = append(o.idle, f.idle())
		o.small = append(o.small, f.place == "" || (f.class == fault.BadJoint || f.class == fault.Leak) &&
			math.Abs(y[top]-healthy[top]) < placeA)
	}
	add(trueFault{}, 0, 0)
	// As near to each other as a sweep tells them apart: of 11 a joint between two fits the one
	// of another place better, and the oracle was surer than it is right (5 of 150 named wrong
	// where 2 are).
	const nodes = 61
	grade := func(f trueFault, lo, hi, weight, placeA float64) {
		for k := range nodes {
			f.param = lo * math.Pow(hi/lo, float64(k)/(nodes-1))
			add(f, weight/nodes, placeA)
		}
	}
	for i, l := range ls {
		own := l.draw(12, 0, trueFault{})
		// Which of its branches it is nobody knows.
		anyOf := func(f trueFault, weight float64) {
			for k := range l.n {
				of = slices.Clone(ls)
				of[i].branches = append(slices.Clone(l.branches[k:]), l.branches[:k]...)
				add(f, weight/float64(l.n), 0)
			}
			of = ls
		}
		if l.periodS > 0 {
			add(trueFault{l.name, fault.StuckLit, 0}, pr.StuckLit, 0)
			add(trueFault{l.name, fault.StuckDark, 0}, pr.StuckDark, 0)
			add(trueFault{"board " + l.name, fault.DeadBoard, 0}, pr.DeadBoard, 0)
			continue
		}
		anyOf(trueFault{l.name, fault.OpenBranch, 1}, pr.DarkBranch)
		if l.n > 2 {
			anyOf(trueFault{l.name, fault.OpenBranch, 2}, pr.DarkBranch*pr.SecondBranch)
		}
		add(trueFault{l.name, fault.OpenWire, 0}, pr.Dead, 0)
		if l.leds > 1 {
			anyOf(trueFault{l.name, fault.ShortedLED, 1}, pr.ShortedLED)
		}
		grade(trueFault{place: l.name, class: fault.BadJoint}, 3, 1000, pr.BadJoint, slightShare*own)
	}
	grade(trueFault{place: string(fault.Leak), class: fault.Leak}, 1e3, 30e3, pr.Leak, slightLeak*healthy[top])
	sum := 0.0
	for _, p := range o.prior {
		sum += p
	}
	for i := range o.prior {
		o.prior[i] *= (1 - pr.Nothing) / sum
	}
	o.prior[0] = pr.Nothing

	n := len(volts)
	o.cov = make([][]float64, n)
	for i := range o.cov {
		o.cov[i] = make([]float64, n)
	}
	column := func(c []float64) {
		for i := range c {
			for j := range c {
				o.cov[i][j] += c[i] * c[j]
			}
		}
	}
	difference := func(up, down []float64, u, step float64) {
		c := make([]float64, n)
		for i := range c {
			c[i] = u * (up[i] - down[i]) / (2 * step)
		}
		column(c)
	}
	third := math.Sqrt(3)
	gain, ones := make([]float64, n), make([]float64, n)
	for i := range gain {
		gain[i], ones[i] = healthy[i]*b.gainHalf/third, b.offsetHalf/third
	}
	column(gain)
	column(ones)
	difference(o.sees(ls, 0, 1, 0.05, trueFault{}), o.sees(ls, 0, -1, 0.05, trueFault{}), b.tempHalf/third, 1)
	slopes := [2][]float64{o.sees(ls, 0.005, 0, 0.05, trueFault{}), o.sees(ls, -0.005, 0, 0.05, trueFault{})}
	difference(slopes[0], slopes[1], 0.01/third, 0.005)
	difference(o.sees(ls, 0, 0, 0.1, trueFault{}), o.sees(ls, 0, 0, 0, trueFault{}), 0.05/third, 0.05)
	for i, v := range volts {
		x := math.Pow(0.001*healthy[i], 2) + 25e-12 + 1e-10/12 + math.Pow(0.002*(slopes[0][i]-slopes[1][i])/0.01, 2)
		for _, l := range ls {
			if l.periodS > 0 {
				x += math.Pow(0.3*l.draw(v, 0, trueFault{})*math.Sqrt(l.duty*(1-l.duty))*l.periodS/b.dwellS, 2)
			}
		}
		o.cov[i][i] += x
	}
	return o
}

// diagnose gives verdict and named place by the rule of a diagnosis. idle is the
// blinker that a trace shows not to run, "" where all do: the oracle is told.
func (o *oracle) diagnose(y []float64, idle string) (v Verdict, place string) {
	n := len(y)
	c := mat.NewDense(n, n, nil)
	for i := range n {
		c.SetRow(i, o.cov[i])
	}
	var inv mat.Dense
	if inv.Inverse(c) != nil {
		return CantTell, ""
	}
	ln := make([]float64, len(o.mean))
	most := math.Inf(-1)
	for h, m := range o.mean {
		d := mat.NewVecDense(n, nil)
		for i := range n {
			d.SetVec(i, y[i]-m[i])
		}
		ln[h] = math.Log(o.prior[h]) - mat.Inner(d, &inv, d)/2
		if o.idle[h] != idle {
			ln[h] = math.Inf(-1)
		}
		most = math.Max(most, ln[h])
	}
	by, all, small := map[string]float64{}, 0.0, 0.0
	for h, x := range ln {
		p := math.Exp(x - most)
		all += p
		by[o.place[h]] += p
		if o.small[h] {
			small += p
		}
	}
	best := ""
	for name, p := range by {
		if p > by[best] {
			best = name
		}
	}
	switch none := by[""] / all; {
	case none >= alarmBelow && small/all >= setCovers:
		return AsItLeft, ""
	case none < alarmBelow && by[best]/all > nameAbove:
		return OnePlace, best
	case none < alarmBelow:
		return OneOf, ""
	}
	return CantTell, ""
}

// Returns without a look, beside the oracle on the same sweeps, which is told what a
// trace shows: each figure within 0.10 of it.
func TestWithoutALookBesideAnOracle(t *testing.T) {
	if raceDetector {
		t.Skip("statistics: without -race")
	}
	each, models := 60, 2
	if long() {
		each, models = 300, 20
	}
	seed := seedOf(31)
	t.Logf("seed %d", seed)
	volts := grid(2, 12.5, 0.75)
	r := rand.New(rand.NewPCG(seed, 13))
	pr, n := fault.DefaultPriors().Return, DefaultNuisances()
	var engine, bound [2]tallyOf
	for m := range models {
		ls := built(r)
		p, s := referencePlan(ls), asBuilt(ls, volts, r)
		lib, err := NewLibrary(p, s, "", volts, pr)
		if err != nil {
			t.Fatal(err)
		}
		o := newOracle(ls, volts, otherBench(), pr)
		for i := m; i < 2*each; i += models {
			f, kind, fs := trueFault{}, 0, []trueFault(nil)
			if i < each {
				f, kind = drawFault(r), 1
				fs = append(fs, f)
			}
			sweep := otherBench().sweep(ls, volts, r, nil, fs...)
			d, err := lib.Diagnose(p, s, &Return{Sweep: sweep, DwellS: 4, Volts: 12, WindowS: 0.09,
				Trace: traced(ls, f, r)}, Options{Priors: &pr, Nuisances: &n})
			if err != nil {
				t.Fatal(err)
			}
			engine[kind].add(d, f)
			v, place := o.diagnose(sweep.Amps, f.idle())
			b := &Diagnosis{Verdict: v, Alarm: v == OnePlace || v == OneOf}
			if v == OnePlace {
				b.Named = &Cause{Place: place}
			}
			bound[kind].add(b, f)
		}
	}
	for kind, name := range []string{"healthy", "faults"} {
		e, b := engine[kind], bound[kind]
		t.Logf("%-8s %3d: named right %.3f (oracle %.3f), named wrong %.3f (%.3f), as it left %.3f (%.3f), alarm "+
			"%.3f (%.3f)", name, e.n,
			e.rate(e.right), b.rate(b.right), e.rate(e.wrong), b.rate(b.wrong), e.rate(e.asItLeft), b.rate(b.asItLeft),
			e.rate(e.alarm), b.rate(b.alarm))
		for _, x := range []struct {
			what         string
			got, best, n int
		}{{"named right", e.right, b.right, e.n}, {"named wrong", e.wrong, b.wrong, e.n},
			{"as it left", e.asItLeft, b.asItLeft, e.n}, {"alarm", e.alarm, b.alarm, e.n}} {
			if off := math.Abs(float64(x.got-x.best)) / float64(x.n); off > 0.10 {
				t.Errorf("%s, %s: %d of %d, the oracle %d", name, x.what, x.got, x.n, x.best)
			}
		}
	}
}
