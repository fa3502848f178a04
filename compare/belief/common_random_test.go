package belief

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/wiring"
	"sealworthy/compare/words"
)

// aboveRates counts what Together says of one kind of cause.
type aboveRates struct {
	n, first, alarm, wrong int
	visible, visibleFirst  int
	sure, sureRight        int // P of the first above 0.9
}

func (r aboveRates) String() string {
	return fmt.Sprintf("%d: first %.2f, alarmed %.2f, wrong alarm %.2f; clearly visible %d: first %.2f; "+
		"P above .9 %d: right %d", r.n,
		float64(r.first)/float64(max(1, r.n)), float64(r.alarm)/float64(max(1, r.n)),
		float64(r.wrong)/float64(max(1, r.n)),
		r.visible, float64(r.visibleFirst)/float64(max(1, r.visible)), r.sure, r.sureRight)
}

// saidRight counts how often a stated probability is right.
type saidRight [5]struct {
	n, right int
	sum      float64
}

var saidEnds = [...]float64{.1, .3, .7, .95, 2}

func (r *saidRight) count(p float64, right bool) {
	b := &r[slices.IndexFunc(saidEnds[:], func(e float64) bool { return p < e })]
	b.n++
	b.sum += p
	if right {
		b.right++
	}
}

func (r *saidRight) String() string {
	s := ""
	for _, b := range r {
		if b.n > 0 {
			s += fmt.Sprintf(" said %.2f, right %.2f of %d;", b.sum/float64(b.n), float64(b.right)/float64(b.n), b.n)
		}
	}
	return s
}

// TestRandomTrees: one cause in a random tree, each group read alone when
// fitted, with and without a loose reading before, and at lower voltages, too. Printed: how often the
// seeded place (or one that no reading tells from it) comes first.
func TestRandomTrees(t *testing.T) {
	if underRace {
		t.Skip("statistics run without the race detector")
	}
	// What must not alarm takes more of them: two alarms among six say little.
	n, quiet := 6, 24
	if os.Getenv("SEALWORTHY_LONG") != "" {
		n, quiet = 200, 200
	}
	mayNot := []string{"single", "none", "wide"}
	kinds := []string{"joint", "open joint", "joint and one", "return", "supply", "part", "single", "none", "wide"}
	for _, read := range []struct {
		name  string
		loose bool
		lower []float64
	}{{"joined", false, nil}, {"loose before", true, nil}, {"loose before, then a sweep", true, []float64{9, 7.2}}} {
		var bins saidRight
		all := map[string]*aboveRates{}
		for _, kind := range kinds {
			r := &aboveRates{}
			all[kind] = r
			many := n
			if slices.Contains(mayNot, kind) {
				many = quiet
			}
			for seed := range uint64(many) {
				one(t, kind, read.loose, read.lower, seed+1, r, &bins)
			}
			t.Logf("%s, %-10s %v", read.name, kind, r)
		}
		for _, kind := range []string{"joint", "open joint", "joint and one", "return"} {
			r := all[kind]
			if r.visible > 0 && float64(r.visibleFirst) < 0.85*float64(r.visible) {
				t.Errorf("%s: a clearly visible one is first in only %d of %d", kind, r.visibleFirst, r.visible)
			}
		}
		t.Logf("%s, P of the first cause and how often it is right: %v", read.name, &bins)
		sure, right := 0, 0
		for _, r := range all {
			sure, right = sure+r.sure, right+r.sureRight
		}
		if sure < 10 || float64(right) < 0.95*float64(sure)-1 {
			t.Errorf("said with more than .9: %d, of these %d right", sure, right)
		}
		// Parts half as far again beyond their tolerance are no common cause either.
		for _, kind := range mayNot {
			if r := all[kind]; float64(r.alarm) > 0.03*float64(r.n)+1 {
				t.Errorf("%s: %d alarms in %d", kind, r.alarm, r.n)
			}
			if r := all[kind]; r.sure > r.n/100 {
				t.Errorf("%s: %d of %d have a common cause with more than .9", kind, r.sure, r.n)
			}
		}
	}
}

// An open joint where a sweep and a reading loose are of the same pieces: their doubt is
// shared in part however much of it a reel has in common.
func TestSamePiecesUnderEveryShare(t *testing.T) {
	var bins saidRight
	var r aboveRates
	one(t, "open joint", true, []float64{9, 7.2}, 35, &r, &bins)
	if r.first != 1 || r.alarm != 1 {
		t.Errorf("an open joint: %v", r)
	}
}

