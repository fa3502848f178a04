package stages

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sealworthy/compare/plan"
)

// Figures of the search.
const (
	phases     = 48
	stampStdS  = 0.005 // of a reading's time over a serial line (common practice, no source)
	mostTerms  = 16
	stepSpread = 0.15 // of a step about what is expected of it, fraction
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
	m       *model
	at, y   []float64
	midS    float64
	spanS   float64
	windowS float64
	weight  []float64
	beats   []beat
	want    []float64   // by output
	cols    [][]float64 // base, then outputs beat by beat
	x       []float64
	outOf   []int // output of a column; -1: base
}

// newFitter lays the clocks out; nil where the trace is too short for them.
func newFitter(m *model, r Reading, want []float64) *fitter {
	f := &fitter{m: m, windowS: r.WindowS, want: want, outOf: []int{-1}}
	f.at, f.y = columns(r.Trace)
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
	if k := len(f.outOf); k > mostTerms || n < 3*k || !(f.spanS > 0) {
		return nil
	}
	f.weight = make([]float64, n)
	for range f.outOf {
		f.cols = append(f.cols, make([]float64, n))
	}
	for i := range n {
		f.weight[i], f.cols[0][i] = 1, 1
	}
	f.x = make([]float64, len(f.outOf))
	return f
}

// fill computes the columns of one clock.
func (f *fitter) fill(b beat) {
	for j, k := range b.outs {
		spans := f.m.spansOf(f.m.outputs[k], b.duty)
		col := f.cols[b.firstCol+j]
		for i, t := range f.at {
			col[i] = litShare(spans, (t-f.midS)*b.hz-b.phase, f.windowS*b.hz)
		}
	}
}

// solve gives the weighted sum of squares that base and steps leave.
func (f *fitter) solve() float64 {
	k := len(f.cols)
	var n [mostTerms][mostTerms + 1]float64
	for i := range k {
		for j := 0; j <= i; j++ {
			s := 0.0
			for q, w := range f.weight {
				s += w * f.cols[i][q] * f.cols[j][q]
			}
			n[i][j], n[j][i] = s, s
		}
		s := 0.0
		for q, w := range f.weight {
			s += w * f.cols[i][q] * f.y[q]
		}
		n[i][k] = s
		// A ridge that only matters where a column is empty, or where outputs that
		// take turns without a dark moment add up to what the base is.
		if o := f.outOf[i]; o >= 0 {
			n[i][i] += 1e-6 * float64(len(f.y))
			n[i][k] += 1e-6 * float64(len(f.y)) * f.want[o]
		}
	}
	for i := range k {
		for j := i + 1; j < k; j++ {
			q := n[j][i] / n[i][i]
			for c := i; c <= k; c++ {
				n[j][c] -= q * n[i][c]
			}
		}
	}
	for i := k - 1; i >= 0; i-- {
		s := n[i][k]
		for j := i + 1; j < k; j++ {
			s -= n[i][j] * f.x[j]
		}
		f.x[i] = s / n[i][i]
	}
	rss := 0.0
	for q, w := range f.weight {
		d := f.rest(q)
		rss += w * d * d
	}
	return rss
}

func (f *fitter) rest(q int) float64 {
	d := f.y[q]
	for i := range f.cols {
		d -= f.x[i] * f.cols[i][q]
	}
	return d
}

