package compare

import (
	"math"
	"slices"

	"sealworthy/compare/belief"
	"sealworthy/compare/budget"
	"sealworthy/compare/coverage"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/wiring"
)

// Grade says of each closure, inner ones first, which of its possible faults the test
// that Steps makes would stop, and which it would let be glued in. pr nil: the
// defaults. The error names the group that can't be computed.
func Grade(p *plan.Plan, b *budget.Budget, o StepOptions, r rule.Rule, pr *fault.Priors) ([]coverage.Closure, error) {
	closures, err := closuresOf(p, o.Closure)
	if err != nil {
		return nil, err
	}
	m := maker{p: p, b: b, o: o}
	var hidden []coverage.Hidden
	var tests []coverage.Test
	for _, c := range closures {
		h := coverage.Hidden{Closure: c}
		for _, x := range itemsOf(p, c) {
			switch {
			case x.isGroup():
				h.Groups = append(h.Groups, x.Name)
			case x.Kind == ItemJoint || x.Kind == ItemReturn:
				h.Places = append(h.Places, coverage.Place{Name: x.Name, Return: x.Kind == ItemReturn, Feeds: x.Feeds})
			}
		}
		hidden = append(hidden, h)
	}
	for _, f := range b.Feeds {
		tests = append(tests, m.readOf(f)...)
	}
	if b.At.Loose {
		p = wiring.Loose(p)
	}
	return coverage.Of(p, hidden, tests, coverage.Options{Priors: pr, Rule: r,
		Effort: coverage.Effort{Volts: effortVolts, Switch: effortSwitch}})
}

// readOf is what a test reads of a feed: a group, or each set of groups of a board
// whose draws come apart.
func (m maker) readOf(f budget.Feed) []coverage.Test {
	top := m.feedVolts(f)
	t := coverage.Test{Board: f.Board, Looked: len(m.o.Feeds) == 0, Scene: m.b.At.Scene}
	sets := [][]string{f.Groups}
	volts := []float64{top}
	if board, ok := m.p.Board(f.Feed); ok && f.Board {
		t.Traced = slices.ContainsFunc(board.Paces, func(q plan.Pace) bool { return !q.Steady() })
		if t.Traced && board.Run != plan.Together {
			sets = m.byOutput(f)
		}
	} else {
		volts = append(volts, m.otherVolts(f, top)...)
	}
	var out []coverage.Test
	for _, groups := range sets {
		if slices.ContainsFunc(groups, m.noRule) {
			continue
		}
		x := t
		x.Groups = groups
		for _, v := range volts {
			x.Readings = append(x.Readings, m.reading(v, groups, v/top))
		}
		out = append(out, x)
	}
	return out
}

// otherVolts are those besides the service voltage at which a group's draw is weighed.
func (m maker) otherVolts(f budget.Feed, top float64) []float64 {
	switch {
	case m.testLoad(f) != "":
		return nil
	case m.o.Sweep:
		var out []float64
		for _, part := range usedParts {
			out = append(out, part*top)
		}
		return out
	case m.o.OneVoltage:
		return nil
	}
	if v, ok := m.secondVolts(f, top, 0); ok {
		return []float64{v}
	}
	return nil
}

// reading is one to come, of groups that are read together; part is its voltage as a
// share of the service voltage, which their draw is taken to follow.
func (m maker) reading(volts float64, groups []string, part float64) belief.Reading {
	if m.b.At.Accuracy == nil {
		return belief.Reading{Volts: volts, U: secondFloorA, GainU: secondMeterU}
	}
	amps := 0.0
	for _, name := range groups {
		if g, ok := m.b.GroupNamed(name); ok {
			amps += g.Lit.MeanA * part
		}
	}
	meter := *m.b.At.Accuracy
	gain := meter.OfReading / math.Sqrt(3)
	meter.OfReading = 0
	return belief.Reading{Volts: volts, U: meter.U(amps), GainU: gain}
}

// byOutput are the groups of a board, those of one output together.
func (m maker) byOutput(f budget.Feed) [][]string {
	var out [][]string
	at := map[int]int{}
	for _, name := range f.Groups {
		g, _ := m.b.GroupNamed(name)
		i, ok := at[g.Output]
		if !ok {
			i = len(out)
			at[g.Output], out = i, append(out, nil)
		}
		out[i] = append(out[i], name)
	}
	return out
}

// noRule: nothing is planned of a group's draw but an envelope, or not even that.
func (m maker) noRule(group string) bool {
	g, ok := m.p.Group(group)
	return !ok || g.AsFound || hasEnvelope(g)
}
