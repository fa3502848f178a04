package stages

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"sealworthy/compare/blink"
	"sealworthy/compare/plan"
)

// Figures of the search.
const (
	phases     = 48
	stampStdS  = 0.005 // of a reading's time over a serial line (common practice, no source)
	stepSpread = 0.15  // of a step about what is expected of it, fraction
)

// beat is one clock while it is fitted.
type beat struct {
	board    int
	hz       float64
	phase    float64 // fraction of a period at the middle of the trace
	duty     float64 // on top of the plan's
	periodS  float64 // as planned
	tol      float64 // of the period, fraction
	dutyTol  float64
	outs     []int // indexes of the model's outputs
	firstCol int
}

// fitter fits base, steps, periods, phases and duties by least squares: the
// draws are linear and solved for, each clock is searched with the others held.
type fitter struct {
	*blink.Steps // outputs beat by beat
	m            *model
	at           []float64
	midS         float64
	spanS        float64
	windowS      float64
	beats        []beat
	want         []float64 // by output
	outOf        []int     // output of a column; -1: base
}

// newFitter lays the clocks out. The error says why a trace isn't fit for them.
func newFitter(m *model, r Reading, want []float64) (*fitter, error) {
	f := &fitter{m: m, windowS: r.WindowS, want: want, outOf: []int{-1}}
	at, y := columns(r.Trace)
	f.at = at
	n := len(f.at)
	f.midS, f.spanS = (f.at[0]+f.at[n-1])/2, f.at[n-1]-f.at[0]
	for i, b := range m.p.Boards {
		var mine []int
		for k, o := range m.outputs {
			if o.board == i {
				mine = append(mine, k)
			}
		}
		sets := [][]int{mine}
		if b.Run == plan.Free {
			sets = nil
			for _, k := range mine {
				sets = append(sets, []int{k})
			}
		}
		for _, s := range sets {
			if len(s) == 0 {
				continue
			}
			p := m.outputs[s[0]].pace
			x := beat{board: i, hz: 1 / p.PeriodS, periodS: p.PeriodS, tol: p.PeriodRelTol, dutyTol: p.DutyTol, outs: s, firstCol: len(f.outOf)}
			if len(p.Flashes) > 0 {
				x.dutyTol = 0
			}
			f.beats = append(f.beats, x)
			f.outOf = append(f.outOf, s...)
		}
	}
	switch k := len(f.outOf); {
	case k > blink.MostSteps+1:
		return nil, fmt.Errorf("%d outputs blink; at most %d can be taken apart in one trace", k-1, blink.MostSteps)
	case n < 3*k || !(f.spanS > 0):
		return nil, fmt.Errorf("%d readings are too few for %d outputs that blink: read for longer", n, k-1)
	}
	f.Steps = blink.NewSteps(y, len(f.outOf)-1)
	for i, o := range f.outOf {
		if o >= 0 {
			f.Ridge[i], f.Toward[i] = 1e-6*float64(n), want[o]
		}
	}
	return f, nil
}

// fill computes the columns of one clock.
func (f *fitter) fill(b beat) {
	for j, k := range b.outs {
		spans := f.m.spansOf(f.m.outputs[k], b.duty)
		col := f.Cols[b.firstCol+j]
		for i, t := range f.at {
			col[i] = blink.LitOf(spans, (t-f.midS)*b.hz-b.phase, f.windowS*b.hz)
		}
	}
	f.Changed(b.firstCol, b.firstCol+len(b.outs))
}

// unlike says how far the steps of a clock are from what is expected or from
// none. Outputs that take turns fit as well the other way round, and a duty of
// one half as well upside down: only this decides then.
func (f *fitter) unlike(b beat) float64 {
	sum := 0.0
	for j, k := range b.outs {
		s := stepSpread * math.Max(f.want[k], 1e-5)
		x := f.X[b.firstCol+j]
		as, none := (x-f.want[k])/s, x/s
		u := math.Min(as*as, none*none+2)
		if x < 0 {
			u += 4 * none * none
		}
		sum += u
	}
	return sum
}

func (f *fitter) cost(b beat) float64 {
	f.fill(b)
	return f.Solve() * (1 + 0.005*f.unlike(b))
}

// run finds all clocks: the one that moves the draw most first.
func (f *fitter) run() {
	order := make([]int, len(f.beats))
	for i := range order {
		order[i] = i
	}
	moves := func(b beat) float64 {
		s := 0.0
		for _, k := range b.outs {
			d := f.m.outputs[k].pace.LitShare()
			s += f.want[k] * f.want[k] * math.Max(0.05, d*(1-d))
		}
		return s
	}
	for i := range order {
		for j := i + 1; j < len(order); j++ {
			if moves(f.beats[order[j]]) > moves(f.beats[order[i]]) {
				order[i], order[j] = order[j], order[i]
			}
		}
	}
	for round := range 4 {
		for _, i := range order {
			f.search(i, round)
		}
		if round < 3 {
			f.weigh()
		}
	}
	f.Solve()
}

