package budget

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

// twinDistance: below it two hypotheses are told as one.
const twinDistance = 1.5

// What a sweep at the jack months later knows no better; common practice, no
// source, but for the meter where At gives one.
const (
	sweepStepV     = 0.5
	sweepFromV     = 2.0
	sweepGain      = 0.005 / 1.7320508075688772 // another meter, 0.5 %
	sweepOffsetA   = 10e-6 / 1.7320508075688772
	sweepTempK     = 5 / 1.7320508075688772
	sweepJackOhm   = 0.1
	sweepRepeat    = 0.001
	sweepFloorA    = 5e-6
	sweepReadbackV = 0.002
)

// shape of a fault: by how much the sweep falls when one branch of a group is open.
type faultCurve struct {
	group  int
	period float64 // of its board's first pace; 0: steady
	relTol float64 // of that period
	delta  []float64
	rel    float64 // relative standard uncertainty of one branch

	white   []float64 // delta, whitened
	length2 float64   // its square
}

// twins finds pairs of groups behind one jack in which an open branch looks the
// same from the jack: d' between the two whitened curves over a voltage sweep.
// Groups that blink at clearly other periods are told apart by their pace.
func (m *model) twins(a *alone) ([]Twin, error) {
	jack := m.p.Jacks[a.jack]
	top := math.Max(jack.Volts, jack.HighVolts)
	var volts []float64
	for v := sweepFromV; v <= top+1e-9; v += sweepStepV {
		volts = append(volts, v)
	}
	if len(volts) < 3 {
		return nil, nil
	}
	base, warm := make([]float64, len(volts)), make([]float64, len(volts))
	var faults []faultCurve
	for i := range a.feeds {
		f := &a.feeds[i]
		for _, gp := range f.groups {
			if m.p.Groups[gp.group].Sealed {
				continue // not there when it's read from the jack
			}
			fc, err := m.faultCurve(a, f, gp, volts, base, warm)
			if err != nil {
				return nil, err
			}
			if fc != nil {
				faults = append(faults, *fc)
			}
		}
	}
	c := sweepCovariance(volts, base, warm)
	if !whiten(c, faults) {
		return nil, nil
	}
	var out []Twin
	for i := range faults {
		x := &faults[i]
		for k := i + 1; k < len(faults); k++ {
			y := &faults[k]
			if !samePace(x, y) {
				continue
			}
			if quickDistance(x, y) > twinDistance+0.1 {
				continue
			}
			d := distance(x, y)
			if !(d < twinDistance) {
				continue
			}
			g, h := m.p.Groups[x.group], m.p.Groups[y.group]
			out = append(out, Twin{A: g.Name, B: h.Name, Jack: jack.Name, Distance: d,
				Text: fmt.Sprintf("a dead light in %s and one in %s will look the same from jack %s", quote(g.Name),
					quote(h.Name), quote(jack.Name)),
				Cures: cures(g, h)})
		}
	}
	return out, nil
}

// faultCurve sweeps one group's feed, healthy and with its least branch open,
// and adds its healthy draw to base and warm. nil: the group has no branch to lose.
func (m *model) faultCurve(a *alone, f *feedPlace, gp groupPlace, volts, base, warm []float64) (*faultCurve, error) {
	g := m.p.Groups[gp.group]
	t := f.settings[gp.level].again()
	hot := f.settings[gp.level].again()
	hot.warmBy(a.side, sweepTempK)
	fc := &faultCurve{group: gp.group, delta: make([]float64, len(volts))}
	if f.board >= 0 && len(m.p.Boards[f.board].Paces) > 0 {
		pc := m.p.Boards[f.board].Paces[0]
		fc.period, fc.relTol = pc.PeriodS, pc.PeriodRelTol
	}
	at, least := -1, 0.0
	for i := range t.w.Groups[gp.group].Branches {
		if x := t.w.BranchAmps(t.w.Point, gp.group, i); at < 0 || x < least {
			at, least = i, x
		}
	}
	src := t.src
	for i, v := range volts {
		src.EmfV = v
		if err := t.w.Solve(src); err != nil {
			return nil, fmt.Errorf("%s alone at %g V: %w", g.Name, v, err)
		}
		healthy := t.w.GroupAmps(t.w.Point, gp.group)
		base[i] += healthy
		fc.delta[i] = t.w.JackAmps(t.w.Point)
		if err := hot.w.Solve(src); err != nil {
			return nil, fmt.Errorf("%s alone at %g V, warm: %w", g.Name, v, err)
		}
		warm[i] += hot.w.GroupAmps(hot.w.Point, gp.group) - healthy
	}
	if at < 0 || g.AsFound {
		return nil, nil
	}
	t.w.Open(gp.group, at, true)
	for i, v := range volts {
		src.EmfV = v
		if err := t.w.Solve(src); err != nil {
			return nil, fmt.Errorf("%s with one branch open at %g V: %w", g.Name, v, err)
		}
		fc.delta[i] -= t.w.JackAmps(t.w.Point)
	}
	grp := Group{Lit: a.drawn.draws[gp.out], SmallestA: least}
	for _, l := range g.Lights {
		grp.Branches += l.Branches()
	}
	b := m.branchOf(a, gp, &grp)
	fc.rel = math.Sqrt(b.own + b.common)
	return fc, nil
}

