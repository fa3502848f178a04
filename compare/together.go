package compare

import (
	"fmt"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// feedVolts is what a feed is powered with: its jack's voltage, and loose, where
// it is clipped behind a converter, what that gives.
func (m maker) feedVolts(f budget.Feed) float64 {
	if m.b.At.Loose && f.Volts > 0 {
		return f.Volts
	}
	return m.volts(f.Jack)
}

// testLoad says what is clipped across the end of a sealed wire; empty for any
// other feed.
func (m maker) testLoad(f budget.Feed) string {
	g, ok := m.p.Group(f.Feed)
	if !ok || f.Board {
		return ""
	}
	return g.TestLoadText()
}

// lit leaves out the sealed wires: nothing hangs on them that could be looked at.
func (m maker) lit(feeds []budget.Feed) []budget.Feed {
	return slices.DeleteFunc(slices.Clone(feeds), func(f budget.Feed) bool { return m.testLoad(f) != "" })
}

// together makes the looks or the wiggles of a closure: everything in it on, at
// most one voltage at a time.
func (m maker) together(kind capture.Kind, feeds []budget.Feed) ([]capture.Step, error) {
	var out []capture.Step
	for len(feeds) > 0 {
		volts := m.feedVolts(feeds[0])
		var now, later []budget.Feed
		for _, f := range feeds {
			if m.feedVolts(f) == volts {
				now = append(now, f)
			} else {
				later = append(later, f)
			}
		}
		s, err := m.whole(kind, now)
		if err != nil {
			return nil, err
		}
		if len(out) > 0 {
			s.ID += fmt.Sprintf("/at %s V", words.Number(volts, 0.01))
		}
		out, feeds = append(out, s), later
	}
	return out, nil
}

// whole makes the look or the wiggle of feeds of a closure: all of them on.
func (m maker) whole(kind capture.Kind, feeds []budget.Feed) (capture.Step, error) {
	s := capture.Step{
		Kind: kind, Way: capture.Alone, Closure: m.closure, PlanRevision: m.p.Revision,
		ID: m.closure + "/" + string(kind), Feed: m.closure, Inrush: inrushFor, For: lookFor,
	}
	var total capture.RampPoint
	for _, f := range feeds {
		s.On = append(s.On, f.Feed)
		s.Volts = max(s.Volts, m.feedVolts(f))
		for _, g := range f.Groups {
			if x, ok := m.p.Group(g); ok && x.Closure == m.closure {
				s.Groups = append(s.Groups, g)
				s.See = append(s.See, see(x))
				if s.SeeBy == nil {
					s.SeeBy = map[string][]string{}
				}
				s.SeeBy[f.Feed] = append(s.SeeBy[f.Feed], see(x))
				if s.GroupsBy == nil {
					s.GroupsBy, s.Lights = map[string][]string{}, map[string]string{}
				}
				s.GroupsBy[f.Feed] = append(s.GroupsBy[f.Feed], g)
				s.Lights[g] = look.Digest(x)
				if m.mayFlash(x) {
					s.Flash = append(s.Flash, g)
				}
			}
		}
	}
	if kind == capture.Look {
		s.Buttons = m.buttons(feeds, s.Groups)
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
	ceiling := m.fuseA()
	work := m.point(budget.RampPoint{Volts: s.Volts, NominalA: total.ExpectA, HighA: total.MaxA}, limitFactor,
		ceiling, false)
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

// buttons are those of the boards among feeds, with what their groups should do at each pace.
func (m maker) buttons(feeds []budget.Feed, groups []string) (out []capture.Button) {
	for _, f := range feeds {
		b, ok := m.p.Board(f.Feed)
		if !f.Board || !ok || !b.Button || len(b.Paces) < 2 {
			continue
		}
		x := capture.Button{Board: b.Name}
		for _, g := range f.Groups {
			if slices.Contains(groups, g) {
				x.Groups = append(x.Groups, g)
			}
		}
		for _, p := range b.Paces {
			x.See = append(x.See, words.Pace(p))
		}
		out = append(out, x)
	}
	return out
}

// mayFlash: lights of a group go on and off by themselves at some pace of its board. What has
// no plan may do so, too.
func (m maker) mayFlash(g plan.Group) bool {
	b, ok := m.p.Board(g.Board)
	return g.AsFound || ok && slices.ContainsFunc(b.Paces, func(p plan.Pace) bool { return !p.Steady() })
}

func see(g plan.Group) string {
	if g.See != "" {
		return g.Name + ": " + g.See
	}
	return g.Name
}
