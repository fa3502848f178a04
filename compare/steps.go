package compare

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
)

// StepOptions is what the steps of a test depend on besides plan and budget.
type StepOptions struct {
	Stage   string
	Closure string // empty: every closure, inner ones first
	// JackFuseAmps, SupplyMaxAmps bound the limit; 0 is unknown.
	JackFuseAmps  float64
	SupplyMaxAmps float64
	MeterWindow   time.Duration
	// Only these feeds; empty: all of the closure.
	Feeds []string
}

// Figures of the test: common practice, no source.
const (
	limitFactor  = 1.3
	limitExtraA  = 0.005
	boardInrush  = 2.0 // times the draw, for a second
	inrushFor    = time.Second
	boardCheckV  = 2.5
	groupSettle  = 400 * time.Millisecond
	groupMax     = 6 * time.Second
	groupReads   = 12 // readings of a steady group
	boardSettle  = 2 * time.Second
	boardReads   = 20 * time.Second
	steadyReads  = 4 * time.Second
	slowPeriods  = 3.2 // periods of the slowest pace that a trace must hold
	requestJit   = 0.3
	lookFor      = 2 * time.Second
	wiggleFor    = 20 * time.Second
	fuseFraction = 0.8 // of the meter jack's fuse
)

// Steps makes the steps of a test: for each feed of the closure one at its
// service voltage, for a board one a pace; then the look, and at stage fitted
// the wiggle. Budget must hold under the conditions of the test. An error
// names what in the plan can't be tested.
func Steps(p *plan.Plan, b *budget.Budget, o StepOptions) ([]capture.Step, error) {
	closures, err := closuresOf(p, o.Closure)
	if err != nil {
		return nil, err
	}
	var out []capture.Step
	for _, c := range closures {
		feeds := feedsOf(p, b, c)
		if len(o.Feeds) > 0 {
			feeds = slices.DeleteFunc(feeds, func(f budget.Feed) bool { return !slices.Contains(o.Feeds, f.Feed) })
		}
		if len(feeds) == 0 {
			continue
		}
		m := maker{p: p, b: b, o: o, closure: c}
		for _, f := range feeds {
			steps, err := m.feed(f)
			if err != nil {
				return nil, err
			}
			out = append(out, steps...)
		}
		if len(o.Feeds) > 0 {
			continue
		}
		look, err := m.whole(capture.Look, feeds)
		if err != nil {
			return nil, err
		}
		out = append(out, look)
		if o.Stage == Fitted {
			w, err := m.whole(capture.Wiggle, feeds)
			if err != nil {
				return nil, err
			}
			out = append(out, w)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("nothing to measure: closure %q hides no group", o.Closure)
	}
	return out, nil
}

// closuresOf lists the closures to test, inner ones first.
func closuresOf(p *plan.Plan, name string) ([]string, error) {
	var all []string
	for _, c := range slices.Backward(p.Closures) {
		all = append(all, c.Name)
	}
	if name == "" {
		return all, nil
	}
	if !slices.Contains(all, name) {
		sort.Strings(all)
		return nil, fmt.Errorf("the plan has no closure %q; it has: %s", name, list(all))
	}
	return []string{name}, nil
}

// feedsOf lists the feeds that have a group in the closure, in plan order.
func feedsOf(p *plan.Plan, b *budget.Budget, closure string) []budget.Feed {
	var out []budget.Feed
	for _, f := range b.Feeds {
		for _, name := range f.Groups {
			if g, ok := groupNamed(p, name); ok && g.Closure == closure {
				out = append(out, f)
				break
			}
		}
	}
	return out
}

type maker struct {
	p       *plan.Plan
	b       *budget.Budget
	o       StepOptions
	closure string
}

// feed makes the steps of one feed.
func (m maker) feed(f budget.Feed) ([]capture.Step, error) {
	base := capture.Step{
		Kind: capture.Power, Way: capture.Alone, Closure: m.closure, Feed: f.Feed, Groups: f.Groups,
		On: []string{f.Feed}, PlanRevision: m.p.Revision, Volts: m.volts(f.Jack), Jitter: requestJit,
		Ask: fmt.Sprintf("Output is off. Clip the plus lead to %q.", f.Feed),
	}
	if !f.Board {
		ramp, err := m.groupRamp(f, base.Volts)
		if err != nil {
			return nil, err
		}
		s := base
		s.ID = m.closure + "/" + f.Feed
		s.Ramp = ramp
		s.Inrush = 100 * time.Millisecond
		s.Settle = capture.Settle{Min: groupSettle, Max: groupMax, Window: groupSettle, Rel: 0.002, AbsA: 0.0001}
		s.For = m.readFor(groupReads)
		if g, ok := groupNamed(m.p, f.Feed); ok && hasEnvelope(g) {
			s.For = boardReads
			s.Settle.Max = groupSettle
		}
		s.MaxTotal = time.Minute
		return []capture.Step{s}, nil
	}
	board, ok := boardNamed(m.p, f.Feed)
	if !ok {
		return nil, fmt.Errorf("the plan has no board %q", f.Feed)
	}
	ramp, err := m.boardRamp(board, f, base.Volts)
	if err != nil {
		return nil, err
	}
	var out []capture.Step
	for i, pace := range board.Paces {
		s := base
		s.Board, s.Pace = board.Name, pace.Name
		// Most boards start at their first pace at power-on.
		s.Press = i
		s.ID = m.closure + "/" + f.Feed + "/" + pace.Name
		s.Ramp, s.Inrush = ramp, inrushFor
		two := time.Duration(2 * pace.PeriodS * float64(time.Second))
		s.Settle = waits(max(boardSettle, two))
		s.For = steadyReads
		if !pace.Steady() {
			s.For = max(boardReads, time.Duration(slowPeriods*pace.PeriodS*float64(time.Second)))
		}
		s.MaxTotal = 2*s.For + time.Minute
		out = append(out, s)
	}
	return out, nil
}

// waits is a settling by time alone: a blinker's draw never comes to rest.
func waits(d time.Duration) capture.Settle {
	return capture.Settle{Min: d, Max: d, Window: groupSettle, Rel: 1e3, AbsA: 1e3}
}

func (m maker) readFor(n int) time.Duration {
	w := m.o.MeterWindow
	if w <= 0 {
		w = 250 * time.Millisecond
	}
	return max(2*time.Second, time.Duration(n)*w)
}

func (m maker) volts(jack string) float64 {
	for _, j := range m.p.Jacks {
		if j.Name == jack || jack == "" {
			return j.Volts
		}
	}
	return m.p.Jacks[0].Volts
}

// rampVolts are the voltages on the way up: low enough that a forgotten
// resistor is met while it is still harmless.
func rampVolts(top float64) []float64 {
	var out []float64
	step := max(0.5, top/12)
	for v := min(1.5, top/2); v < top-step/2; v += step {
		out = append(out, math.Round(v*100)/100)
	}
	return append(out, top)
}

func (m maker) groupRamp(f budget.Feed, top float64) ([]capture.RampPoint, error) {
	vs := rampVolts(top)
	curve, err := m.b.Curve(f.Feed, vs...)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.Feed, err)
	}
	least := m.ceiling(f)
	var out []capture.RampPoint
	for _, c := range curve {
		out = append(out, m.point(c, limitFactor, least, f.AsFound))
	}
	return out, nil
}

