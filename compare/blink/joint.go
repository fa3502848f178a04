package blink

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Limits of a joint fit.
const (
	jointPhases    = 48
	jointBins      = 10 * jointPhases
	jointGridShare = 8    // frequencies per 1/T
	stepSpread     = 0.15 // of a step about the expected one, fraction
	jointRounds    = 4
	leastFor       = 3 // readings for each level fitted
)

// Clock is what blinks in one time: the outputs of a board that run together or
// in turn, or one output that runs free.
type Clock struct {
	Name      string  // of its board
	PeriodS   float64 // s, as planned or as built
	PeriodRel float64 // half-width of what it may differ by, fraction; 0: 0.05
	// DutyAbs is the half-width of what the lit share may differ by, of outputs
	// that are lit once in a period; 0: held. Outputs that flash are always held.
	DutyAbs float64
	Outputs []Blinker // those of it, by their names
}

// Blinker is one output, as it was when it was known to be good, or as planned.
type Blinker struct {
	Name  string
	Spans [][2]float64 // lit, in fractions of the period from its start; they may reach past 1
	Amps  float64      // A, on minus off; 0: nothing is known of it
}

// lit is the share of a period in which it is lit.
func (b Blinker) lit() float64 {
	sum := 0.0
	for _, s := range b.Spans {
		sum += s[1] - s[0]
	}
	return sum
}

// plain reports whether the outputs are lit once in a period, so that their duty
// can be moved.
func (c Clock) plain() bool {
	return !slices.ContainsFunc(c.Outputs, func(b Blinker) bool { return len(b.Spans) != 1 })
}

// Spans is when an output is lit whose lit share differs by moreDuty.
func (b Blinker) spans(moreDuty float64) [][2]float64 {
	if moreDuty == 0 || len(b.Spans) != 1 {
		return b.Spans
	}
	s := b.Spans[0]
	return [][2]float64{{s[0], s[0] + math.Min(0.99, math.Max(0.01, s[1]-s[0]+moreDuty))}}
}

// timing is where a clock is while it is fitted.
type timing struct {
	hz    float64
	phase float64 // periods, at the middle of the trace
	duty  float64 // on top of the lit share given
}

// joint fits a base and the steps of all outputs by least squares: the draws are
// linear and solved for, each clock is searched with the others held.
type joint struct {
	*steps // outputs clock by clock
	d      *trace
	clocks []Clock
	at     []timing
	first  []int // column of the first output of each clock
	// noiseA is the standard deviation of a reading; 0: by what the fit leaves
	// between the edges.
	noiseA float64
	bins   []int // of phase, by reading
}

// newJoint lays the clocks out. It returns nil and the reason why a trace isn't
// fit for them.
func newJoint(d *trace, clocks []Clock) (*joint, string) {
	f := &joint{d: d, clocks: clocks}
	k := 1
	for _, c := range clocks {
		f.first = append(f.first, k)
		f.at = append(f.at, timing{hz: 1 / c.PeriodS})
		k += len(c.Outputs)
	}
	switch n := len(d.t); {
	case k > mostSteps+1:
		return nil, fmt.Sprintf("%d outputs blink: at most %d can be taken apart in one trace", k-1, mostSteps)
	case n < leastFor*k:
		return nil, fmt.Sprintf("%d readings are too few for %d outputs that blink: read for longer", n, k-1)
	}
	f.steps = newSteps(d.y, k-1)
	for i, c := range clocks {
		for j, b := range c.Outputs {
			f.ridge[f.first[i]+j], f.toward[f.first[i]+j] = 1e-6*float64(len(d.t)), b.Amps
		}
	}
	return f, ""
}

// fill computes the columns of one clock.
func (f *joint) fill(i int, at timing) {
	for j, b := range f.clocks[i].Outputs {
		spans, col := b.spans(at.duty), f.cols[f.first[i]+j]
		for q, t := range f.d.t {
			col[q] = LitOf(spans, t*at.hz-at.phase, f.d.window*at.hz)
		}
	}
	f.changed(f.first[i], f.first[i]+len(f.clocks[i].Outputs))
}

// unlike says how far the steps of a clock are from what is expected or from
// none. Outputs that take turns fit as well the other way round, and a duty of
// one half as well upside down: only this decides then.
func (f *joint) unlike(i int) float64 {
	sum := 0.0
	for j, b := range f.clocks[i].Outputs {
		x := f.x[f.first[i]+j]
		s := stepSpread * b.Amps
		if b.Amps == 0 {
			s = stepSpread * math.Max(f.d.highest-f.d.mean, f.d.noise)
		}
		none, as := x/s, (x-b.Amps)/s
		switch {
		case x < 0:
			sum += 5 * none * none
		case b.Amps > 0:
			sum += math.Min(as*as, none*none+2)
		}
	}
	return sum
}

func (f *joint) cost(i int, at timing) float64 {
	f.fill(i, at)
	return f.solve() * (1 + 0.005*f.unlike(i))
}

// run places all clocks: the one that moves the draw most first. From the second round
// on they are looked for near where they are.
func (f *joint) run(from int) {
	moves := func(c Clock) float64 {
		sum := 0.0
		for _, b := range c.Outputs {
			d := b.lit()
			sum += b.Amps * b.Amps * math.Max(0.05, d*(1-d))
		}
		return sum
	}
	order := make([]int, len(f.clocks))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(moves(f.clocks[b]), moves(f.clocks[a])) })
	for round := from; round < jointRounds; round++ {
		for _, i := range order {
			f.place(i, round)
		}
		if round < jointRounds-1 {
			f.weigh()
		}
	}
	f.solve()
}

