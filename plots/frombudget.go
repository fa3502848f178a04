package plots

import (
	"slices"
	"strings"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/budget"
)

// FeedTreeOf takes the feed tree of a budget. suspects says of a joint, board or
// group why the fault may be there.
func FeedTreeOf(b *budget.Budget, suspects map[string]string) FeedTreeData {
	d := FeedTreeData{Title: b.Build + ": feed tree, everything lit, in service",
		Notes: []string{"As the plan expects it. Volts between plus and minus at that place; of a return, how far " +
			"it lies above the minus of the jack.", "Below a figure: what 95 % of healthy models show there."}}
	for _, j := range b.Joints {
		wire := j.Wire
		if len(j.Holds) > 0 {
			wire = strings.TrimPrefix(wire+"; holds "+strings.Join(j.Holds, ", "), "; ")
		}
		d.Nodes = append(d.Nodes,
			TreeNode{Name: j.Name, From: j.From, Kind: j.Kind, Wire: wire, CurrentA: j.Amps, VoltageV: j.Volts,
				DropV: j.Drop, LowA: j.LowA, HighA: j.HighA, LowDropV: j.LowDrop, HighDropV: j.HighDrop,
				Suspect: suspects[j.Name]})
	}
	return d
}

// BandsOf takes the bands of a budget: each group lit, alone at the meter.
func BandsOf(b *budget.Budget) BandsData {
	d := BandsData{Title: b.Build + ": expected draw of each group",
		Notes: []string{"Each group alone at the meter, while lit. A look is needed where one dark branch hides in " +
			"the band or lies too near it."}}
	for _, g := range b.Groups {
		r := BandRow{Group: g.Group}
		if !g.AsFound {
			r.ExpectedA, r.SmallestA, r.SeenFromA = g.Lit.NominalA, g.SmallestA, g.Visible.PlanA
			r.Band = compare.Band{LowA: g.Lit.LowA, HighA: g.Lit.HighA, Coverage: b.Coverage}
		}
		d.Rows = append(d.Rows, r)
	}
	return d
}

// LevelsOf gives the levels of draw that a healthy feed shows in a step, for
// SheetData.Levels and TraceOf. There are none where the feed wasn't powered
// alone, at another voltage than the budget's, or was built as found.
func LevelsOf(b *budget.Budget, s capture.StepRecord) []Level {
	f, ok := b.FeedNamed(s.Step.Feed)
	if !ok || f.AsFound || s.Step.Kind != capture.Power || s.Step.Way != capture.Alone || f.Volts != s.Step.Volts {
		return nil
	}
	var out []Level
	for _, l := range f.Levels {
		if !l.Usual || !clipped(l.Outputs, s.Step.Outputs) || len(l.Groups) == 0 && f.Board &&
			steadyAt(f, s.Step.Pace) {
			continue
		}
		name := ""
		if f.Board {
			if name = "dark"; len(l.Groups) > 0 {
				name = "lit: " + strings.Join(l.Groups, " + ")
			}
		}
		out = append(out, Level{name, compare.Band{LowA: l.Draw.LowA, HighA: l.Draw.HighA, Coverage: b.Coverage}})
	}
	return out
}

// steadyAt tells whether a board doesn't blink at a pace: then it is never dark.
func steadyAt(f budget.Feed, pace string) bool {
	return slices.ContainsFunc(f.Paces, func(p budget.PaceDraw) bool { return p.Pace == pace && p.PeriodS == 0 })
}

// clipped tells whether all lit outputs are among those connected; none named means all.
func clipped(lit, connected []int) bool {
	if len(connected) == 0 {
		return true
	}
	return !slices.ContainsFunc(lit, func(n int) bool { return !slices.Contains(connected, n) })
}