// asFoundA bounds a group of which nothing is known (common practice, no source).
const asFoundA = 0.1

// point makes a ramp point. The alarm sits a little below the limit, so that
// the meter names it before the supply bends the voltage.
func (m maker) point(c budget.RampPoint, factor, ceiling float64, unknown bool) capture.RampPoint {
	high := c.HighA
	if unknown {
		high = max(high, asFoundA)
	}
	limit := math.Ceil((high*factor+limitExtraA)*1e3) / 1e3
	return capture.RampPoint{
		Volts: c.Volts, LimitA: min(limit, ceiling), ExpectA: c.NominalA,
		MaxA: min(high*(1+0.8*(factor-1))+0.8*limitExtraA, ceiling),
	}
}

func (m maker) boardRamp(board plan.Board, f budget.Feed, top float64) ([]capture.RampPoint, error) {
	low := min(boardCheckV, top/2)
	curve, err := m.b.Curve(f.Feed, low, top)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.Feed, err)
	}
	ceiling := m.ceiling(f)
	work := m.point(curve[1], limitFactor, ceiling, f.AsFound)
	// An output that gives more than it can stays lit: that is to be read and
	// named, not tripped over.
	if most := overloadA(board, m.b.Levels(f.Feed)); most > work.MaxA {
		work.MaxA = min(most, ceiling)
		work.LimitA = min(math.Ceil((most+limitExtraA)*1e3)/1e3, ceiling)
	}
	first := m.point(curve[0], limitFactor, ceiling, f.AsFound)
	// Below its lowest voltage nobody knows what a board draws, but not more
	// than when it works.
	first.LimitA, first.MaxA = work.LimitA, work.MaxA
	surge := work
	surge.LimitA = min(math.Ceil(work.LimitA*boardInrush*1e3)/1e3, ceiling)
	surge.MaxA = surge.LimitA
	return []capture.RampPoint{first, surge, work}, nil
}

