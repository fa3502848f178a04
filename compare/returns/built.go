package returns

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/blink"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// builder takes the groups as built from the records of single feeds.
type builder struct {
	p      *plan.Plan
	s      *Signature
	l      Leads
	steps  []capture.StepRecord
	w      *wiring.Wired
	boards []BoardCurve
	levels map[string][]boardLevel // by board
}

// boardLevel is one board at one pace and voltage, taken apart.
type boardLevel struct {
	pace    string
	volts   float64
	darkA   float64
	onA     map[string]float64 // by group
	onU     float64
	periodS float64
	duty    float64
	sweep   bool
}

func (b *builder) prepare() error {
	w, err := wiring.Build(b.p, b.s.Jack, wiring.Options{})
	if err != nil {
		return err
	}
	b.w = w
	b.levels = map[string][]boardLevel{}
	for i, x := range b.p.Boards {
		if b.p.JackOf(x.Joint) != b.s.Jack {
			continue
		}
		b.board(i)
		b.boards = append(b.boards, b.dark(i))
	}
	return nil
}

// latest is the last measured step of a feed alone, at a pace; one with a sweep
// goes before one without, and one of joined wires before a loose one.
func (b *builder) latest(feed, pace string) (capture.StepRecord, bool) {
	var best capture.StepRecord
	found := false
	rank := func(r capture.StepRecord) int {
		n := 0
		if len(r.Points) > 0 {
			n += 2
		}
		if r.Stage != "loose" {
			n++
		}
		return n
	}
	for _, r := range b.steps {
		if r.Step.Kind != capture.Power || r.Step.Way != capture.Alone || r.Step.Feed != feed || r.Step.Pace != pace ||
			r.Outcome != capture.Measured || r.Stage == returned || len(r.Step.Outputs) > 0 {
			continue
		}
		if !found || rank(r) >= rank(best) {
			best, found = r, true
		}
	}
	return best, found
}

// group takes one group.
func (b *builder) group(g plan.Group) GroupCurve {
	out := GroupCurve{Group: g.Name, Closure: g.Closure, Board: g.Board, Output: g.Output}
	if g.Board != "" {
		b.onBoard(&out)
		return out
	}
	r, ok := b.latest(g.Name, "")
	if !ok {
		return out
	}
	if ps := pointsOf(r, b.l); len(ps) >= enoughPoints {
		out.Lit, out.Kept = curveOf(ps), KeptSweep
		return out
	}
	if t, ok := traceOf(r, b.l); ok {
		out.Lit, out.Kept = curveOf([]point{t}), KeptOne
	}
	return out
}

// onBoard takes a group from the levels of its board.
func (b *builder) onBoard(out *GroupCurve) {
	at := map[float64]float64{}
	for _, l := range b.levels[out.Board] {
		on, ok := l.onA[out.Group]
		if !ok {
			continue
		}
		if !l.sweep {
			out.Paces = append(out.Paces, Level{Pace: l.pace, PeriodS: l.periodS, Duty: l.duty, OnA: on, OnU: l.onU})
		}
		if l.sweep || len(at) == 0 {
			at[l.volts] = on
		}
	}
	for v := range at {
		out.Lit.Volts = append(out.Lit.Volts, v)
	}
	slices.Sort(out.Lit.Volts)
	for _, v := range out.Lit.Volts {
		out.Lit.Amps = append(out.Lit.Amps, at[v])
	}
	switch n := len(out.Lit.Volts); {
	case n > 1:
		out.Kept = KeptLevels
	case n == 1:
		out.Kept = KeptOne
	default:
		out.Paces = b.planned(out.Group)
	}
}

