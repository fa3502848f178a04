package budget

import (
	"errors"
	"fmt"
	"slices"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// Load is what a test powers together.
type Load struct {
	On []string // groups on a joint, and boards, as in Feed
	// Outputs of the boards that are connected, by number; empty: all of them.
	Outputs []int
	Volts   []float64 // at the source: each of them in turn
}

// Burns lists what may burn, melt or be destroyed when a load is powered: the
// checks that burn, at the load's own voltages instead of the jack's range, with
// that load alone. Every output is lit, every part nominal, and no meter or lead
// takes anything away. Of a check that speaks at several voltages the worst is
// given. The budget must come from Of, not from a file; its At.Loose counts. It
// changes nothing in the budget and may be called from several goroutines.
func (b *Budget) Burns(l Load) ([]Check, error) {
	if b.model == nil {
		return nil, errors.New("a budget read from a file has no circuit: make it anew from the plan")
	}
	for _, v := range l.Volts {
		if !(v > 0 && v <= 60) {
			return nil, fmt.Errorf("%g V is no voltage to power a model with: expected up to 60 V", v)
		}
	}
	var worst []Check
	for i := range b.model.p.Jacks {
		cs, err := b.model.burnsAt(i, l)
		if err != nil {
			return nil, err
		}
		for _, c := range cs {
			k := slices.IndexFunc(worst, func(w Check) bool { return w.Name == c.Name })
			switch {
			case k < 0:
				worst = append(worst, c)
			case c.Value > worst[k].Value:
				worst[k] = c
			}
		}
	}
	return worst, nil
}

// burnsAt is Burns for what hangs on one jack.
func (m *model) burnsAt(jack int, l Load) ([]Check, error) {
	s, err := m.sideOf(jack)
	if err != nil {
		return nil, err
	}
	w, any := s.w.Clone(), false
	for t, term := range w.Terminals {
		on := slices.Contains(l.On, term.Name)
		w.SetOn(t, on)
		any = any || on && m.here(w, term)
	}
	if !any {
		return nil, nil
	}
	for i, b := range w.Plan.Boards {
		for o := range b.Outputs {
			w.SetLit(i, o, connected(b, o, l))
		}
	}
	w.Net.SetOhms(w.Meter, 0)
	var out []Check
	for _, v := range l.Volts {
		if err := w.Solve(circuit.Source{EmfV: v}); err != nil {
			return nil, fmt.Errorf("%s at %g V: %w", list(l.On), v, err)
		}
		st := newState(w.Plan)
		st.jacks[jack] = jackState{volts: v, amps: w.JackAmps(w.Point)}
		st.read(w)
		c := &checker{p: w.Plan, low: st, mid: st, high: st, when: "at " + volts(v), outputWith: outputWith(w, v, nil)}
		out = append(out, c.burning(m.p, w, l)...)
	}
	return out, nil
}

// sideOf is the feeds behind a jack, wired up as the budget was asked for.
func (m *model) sideOf(jack int) (*side, error) {
	for _, a := range m.sides {
		if a.jack == jack {
			return a.side, nil
		}
	}
	p := m.p
	if m.at.Loose {
		p = wiring.Loose(p)
	}
	return newSide(p, jack, m.at)
}

// here tells whether a terminal lies behind the jack of w.
func (m *model) here(w *wiring.Wired, t wiring.Terminal) bool {
	if t.Board >= 0 {
		return w.Boards[t.Board].Here
	}
	return w.Groups[t.Group].Here
}

// connected tells whether an output (by index) of a board has its groups on it.
func connected(b plan.Board, output int, l Load) bool {
	return len(l.Outputs) == 0 || slices.Contains(l.Outputs, b.Outputs[output].Number)
}

// burning walks what is powered and keeps what may burn, with the names that it
// has in the plan.
func (c *checker) burning(whole *plan.Plan, w *wiring.Wired, l Load) []Check {
	for i := range c.p.Joints {
		if w.Joints[i].Here {
			c.joint(i)
		}
	}
	for i := range c.p.Returns {
		if w.Returns[i].Here {
			c.ret(i)
		}
	}
	for i, b := range c.p.Boards {
		if w.Boards[i].Here && slices.Contains(l.On, b.Name) {
			c.board(i)
		}
	}
	for i, g := range c.p.Groups {
		on := g.Name
		if g.Board != "" {
			on = g.Board
		}
		if k := c.p.BoardAt(g.Board); k >= 0 && !connected(c.p.Boards[k], g.Output-1, l) {
			continue
		}
		if w.Groups[i].Here && slices.Contains(l.On, on) {
			c.group(i)
		}
	}
	nameAll(c.out)
	out := slices.DeleteFunc(c.out, func(k Check) bool { return !k.Burns })
	concern(whole, out)
	return out
}
