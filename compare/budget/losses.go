package budget

import (
	"fmt"

	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// losses finds by how much the reading of a group's feed falls when one branch
// of each of its lights goes dark: its least branch, everything else nominal.
func (m *model) losses(f *feedPlace, gp groupPlace, out *Group) error {
	g := m.p.Groups[gp.group]
	if g.AsFound {
		return nil
	}
	t := f.settings[gp.level]
	healthy := t.w.JackAmps(t.w.Point)
	for k, l := range g.Lights {
		if l.Kind == plan.Envelope {
			continue
		}
		least, at := 0.0, -1
		for i, br := range t.w.Groups[gp.group].Branches {
			if x := t.w.BranchAmps(t.w.Point, gp.group, i); br.Light == k && (at < 0 || x < least) {
				least, at = x, i
			}
		}
		if at < 0 {
			continue
		}
		t.w.Open(gp.group, at, true)
		err := t.w.Solve(t.src)
		x := healthy - t.w.JackAmps(t.w.Point)
		t.w.Open(gp.group, at, false)
		if err != nil {
			return fmt.Errorf("%s with one branch open: %w", g.Name, err)
		}
		if err := t.w.Solve(t.src); err != nil {
			return fmt.Errorf("%s: %w", g.Name, err)
		}
		loss := Loss{Light: k, What: words.Branches(l, 1), Amps: x}
		out.Losses = append(out.Losses, loss)
		if out.SmallestText == "" || x < out.SmallestA {
			out.SmallestA, out.SmallestText = x, loss.What
		}
	}
	return nil
}
