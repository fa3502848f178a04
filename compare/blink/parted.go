package blink

import (
	"fmt"
	"math"
)

// Figures of what is said of a joint fit.
const (
	runningShare = 0.5  // of the step to be expected: above, it runs
	sureBy       = 3    // standard uncertainties from that
	poorShare    = 0.01 // scatter about the fit, as a share of the draw
	mostIdle     = 8    // sets of them are tried one by one
)

// State is what an output does in the trace of a whole model. The zero State is
// none.
type State string

// The states of an output.
const (
	Running    State = "running"
	NotRunning State = "not running" // lit or dark: the base isn't known
	StaysLit   State = "stays lit"
	StaysDark  State = "stays dark"
	Unsettled  State = "can't tell"
)

// Parted is a trace taken into what is always lit and what blinks.
type Parted struct {
	Usable bool   // false: too few readings, or no clock that can be looked for; nothing below is set
	Why    string // one plain sentence

	BaseA, BaseU float64 // A, with everything dark that blinks
	// Known is false where outputs take turns without a dark moment, or two boards
	// blink too alike: then base and steps aren't determined one by one, MeanA is.
	Known        bool
	MeanA, MeanU float64 // A, over whole periods: base, and each step times its duty
	Beats        []Beat  // in the order of the clocks
	ScatterA     float64 // A, standard deviation of readings without an edge in them
	Chi          float64 // chi-square per degree of freedom
	Poor         bool    // base and blinkers don't account for the readings: something else changes as well
	WindowS      float64
	Left         []Left // in the order of time
}

// Beat is a clock as it was found.
type Beat struct {
	Name             string // of its board
	Alike            string // another board that blinks too alike to be told apart
	PeriodS, PeriodU float64
	StartS           float64    // a period begins here, at or before the first reading
	Outputs          []Blinking // those of it
}

// Blinking is what one output does.
type Blinking struct {
	Name         string
	Spans        [][2]float64 // lit, in fractions of the period from its start; they may reach past 1
	Duty         float64      // the part of a period in which it is lit, 0 to 1
	StepA, StepU float64      // A, added while lit
	BuiltA       float64      // A, what was to be expected of it
	State        State
	Why          string // it can't be told, in plain words
}

// Left is what a fit leaves of one reading.
type Left struct {
	AtS, Amps float64 // s, of the reading; A, what it lies off the fit
	Edge      bool    // an edge lies in its window
}

// At is what a meter reads at t, the end of its window, by this fit. An output
// that doesn't run is in the base.
func (p Parted) At(t float64) float64 {
	sum := p.BaseA
	for _, c := range p.Beats {
		for _, b := range c.Outputs {
			sum += b.StepA * LitOf(b.Spans, (t-c.StartS)/c.PeriodS, p.WindowS/c.PeriodS)
		}
	}
	return sum
}

// Joint takes a trace of several clocks over a common base apart. Period and
// duty may lie within their tolerances, a step may be anything from zero. An
// output runs when its step is above half of the expected one; when three
// uncertainties don't settle that, it's "can't tell". Clocks closer in frequency
// than one over the length of the trace can't be separated: they are Alike, and
// never judged. Whether one that doesn't run is lit or dark the base tells:
// [Parted.Settle].
//
// At most 15 outputs; at least three readings for each. Without a clock the base
// is the mean.
func Joint(s []Sample, k Known, clocks []Clock) Parted {
	f, why := laidOut(s, k, clocks)
	if f == nil {
		return Parted{Why: why}
	}
	f.run(0)
	return f.result()
}

// After is [Joint] for a trace that begins laterS after the one that p was made of, with
// the same clocks running on: they are looked for only near where they would be then.
// Where they are elsewhere now the fit is a bad one.
func (p Parted) After(laterS float64, s []Sample, k Known, clocks []Clock) Parted {
	f, why := laidOut(s, k, clocks)
	if f == nil || len(p.Beats) != len(clocks) {
		return Parted{Why: why}
	}
	for i, b := range p.Beats {
		at := timing{hz: 1 / b.PeriodS}
		at.phase = (b.StartS - laterS - f.d.midS) * at.hz
		if clocks[i].plain() {
			at.duty = b.Outputs[0].Duty - clocks[i].Outputs[0].lit()
		}
		f.at[i] = at
		f.fill(i, at)
	}
	f.solve()
	f.weigh()
	f.run(1)
	return f.result()
}

