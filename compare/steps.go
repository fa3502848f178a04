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
	MeterWindow   time.Duration // over which the meter averages one reading; 0: unknown
	// Only these feeds; empty: all of the closure.
	Feeds []string
	// Way says how the feeds get their current; empty: each alone. Added: each
	// steady group on top of those before it, boards alone. Joined: the wires
	// are joined for good and the closure is one feed.
	Way capture.Way
	// OneVoltage leaves out the second voltage at which a group with more than one
	// kind of branch is read.
	OneVoltage bool
	// Sweep keeps each feed's draw over voltages, too: its curve as built.
	Sweep bool
	// Allowed are the checks that were accepted by name: what may burn by them is
	// no hazard of a step any more.
	Allowed Allowed
}

// Figures of the test: common practice, no source.
const (
	limitFactor  = 1.3
	limitExtraA  = 0.005
	boardInrush  = 2.0 // times the draw, for a second
	inrushFor    = time.Second
	boardCheckV  = 2.5
	groupSettle  = 400 * time.Millisecond // with a meter of which the window isn't known
	leastSettle  = 150 * time.Millisecond
	groupMax     = 6 * time.Second
	groupRest    = 0.005 // of the draw a second: what moves less is at rest
	groupReads   = 12    // readings of a steady group, in full
	enoughReads  = 8     // of one that is known well enough by then: fewer make no baseline
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
// names what in the plan can't be tested. What may burn stands in the steps' Hazards.
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
		steps, err := m.feeds(feeds)
		if err != nil {
			return nil, err
		}
		out = append(out, steps...)
		if len(o.Feeds) > 0 {
			continue
		}
		feeds = m.lit(feeds)
		if o.Stage == Fitted { // then one clip is on all of it for the look, too
			w, err := m.together(capture.Wiggle, feeds)
			if err != nil {
				return nil, err
			}
			out = append(out, w...)
		}
		looks, err := m.together(capture.Look, feeds)
		if err != nil {
			return nil, err
		}
		out = append(out, looks...)
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("nothing to measure: closure %q hides no group", o.Closure)
	}
	keepPlanned(p, out)
	return out, guarded(b, o.Allowed, out)
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
			if g, ok := p.Group(name); ok && g.Closure == closure {
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

// feeds makes the power steps of a closure.
func (m maker) feeds(feeds []budget.Feed) ([]capture.Step, error) {
	var out []capture.Step
	if m.o.Way == capture.Joined {
		lit := m.lit(feeds)
		if len(lit) > 0 {
			s, err := m.whole(capture.Power, lit)
			if err != nil {
				return nil, err
			}
			s.Way, s.For = capture.Joined, max(boardReads, m.slowest(feeds))
			s.Ask = fmt.Sprintf("Clip the plus lead to the joined wires of %q.", m.closure)
			out = append(out, s)
		}
		// A sealed wire is joined to nothing yet.
		feeds = slices.DeleteFunc(slices.Clone(feeds), func(f budget.Feed) bool { return m.testLoad(f) == "" })
	}
	var on []string
	for _, f := range feeds {
		steps, err := m.feed(f)
		if err != nil {
			return nil, err
		}
		if m.o.Way == capture.Added && !f.Board && m.testLoad(f) == "" {
			on = append(on, f.Feed)
			if len(on) > 1 {
				steps = []capture.Step{m.onTop(steps[0], slices.Clone(on), out)}
			}
		}
		out = append(out, steps...)
	}
	return out, nil
}

// onTop turns the step of a feed alone into one on top of what is on before it.
func (m maker) onTop(s capture.Step, on []string, before []capture.Step) capture.Step {
	s.Way, s.On = capture.Added, on
	s.Ask = fmt.Sprintf("Leave what is on. Clip the plus lead to %q as well when asked.", s.Feed)
	base := capture.RampPoint{}
	for _, b := range before {
		if b.Board == "" && b.Way != capture.Joined && slices.Contains(on, b.Feed) {
			top := b.Ramp[len(b.Ramp)-1]
			if b.Way == capture.Added { // its ramp holds the sum already
				base = top
				continue
			}
			base.ExpectA, base.MaxA, base.LimitA = base.ExpectA+top.ExpectA, base.MaxA+top.MaxA, base.LimitA+top.LimitA
		}
	}
	ramp := slices.Clone(s.Ramp)
	for i := range ramp {
		// The base is on at full voltage already: it only lifts the limit.
		ramp[i].ExpectA += base.ExpectA
		ramp[i].MaxA += base.MaxA
		ramp[i].LimitA = min(ramp[i].LimitA+base.LimitA, m.fuseA())
	}
	s.Ramp = ramp
	return s
}

// slowest is how long the slowest pace of any board has to be read.
func (m maker) slowest(feeds []budget.Feed) time.Duration {
	d := time.Duration(0)
	for _, f := range feeds {
		if b, ok := m.p.Board(f.Feed); ok {
			for _, p := range b.Paces {
				d = max(d, time.Duration(slowPeriods*p.PeriodS*float64(time.Second)))
			}
		}
	}
	return d
}

// feed makes the steps of one feed.
func (m maker) feed(f budget.Feed) ([]capture.Step, error) {
	base := capture.Step{
		Kind: capture.Power, Way: capture.Alone, Closure: m.closure, Feed: f.Feed, Groups: f.Groups,
		On: []string{f.Feed}, PlanRevision: m.p.Revision, Volts: m.feedVolts(f), Jitter: requestJit,
		Ask: fmt.Sprintf("Clip the plus lead to %q.", f.Feed),
	}
	clip := m.testLoad(f)
	if clip != "" {
		base.First = fmt.Sprintf(
			"Clip %s across the far end of the wire %q. Take it off again after this measurement.", clip, f.Feed)
		base.Ask = base.First + " " + base.Ask
	}
	if !f.Board {
		ramp, err := m.groupRamp(f, base.Volts)
		if err != nil {
			return nil, err
		}
		s := base
		s.ID = m.closure + "/" + f.Feed
		s.Ramp, s.Bound = ramp, m.binds(f, ramp)
		s.Inrush = 100 * time.Millisecond
		s.Settle, s.BearsA = m.settle(), m.bears(f)
		s.For = m.readFor(groupReads)
		if g, ok := m.p.Group(f.Feed); ok && hasEnvelope(g) {
			s.For = boardReads
			s.Settle.Max = groupSettle
		}
		s.MaxTotal = time.Minute
		switch {
		case clip != "" || m.o.Way == capture.Added:
			// A resistor draws in proportion: a second voltage tells nothing new.
		case m.o.Sweep:
			if s.Sweep, err = m.groupSweep(f, base.Volts); err != nil {
				return nil, err
			}
		case !m.o.OneVoltage:
			if s.Sweep, err = m.secondPoint(f, base.Volts); err != nil {
				return nil, err
			}
		}
		switch {
		case s.For == boardReads:
		case m.o.Sweep:
			s.Early = m.enough(f)
		default:
			s.Enough = m.enough(f)
		}
		return []capture.Step{s}, nil
	}
	board, ok := m.p.Board(f.Feed)
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
		s.Press, s.PressFromOn = min(i, 1), i
		s.ID = m.closure + "/" + f.Feed + "/" + pace.Name
		s.Ramp, s.Bound, s.Inrush = ramp, m.binds(f, ramp), chargeTime(board, base.Volts, ramp)
		two := time.Duration(2 * pace.PeriodS * float64(time.Second))
		s.Settle = waits(max(boardSettle, two))
		s.For = steadyReads
		if !pace.Steady() {
			s.For = max(boardReads, time.Duration(slowPeriods*pace.PeriodS*float64(time.Second)),
				m.parting(board, f, pace))
		}
		s.MaxTotal = 2*s.For + time.Minute
		whole := s
		if m.o.Sweep && i == 0 {
			s.Sweep = m.boardSweep(board, pace, s.Volts, ramp[len(ramp)-1])
		} else if i == 0 && !m.o.OneVoltage {
			s.Sweep = m.secondOfBoard(board, f, pace, s.Volts, ramp[len(ramp)-1])
		}
		out = append(out, s)
		out = append(out, m.apart(whole, board, pace)...)
	}
	return out, nil
}

