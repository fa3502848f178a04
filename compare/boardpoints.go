package compare

import (
	"math"
	"slices"

	"sealworthy/compare/belief"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/instruments"
)

// boardPoints adds what the groups of a board draw at the other voltages of a
// step, each by the levels of its own trace, and lets all decide together.
func (s step) boardPoints(b plan.Board, out []Finding) {
	if !slices.ContainsFunc(out, func(f Finding) bool { return f.evidence != nil }) {
		return
	}
	added := make([][]belief.Reading, len(out))
	for i, p := range s.r.Points {
		if p.Volts > s.r.Step.Volts-0.1 {
			continue
		}
		at, ok := s.atPoint(i)
		if !ok {
			continue
		}
		there := make([]Finding, len(out))
		for k, f := range out {
			g, _ := s.j.Expected.Plan.Group(f.Group)
			there[k] = s.j.blank(at.r, g)
		}
		at.board(b, there)
		for k, f := range there {
			if out[k].evidence == nil || f.ExpectedU <= 0 || f.MeasuredU <= 0 || !showsLevel(f) ||
				f.FiguresOf != out[k].FiguresOf {
				continue // outputs that part at one voltage may run in step at another
			}
			x := at.evidence(f, false)
			added[k] = append(added[k], x.readings[0])
		}
	}
	for k := range out {
		// What was said after its draw was weighed goes beyond it.
		if len(added[k]) > 0 && len(out[k].Notes) == out[k].evidence.single.notes {
			s.j.withMore(&out[k], added[k])
		}
	}
}

// showsLevel: the draw of the group itself was found, not only a mean.
func showsLevel(f Finding) bool {
	switch f.Verdict {
	case InBand, Low, High:
		return true
	case CantTell:
		return f.Why != "" && !f.byTrace // undecided by its draw alone
	}
	return false
}

// atPoint is the step as it was at one of its voltages.
func (s step) atPoint(i int) (step, bool) {
	r := s.r
	r.Step.Volts = s.r.Points[i].Volts
	at := step{j: s.j, r: r, plain: true}
	at.t = readingsTrace(slices.Values(s.r.AtPoint(i, Ammeter(s.r), instruments.Current)))
	if at.t.whyUnusable() != "" {
		return at, false
	}
	b, err := s.j.Expected.of(r, s.j.Leads)
	if err != nil {
		return at, false
	}
	at.b = b
	return at, true
}

// standing is the same for a board that is never dark: what is left of its draw
// without its lights.
func (s step) standing(board string) budget.Draw {
	b, ok := s.j.Expected.Plan.Board(board)
	levels := s.b.Levels(board)
	if !ok || len(levels) == 0 {
		return budget.Draw{}
	}
	all := levels[len(levels)-1]
	amps, lit := all.Draw.MeanA, 0.0
	for _, name := range all.Groups {
		g, _ := s.b.GroupNamed(name)
		amps, lit = amps-g.Lit.MeanA, lit+g.Lit.UA
	}
	u := b.Standing.HalfWidth / math.Sqrt(3)
	if more := all.Draw.UA*all.Draw.UA - lit*lit; more > u*u {
		u = math.Sqrt(more) // what a converter on the way takes is in it, too
	}
	return budget.Draw{NominalA: amps, MeanA: amps, UA: u, LowA: max(0, amps-coverageK*u), HighA: amps + coverageK*u}
}