// unlike says how far the steps of a clock are from what is expected or from
// none. Outputs that take turns fit as well the other way round, and a duty of
// one half as well upside down: only this decides then.
func (f *fitter) unlike(b beat) float64 {
	sum := 0.0
	for j, k := range b.outs {
		s := stepSpread * math.Max(f.want[k], 1e-5)
		x := f.x[b.firstCol+j]
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
	return f.solve() * (1 + 0.005*f.unlike(b))
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
			d := f.m.outputs[k].pace.Duty
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
	f.solve()
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
	case 1: // the others are placed now: roles, and upside down
		for q := range 12 {
			x := b
			x.phase += float64(q) / 12
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
	f.solve()
}

// edges tells which windows hold an edge of an output, with its step there.
func (f *fitter) edgeA(q int) float64 {
	sum := 0.0
	for i := 1; i < len(f.cols); i++ {
		if s := f.cols[i][q]; s > 1e-9 && s < 1-1e-9 {
			sum += f.x[i] * f.x[i]
		}
	}
	return math.Sqrt(sum)
}

// noise is the standard deviation of readings without an edge, by their median,
// so that a few drops don't enter it.
func (f *fitter) noise() float64 {
	var calm []float64
	for q := range f.y {
		if f.edgeA(q) == 0 {
			calm = append(calm, math.Abs(f.rest(q)))
		}
	}
	if len(calm) < leastReadings {
		sum := 0.0
		for q := range f.y {
			sum += f.rest(q) * f.rest(q)
		}
		return math.Sqrt(sum / float64(len(f.y)))
	}
	return median(calm) / 0.6745
}

// weigh trusts readings with an edge in them less: their time is uncertain.
func (f *fitter) weigh() {
	s := math.Max(f.noise(), 1e-7)
	for q := range f.y {
		f.weight[q] = 1
		if a := f.edgeA(q); a > 0 && f.windowS > 0 {
			e := a * stampStdS / f.windowS
			f.weight[q] = s * s / (s*s + e*e)
		}
	}
}

// result reads the fit, with the covariance of all it fitted: steps, and of
// each clock frequency, phase and duty, those within their tolerances.
func (f *fitter) result() Apart {
	k := len(f.cols)
	rss := f.solve()
	v := math.Max(rss/math.Max(1, float64(len(f.y)-k-3*len(f.beats))), 1e-16)
	cov := f.covariance(v)
	a := Apart{BaseA: f.x[0], BaseU: math.Sqrt(cov.At(0, 0)), NoiseA: f.noise(), Known: true}
	g := make([]float64, k+3*len(f.beats))
	g[0], a.MeanA = 1, f.x[0]
	for i, b := range f.beats {
		c := Clock{Board: f.m.p.Boards[b.board].Name, PeriodS: 1 / b.hz, PeriodU: math.Sqrt(cov.At(k+3*i, k+3*i)) / (b.hz * b.hz)}
		c.StartS = f.midS + b.phase/b.hz
		c.StartS -= math.Ceil((c.StartS-f.at[0])*b.hz) * c.PeriodS
		for j, o := range b.outs {
			col := b.firstCol + j
			out := f.m.outputs[o]
			x := Blinker{Name: out.name(f.m.p), Groups: out.groups, Output: f.m.p.Boards[b.board].Outputs[out.at].Number,
				Spans: f.m.spansOf(out, b.duty), StepA: f.x[col], StepU: math.Sqrt(cov.At(col, col)), BuiltA: f.want[o]}
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
		a.Clocks = append(a.Clocks, c)
	}
	gv := mat.NewVecDense(len(g), g)
	a.MeanU = math.Sqrt(math.Max(0, mat.Inner(gv, cov, gv)))
	return a
}

// covariance of base, steps, and frequency, phase and duty of each clock, for a
// variance v of a reading. Tolerances are prior knowledge (rectangular), so that
// what doesn't blink is still known to lie within them.
func (f *fitter) covariance(v float64) *mat.SymDense {
	k := len(f.cols)
	n := k + 3*len(f.beats)
	j := mat.NewDense(len(f.y), n, nil)
	for q, w := range f.weight {
		for i := range k {
			j.Set(q, i, math.Sqrt(w/v)*f.cols[i][q])
		}
	}
	prior := make([]float64, n)
	for i := range k {
		prior[i] = 1 // 1 A: none
	}
	for i, b := range f.beats {
		h := [3]float64{1e-3 * b.hz / math.Max(1, f.spanS*b.hz), 1e-3, 1e-3}
		prior[k+3*i], prior[k+3*i+1], prior[k+3*i+2] = math.Max(b.tol, 1e-4)*b.hz/math.Sqrt(3), 0.5/math.Sqrt(3), math.Max(b.dutyTol, 1e-5)/math.Sqrt(3)
		for c := range 3 {
			up, down := b, b
			switch c {
			case 0:
				up.hz, down.hz = b.hz+h[0], b.hz-h[0]
			case 1:
				up.phase, down.phase = b.phase+h[1], b.phase-h[1]
			case 2:
				up.duty, down.duty = b.duty+h[2], b.duty-h[2]
			}
			d := make([]float64, len(f.y))
			for _, s := range []struct {
				b    beat
				sign float64
			}{{up, 1}, {down, -1}} {
				f.fill(s.b)
				for m := range b.outs {
					for q := range d {
						d[q] += s.sign * f.x[b.firstCol+m] * f.cols[b.firstCol+m][q]
					}
				}
			}
			for q, w := range f.weight {
				j.Set(q, k+3*i+c, math.Sqrt(w/v)*d[q]/(2*h[c]))
			}
		}
		f.fill(b)
	}
	info := mat.NewSymDense(n, nil)
	info.SymOuterK(1, j.T())
	for i := range n {
		info.SetSym(i, i, info.At(i, i)+1/(prior[i]*prior[i]))
	}
	var ch mat.Cholesky
	out := mat.NewSymDense(n, nil)
	if !ch.Factorize(info) || ch.InverseTo(out) != nil {
		for i := range n {
			out.SetSym(i, i, prior[i]*prior[i])
		}
	}
	return out
}