// apart adds a step for each output of a board whose outputs can't be told
// apart in one trace: equal draws that follow each other without a dark moment.
func (m maker) apart(s capture.Step, b plan.Board, p plan.Pace) []capture.Step {
	byOutput := map[int][]string{}
	var numbers []int
	var draws []budget.Draw
	for _, name := range s.Groups {
		g, ok := m.b.GroupNamed(name)
		if !ok {
			return nil
		}
		if len(byOutput[g.Output]) == 0 {
			numbers, draws = append(numbers, g.Output), append(draws, g.Lit)
		}
		byOutput[g.Output] = append(byOutput[g.Output], name)
	}
	if p.Steady() || b.Run != plan.Alternate || len(numbers) < 2 || p.LitShare()*float64(len(numbers)) < 0.9 {
		return nil
	}
	for _, d := range draws[1:] {
		if math.Abs(d.MeanA-draws[0].MeanA) > 3.29*math.Hypot(d.UA, draws[0].UA) {
			return nil
		}
	}
	var out []capture.Step
	for _, n := range numbers {
		x := s
		x.ID += fmt.Sprintf("/output %d", n)
		x.Outputs, x.Groups = []int{n}, byOutput[n]
		x.Ask = fmt.Sprintf("The outputs of %q draw the same and take turns: unclip all but output %d.", b.Name, n)
		out = append(out, x)
	}
	return out
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
	if j, ok := m.p.Jack(jack); ok {
		return j.Volts
	}
	return m.p.Jacks[0].Volts
}