// planned is how a group on a board blinks by the plan, where nothing was
// measured of it: enough to know what a trace of the whole model holds.
func (b *builder) planned(group string) []Level {
	gi := b.p.GroupAt(group)
	bi := b.p.BoardAt(b.p.Groups[gi].Board)
	if bi < 0 {
		return nil
	}
	a, err := alone(b.w, gi, bi, []float64{b.p.Jacks[b.w.Jack].Volts})
	if err != nil {
		return nil
	}
	var out []Level
	for _, q := range b.p.Boards[bi].Paces {
		l := Level{Pace: q.Name, PeriodS: q.PeriodS, Duty: q.LitShare(), OnA: a[0], OnU: a[0] / 5}
		out = append(out, l)
	}
	return out
}

// byPlan is a signature of a model of which nothing was measured.
func byPlan(p *plan.Plan, jack string) (*Signature, error) {
	s := &Signature{Build: p.Build, Jack: jack}
	b := &builder{p: p, s: s}
	if err := b.prepare(); err != nil {
		return nil, err
	}
	for _, g := range p.Groups {
		if g.Board != "" && p.JackOf(p.JointOf(g)) == jack {
			s.Groups = append(s.Groups, b.group(g))
		}
	}
	return s, nil
}

// board takes the trace of each pace apart, and each voltage of its sweep.
func (b *builder) board(i int) {
	x := b.p.Boards[i]
	for _, pace := range x.Paces {
		r, ok := b.latest(x.Name, pace.Name)
		if !ok {
			continue
		}
		t, ok := traceOf(r, b.l)
		if !ok {
			continue
		}
		if pace.Steady() {
			b.steadyBoard(i, pace, t)
			continue
		}
		tol := blink.Tolerance{PeriodRel: pace.PeriodRelTol, DutyAbs: pace.DutyTol}
		want := blink.Pattern{PeriodS: pace.PeriodS, Duty: pace.Duty, Flashes: pace.Flashes}
		first, ok := b.apart(i, t, want, tol)
		if !ok {
			b.s.Notes = append(b.s.Notes,
				fmt.Sprintf("board %q, pace %q: its levels could not be taken from the trace", x.Name, pace.Name))
			continue
		}
		first.pace = pace.Name
		b.levels[x.Name] = append(b.levels[x.Name], first)
		// Its own period is known now: hold the sweep to it.
		want.PeriodS, want.Duty = first.periodS, first.duty
		tol.PeriodRel, tol.DutyAbs = 0.02, 0.03
		for _, p := range pointsOf(r, b.l) {
			if l, ok := b.apart(i, p, want, tol); ok {
				l.pace, l.sweep = pace.Name, true
				b.levels[x.Name] = append(b.levels[x.Name], l)
			}
		}
	}
}

// steadyBoard: everything is lit; the board's own part is what it draws dark.
func (b *builder) steadyBoard(i int, pace plan.Pace, t point) {
	x := b.p.Boards[i]
	dark := x.Standing.Nominal
	for _, l := range b.levels[x.Name] {
		if !l.sweep {
			dark = l.darkA
		}
	}
	groups, nominal, sum := b.nominal(i, t.volts)
	l := boardLevel{pace: pace.Name, volts: t.volts, darkA: dark, duty: 1, onA: map[string]float64{}, onU: t.u}
	for k, g := range groups {
		if sum > 0 {
			l.onA[g] = (t.amps - dark) * nominal[k] / sum
		}
	}
	b.levels[x.Name] = append(b.levels[x.Name], l)
}

// nominal lists the groups of a board with what the plan expects of each.
func (b *builder) nominal(i int, volts float64) (groups []string, amps []float64, sum float64) {
	for gi, g := range b.p.Groups {
		if g.Board != b.p.Boards[i].Name {
			continue
		}
		a, err := alone(b.w, gi, i, []float64{volts})
		if err != nil {
			a = []float64{0}
		}
		groups, amps = append(groups, g.Name), append(amps, a[0])
		sum += a[0]
	}
	return groups, amps, sum
}