// roles are other phases at which a clock fits nearly as well: with its outputs
// in each other's turn, or upside down.
func (f *joint) roles(i int) []timing {
	c, now := f.clocks[i], f.at[i]
	var out []timing
	for _, b := range c.Outputs[1:] {
		shift := b.Spans[0][0] - c.Outputs[0].Spans[0][0]
		for _, by := range []float64{shift, -shift} {
			x := now
			x.phase += by
			out = append(out, x)
		}
	}
	if c.plain() {
		lit := c.Outputs[0].lit()
		out = append(out, timing{now.hz, now.phase + lit + now.duty, 1 - 2*lit - now.duty})
	}
	return out
}

// place finds one clock with the others held; those not placed yet have empty
// columns.
func (f *joint) place(i, round int) {
	c := f.clocks[i]
	tol, dutyTol := math.Min(positive(c.PeriodRel, defaultPeriodRel), 0.5), 0.0
	if c.plain() {
		dutyTol = math.Min(math.Max(c.DutyAbs, 0), 0.5)
	}
	best, at := math.Inf(1), f.at[i]
	try := func(x timing) {
		if math.Abs(x.hz*c.PeriodS-1) > 1.2*tol+1e-9 || math.Abs(x.duty) > dutyTol+1e-9 {
			return
		}
		if cost := f.cost(i, x); cost < best {
			best, at = cost, x
		}
	}
	step := 1 / (jointGridShare * math.Max(f.d.spanS, c.PeriodS))
	if round == 0 {
		n := int(tol / c.PeriodS / step)
		for q := -n; q <= n; q++ {
			f.tryPhases(i, 1/c.PeriodS+float64(q)*step, func(x timing, cost float64) {
				if cost < best {
					best, at = cost, x
				}
			})
		}
		best = math.Inf(1) // these were rounded
		try(at)
	} else {
		for _, x := range f.roles(i) {
			try(x)
		}
	}
	try(f.at[i])
	dp, df, dd := 0.5/jointPhases, 0.5*step, dutyTol/4
	for range 14 {
		from := at
		for _, by := range []timing{{0, dp, 0}, {0, -dp, 0}, {df, 0, 0}, {-df, 0, 0}, {0, 0, dd}, {0, 0, -dd},
			{0, -dd / 2, dd}, {0, dd / 2, -dd}} {
			if by != (timing{}) {
				try(timing{from.hz + by.hz, from.phase + by.phase, from.duty + by.duty})
			}
		}
		if at == from {
			dp, df, dd = dp/2, df/2, dd/2
		}
	}
	f.at[i] = at
	f.fill(i, at)
	f.solve()
}

// tryPhases gives the cost of one frequency at evenly spread phases. What is lit
// is looked up in bins of phase: the same for all.
func (f *joint) tryPhases(i int, hz float64, take func(timing, float64)) {
	outputs := f.clocks[i].Outputs
	if len(f.bins) != len(f.y) {
		f.bins = make([]int, len(f.y))
	}
	for q, t := range f.d.t {
		x := t * hz
		f.bins[q] = min(int((x-math.Floor(x))*jointBins), jointBins-1)
	}
	lit := make([][2 * jointBins]float64, len(outputs)) // twice over
	for j, b := range outputs {
		for q := range jointBins {
			lit[j][q] = LitOf(b.Spans, (float64(q)+0.5)/jointBins, f.d.window*hz)
		}
		copy(lit[j][jointBins:], lit[j][:jointBins])
	}
	for p := range jointPhases {
		shift := jointBins - p*(jointBins/jointPhases)
		for j := range outputs {
			col := f.cols[f.first[i]+j]
			for q, bin := range f.bins {
				col[q] = lit[j][bin+shift]
			}
		}
		f.changed(f.first[i], f.first[i]+len(outputs))
		take(timing{hz: hz, phase: float64(p) / jointPhases}, f.solve()*(1+0.005*f.unlike(i)))
	}
}

// edgeA is the size of the steps whose edges lie in a window, added as
// independent: by so much its reading depends on the time of its stamp.
func (f *joint) edgeA(q int) float64 {
	sum := 0.0
	for i := 1; i < len(f.cols); i++ {
		if s := f.cols[i][q]; s > 1e-9 && s < 1-1e-9 {
			sum += f.x[i] * f.x[i]
		}
	}
	return math.Sqrt(sum)
}

// scatter is the standard deviation of readings without an edge, by their
// median, so that a few drops don't enter it.
func (f *joint) scatter() float64 {
	var calm []float64
	sum := 0.0
	for q := range f.y {
		r := f.rest(q)
		sum += r * r
		if f.edgeA(q) == 0 {
			calm = append(calm, math.Abs(r))
		}
	}
	if len(calm) < leastFree {
		return math.Sqrt(sum / float64(len(f.y)))
	}
	slices.Sort(calm)
	return calm[len(calm)/2] / 0.6745 // of a normal distribution
}

// one is what a reading without an edge is uncertain by.
func (f *joint) one() float64 {
	if f.noiseA > 0 {
		return f.noiseA
	}
	return math.Max(f.scatter(), 1e-7)
}