// search places one clock with the others held; those not placed yet have empty
// columns.
func (f *fitter) search(i, round int) {
	b := f.beats[i]
	best, at := math.Inf(1), b
	try := func(x beat) {
		if math.Abs(x.hz*x.periodS-1) > 1.2*x.tol+1e-9 || math.Abs(x.duty) > x.dutyTol+1e-9 {
			return
		}
		if c := f.cost(x); c < best {
			best, at = c, x
		}
	}
	step := 1 / (8 * math.Max(f.spanS, b.periodS))
	switch round {
	case 0:
		n := int(b.tol / b.periodS / step)
		for q := -n; q <= n; q++ {
			x := b
			x.hz = 1/b.periodS + float64(q)*step
			for p := range phases {
				x.phase = float64(p) / phases
				try(x)
			}
		}
	default: // the others are placed now: roles, and upside down
		n := len(f.m.p.Boards[b.board].Outputs)
		for q := 1; q < n; q++ {
			x := b
			x.phase += float64(q) / float64(n)
			try(x)
		}
		if p := f.m.outputs[b.outs[0]].pace; len(p.Flashes) == 0 {
			x := b
			x.phase, x.duty = b.phase+p.Duty+b.duty, 1-2*p.Duty-b.duty
			try(x)
		}
	}
	try(b)
	dp, df, dd := 0.5/phases, 0.5*step, b.dutyTol/4
	for range 14 {
		from := at
		for _, s := range [][3]float64{{dp, 0, 0}, {-dp, 0, 0}, {0, df, 0}, {0, -df, 0}, {0, 0, dd}, {0, 0, -dd}, {-dd / 2, 0, dd}, {dd / 2, 0, -dd}} {
			x := from
			x.phase, x.hz, x.duty = x.phase+s[0], x.hz+s[1], x.duty+s[2]
			try(x)
		}
		if at.phase == from.phase && at.hz == from.hz && at.duty == from.duty {
			dp, df, dd = dp/2, df/2, dd/2
		}
	}
	f.beats[i] = at
	f.fill(at)
	f.Solve()
}

// edges tells which windows hold an edge of an output, with its step there.
func (f *fitter) edgeA(q int) float64 {
	sum := 0.0
	for i := 1; i < len(f.Cols); i++ {
		if s := f.Cols[i][q]; s > 1e-9 && s < 1-1e-9 {
			sum += f.X[i] * f.X[i]
		}
	}
	return math.Sqrt(sum)
}

// noise is the standard deviation of readings without an edge, by their median,
// so that a few drops don't enter it.
func (f *fitter) noise() float64 {
	var calm []float64
	for q := range f.Y {
		if f.edgeA(q) == 0 {
			calm = append(calm, math.Abs(f.Rest(q)))
		}
	}
	if len(calm) < leastReadings {
		sum := 0.0
		for q := range f.Y {
			sum += f.Rest(q) * f.Rest(q)
		}
		return math.Sqrt(sum / float64(len(f.Y)))
	}
	return median(calm) / 0.6745
}

// weigh trusts readings with an edge in them less: their time is uncertain.
func (f *fitter) weigh() {
	s := math.Max(f.noise(), 1e-7)
	for q := range f.Y {
		f.Weight[q] = 1
		if a := f.edgeA(q); a > 0 && f.windowS > 0 {
			e := a * stampStdS / f.windowS
			f.Weight[q] = s * s / (s*s + e*e)
		}
	}
	f.Weighed()
}

// result reads the fit, with the covariance of all it fitted: steps, and of
// each clock frequency, phase and duty, those within their tolerances.
func (f *fitter) result() Apart {
	k := len(f.Cols)
	rss := f.Solve()
	v := math.Max(rss/math.Max(1, float64(len(f.Y)-k-3*len(f.beats))), 1e-16)
	cov := f.covariance(v)
	a := Apart{BaseA: f.MeanY + f.X[0], BaseU: math.Sqrt(cov.At(0, 0)), NoiseA: f.noise(), Known: true}
	g := make([]float64, k+3*len(f.beats))
	g[0], a.MeanA = 1, a.BaseA
	for i, b := range f.beats {
		c := Clock{Board: f.m.p.Boards[b.board].Name, PeriodS: 1 / b.hz, PeriodU: math.Sqrt(cov.At(k+3*i, k+3*i)) / (b.hz * b.hz)}
		c.StartS = f.midS + b.phase/b.hz
		c.StartS -= math.Ceil((c.StartS-f.at[0])*b.hz) * c.PeriodS
		for j, o := range b.outs {
			col := b.firstCol + j
			out := f.m.outputs[o]
			x := Blinker{Name: out.name(f.m.p), Groups: out.groups, Output: out.number(f.m.p),
				Spans: f.m.spansOf(out, b.duty), StepA: f.X[col], StepU: math.Sqrt(cov.At(col, col)), BuiltA: f.want[o]}
			for _, s := range x.Spans {
				x.Duty += s[1] - s[0]
			}
			a.MeanA += x.Duty * x.StepA
			g[col] = x.Duty
			if len(out.pace.Flashes) == 0 {
				g[k+3*i+2] += x.StepA
			}
			if a.BaseU > 0.1*x.BuiltA {
				a.Known = false
			}
			c.Blinks = append(c.Blinks, x)
		}
		for k, o := range f.beats {
			if k != i && math.Abs(o.hz-b.hz) < 1/f.spanS {
				c.Alike, a.Known = f.m.p.Boards[o.board].Name, false
			}
		}
		a.Clocks = append(a.Clocks, c)
	}
	gv := mat.NewVecDense(len(g), g)
	a.MeanU = math.Sqrt(math.Max(0, mat.Inner(gv, cov, gv)))
	return a
}