// laidOut is a fit whose clocks aren't placed yet; nil, and the reason, where none can be
// made.
func laidOut(s []Sample, k Known, clocks []Clock) (*joint, string) {
	for _, c := range clocks {
		if why := c.check(); why != "" {
			return nil, why
		}
	}
	d, why := newTrace(s, k, leastMatch)
	if d == nil {
		return nil, why
	}
	for _, c := range clocks {
		if d.cycles(1/c.PeriodS) > mostCycles {
			return nil, c.Name + ": " + tooLong
		}
	}
	f, why := newJoint(d, clocks)
	if f != nil && d.noiseKnown {
		f.noiseA = d.noise
	}
	return f, why
}

// check says why a clock can't be looked for; "": it can.
func (c Clock) check() string {
	if !finite(c.PeriodS, c.DutyAbs) || c.PeriodS < leastPeriodS || c.PeriodS > mostPeriodS {
		return c.Name + ": no pace to look for"
	}
	if len(c.Outputs) == 0 {
		return c.Name + ": no output to look for"
	}
	for _, b := range c.Outputs {
		if d := b.lit(); !finite(d) || d <= 0 || d >= 1 || len(b.Spans) > 20 {
			return b.Name + ": the share of the period lit must be between 0 and 1"
		}
		if !finite(b.Amps) || b.Amps < 0 || b.Amps > mostAmps {
			return b.Name + ": its expected step isn't a current"
		}
	}
	return ""
}

// result reads the fit.
func (f *joint) result() Parted {
	k := len(f.cols)
	_, chi := f.misfit()
	v := math.Max(f.solve()/f.freedom(), 1e-16)
	if f.noiseA > 0 {
		v = f.noiseA * f.noiseA * f.d.scale(chi)
	}
	cov, n := f.covariance(v)
	u := func(i int) float64 { return math.Sqrt(math.Max(0, cov[i*n+i])) }
	p := Parted{Usable: true, Chi: chi, BaseA: f.meanY + f.x[0], BaseU: u(0), ScatterA: f.scatter(), Known: true,
		WindowS: f.d.window}
	by := make([]float64, n) // of MeanA, by what is fitted
	by[0], p.MeanA = 1, p.BaseA
	for i, c := range f.clocks {
		at := f.at[i]
		b := Beat{Name: c.Name, Alike: f.alike(i), PeriodS: 1 / at.hz, PeriodU: u(k+3*i) / (at.hz * at.hz)}
		b.StartS = f.d.midS + at.phase/at.hz
		b.StartS -= math.Ceil((b.StartS-f.d.midS-f.d.t[0])*at.hz) * b.PeriodS
		p.Known = p.Known && b.Alike == ""
		for j, o := range c.Outputs {
			col := f.first[i] + j
			x := Blinking{Name: o.Name, Spans: o.spans(at.duty), StepA: f.x[col], StepU: u(col), BuiltA: o.Amps}
			x.Duty = Blinker{Spans: x.Spans}.lit()
			p.MeanA += x.Duty * x.StepA
			by[col] = x.Duty
			if len(o.Spans) == 1 {
				by[k+3*i+2] += x.StepA
			}
			p.Known = p.Known && !(p.BaseU > 0.1*x.BuiltA)
			b.Outputs = append(b.Outputs, x)
		}
		p.Beats = append(p.Beats, b)
	}
	for i := range n {
		for j := range n {
			p.MeanU += by[i] * by[j] * cov[i*n+j]
		}
	}
	p.MeanU = math.Sqrt(math.Max(0, p.MeanU))
	for q, t := range f.d.t {
		p.Left = append(p.Left, Left{t + f.d.midS, f.rest(q), f.edgeA(q) > 0})
	}
	p.judge()
	return p
}

