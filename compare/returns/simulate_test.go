package returns

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// The population of these tests: eight groups and three blinkers, some 490 mA
// at 12 V, two strips alike and two groups of single whites alike. Its device
// law is written out here and is not that of compare/circuit. Invented data.

type lamp struct {
	name     string
	n, leds  int
	vf, r    float64
	tol      float64
	tempco   float64
	periodS  float64 // of a blinker
	duty     float64
	branches []lampBranch
}

type lampBranch struct{ vf, r float64 }

func lamps() []lamp {
	const red, white = -0.0018, -0.003
	return []lamp{
		{name: "strip1", n: 6, leds: 3, vf: 2.9, r: 150, tol: .1, tempco: white},
		{name: "strip2", n: 4, leds: 3, vf: 2.95, r: 150, tol: .1, tempco: white},
		{name: "win8", n: 8, leds: 1, vf: 2.9, r: 1000, tol: .05, tempco: white},
		{name: "red5", n: 5, leds: 1, vf: 1.9, r: 1200, tol: .05, tempco: red},
		{name: "yel3", n: 3, leds: 2, vf: 2.0, r: 680, tol: .05, tempco: red},
		{name: "smd6", n: 6, leds: 1, vf: 2.95, r: 820, tol: .15, tempco: white},
		{name: "tail4", n: 4, leds: 3, vf: 1.9, r: 390, tol: .05, tempco: red},
		{name: "head2", n: 2, leds: 3, vf: 2.9, r: 330, tol: .05, tempco: white},
		{name: "bl1", n: 1, leds: 1, vf: 1.9, r: 520, tol: .05, tempco: red, periodS: 1, duty: .5},
		{name: "bl2", n: 1, leds: 1, vf: 2.9, r: 680, tol: .05, tempco: white, periodS: .7, duty: .2},
		{name: "bl3", n: 1, leds: 2, vf: 2.6, r: 440, tol: .05, tempco: white, periodS: 1.7, duty: .1},
	}
}

// referencePlan is the plan of a population, as its maker knows it.
func referencePlan(ls []lamp) *plan.Plan {
	p := &plan.Plan{Build: "Population", Revision: "population",
		Jacks: []plan.Jack{{Name: "main", Volts: 12, LowVolts: 11.4, HighVolts: 12.6}}}
	for _, l := range ls {
		g := plan.Group{Name: l.name, Joint: "main"}
		if l.periodS > 0 {
			// Nothing is planned of what hangs on a board: only its curve as built.
			p.Boards = append(p.Boards,
				plan.Board{Name: "board " + l.name, Joint: "main", Standing: plan.Value{Nominal: 0.0008},
					LowVolts: 3,
					Outputs: []plan.Output{{Number: 1, FollowsSupply: true, Ohms: plan.Value{Nominal: 10},
						MaxAmps: 0.1}},
					Paces: []plan.Pace{{Name: "blink", PeriodS: l.periodS, Duty: l.duty}}})
			g.Joint, g.Board, g.Output, g.AsFound = "", "board "+l.name, 1, true
			p.Groups = append(p.Groups, g)
			continue
		}
		led := plan.LED{Part: l.name, TempcoVPerK: l.tempco}
		for _, a := range []float64{0.001, 0.005, 0.02} {
			led.Points = append(led.Points, plan.VoltsAtAmps{Volts: diodeV(l.vf, a), Amps: a})
		}
		x := plan.Light{Part: l.name, Kind: plan.LEDs, Count: l.n,
			Ohms:         plan.Value{Nominal: l.r, HalfWidth: l.tol * l.r},
			BranchSpread: plan.Value{Nominal: 1}}
		for range l.leds {
			x.Series = append(x.Series, led)
		}
		g.Lights = []plan.Light{x}
		p.Groups = append(p.Groups, g)
	}
	return p
}

// diodeV is the law of one LED: ideality 2, 8 ohm in series, vf at 5 mA.
func diodeV(vf, amps float64) float64 { return vf + 0.052*math.Log(amps/0.005) + 8*(amps-0.005) }

