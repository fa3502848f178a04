package plan

import (
	"fmt"
	"slices"
)

// testTolerance of a resistor that is clipped on for a test and says none: 5 %,
// the usual band of carbon film (IEC 60062 colour code, gold).
const testTolerance = 0.05

// testOhms are the resistors that a wire can be tested with: less is a short, more
// draws too little to be told from nothing (common practice, no source).
var testOhms = between(1, 100000)

const sealedHint = `write lights = [ { test_ohms = 470 } ]: the resistor that you clip across its end for the test`

// testLoad reads a resistor that is clipped across the end of a wire for its test.
func (p *parser) testLoad(raw *section, g *Group) (Light, bool) {
	s := p.table(raw.n, raw.what, keysIn("test")...)
	l := Light{Kind: TestLoad, Count: 1, BranchSpread: Value{Nominal: 1}, Reel: "test resistor of " + g.Name,
		Source: "clipped on for the test"}
	l.Ohms = Value{Source: "the maker's own value"}
	if !s.into(&l.Ohms.Nominal, 1, "test_ohms", testOhms, "470") {
		return l, false
	}
	tolerance := testTolerance
	s.into(&tolerance, 1, "ohms_tolerance", between(0, 0.9), "0.05")
	l.Ohms.HalfWidth = tolerance * l.Ohms.Nominal
	s.into(&l.OhmsWatts, 1, "watts", over(0, 100), "0.5")
	l.Part = plainNumber(l.Ohms.Nominal) + " ohm resistor"
	return l, true
}

// sealed sees whether a group is a wire that is sealed in for a part still to
// come, and that it can be tested as that. Its lights have been read.
func (p *parser) sealed(s *section, g *Group) {
	g.Sealed = s.flag("sealed_wire", false)
	for i, l := range g.Lights {
		if l.Kind != TestLoad {
			continue
		}
		if s.has("sealed_wire") && !g.Sealed {
			p.fail(s.at("sealed_wire"), "leave sealed_wire out, or name the lights that are there",
				"%s has a test resistor, so it is a sealed wire", s.what)
		}
		g.Sealed = true
		if len(g.Lights) > 1 {
			p.failAt(l.Pos, "write it alone: lights = [ { test_ohms = 470 } ]",
				"a test resistor stands beside other lights in %s (light %d)", s.what, i+1)
			return
		}
	}
	if !g.Sealed {
		return
	}
	switch {
	case g.AsFound:
		p.fail(s.at("lights"), sealedHint, "%s is a sealed wire: nothing hangs on it yet, so nothing was found",
			s.what)
	case g.Board != "":
		p.fail(s.keyAt("board"), "test the wire by itself: write joint = the joint that feeds the board instead of "+
			"board and output",
			"%s is a sealed wire: it can't be tested through a board", s.what)
	}
	for _, l := range g.Lights {
		if l.Kind == Envelope {
			p.failAt(l.Pos, sealedHint, "%s is a sealed wire: it's tested with a lamp or a resistor across its end, "+
				"not with what %s", s.what, l.Envelope.Behaves)
		}
	}
}

// TestLoadText says what is clipped across the end of a sealed wire for its test:
// "a 470 ohm resistor"; empty where the group is no sealed wire.
func (g Group) TestLoadText() string {
	if !g.Sealed || len(g.Lights) == 0 {
		return ""
	}
	text := ""
	for i, l := range g.Lights {
		if i > 0 {
			text += " and "
		}
		switch {
		case l.Branches() > 1:
			text += fmt.Sprintf("%d x %s", l.Branches(), l.Part)
		default:
			text += "a " + l.Part
		}
		if l.Kind == LEDs && l.Ohms.Nominal > 0 {
			text += fmt.Sprintf(" with %s ohm", plainNumber(l.Ohms.Nominal))
		}
	}
	return text
}

// InService is the plan of the model as it is used: without the wires that are
// sealed in for parts still to come, on which nothing hangs outside their test.
func (p *Plan) InService() *Plan {
	if !slices.ContainsFunc(p.Groups, func(g Group) bool { return g.Sealed }) {
		return p
	}
	out := *p
	out.Groups = nil
	for _, g := range p.Groups {
		if !g.Sealed {
			out.Groups = append(out.Groups, g)
		}
	}
	return &out
}