// sweepCovariance is what is not known of a sweep of the healthy model.
func sweepCovariance(volts, y, warm []float64) *mat.SymDense {
	n := len(volts)
	slope := make([]float64, n)
	for i := range slope {
		lo, hi := max(0, i-1), min(n-1, i+1)
		slope[i] = (y[hi] - y[lo]) / (volts[hi] - volts[lo])
	}
	c := mat.NewSymDense(n, nil)
	for i := 0; i < n; i++ {
		u := math.Hypot(sweepRepeat*y[i], sweepFloorA)
		c.SetSym(i, i, u*u+math.Pow(sweepReadbackV*slope[i], 2))
	}
	j := make([]float64, n)
	for _, of := range []func(i int) float64{
		func(i int) float64 { return sweepGain * y[i] },
		func(int) float64 { return sweepOffsetA },
		func(i int) float64 { return warm[i] },
		func(i int) float64 { return scene.DefaultSetVolts / math.Sqrt(3) * slope[i] },
		func(i int) float64 { return slope[i] * y[i] * sweepJackOhm },
	} {
		for i := range j {
			j[i] = of(i)
		}
		c.SymRankOne(c, 1, mat.NewVecDense(n, j))
	}
	return c
}

// whiten turns every curve into one whose errors, but for its own size, are
// independent and of variance 1: L^-1 delta, with L L' the covariance of a healthy
// sweep. false: that covariance can't be factored.
func whiten(healthy *mat.SymDense, faults []faultCurve) bool {
	var ch mat.Cholesky
	if !ch.Factorize(healthy) {
		return false
	}
	var l mat.TriDense
	ch.LTo(&l)
	for i := range faults {
		f := &faults[i]
		f.white = make([]float64, len(f.delta))
		v := mat.NewVecDense(len(f.white), f.white)
		if err := v.SolveVec(&l, mat.NewVecDense(len(f.delta), f.delta)); err != nil {
			return false
		}
		f.length2 = mat.Dot(v, v)
	}
	return true
}

// distance is d' between two faults; how large each is is uncertain itself. With
// a and b the whitened curves, e = a - b and V = I + ra^2 aa' + rb^2 bb', it is
// sqrt(e' V^-1 e), and by Woodbury's formula V^-1 needs a few products only.
func distance(x, y *faultCurve) float64 {
	ab, ae, be, ee := 0.0, 0.0, 0.0, 0.0
	for i, a := range x.white {
		b := y.white[i]
		e := a - b
		ab, ae, be, ee = ab+a*b, ae+a*e, be+b*e, ee+e*e
	}
	return apart(x, y, ab, ae, be, ee)
}

// quickDistance is distance by a single product, good to some 1e-4: most pairs are far apart.
func quickDistance(x, y *faultCurve) float64 {
	ab := 0.0
	for i, a := range x.white {
		ab += a * y.white[i]
	}
	ae, be := x.length2-ab, ab-y.length2
	return apart(x, y, ab, ae, be, ae-be)
}

func apart(x, y *faultCurve, ab, ae, be, ee float64) float64 {
	ra, rb := x.rel, y.rel
	ma, mb, m := 1+ra*ra*x.length2, 1+rb*rb*y.length2, ra*rb*ab
	ua, ub := ra*ae, rb*be
	known := (ua*ua*mb + ub*ub*ma - 2*ua*ub*m) / (ma*mb - m*m)
	return math.Sqrt(math.Max(0, ee-known))
}

// samePace reports whether pace can't tell two groups apart either.
func samePace(x, y *faultCurve) bool {
	if x.period == 0 || y.period == 0 {
		return x.period == y.period
	}
	// Periods must differ by more than both may be off.
	return math.Abs(x.period-y.period) <= (x.relTol+0.02)*x.period+(y.relTol+0.02)*y.period
}

// cures says what would tell two groups apart, while it's still open.
func cures(g, h plan.Group) []string {
	c := []string{
		"give one of them another number of LEDs in series (it then goes dark at another voltage)",
		"give one of them half as much current again",
		"lead a wire of one of them out to a contact of its own",
	}
	if g.Board != "" && g.Board != h.Board {
		c = append([]string{"set one board to another pace"}, c...)
	}
	return c
}
