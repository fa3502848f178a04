package returns

import (
	"maps"
	"math"
	"slices"
	"strings"

	"sealworthy/compare/fault"
	"sealworthy/compare/look"
)

// trunk is a joint or a return that feeds several feeds.
type trunk struct {
	name   string
	bad    fault.Kind // ohms in it
	open   fault.Kind
	groups []int // in model.groups
	boards []int // in model.boards
}

// trunks are bad or open joints that carry more than one feed.
func (m *model) trunks(pr fault.ReturnPriors) []Hypothesis {
	var all []trunk
	for i, j := range m.p.Joints {
		if !m.w.Joints[i].Here {
			continue
		}
		t := m.behind(j.Name, func(at, _ string) bool { return slices.Contains(m.p.UpFrom(at), j.Name) })
		t.bad, t.open = fault.UpstreamJoint, fault.OpenJoint
		all = append(all, t)
	}
	for i, r := range m.p.Returns {
		if !m.w.Returns[i].Here {
			continue
		}
		t := m.behind(r.Name, func(_, back string) bool { return slices.Contains(m.p.BackFrom(back), r.Name) })
		t.bad, t.open = fault.BadReturn, fault.OpenReturn
		all = append(all, t)
	}
	var out []Hypothesis
	seen := map[string]bool{}
	for _, t := range all {
		key := t.key()
		if len(t.groups)+len(t.boards) < 2 || seen[key] || m.feeds(t) < 2 {
			continue // one feed alone: its own joint says the same; the same feeds: look the same
		}
		seen[key] = true
		out = append(out, m.ofTrunk(t, pr)...)
	}
	return out
}

func (m *model) behind(name string, is func(joint, back string) bool) trunk {
	t := trunk{name: name}
	for i, g := range m.groups {
		joint, back := g.g.Joint, g.g.Return
		if g.board >= 0 {
			joint = m.p.Boards[g.board].Joint
			if back == "" {
				back = m.p.Boards[g.board].Return
			}
		}
		if is(joint, back) {
			t.groups = append(t.groups, i)
		}
	}
	for i, b := range m.boards {
		if is(b.b.Joint, b.b.Return) {
			t.boards = append(t.boards, i)
		}
	}
	return t
}

// feeds counts the wires that leave a trunk.
func (m *model) feeds(t trunk) int {
	n := len(t.boards)
	for _, g := range t.groups {
		if m.groups[g].board < 0 {
			n++
		}
	}
	return n
}

func (t trunk) key() string {
	var b strings.Builder
	for _, g := range t.groups {
		b.WriteRune(rune(g + 1))
	}
	b.WriteRune(0)
	for _, x := range t.boards {
		b.WriteRune(rune(x + 1))
	}
	return b.String()
}

// ofTrunk are ohms in a trunk, and the trunk open.
func (m *model) ofTrunk(t trunk, pr fault.ReturnPriors) []Hypothesis {
	dead := Hypothesis{Place: t.name, Class: t.open, Prior: pr.Of(t.open), DeltaA: make([]float64, len(m.volts)),
		steps: map[string]float64{}, lights: map[string]look.Lights{}}
	var names []string
	for _, i := range t.groups {
		g := &m.groups[i]
		dead.DeltaA = minus(dead.DeltaA, scaled(g.duty, g.inWhole))
		names = append(names, g.g.Name)
		if g.periodS > 0 {
			dead.steps[g.g.Name] = 0
		}
	}
	for _, i := range t.boards {
		dead.DeltaA = minus(dead.DeltaA, m.boards[i].dark)
	}
	// The others get a little more: the drop before the trunk is gone.
	dead.extra = [][]float64{scaled(stuckRel, dead.DeltaA)}
	var deltas [][]float64
	for _, r := range trunkOhms {
		deltas = append(deltas, m.throughTrunk(t, r))
	}
	hs := graded(Hypothesis{Place: t.name, Class: t.bad, Prior: pr.Of(t.bad) * math.Sqrt2}, trunkOhms, deltas)
	at := m.atService()
	for i := range hs {
		m.behindJoint(&hs[i], -dead.DeltaA[at], names...)
	}
	for _, g := range names {
		maps.Copy(dead.lights, m.unlit(g))
	}
	return append(hs, dead)
}

// trunkTries bring the drop in a trunk and the draw behind it together, from no drop on: the
// draw falls ever slower with it, so that Newton comes up to it.
const (
	trunkTries  = 8
	trunkSlopeV = 0.002
)

// throughTrunk is what ohms in a trunk change, by the curves as built of what hangs behind
// it; of what those draw less the others take a little, by the plan.
func (m *model) throughTrunk(t trunk, ohms float64) []float64 {
	draws := func(dropV []float64) []float64 {
		out := Curve{}.at(m.volts)
		for _, i := range t.groups {
			g := &m.groups[i]
			out = added(out, scaled(g.duty, g.curve.at(minus(g.seenV, dropV))))
		}
		for _, i := range t.boards {
			out = added(out, Curve{Volts: m.volts, Amps: m.boards[i].dark}.at(minus(m.volts, dropV)))
		}
		return out
	}
	drop, a := make([]float64, len(m.volts)), Curve{}.at(m.volts)
	without := draws(drop)
	for range trunkTries {
		for i := range drop {
			drop[i] = ohms * a[i]
		}
		at := draws(drop)
		for i := range drop {
			drop[i] += trunkSlopeV
		}
		for i, less := range draws(drop) {
			a[i] += (at[i] - a[i]) / (1 + ohms*math.Max(0, at[i]-less)/trunkSlopeV)
		}
	}
	own, inWhole := 0.0, 0.0
	last := len(m.volts) - 1
	for _, i := range t.groups {
		g := &m.groups[i]
		own, inWhole = own+g.duty*g.shape[last], inWhole+g.duty*g.inWhole[last]
	}
	share := 1.0
	if own > 0 {
		share = inWhole / own
	}
	return scaled(share, minus(a, without))
}