// branchAmps solves R I + n v(I) = V by Newton's method on ln I.
func branchAmps(volts, r float64, leds int, vf float64) float64 {
	if leds == 0 {
		return volts / r
	}
	n := float64(leds)
	rt, a := r+8*n, 0.052*n
	e := volts - n*vf + 8*n*0.005
	u := e / a
	if e > 0 {
		u = math.Log(math.Max(e/(rt*0.005), 1e-12))
	}
	for range 60 {
		g := rt*0.005*math.Exp(u) + a*u - e
		d := g / (rt*0.005*math.Exp(u) + a)
		u -= math.Max(-3, math.Min(3, d))
		if math.Abs(d) < 1e-9 {
			break
		}
	}
	return 0.005 * math.Exp(u)
}

// built draws the parts of one model.
func built(r *rand.Rand) []lamp {
	ls := lamps()
	for i := range ls {
		l := &ls[i]
		common := 0.05 * (2*r.Float64() - 1)
		for range l.n {
			l.branches = append(l.branches, lampBranch{
				vf: l.vf + common + 0.03*(2*r.Float64()-1), r: l.r * (1 + l.tol*(2*r.Float64()-1))})
		}
	}
	return ls
}

// trueFault is one seeded fault.
type trueFault struct {
	place string
	class fault.Kind
	param float64
}

// draw is the draw of one lamp while lit, with a fault, dT warmer.
func (l lamp) draw(volts, dT float64, f trueFault) float64 {
	if f.place != l.name {
		f = trueFault{}
	}
	sum := func(v float64) float64 {
		s := 0.0
		for i, b := range l.branches {
			leds, vf := l.leds, b.vf+l.tempco*dT
			switch {
			case f.class == fault.OpenWire, f.class == fault.OpenBranch && i < int(f.param):
				continue
			case f.class == fault.ShortedLED && i == 0:
				leds--
			}
			s += branchAmps(v, b.r, leds, vf)
		}
		return s
	}
	if f.class != fault.BadJoint {
		return sum(volts)
	}
	lo, hi := 0.0, volts
	for range 50 {
		mid := (lo + hi) / 2
		if mid+f.param*sum(mid) > volts {
			hi = mid
		} else {
			lo = mid
		}
	}
	return sum(lo)
}

func standing(volts float64) float64 {
	if volts > 3 {
		return 0.0008
	}
	return 0.0002
}

// mean is the mean draw of the whole model at its jack.
func mean(ls []lamp, volts, dT float64, fs ...trueFault) float64 {
	sum := 0.0
	for _, l := range ls {
		d, board := 1.0, 0.0
		if l.periodS > 0 {
			d, board = l.duty, standing(volts)
		}
		f := trueFault{}
		for _, x := range fs {
			switch {
			case x.place == l.name && x.class == fault.StuckLit:
				d = 1
			case x.place == l.name && x.class == fault.StuckDark:
				d = 0
			case x.place == "board "+l.name:
				d, board = 0, 0
			case x.place == l.name:
				f = x
			}
		}
		sum += board + d*l.draw(volts, dT, f)
	}
	for _, x := range fs {
		if x.class == fault.Leak {
			sum += volts / x.param
		}
	}
	return sum
}

func grid(from, to, step float64) []float64 {
	var out []float64
	for v := from; v <= to+1e-9; v += step {
		out = append(out, math.Round(v*100)/100)
	}
	return out
}

// asBuilt is the signature of a model by the curves of its groups alone, each
// with 0.05 % noise and steps of 0.01 mA.
func asBuilt(ls []lamp, volts []float64, r *rand.Rand) *Signature {
	s := &Signature{Build: "Population", Jack: "main"}
	for _, l := range ls {
		c := Curve{Volts: volts}
		for _, v := range volts {
			a := l.draw(v, 0, trueFault{}) * (1 + 0.0005*r.NormFloat64())
			c.Amps = append(c.Amps, math.Round(a*1e5)/1e5)
		}
		g := GroupCurve{Group: l.name, Lit: c, Kept: KeptSweep}
		if l.periodS > 0 {
			g.Board, g.Output = "board "+l.name, 1
			g.Paces = []Level{{Pace: "blink", PeriodS: l.periodS, Duty: l.duty, OnA: c.Amps[len(c.Amps)-1]}}
			b := BoardCurve{Board: g.Board, Dark: Curve{Volts: volts}}
			for _, v := range volts {
				b.Dark.Amps = append(b.Dark.Amps, standing(v))
			}
			s.Boards = append(s.Boards, b)
		}
		s.Groups = append(s.Groups, g)
	}
	return s
}