// apart takes a board's trace at one voltage apart into dark and lit.
func (b *builder) apart(i int, t point, want blink.Pattern, tol blink.Tolerance) (boardLevel, bool) {
	x := b.p.Boards[i]
	k := blink.Known{WindowS: t.windowS, MinHz: math.Min(0.25, 0.5/want.PeriodS)}
	byOutput := map[int]float64{}
	var outputs []int
	groups, amps, _ := b.nominal(i, t.volts)
	output := map[string]int{}
	for n, name := range groups {
		o := b.p.Groups[b.p.GroupAt(name)].Output
		output[name] = o
		if _, ok := byOutput[o]; !ok {
			outputs = append(outputs, o)
		}
		byOutput[o] += amps[n]
	}
	slices.Sort(outputs)
	l := boardLevel{volts: t.volts, onA: map[string]float64{}}
	lit := map[int]float64{}
	switch len(outputs) {
	case 0:
		return l, false
	case 1:
		m := blink.Match(t.samples, k, want, tol)
		if m.Steady || !m.LevelsShown || m.Agreement == blink.OffPace || m.PeriodS <= 0 {
			return l, false
		}
		l.darkA, l.periodS, l.duty, l.onU = m.OffA, m.PeriodS, m.Duty, math.Hypot(m.OnU, m.OffU)
		lit[outputs[0]] = m.OnA - m.OffA
	default:
		if !b.inTurn(x, t, want, tol, outputs, byOutput, &l, lit) {
			return l, false
		}
	}
	for n, name := range groups {
		o := output[name]
		if byOutput[o] > 0 {
			l.onA[name] = lit[o] * amps[n] / byOutput[o]
		} else {
			l.onA[name] = lit[o]
		}
	}
	return l, true
}

// inTurn takes several outputs apart by the fit of their common clock.
func (b *builder) inTurn(x plan.Board, t point, want blink.Pattern, tol blink.Tolerance, outputs []int,
	amps map[int]float64, l *boardLevel, lit map[int]float64) bool {
	c := blink.Clock{Name: x.Name, PeriodS: want.PeriodS, PeriodRel: tol.PeriodRel, DutyAbs: tol.DutyAbs}
	for _, n := range outputs {
		g := Level{Pace: paceBy(x, want), PeriodS: want.PeriodS, Duty: want.Duty}
		c.Outputs = append(c.Outputs, blink.Blinker{Name: fmt.Sprint("output ", n), Spans: spansOf(x, g, n),
			Amps: amps[n]})
	}
	f := parted(t.samples, t.windowS, []blink.Clock{c})
	if !f.Usable || f.ScatterA > 0.05*t.amps {
		return false
	}
	l.periodS, l.darkA, l.duty = f.Beats[0].PeriodS, f.BaseA, f.Beats[0].Outputs[0].Duty
	for k, o := range f.Beats[0].Outputs {
		if o.StepA < 0.5*o.BuiltA {
			return false // dark or stuck: no curve of a good output
		}
		lit[outputs[k]] = o.StepA
		l.onU = math.Max(l.onU, o.StepU)
	}
	return true
}

// paceBy finds the pace whose flashes a pattern has.
func paceBy(x plan.Board, want blink.Pattern) string {
	for _, q := range x.Paces {
		if len(q.Flashes) > 0 && slices.Equal(q.Flashes, want.Flashes) {
			return q.Name
		}
	}
	return ""
}

// dark is the curve of a board with every output dark.
func (b *builder) dark(i int) BoardCurve {
	out := BoardCurve{Board: b.p.Boards[i].Name}
	type at struct{ v, a float64 }
	var ps []at
	for _, l := range b.levels[out.Board] {
		if l.sweep || len(ps) == 0 && l.periodS > 0 {
			ps = append(ps, at{l.volts, l.darkA})
		}
	}
	slices.SortFunc(ps, func(x, y at) int { return cmp.Compare(x.v, y.v) })
	for _, p := range ps {
		if n := len(out.Dark.Volts); n > 0 && p.v-out.Dark.Volts[n-1] < 1e-3 {
			continue
		}
		out.Dark.Volts, out.Dark.Amps = append(out.Dark.Volts, p.v), append(out.Dark.Amps, p.a)
	}
	return out
}
