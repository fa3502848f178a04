package belief

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

// randomGroup is an invented group: a strip, pre-resistored parts, LEDs with their
// own resistors, or a mix.
func randomGroup(r *rand.Rand) *plan.Plan {
	share := []float64{0.25, 0.5, 0.9}[r.IntN(3)]
	strip := func() plan.Light {
		l := light("strip", 3, 1, 150, share)
		l.Kind, l.Segments, l.CopperOhms = plan.Strip, 2+r.IntN(10), plan.Value{Nominal: 0.05, HalfWidth: 0.02}
		spread(&l, 0.10+0.1*r.Float64(), share)
		return l
	}
	smd := func() plan.Light {
		l := light("smd", 1, 1+r.IntN(8), 820, share)
		l.Kind = plan.SMD
		spread(&l, 0.15, share)
		return l
	}
	leds := func() plan.Light {
		n := 1 + r.IntN(3)
		return light(fmt.Sprint("white x", n), n, 1+r.IntN(8), []float64{1000, 680, 330}[n-1], share)
	}
	var ls []plan.Light
	switch r.IntN(5) {
	case 0:
		ls = []plan.Light{strip()}
	case 1:
		ls = []plan.Light{smd()}
	case 2:
		ls = []plan.Light{leds()}
	case 3:
		ls = []plan.Light{leds(), leds()}
	case 4:
		ls = []plan.Light{strip(), smd()}
	}
	p := onJack(ls...)
	p.Joints = []plan.Joint{{Name: "keel", From: "main", Wire: wireOhms(0.1 + 0.2*r.Float64())}}
	p.Groups[0].Joint, p.Groups[0].Wire = "keel", wireOhms(0.3*r.Float64()+0.05)
	return p
}

// spread leaves a part's whole tolerance to its branch.
func spread(l *plan.Light, half, share float64) {
	l.Ohms.HalfWidth = 0
	for i := range l.Series {
		l.Series[i].Volts.HalfWidth = 0
	}
	l.BranchSpread = plan.Value{Nominal: 1, HalfWidth: half, Share: share}
}

// drawn is one hypothesis by its prior; -1: nothing is wrong. What is unknown but
// for the list isn't simulated.
func drawn(r *rand.Rand, e *Ensemble) int {
	x := r.Float64() * (1 - e.priors.Unknown)
	for i := range e.Hypotheses {
		if x -= e.Hypotheses[i].Prior; x < 0 {
			return i
		}
	}
	return -1
}

// spoilt puts one of a hypothesis' faults into a circuit, at a value drawn by the priors.
func spoilt(r *rand.Rand, e *Ensemble, h int) func(*wiring.Wired) error {
	if h < 0 {
		return nil
	}
	x := &e.Hypotheses[h]
	weights := 0.0
	for _, f := range x.Faults {
		weights += inGroup(e, f)
	}
	f := x.Faults[0]
	y := r.Float64() * weights
	for _, f = range x.Faults {
		if y -= inGroup(e, f); y < 0 {
			break
		}
	}
	at := 0.0
	switch f.Kind {
	case fault.BranchJoint:
		at = e.priors.Joint.BranchOhms * math.Exp(e.priors.Joint.BranchSigma*r.NormFloat64())
	case fault.BadJoint:
		at = e.priors.Joint.FeedOhms * math.Exp(e.priors.Joint.FeedSigma*r.NormFloat64())
		if r.Float64() < wireOff {
			at = wireOffOhms
		}
	case fault.Short:
		at = shortOhms[r.IntN(len(shortOhms))]
	}
	return func(w *wiring.Wired) error { return apply(w, f, at) }
}

// bin is how often what was stated with a probability was right.
type bin struct {
	n, right int
	stated   float64
}

func (b *bin) add(p float64, right bool) {
	b.n++
	b.stated += p
	if right {
		b.right++
	}
}

func (b bin) String() string {
	if b.n == 0 {
		return "-"
	}
	return fmt.Sprintf("%.3f/%.3f (%d)", b.stated/float64(b.n), float64(b.right)/float64(b.n), b.n)
}

var binEnds = []float64{0.5, 0.7, 0.9, 0.97, 1.01}

