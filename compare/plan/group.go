package plan

import "fmt"

// modelClosure closes over what no closure was named for.
const modelClosure = "model"

// maxGroups of a plan, and as many tables of any other kind: a budget of more takes minutes.
const maxGroups = 2000

// groups reads [[group]].
func (p *parser) groups(top *section) {
	const instead = "write [[group]] with two brackets, and name = \"…\" below it"
	e := top.n.get("group")
	if e == nil {
		p.fail(len(p.text), instead, "the plan has no group")
		return
	}
	if e.val.shape != arrayShape {
		p.fail(e.keyAt, instead, "groups are a list, not %s", e.val.shape)
		return
	}
	if len(e.val.items) == 0 {
		p.fail(e.val.at, instead, "the plan has no group")
	}
	if len(e.val.items) > maxGroups {
		p.fail(e.val.items[maxGroups].at, "make several builds of it", "the plan has %d groups, more than %d",
			len(e.val.items), maxGroups)
		return
	}
	for i, it := range e.val.items {
		what := fmt.Sprintf("group %d", i+1)
		if it.shape == tableShape {
			if n := it.get("name"); n != nil && n.val.shape == textShape {
				what = fmt.Sprintf("group %q", n.val.text)
			}
		}
		if s := p.table(it, what, keysIn("group")...); s != nil {
			p.group(s)
		}
	}
}

func (p *parser) group(s *section) {
	g := Group{Pos: s.pos()}
	if s.must("name", `"cabin windows"`) {
		if v := s.value("name", textShape, `"cabin windows"`); v != nil {
			g.Name, g.Pos = v.text, p.place(v.at)
			if p.checkName(v.at, "group", g.Name, false) {
				p.terminals.enter(v.at, "group", g.Name)
			}
		}
	}
	g.See = s.words("see", "14 windows, warm")
	volts := p.groupFeed(s, &g)
	g.Return = p.returnName(s)
	g.Wire = p.wire(s)
	g.Closure = p.groupClosure(s, &g)
	p.groupReturn(s, &g)
	p.groupLights(s, &g, volts)
	p.sealed(s, &g)
	p.plan.Groups = append(p.plan.Groups, g)
}

// groupFeed reads what feeds a group, and returns the voltage there, 0 if unknown.
func (p *parser) groupFeed(s *section, g *Group) float64 {
	if s.onlyOne("joint", "board") != "board" {
		if s.has("output") && !s.has("board") {
			p.fail(s.keyAt("output"), `add board = "…", or leave output out`, "an output without a board")
		}
		g.Joint = p.feedName(s)
		return p.supplyVolts(g.Joint)
	}
	g.Output = s.whole("output", 1, 1, 32)
	var names []string
	for _, b := range p.plan.Boards {
		names = append(names, b.Name)
	}
	g.Board = p.known(s, "board", "board", names)
	b := p.boardNamed(g.Board)
	if b == nil || p.unsure[b.Name] {
		return 0
	}
	if n := len(b.Outputs); n > 1 && !s.has("output") {
		p.fail(s.keyAt("board"), "add output = 1", "%s doesn't say which of the %d outputs of board %q it hangs on",
			s.what, n, b.Name)
		return 0
	} else if g.Output > n {
		instead := fmt.Sprintf("write an output from 1 to %d", n)
		if n == 1 {
			instead = "write output = 1"
		}
		p.fail(s.at("output"), instead, "board %q has no output %d", b.Name, g.Output)
		return 0
	}
	if o := b.Outputs[g.Output-1]; !o.FollowsSupply {
		return o.OpenVolts.Nominal
	}
	return p.supplyVolts(b.Joint)
}

func (p *parser) boardNamed(name string) *Board {
	if i := p.plan.BoardAt(name); i >= 0 {
		return &p.plan.Boards[i]
	}
	return nil
}

// feedName reads the joint (or jack) that feeds something. Unsaid, it is the jack.
func (p *parser) feedName(s *section) string {
	if s.has("joint") {
		names := p.jackNames()
		for _, j := range p.plan.Joints {
			names = append(names, j.Name)
		}
		return p.known(s, "joint", "joint", names)
	}
	if len(p.plan.Jacks) == 1 {
		return p.plan.Jacks[0].Name
	}
	if len(p.plan.Jacks) > 1 {
		p.fail(s.n.at, "add joint = one of "+quoted(p.jackNames())+" or a joint behind them",
			"%s doesn't say which jack feeds it", s.what)
	}
	return ""
}