// alike names a clock that can't be separated from one, by the periods found,
// and by those given where one of the two may be the other's.
func (f *joint) alike(i int) string {
	near := func(a, b float64) bool { return math.Abs(a-b) < 1/f.d.spanS }
	for j, c := range f.clocks {
		if j != i && (near(f.at[i].hz, f.at[j].hz) || near(1/f.clocks[i].PeriodS, 1/c.PeriodS) &&
			!(f.runs(i) && f.runs(j))) {
			return c.Name
		}
	}
	return ""
}

// runs reports whether an output of a clock runs.
func (f *joint) runs(i int) bool {
	for j, o := range f.clocks[i].Outputs {
		if f.x[f.first[i]+j] > runningShare*o.Amps {
			return true
		}
	}
	return false
}

// judge says of each output whether it runs.
func (p *Parted) judge() {
	p.Poor = p.ScatterA > poorShare*math.Abs(p.MeanA)
	p.Why = "base and blinkers account for the readings"
	if p.Poor {
		p.Why = "something else changes as well: base and blinkers don't account for the readings"
	}
	for i := range p.Beats {
		for j := range p.Beats[i].Outputs {
			b := &p.Beats[i].Outputs[j]
			limit := runningShare * b.BuiltA
			switch {
			case p.Beats[i].Alike != "":
				b.State, b.Why = Unsettled, fmt.Sprintf("%q blinks too alike to be told apart: read for longer",
					p.Beats[i].Alike)
			case p.Poor:
				b.State, b.Why = Unsettled, "something else changes as well"
			case !(b.BuiltA > 0) || math.Abs(b.StepA-limit) < sureBy*b.StepU:
				b.State, b.Why = Unsettled, "its step is too uncertain"
			case b.StepA > limit:
				b.State, b.Why = Running, "its step is there"
			default:
				b.State, b.Why = NotRunning, "its step is not there"
			}
		}
	}
}

// Settle tells which of the outputs that don't run are lit and which are dark:
// one that stays lit adds its step to the base. baseA is the base to be expected
// with everything dark that blinks, baseU its standard uncertainty, A. What
// several sets of lit outputs leave open, within three uncertainties, stays
// "not running".
func (p *Parted) Settle(baseA, baseU float64) {
	var idle []*Blinking
	for i := range p.Beats {
		for j := range p.Beats[i].Outputs {
			if b := &p.Beats[i].Outputs[j]; b.State == NotRunning {
				idle = append(idle, b)
			}
		}
	}
	u := sureBy * math.Hypot(p.BaseU, baseU)
	over := p.BaseA - baseA
	if !finite(baseA, u) || len(idle) > mostIdle {
		return
	}
	const lit, dark = "its step is not there and the draw is higher instead",
		"its step is not there and nothing is added"
	if len(idle) == 1 {
		// However much it draws now that it doesn't blink: more than half its step is
		// lit, less is dark. Surely half a step less than nothing is something else.
		switch b, limit := idle[0], runningShare*idle[0].BuiltA; {
		case over-u > limit:
			b.State, b.Why = StaysLit, lit
		case over+u < limit && over+u > -limit:
			b.State, b.Why = StaysDark, dark
		}
		return
	}
	always, ever := ^uint(0), uint(0)
	for set := range uint(1) << len(idle) {
		sum := 0.0
		for j, b := range idle {
			if set&(1<<j) != 0 {
				sum += b.BuiltA
			}
		}
		if math.Abs(over-sum) <= u {
			always, ever = always&set, ever|set
		}
	}
	for j, b := range idle {
		switch bit := uint(1) << j; {
		case always == ^uint(0): // no set fits
		case always&bit != 0:
			b.State, b.Why = StaysLit, lit
		case ever&bit == 0:
			b.State, b.Why = StaysDark, dark
		}
	}
}