func one(t *testing.T, kind string, withLoose bool, lower []float64, seed uint64, rs *aboveRates, bins *saidRight) {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, hash(kind)))
	p := parse(t, randomTree(r))
	b := newBuild(t, p, r, lower...)
	ohms := math.Exp(math.Log(2) + r.Float64()*math.Log(150))
	var is func(c Shared) bool
	at := func(k fault.SpotKind, name string) func(c Shared) bool {
		return func(c Shared) bool { return slices.Contains(c.Spots, fault.Spot{Kind: k, Name: name}) }
	}
	switch kind {
	case "joint", "open joint", "joint and one":
		if kind == "open joint" {
			ohms = math.Inf(1)
		}
		var fit []int
		for i, j := range p.Joints {
			k := 0
			for _, g := range p.Groups {
				if slices.Contains(fault.Path(p, g), j.Name) {
					k++
				}
			}
			if k >= 2 {
				fit = append(fit, i)
			}
		}
		i := fit[r.IntN(len(fit))]
		b.joint = func(w *wiring.Wired) { w.JointSeries(i, ohms) }
		is = at(fault.SpotJoint, p.Joints[i].Name)
		if kind == "joint and one" {
			f := fault.Possible(p, p.Groups[r.IntN(len(p.Groups))])
			one := f[slices.IndexFunc(f, func(f fault.Fault) bool {
				return f.Kind == fault.OpenBranch || f.Kind == fault.DarkSegment
			})]
			b.both = func(w *wiring.Wired) {
				if err := fault.Apply(w, one); err != nil {
					t.Fatal(err)
				}
			}
		}
	case "return":
		if len(p.Returns) == 0 {
			return
		}
		if r.IntN(3) == 0 {
			ohms = math.Inf(1)
		}
		b.joint = func(w *wiring.Wired) { w.ReturnSeries(0, ohms) }
		is = at(fault.SpotReturn, "mast")
	case "supply":
		b.supplyOffV = 0.4 + r.Float64()
		if r.IntN(2) == 0 {
			b.supplyOffV *= -1
		}
		is = func(c Shared) bool { return c.Kind == fault.SupplyOff }
	case "part":
		f := 1 + (0.25+0.2*r.Float64())*float64(1-2*r.IntN(2))
		k := 0
		for _, g := range p.Groups {
			if g.Lights[0].Reel == "measured strip" {
				k++
			}
		}
		if k < 2 {
			return
		}
		b.both = func(w *wiring.Wired) {
			for gi, g := range w.Groups {
				for _, br := range g.Branches {
					if p.Groups[gi].Lights[br.Light].Reel == "measured strip" {
						w.Net.SetBranchFactor(br.ID, f)
					}
				}
			}
		}
		is = func(c Shared) bool { return c.Kind == fault.PartFigures && c.Reel == "measured strip" && !c.Lack }
	case "wide":
		b.wider(r.Uint64(), 1.5)
	case "single":
		fs := fault.Possible(p, p.Groups[r.IntN(len(p.Groups))])
		f := fs[r.IntN(len(fs))]
		if f.Kind == fault.BadJoint {
			f.Ohms = ohms
		}
		b.both = func(w *wiring.Wired) {
			if err := fault.Apply(w, f); err != nil {
				t.Fatal(err)
			}
		}
	}
	var loose []Measured
	if withLoose {
		loose = b.measure(t, true)
	}
	fitted := b.measure(t, false)
	ms := fitted
	if withLoose {
		ms = since(loose, fitted)
	}
	res := find(t, p, ms)
	sum := res.None + res.Own
	for _, c := range res.Causes {
		sum += c.P
	}
	if !(math.Abs(sum-1) <= 1e-9) {
		t.Errorf("%s %d: probabilities add up to %g", kind, seed, sum)
	}
	rs.n++
	top := len(res.Causes) > 0 && is != nil && is(res.Causes[0])
	if top {
		rs.first++
	}
	if res.Alarm {
		rs.alarm++
		if !top {
			rs.wrong++
		}
	}
	if len(res.Causes) > 0 {
		bins.count(res.Causes[0].P, top)
	}
	if len(res.Causes) > 0 && res.Causes[0].P > .9 {
		rs.sure++
		if top {
			rs.sureRight++
		}
	}
	// Clearly visible: two groups or more are off by four times their doubt.
	clear := 0
	for _, m := range fitted {
		e, x := m.Ensemble, m.Readings[0]
		if math.Abs(x.Amps-e.HealthyA[0]) > 4*math.Hypot(math.Hypot(x.U, x.GainU*x.Amps), e.HealthyU[0]) {
			clear++
		}
	}
	if clear >= 2 {
		rs.visible++
		if top {
			rs.visibleFirst++
		}
	}
	if is != nil && (!top || !res.Alarm) && clear >= 2 || is == nil && res.Alarm || res.Alarm && !top ||
		!top && len(res.Causes) > 0 && res.Causes[0].P > .3 {
		t.Logf("%s %d, %.3g ohm: none %.2f own %.2f off %v", kind, seed, ohms, res.None, res.Own, res.Off)
		for _, c := range res.Causes[:min(2, len(res.Causes))] {
			text, look := words.InCommon(c.Common)
			t.Logf("    %.2f %s | %s", c.P, text, look)
		}
	}
}
