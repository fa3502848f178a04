package belief

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/fault"
)

// family are the sizes of one cause above the groups, or of places that make the same of
// every group.
type family struct {
	hangs []bool // by group
	sizes []cause
}

// cause is a cause above the groups at one size: what it leaves of a healthy draw.
type cause struct {
	fault.Common // kind, spots, size
	hangs        []bool
	prior        float64
	left         [][]float64 // by group, then reading joined and loose; nil: all
	step         [][]float64 // likewise: A for one standard deviation of the size factor
	each         float64     // what one standard deviation of the size factor is: of ln ohms, volts or the factor
	loose        bool        // what is clipped at its own wire feels it, too
	pattern      *pattern    // a lack in each group of a reel
}

// How much larger or smaller than planned a meter reads or the pieces of a reel draw, if
// they are off: one standard deviation, a small one and a large one. Common practice, no
// source.
var (
	meterSizes = []float64{0.02, 0.05}
	reelSizes  = []float64{0.1, 0.3}
)

// blurred of what a cause takes away isn't known: parts have tolerances there, too (common
// practice, no source).
const blurred = 0.05

// families lists what at least two of the groups may have in common.
func (t *together) families(pr fault.CommonPriors) ([]family, error) {
	joined, loose, err := t.taps()
	if err != nil {
		return t.lacksOfAll(), err
	}
	out := t.places(joined, loose, pr)
	out = append(out, t.supplies(joined, loose, pr.Supply)...)
	out = append(out, t.meters(pr.Meter)...)
	out = append(out, t.reelFigures(pr.PartFigures)...)
	return append(out, t.lacksOfAll()...), nil
}

// several: at least two groups hang on it.
func several(hangs []bool) bool {
	n := 0
	for _, h := range hangs {
		if h {
			n++
		}
	}
	return n >= 2
}

// places are those where ohms may sit.
func (t *together) places(joined, loose []*tap, pr fault.CommonPriors) []family {
	var out []family
	at := map[string]int{}
	for _, s := range fault.Spots(t.p) {
		f := family{hangs: make([]bool, len(t.ms))}
		curves := make([]int, len(t.ms))
		for i, x := range joined {
			if x == nil {
				continue
			}
			if g := slices.IndexFunc(t.p.Groups, named(t.name(i))); s.Feeds(t.p, t.p.Groups[g]) {
				curves[i], f.hangs[i] = x.curve(s)
			}
		}
		if !several(f.hangs) {
			continue
		}
		kind, prior := fault.UpstreamJoint, pr.Joint
		switch s.Kind {
		case fault.SpotReturn:
			kind, prior = fault.BadReturn, pr.Return
		case fault.SpotJack, fault.SpotLeads:
			kind, prior = fault.BadJack, pr.Jack
		}
		// The leads alone are felt by what is clipped at its own wire.
		felt := s.Kind == fault.SpotLeads && slices.ContainsFunc(loose, func(x *tap) bool { return x != nil })
		key := fmt.Sprint(f.hangs, curves, felt)
		if k, ok := at[key]; ok {
			for n := range out[k].sizes {
				x := &out[k].sizes[n]
				x.Spots, x.prior = append(slices.Clone(x.Spots), s), x.prior+priorOf(x, prior, pr.Open)
			}
			continue
		}
		at[key] = len(out)
		left := func(i, n int) []float64 {
			was := joined[i].curves[curves[i]].left[n]
			if was == nil || loose[i] == nil {
				return was
			}
			if felt {
				if k, ok := loose[i].curve(s); ok && loose[i].curves[k].left[n] != nil {
					return slices.Concat(was, loose[i].curves[k].left[n])
				}
			}
			return slices.Concat(was, all(len(loose[i].volts)))
		}
		f.sizes = t.atPlace(f.hangs, fault.Common{Kind: kind, Spots: []fault.Spot{s}}, felt, left)
		for n := range f.sizes {
			f.sizes[n].prior = priorOf(&f.sizes[n], prior, pr.Open)
		}
		out = append(out, f)
	}
	return out
}