// reliability states the likeliest class for builds drawn by the priors until so
// many faults were seen. all counts every statement, faults only those that name a fault.
func reliability(t *testing.T, tol, bend float64, plans, faults int) (all, named []bin, alarm bin) {
	t.Helper()
	all, named = make([]bin, len(binEnds)), make([]bin, len(binEnds))
	r := rand.New(rand.NewPCG(21, 42))
	for range plans {
		p := randomGroup(r)
		volts := []float64{12}
		if r.IntN(3) > 0 {
			volts = append(volts, 5+r.Float64()*4.5)
		}
		e := ensemble(t, p, volts, scene.Scene{}, Options{})
		w, err := wiring.Build(p, "main", wiring.Options{})
		if err != nil {
			t.Fatal(err)
		}
		x := truth{r: r, w: w, tol: tol, bend: bend, gain: 0.005, count: 2e-5}
		for n := 0; n < faults/plans; {
			h := drawn(r, e)
			if h >= 0 {
				n++
			}
			rs, err := x.read(volts, spoilt(r, e, h))
			if err != nil {
				t.Fatal(err)
			}
			res, err := e.Posterior(rs, look.Look{})
			if err != nil {
				t.Fatal(err)
			}
			p, right, names := res.None, h < 0, false
			if len(res.Classes) > 0 && res.Classes[0].P > p {
				c := res.Classes[0]
				p, right, names = c.P, slices.Contains(c.Members, h), true
			}
			if res.Unknown > p {
				p, right, names = res.Unknown, false, false
			}
			i := slices.IndexFunc(binEnds, func(end float64) bool { return p < end })
			all[i].add(p, right)
			if names {
				named[i].add(p, right)
			}
			if d, err := e.Decide(rs, look.Look{}, rule.Rule{K: k, Guard: guard}); err != nil {
				t.Fatal(err)
			} else if h < 0 {
				alarm.add(0.001, d.Verdict == rule.FailLow || d.Verdict == rule.FailHigh)
			}
		}
	}
	return all, named, alarm
}

// TestReliability: when it says 0.9 it must be right 9 times in 10. Truth and
// inference share the device model, so this is the best case. Builds are drawn by
// the priors, with parts of the planned tolerance, half of it, and half as much
// again; and with curves of another slope than the plan's parts have.
func TestReliability(t *testing.T) {
	statistics(t)
	plans, faults := 30, 600
	if long() {
		plans, faults = 100, 2000
	}
	for _, x := range []struct{ tol, bend float64 }{{1, 0}, {0.5, 0}, {1.5, 0}, {1, 0.08}, {1, 0.15}} {
		tol := x.tol
		all, named, alarm := reliability(t, tol, x.bend, plans, faults)
		line := func(bs []bin) string {
			var s []string
			for _, b := range bs {
				s = append(s, b.String())
			}
			return strings.Join(s, "  ")
		}
		t.Logf("tolerance x%g, curves bent by up to %g %%, up to 0.5, 0.7, 0.9, 0.97, 1: stated/right (number)", tol,
			100*x.bend)
		t.Logf("    any statement:  %s", line(all))
		t.Logf("    a fault named:  %s", line(named))
		t.Logf("    healthy called failing: %d of %d", alarm.right, alarm.n)
		judged := map[string][]bin{"any statement": all}
		if tol <= 1 { // with half as much again the fault itself is named too readily: printed above
			judged["a fault named"] = named
		}
		for what, bins := range judged {
			for _, b := range bins {
				if b.n < 30 {
					continue
				}
				p, f := b.stated/float64(b.n), float64(b.right)/float64(b.n)
				slack := 0.04 + 2.6*math.Sqrt(p*(1-p)/float64(b.n))
				if tol != 1 || x.bend > 0 {
					slack += 0.05
				}
				if f < p-slack {
					t.Errorf("tolerance x%g, bent by %g, %s: stated %.3f, right %.3f of %d", tol, x.bend, what, p,
						f, b.n)
				}
			}
		}
	}
}

func inGroup(e *Ensemble, f fault.Fault) float64 {
	g, _ := e.plan.Group(f.Group)
	return e.priors.Fault.In(g, f)
}