// bench is what measures a return: its errors are drawn once for each sweep.
type bench struct{ gainHalf, offsetHalf, tempHalf, dwellS float64 }

func otherBench() bench { return bench{0.005, 10e-6, 5, 4} }
func sameBench() bench  { return bench{0.0005, 10e-6, 5, 4} }

func (b bench) sweep(ls []lamp, volts []float64, r *rand.Rand, extra func(v float64) float64, fs ...trueFault) Curve {
	half := func(x float64) float64 { return x * (2*r.Float64() - 1) }
	gain, offset, dT, set, jack := half(b.gainHalf), half(b.offsetHalf), half(b.tempHalf), half(0.01), 0.1*r.Float64()
	c := Curve{Volts: volts}
	for _, v := range volts {
		at := v + set + 0.002*r.NormFloat64()
		a := mean(ls, at, dT, fs...)
		a = mean(ls, at-jack*a, dT, fs...)
		for _, l := range ls {
			if l.periodS > 0 && !slices.ContainsFunc(fs, func(f trueFault) bool {
				return f.place == l.name ||
					f.place == "board "+l.name
			}) {
				a += 0.3 * l.draw(v, dT,
					trueFault{}) * math.Sqrt(l.duty*(1-l.duty)) * l.periodS / b.dwellS * r.NormFloat64()
			}
		}
		if extra != nil {
			a += extra(v)
		}
		a = a*(1+gain)*(1+0.001*r.NormFloat64()) + offset + 5e-6*r.NormFloat64()
		c.Amps = append(c.Amps, math.Round(a*1e5)/1e5)
	}
	return c
}

// drawFault draws a fault with the shares of the prototype's test: 142 dark
// branches, 60 dead, 40 shorted LEDs, 68 joints, 18 leaks, 15 stuck lit, 13
// stuck dark, 12 dead boards of 368.
func drawFault(r *rand.Rand) trueFault {
	ls := lamps()
	group := func(ok func(l lamp) bool) lamp {
		for {
			if l := ls[r.IntN(len(ls))]; ok(l) {
				return l
			}
		}
	}
	steady := func(l lamp) bool { return l.periodS == 0 }
	blinks := func(l lamp) bool { return l.periodS > 0 }
	logUniform := func(lo, hi float64) float64 { return lo * math.Pow(hi/lo, r.Float64()) }
	switch x := r.IntN(368); {
	case x < 142:
		l := group(steady)
		n := 1 + r.IntN(2)
		if n == l.n {
			n = 1
		}
		return trueFault{l.name, fault.OpenBranch, float64(n)}
	case x < 202:
		return trueFault{group(steady).name, fault.OpenWire, 0}
	case x < 242:
		return trueFault{group(func(l lamp) bool { return steady(l) && l.leds >= 2 }).name, fault.ShortedLED, 1}
	case x < 310:
		return trueFault{group(steady).name, fault.BadJoint, logUniform(5, 1000)}
	case x < 328:
		return trueFault{string(fault.Leak), fault.Leak, logUniform(1e3, 30e3)}
	case x < 343:
		return trueFault{group(blinks).name, fault.StuckLit, 0}
	case x < 356:
		return trueFault{group(blinks).name, fault.StuckDark, 0}
	}
	return trueFault{"board " + group(blinks).name, fault.DeadBoard, 0}
}

func (f trueFault) String() string {
	return string(f.class) + " of " + f.place + " (" + strconv.FormatFloat(f.param, 'g', 3, 64) + ")"
}
