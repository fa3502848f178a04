package budget

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/compare/plan"
)

// checker walks a plan with its operating points at the ends of the jack's
// range and collects what a maker should know.
type checker struct {
	p              *plan.Plan
	low, mid, high *state
	// service is the middle without what is clipped onto sealed wires for their test;
	// bands holds about it, by place, jacks among them.
	service *state
	bands   map[placeOf]placeBand
	// outputWith gives the current of an output at the high end of the range
	// with ohms more in series with it.
	outputWith func(board, output int, ohms float64) (float64, error)
	// when says under which voltage high holds, as in "carries 30 mA when the jack is at its highest".
	when string
	out  []Check
}

func newChecker(p *plan.Plan) *checker {
	return &checker{p: p, low: newState(p), mid: newState(p), high: newState(p), service: newState(p),
		bands: map[placeOf]placeBand{}, when: atHighest}
}

// run makes all checks, worst first; within a severity in the order of the plan.
func (c *checker) run() []Check {
	c.jacks()
	for i := range c.p.Joints {
		c.joint(i)
	}
	for i := range c.p.Returns {
		c.ret(i)
	}
	for i := range c.p.Boards {
		c.board(i)
	}
	for i := range c.p.Groups {
		c.group(i)
	}
	c.closures()
	concern(c.p, c.out)
	nameAll(c.out)
	slices.SortStableFunc(c.out, func(a, b Check) int { return rank(a.Severity) - rank(b.Severity) })
	return c.out
}

func rank(s Severity) int {
	return slices.Index([]Severity{Wrong, Risky, Caution, Advice}, s)
}

// say adds a check. at carries where; the rest is filled in.
func (c *checker) say(s Severity, kind string, at Check, value, limit float64, unit, format string,
	args ...any) *Check {
	at.Severity, at.Kind, at.Value, at.Limit, at.Unit = s, kind, value, limit, unit
	at.Text = fmt.Sprintf(format, args...)
	c.out = append(c.out, at)
	return &c.out[len(c.out)-1]
}

// burns marks a check as being about something that may burn, melt or be destroyed.
func (c *Check) burns() *Check {
	c.Burns = true
	return c
}

// cure goes on to say what to change.
func (c *Check) cure(sep, what string) *Check {
	c.Fact, c.Cure = c.Text, what
	c.Text += sep + what
	return c
}

// atHighest is the checker's when for the whole model in service.
const atHighest = "when the jack is at its highest"

func quote(name string) string { return `"` + name + `"` }

// wire sets a current against the working and melting limits of a wire.
func (c *checker) wire(w plan.Wire, a float64, at Check, where string) {
	switch {
	case w.FuseAmps > 0 && a >= w.FuseAmps:
		c.say(Wrong, KindWire, at, a, w.FuseAmps, "A", "%s carries %s through a wire (%s) that melts at %s",
			where, amps(a), w.Text, amps(w.FuseAmps)).burns().cure(": ", "use a thicker one")
	case w.WorkAmps > 0 && a > w.WorkAmps:
		s := Risky
		if w.FuseAmps > 0 && a > w.FuseAmps/2 {
			s = Wrong
		}
		n := c.say(s, KindWire, at, a, w.WorkAmps, "A", "%s carries %s through a wire (%s) that takes %s in glued "+
			"plastic",
			where, amps(a), w.Text, amps(w.WorkAmps)).cure(": ", "use a thicker one or a second wire beside it")
		n.Burns = s == Wrong
	}
}

// ret checks the wire of return i.
func (c *checker) ret(i int) {
	r := c.p.Returns[i]
	c.wire(r.Wire, c.high.returns[i].amps, Check{Joint: r.Name, Closure: r.Closure, Pos: r.Pos, ret: true},
		"the return to "+quote(r.Name))
}