// overloadFactor over its rating is what an overloaded output may give before
// the test stops (common practice, no source).
const overloadFactor = 1.5

// overloadA is the draw of a board with every output in use overloaded.
func overloadA(board plan.Board, levels []budget.Level) float64 {
	most, used := 0.0, map[int]bool{}
	for _, l := range levels {
		if len(l.Outputs) == 0 {
			most = l.Draw.HighA
		}
		for _, n := range l.Outputs {
			used[n] = true
		}
	}
	for _, o := range board.Outputs {
		if used[o.Number] {
			most += overloadFactor * o.MaxAmps
		}
	}
	return most
}

// ceiling is the limit that nothing may exceed: the meter jack's fuse, the
// thinnest wire on the way, the supply.
func (m maker) ceiling(f budget.Feed) float64 {
	c := math.Inf(1)
	if m.o.JackFuseAmps > 0 {
		c = min(c, fuseFraction*m.o.JackFuseAmps)
	}
	if m.o.SupplyMaxAmps > 0 {
		c = min(c, m.o.SupplyMaxAmps)
	}
	for _, w := range wiresTo(m.p, f) {
		if w.WorkAmps > 0 {
			c = min(c, w.WorkAmps)
		}
	}
	return c
}

// whole makes the look or the wiggle of a closure: everything in it on.
func (m maker) whole(kind capture.Kind, feeds []budget.Feed) (capture.Step, error) {
	s := capture.Step{
		Kind: kind, Way: capture.Alone, Closure: m.closure, PlanRevision: m.p.Revision,
		ID: m.closure + "/" + string(kind), Feed: m.closure, Inrush: inrushFor, For: lookFor,
	}
	var total capture.RampPoint
	for _, f := range feeds {
		s.On = append(s.On, f.Feed)
		s.Volts = max(s.Volts, m.volts(f.Jack))
		for _, g := range f.Groups {
			if x, ok := groupNamed(m.p, g); ok && x.Closure == m.closure {
				s.Groups = append(s.Groups, g)
				s.See = append(s.See, see(x))
			}
		}
	}
	for _, f := range feeds {
		c, err := m.b.Curve(f.Feed, s.Volts)
		if err != nil {
			return s, fmt.Errorf("%s: %w", f.Feed, err)
		}
		high := c[0].HighA
		if f.AsFound {
			high = max(high, asFoundA)
		}
		total.ExpectA += c[0].NominalA
		total.MaxA += high
	}
	ceiling := math.Inf(1)
	if m.o.JackFuseAmps > 0 {
		ceiling = fuseFraction * m.o.JackFuseAmps
	}
	if m.o.SupplyMaxAmps > 0 {
		ceiling = min(ceiling, m.o.SupplyMaxAmps)
	}
	work := m.point(budget.RampPoint{Volts: s.Volts, NominalA: total.ExpectA, HighA: total.MaxA}, limitFactor, ceiling, false)
	first, surge := work, work
	first.Volts = min(boardCheckV, s.Volts/2)
	surge.LimitA = min(work.LimitA*boardInrush, ceiling)
	surge.MaxA = surge.LimitA
	s.Ramp = []capture.RampPoint{first, surge, work}
	s.Settle = waits(boardSettle)
	if kind == capture.Wiggle {
		s.For = wiggleFor
	}
	s.MaxTotal = 10 * time.Minute
	return s, nil
}

func see(g plan.Group) string {
	if g.See != "" {
		return g.Name + ": " + g.See
	}
	return g.Name
}
