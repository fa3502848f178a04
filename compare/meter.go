package compare

import (
	"slices"

	"sealworthy/compare/scene"
	"sealworthy/instruments"
)

// A meter whose limits of error nobody stated is taken for one of the worse usual
// hand-held ones: 1.5 % and five counts of 0.1 mA (common practice, no source).
const (
	usualOfReading = 0.015
	usualCountA    = 1e-4
	usualCounts    = 5
)

// NotSeenWith names the groups, in the order of the plan, whose least branch one meter's
// reading tells from healthy by the plan, and another's doesn't: what only that one could
// settle. Each meter is taken in the finest range that holds the group's draw.
func (x *Expected) NotSeenWith(c scene.Scene, was, is instruments.Description) ([]string, error) {
	before, err := x.seenWith(c, was)
	if err != nil {
		return nil, err
	}
	after, err := x.seenWith(c, is)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(before, func(g string) bool { return slices.Contains(after, g) }), nil
}

// seenWith names the groups whose least branch a meter tells from healthy.
func (x *Expected) seenWith(c scene.Scene, m instruments.Description) ([]string, error) {
	var seen, order []string
	held := map[string]bool{} // groups that a finer range has held
	for _, a := range accuracies(m) {
		c.Accuracy = &a
		b, err := x.Feeds(c)
		if err != nil {
			return nil, err
		}
		order = order[:0]
		for _, g := range b.Groups {
			order = append(order, g.Group)
			if held[g.Group] || a.RangeA > 0 && g.Lit.HighA > a.RangeA {
				continue
			}
			held[g.Group] = true
			if g.Visible.OnPlan {
				seen = append(seen, g.Group)
			}
		}
	}
	slices.SortFunc(seen, func(a, b string) int { return slices.Index(order, a) - slices.Index(order, b) })
	return seen, nil
}

// accuracyOf is that of a range of current.
func accuracyOf(r instruments.Range) *scene.Accuracy {
	return &scene.Accuracy{OfReading: r.Accuracy.OfReading, FloorA: r.Accuracy.Floor, ResolutionA: r.Resolution,
		RangeA: r.Max}
}

// accuracies are those of a meter's ranges of current, the finest first.
func accuracies(m instruments.Description) (out []scene.Accuracy) {
	for _, r := range m.Ranges {
		if r.Quantity != instruments.Current {
			continue
		}
		a := *accuracyOf(r)
		if r.Accuracy == (instruments.Accuracy{}) {
			a.OfReading, a.ResolutionA = usualOfReading, max(a.ResolutionA, usualCountA)
			a.FloorA = usualCounts * a.ResolutionA
		}
		out = append(out, a)
	}
	if out == nil {
		out = []scene.Accuracy{{OfReading: usualOfReading, FloorA: usualCounts * usualCountA,
			ResolutionA: usualCountA}}
	}
	slices.SortFunc(out, func(a, b scene.Accuracy) int {
		switch {
		case a.RangeA == b.RangeA:
			return 0
		case b.RangeA == 0 || a.RangeA > 0 && a.RangeA < b.RangeA: // 0: it has no end
			return -1
		}
		return 1
	})
	return out
}