// board checks supply and outputs of board i.
func (c *checker) board(i int) {
	b := c.p.Boards[i]
	at := Check{Board: b.Name, Closure: b.Closure, Pos: b.Pos}
	c.wire(b.Wire, c.high.boards[i].amps, at, "the board "+quote(b.Name))
	if v := c.low.boards[i].volts; b.LowVolts > 0 && v < b.LowVolts {
		at := at
		at.detail = "too low"
		c.say(Wrong, KindBoard, at, v, b.LowVolts, "V", "%s gets %s when the jack is at its lowest, it needs %s: it "+
			"may stop or blink oddly",
			quote(b.Name), volts(v), volts(b.LowVolts))
	}
	if v := c.high.boards[i].volts; b.HighVolts > 0 && v > b.HighVolts*(1+1e-9) {
		c.say(Wrong, KindBoard, at, v, b.HighVolts, "V", "%s gets %s %s, it is rated to %s: it may burn",
			quote(b.Name), volts(v), c.when, volts(b.HighVolts)).burns().cure("; ",
			fmt.Sprintf("feed it with %s or less, by a converter or another jack", volts(b.HighVolts)))
	}
	for k, o := range b.Outputs {
		c.output(i, k, o)
		c.shared(i, o)
	}
	c.flash(i)
}

// output sets the load of one output against what it can give, and finds the
// series resistor that would bring it there.
func (c *checker) output(i, k int, o plan.Output) {
	b := c.p.Boards[i]
	a := c.high.boards[i].outputs[k]
	if !(o.MaxAmps > 0) || a <= o.MaxAmps {
		if o.MaxAmps > 0 && a > 0.9*o.MaxAmps {
			c.say(Risky, KindOutput, Check{Board: b.Name, Output: o.Number, Closure: b.Closure, Pos: b.Pos}, a,
				o.MaxAmps, "A",
				"%s: output %d is loaded with %s, it can give %s: no margin is left", quote(b.Name), o.Number, amps(a),
				amps(o.MaxAmps))
		}
		return
	}
	at := Check{Board: b.Name, Output: o.Number, Closure: b.Closure, Pos: b.Pos}
	text := fmt.Sprintf("%s: output %d is loaded with %s, it can give %s: it will stay lit", quote(b.Name), o.Number,
		amps(a), amps(o.MaxAmps))
	if len(b.Paces) > 0 && b.Paces[0].Steady() {
		text = fmt.Sprintf("%s: output %d is loaded with %s, it can give %s", quote(b.Name), o.Number, amps(a),
			amps(o.MaxAmps))
	}
	r, with, ok := c.seriesFor(i, k, outputMargin*o.MaxAmps)
	if !ok {
		c.say(Wrong, KindOutput, at, a, o.MaxAmps, "A", "%s", text).burns().cure("; ",
			"no resistor in series helps: put fewer lights on it")
		return
	}
	c.say(Wrong, KindOutput, at, a, o.MaxAmps, "A", "%s", text).burns().cure("; ",
		fmt.Sprintf("%s in series brings it to %s (%s in it)", ohms(r), amps(with), watts(with*with*r))).Instead = r
}

// shared finds lights that hang side by side on the one resistor of an output. A
// flasher output made for one LED stays lit when a second one is hung on it directly,
// and flashes again with a resistor of its own for each; common practice, no source.
func (c *checker) shared(i int, o plan.Output) {
	b := c.p.Boards[i]
	if !(o.Ohms.Nominal > 0) {
		return
	}
	all := 0
	var bare []plan.Light
	for _, g := range c.p.Groups {
		if g.Board != b.Name || g.Output != o.Number {
			continue
		}
		for _, l := range g.Lights {
			if l.Kind != plan.LEDs {
				continue
			}
			all += l.Branches()
			if !(l.Ohms.Nominal > 0) {
				bare = append(bare, l)
			}
		}
	}
	if all < 2 || len(bare) == 0 {
		return
	}
	text, branches := "one takes the current from the other", 0
	if len(b.Paces) > 0 && !b.Paces[0].Steady() {
		text += ", and a usual blinker then stays lit"
	}
	for _, l := range bare {
		branches += l.Branches()
	}
	n := c.say(Risky, KindOutput, Check{Board: b.Name, Output: o.Number, Closure: b.Closure, Pos: b.Pos,
		detail: "shared resistor"}, float64(branches), 0, "",
		"%s, output %d: %s without a resistor of their own share the one in the output: %s",
		quote(b.Name), o.Number, many(branches, "branch"), text)
	if r, ok := c.ownResistor(i, o, bare, all); ok {
		n.cure("; ", fmt.Sprintf("%s in series with each, on the plus side, cures it (%s in each)", ohms(r.Ohms),
			watts(r.Watts))).Instead = r.Ohms
	} else {
		n.cure("; ", "give each a resistor of its own")
	}
}

