package budget

import (
	"slices"

	"sealworthy/compare/plan"
)

// tree lists the feed tree with its currents and drops, everything lit, in
// service: jacks, joints, boards, groups, returns. A parent comes before its children.
func (c *checker) tree() []Joint {
	var t []Joint
	p, s := c.p, c.service
	for i, j := range p.Jacks {
		t = append(t, Joint{Name: j.Name, Kind: "jack", Amps: s.jacks[i].amps, Volts: s.jacks[i].volts, Pos: j.Pos})
	}
	for i, j := range p.Joints {
		n := Joint{Name: j.Name, From: j.From, Kind: "joint", Closure: j.Closure, Amps: s.joints[i].amps,
			Volts: s.joints[i].volts,
			Drop:  s.joints[i].drop, Wire: j.Wire.Text, Dark: lightsOnly(p, darkBehind(p, j.Name)), Pos: j.Pos}
		for _, h := range j.Holds {
			n.Holds = append(n.Holds, holdText(h))
		}
		t = append(t, n)
	}
	for i, b := range p.Boards {
		n := Joint{Name: b.Name, From: b.Joint, Kind: "board", Closure: b.Closure, Amps: s.boards[i].amps,
			Volts: s.boards[i].volts,
			Drop:  s.boards[i].drop, Wire: b.Wire.Text, Pos: b.Pos}
		for _, g := range p.Groups {
			if g.Board == b.Name {
				n.Dark = append(n.Dark, g.Name)
			}
		}
		t = append(t, n)
	}
	for i, g := range p.Groups {
		from := g.Joint
		if g.Board != "" {
			from = g.Board
		}
		t = append(t,
			Joint{Name: g.Name, From: from, Kind: "group", Closure: g.Closure, Amps: s.groups[i].amps,
				Volts: s.groups[i].volts,
				Drop:  s.groups[i].drop, Wire: g.Wire.Text, Dark: []string{g.Name}, Pos: g.Pos})
	}
	for i, r := range p.Returns {
		t = append(t,
			Joint{Name: r.Name, From: r.To, Kind: "return", Closure: r.Closure, Amps: s.returns[i].amps,
				Volts: s.returns[i].volts,
				Drop:  s.returns[i].drop, Wire: r.Wire.Text, Dark: lightsOnly(p, darkBehindReturn(p, r.Name)),
				Pos: r.Pos})
	}
	c.band(t)
	return t
}

// band gives each place what a healthy model shows there. Their order is that of the
// plan's lists, kind by kind.
func (c *checker) band(t []Joint) {
	n := map[string]int{}
	for i := range t {
		j := &t[i]
		x := c.bands[placeOf{j.Kind, n[j.Kind]}]
		n[j.Kind]++
		// What is nominal may lie at the end of what the trials showed where nothing deviates.
		j.LowA, j.HighA = min(x.amps.low, j.Amps), max(x.amps.high, j.Amps)
		j.LowDrop, j.HighDrop = min(x.drop.low, j.Drop), max(x.drop.high, j.Drop)
	}
}

// lightsOnly leaves out the wires on which nothing hangs yet.
func lightsOnly(p *plan.Plan, groups []string) []string {
	return slices.DeleteFunc(groups, func(name string) bool {
		i := p.GroupAt(name)
		return i >= 0 && p.Groups[i].Sealed
	})
}

// holdText names what a joint holds.
func holdText(h plan.Hold) string {
	if h.Text != "" {
		return h.Text
	}
	return string(h.Kind)
}