// all of n draws are left.
func all(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

func priorOf(x *cause, prior, open float64) float64 {
	if x.Open {
		return prior * open
	}
	return prior * (1 - open) / float64(len(aboveOhms))
}

// atPlace makes the sizes of one place: each node of aboveOhms, and open.
func (t *together) atPlace(hangs []bool, common fault.Common, felt bool, left func(i, n int) []float64) []cause {
	var out []cause
	for n, ohms := range aboveOhms {
		x := cause{Common: common, hangs: hangs, loose: felt, each: stepOf(aboveOhms, n, math.Log)}
		x.Ohms = ohms
		if t.fill(&x, n, len(aboveOhms), left) {
			out = append(out, x)
		}
	}
	// Open: nothing gets past it any more.
	x := cause{Common: common, hangs: hangs, loose: felt}
	x.Open = true
	x.left, x.step = make([][]float64, len(hangs)), make([][]float64, len(hangs))
	for i, h := range hangs {
		if !h {
			continue
		}
		x.left[i] = make([]float64, len(t.views[i].at))
		if b := t.before[i]; b != nil && felt {
			x.left[i] = append(x.left[i], make([]float64, len(b.near))...)
		} else if b != nil {
			x.left[i] = append(x.left[i], all(len(b.near))...)
		}
	}
	return append(out, x)
}

// fill writes what a node of a grid leaves of each group's draws, and what its step
// makes of them. It is false where a circuit has no solution.
func (t *together) fill(x *cause, n, of int, left func(i, n int) []float64) bool {
	x.left, x.step = make([][]float64, len(x.hangs)), make([][]float64, len(x.hangs))
	for i, h := range x.hangs {
		if !h {
			continue
		}
		if x.left[i] = left(i, n); x.left[i] == nil {
			return false
		}
		low, high := left(i, max(0, n-1)), left(i, min(n+1, of-1))
		if low == nil {
			low = x.left[i]
		}
		if high == nil {
			high = x.left[i]
		}
		for r, a := range t.healthy(i) {
			x.step[i] = append(x.step[i], a*(high[r]-low[r])/2/math.Sqrt(12))
		}
	}
	return true
}

// healthy is the draw of a healthy group, by its readings joined and loose. A.
func (t *together) healthy(i int) []float64 {
	return t.byReading(i, func(e *Ensemble, k int) float64 { return e.m.healthy.mean[k] })
}

// byReading is something of each reading of a group, joined and loose.
func (t *together) byReading(i int, of func(e *Ensemble, volts int) float64) []float64 {
	var out []float64
	for _, k := range t.views[i].at {
		out = append(out, of(t.ms[i].Ensemble, k))
	}
	if b := t.before[i]; b != nil {
		for _, k := range b.view.at {
			out = append(out, of(b.e, k))
		}
	}
	return out
}

// stepOf is the standard deviation of a size within its cell of a grid: of a rectangle that
// reaches half way to both neighbours.
func stepOf(grid []float64, n int, scale func(float64) float64) float64 {
	return math.Abs(scale(grid[min(n+1, len(grid)-1)])-scale(grid[max(0, n-1)])) / 2 / math.Sqrt(12)
}

// supplies: the voltage is off for all that was read with a supply.
func (t *together) supplies(joined, loose []*tap, prior float64) []family {
	var out []family
	for _, name := range t.distinct(func(e *Ensemble) string { return e.bench.Supply }) {
		f := family{hangs: t.reach(func(i int) bool { return t.alone(i) && t.ms[i].Ensemble.bench.Supply == name })}
		if !several(f.hangs) {
			continue
		}
		// Up and down are two grids: the gap about zero is no cell of its own.
		for _, sign := range []float64{-1, 1} {
			at := make([][][]float64, len(offVolts)) // by node, then group
			for n, v := range offVolts {
				at[n] = make([][]float64, len(t.ms))
				for i, h := range f.hangs {
					if h {
						at[n][i] = leftAt(joined[i], loose[i], sign*v)
					}
				}
			}
			left := func(i, n int) []float64 { return at[n][i] }
			for n, v := range offVolts {
				x := cause{Common: fault.Common{Kind: fault.SupplyOff, Volts: sign * v}, hangs: f.hangs, loose: true,
					prior: prior / 2 / float64(len(offVolts)),
					each:  sign * stepOf(offVolts, n, func(v float64) float64 { return v })}
				if t.fill(&x, n, len(offVolts), left) {
					f.sizes = append(f.sizes, x)
				}
			}
		}
		out = append(out, f)
	}
	return out
}

// leftAt is what a supply that is off leaves of a group's draws.
func leftAt(joined, loose *tap, off float64) []float64 {
	joined.alone()
	out := joined.left(off)
	if out == nil || loose == nil {
		return out
	}
	loose.alone()
	before := loose.left(off)
	if before == nil {
		return nil
	}
	return slices.Concat(out, before)
}

// meters: one reads too much or too little, by the same share everywhere.
func (t *together) meters(prior float64) []family {
	var out []family
	for _, name := range t.distinct(func(e *Ensemble) string { return e.bench.Meter }) {
		hangs := t.reach(func(i int) bool { return t.alone(i) && t.ms[i].Ensemble.bench.Meter == name })
		out = t.factor(out, fault.Common{Kind: fault.MeterOff}, prior, meterSizes, hangs,
			func(e *Ensemble, k int) float64 { return e.m.healthy.mean[k] })
	}
	return out
}

// reelFigures: the pieces of one reel draw more or less than planned, in every group of it.
func (t *together) reelFigures(prior float64) []family {
	var reels []string
	for i := range t.ms {
		for name := range t.ms[i].Ensemble.reels {
			if !slices.Contains(reels, name) {
				reels = append(reels, name)
			}
		}
	}
	slices.Sort(reels)
	var out []family
	for _, reel := range reels {
		draws := func(e *Ensemble, k int) float64 {
			if a := e.reels[reel]; a != nil {
				return a[k]
			}
			return 0
		}
		hangs := t.reach(func(i int) bool {
			e := t.ms[i].Ensemble
			return slices.ContainsFunc(t.views[i].at,
				func(k int) bool { return draws(e, k) > 1e-3*e.m.healthy.mean[k] })
		})
		out = t.factor(out, fault.Common{Kind: fault.PartFigures, Reel: reel}, prior, reelSizes, hangs, draws)
	}
	return out
}

// factor adds a cause that multiplies draws by a factor of unknown size.
func (t *together) factor(to []family, what fault.Common, prior float64, sizes []float64, hangs []bool,
	draws func(e *Ensemble, volts int) float64,
) []family {
	if !several(hangs) {
		return to
	}
	f := family{hangs: hangs}
	what.Factor = 1
	for _, s := range sizes {
		x := cause{Common: what, hangs: hangs, prior: prior / float64(len(sizes)), each: s, loose: true}
		x.left, x.step = make([][]float64, len(hangs)), make([][]float64, len(hangs))
		for i, h := range hangs {
			if h {
				x.step[i] = t.byReading(i, func(e *Ensemble, k int) float64 { return s * draws(e, k) })
			}
		}
		f.sizes = append(f.sizes, x)
	}
	return append(to, f)
}

// lacksOfAll are the patterns by which each group of a reel may lack as much.
func (t *together) lacksOfAll() []family {
	var out []family
	ps := t.patterns
	for k := range ps {
		f := family{hangs: t.reach(func(i int) bool { return ps[k].times[i] > 0 })}
		f.sizes = []cause{{Common: fault.Common{Kind: fault.PartFigures, Lack: true, Reel: ps[k].reel}, hangs: f.hangs,
			prior: commonLackPrior / float64(len(ps)), pattern: &ps[k]}}
		out = append(out, f)
	}
	return out
}

func (t *together) reach(hangs func(i int) bool) []bool {
	out := make([]bool, len(t.ms))
	for i := range out {
		out[i] = len(t.views[i].at) > 0 && hangs(i)
	}
	return out
}

// alone: nothing else was lit while a group was read.
func (t *together) alone(i int) bool { return !t.ms[i].Beside }

func (t *together) distinct(of func(e *Ensemble) string) []string {
	var out []string
	for i := range t.ms {
		if s := of(t.ms[i].Ensemble); !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}