// ownResistor is the largest resistor that one of the bare branches needs for itself,
// so that all n branches of an output share what it can give, each with no more than
// it is made for, and at least as much voltage across its own resistor as across the
// common one, so that they share evenly (invented):
//
//	R = (V - Ro n I - Vf) / I,  I at most (V - Vf) / (2 Ro n)
func (c *checker) ownResistor(i int, o plan.Output, bare []plan.Light, all int) (most Resistor, ok bool) {
	v := o.OpenVolts.Nominal
	if o.FollowsSupply {
		v = c.high.boards[i].volts
	}
	for _, l := range bare {
		each := wantedAmps(l)
		if o.MaxAmps > 0 {
			each = min(each, outputMargin*o.MaxAmps/float64(all))
		}
		common := o.Ohms.Nominal * float64(all)
		each = min(each, (v-kneeVolts(l))/(2*common))
		if !(each > 0) {
			return Resistor{}, false
		}
		r, err := ResistorFor(l.Series, v-common*each, each, E12)
		if err != nil {
			return Resistor{}, false
		}
		if r.Ohms > most.Ohms {
			most = r
		}
	}
	return most, true
}

// outputMargin: an output is loaded to 80 % at most; common practice, no source.
const outputMargin = 0.8

// seriesFor finds the smallest E12 resistor that brings an output to at most
// amps at the high end of the range.
func (c *checker) seriesFor(board, output int, amps float64) (r, with float64, ok bool) {
	for r, ok = PreferredOhms(E12, 1); ok && r <= 1e5; r, ok = PreferredOhms(E12, r*1.01) {
		a, err := c.outputWith(board, output, r)
		if err != nil {
			return 0, 0, false
		}
		if a <= amps {
			// So much resistance that nothing is left to see is no help.
			return r, a, a > 0.05*amps
		}
	}
	return 0, 0, false
}

// darkBehind lists the groups that go dark when a joint opens.
func darkBehind(p *plan.Plan, joint string) []string {
	behind := map[string]bool{joint: true}
	for _, j := range p.Joints { // parents before children
		if behind[j.From] {
			behind[j.Name] = true
		}
	}
	var dark []string
	for _, g := range p.Groups {
		if behind[p.JointOf(g)] {
			dark = append(dark, g.Name)
		}
	}
	return dark
}

// darkBehindReturn lists the groups that go dark when a return opens.
func darkBehindReturn(p *plan.Plan, name string) []string {
	behind := map[string]bool{name: true}
	for _, r := range p.Returns {
		if behind[r.To] {
			behind[r.Name] = true
		}
	}
	var dark []string
	for _, g := range p.Groups {
		b := p.BoardAt(g.Board)
		if behind[g.Return] || b >= 0 && behind[p.Boards[b].Return] {
			dark = append(dark, g.Name)
		}
	}
	return dark
}

// red reports whether some light of a group is red, for the flash caution.
func red(g plan.Group) bool {
	for _, l := range g.Lights {
		for _, d := range l.Series {
			if strings.Contains(strings.ToLower(d.Colour), "red") {
				return true
			}
		}
	}
	return false
}