func (p *parser) returnName(s *section) string {
	names := p.jackNames()
	for _, r := range p.plan.Returns {
		names = append(names, r.Name)
	}
	return p.known(s, "return", "return", names)
}

func (p *parser) closureName(s *section) string {
	var names []string
	for _, c := range p.plan.Closures {
		names = append(names, c.Name)
	}
	return p.known(s, "closure", "closure", names)
}

// groupClosure: as said, else that of the board or the nearest joint, else the
// only one, else one that stands for the whole model.
func (p *parser) groupClosure(s *section, g *Group) string {
	if s.has("closure") {
		return p.closureName(s)
	}
	joint := g.Joint
	if b := p.boardNamed(g.Board); b != nil {
		if b.Closure != "" {
			return b.Closure
		}
		joint = b.Joint
	}
	for n := 0; n <= len(p.plan.Joints); n++ {
		j := p.jointNamed(joint)
		if j == nil {
			break
		}
		if j.Closure != "" {
			return j.Closure
		}
		joint = j.From
	}
	switch {
	case len(p.plan.Closures) == 1:
		return p.plan.Closures[0].Name
	case len(p.plan.Closures) > 1 && !p.hasClosure(modelClosure):
		p.warn(s.at("name"), "add closure = one of "+quoted(p.closureList()),
			"%s doesn't say what closes over it; it's tested with the model as a whole", s.what)
	}
	if !p.hasClosure(modelClosure) {
		p.plan.Closures = append(p.plan.Closures, Closure{Name: modelClosure})
	}
	return modelClosure
}

func (p *parser) hasClosure(name string) bool { return contains(p.closureList(), name) }

func (p *parser) closureList() []string {
	var out []string
	for _, c := range p.plan.Closures {
		out = append(out, c.Name)
	}
	return out
}

func (p *parser) jointNamed(name string) *Joint {
	if i := p.plan.JointAt(name); i >= 0 {
		return &p.plan.Joints[i]
	}
	return nil
}

// supplyVolts is the nominal voltage at a joint or jack: that of its jack, or
// of the nearest converter. Drops in wires and diodes aren't counted.
func (p *parser) supplyVolts(name string) float64 {
	for n := 0; n <= len(p.plan.Joints); n++ {
		j := p.jointNamed(name)
		if j == nil {
			break
		}
		for i := len(j.Holds) - 1; i >= 0; i-- {
			if h := j.Holds[i]; h.Kind == HoldConverter {
				return h.OutVolts.Nominal
			}
		}
		name = j.From
	}
	j, _ := p.plan.Jack(name)
	return j.Volts
}

// groupReturn sees that the current comes back to where it came from.
func (p *parser) groupReturn(s *section, g *Group) {
	joint := g.Joint
	if b := p.boardNamed(g.Board); b != nil {
		joint = b.Joint
	}
	p.sameJack(s, joint, g.Return)
}

func (p *parser) sameJack(s *section, joint, ret string) {
	from, to := p.jackOf[joint], p.returnTo[ret]
	if ret == "" || from == "" || to == "" || from == to {
		return
	}
	p.fail(s.at("return"), fmt.Sprintf("use a return that leads to %q, or feed it from %q", from, to),
		"no way back: %s is fed from jack %q, its return leads to jack %q", s.what, from, to)
}

// crossChecks look at the plan as a whole.
func (p *parser) crossChecks() {
	type output struct {
		board  string
		number int
	}
	first := map[output]string{}
	for _, g := range p.plan.Groups {
		if g.Board == "" {
			continue
		}
		o := output{g.Board, g.Output}
		if other, taken := first[o]; taken {
			p.warnAt(g.Pos, "put them into one group, or on an output each",
				"groups %q and %q hang on one output: their draw can only be judged together", other, g.Name)
			continue
		}
		first[o] = g.Name
	}
}
