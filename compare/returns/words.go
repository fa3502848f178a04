package returns

import (
	"cmp"
	"fmt"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// text says a cause in plain words.
func text(p *plan.Plan, c Cause) string {
	if c.Second != "" && len(c.Classes) == 2 {
		a := Cause{Place: c.Place, Classes: c.Classes[:1]}
		b := Cause{Place: c.Second, Classes: c.Classes[1:]}
		return text(p, a) + "; and " + text(p, b)
	}
	best := c.Best()
	switch best.Class {
	case fault.Nothing:
		return "nothing that shows: it draws what it drew when it left"
	case fault.Unknown:
		return "something that is not in the list: more than two faults, or one of a kind not thought of"
	case fault.Leak:
		return fmt.Sprintf("a leak between plus and minus, about %s: dirt or damp on a board or in the plug, or a "+
			"broken LED", ohms(best.Param))
	case fault.BadPlug:
		return fmt.Sprintf("about %s in the model's own plug or jack: clean it, look at its solder points",
			ohms(best.Param))
	}
	name := fmt.Sprintf("%q", c.Place)
	switch best.Class {
	case fault.OpenBranch:
		if best.Param > 1 {
			return fmt.Sprintf("%s: %.0f of its lights or segments are dark", name, best.Param)
		}
		return name + ": one of its lights or segments is dark (an LED, a wire or a solder point)"
	case fault.OpenJoint:
		return fmt.Sprintf("joint %s is open: all behind it is dark", name)
	case fault.OpenReturn:
		return fmt.Sprintf("return %s is open: all that comes back over it is dark", name)
	case fault.OpenWire:
		return name + ": all of it is dark: its wire or its solder point at the joint"
	case fault.UpstreamJoint:
		return fmt.Sprintf("joint %s has about %s where there should be none: all behind it is dim", name,
			ohms(best.Param))
	case fault.BadReturn:
		return fmt.Sprintf("return %s has about %s where there should be none: all that comes back over it is dim",
			name, ohms(best.Param))
	case fault.ShortedLED:
		return name + ": one LED of a chain is bridged: it is dark and its neighbours are brighter"
	case fault.BadJoint:
		return fmt.Sprintf("%s: about %s in its wire where there should be none: a cold solder point", name,
			ohms(best.Param))
	case fault.StuckLit:
		return name + ": it stays lit where it should blink (the board's output)"
	case fault.StuckDark:
		return name + ": it never lights (the board's output, or its wire)"
	case fault.DeadBoard:
		return fmt.Sprintf("board %s draws nothing: its own wire, or the board", name)
	}
	return name
}

// wouldNotShow says what may be wrong with a model that is as it left, the likeliest
// of it by name.
func (l *Library) wouldNotShow(post *posterior) string {
	best := -1
	for i, h := range l.Hypotheses {
		if h.slight && (best < 0 || post.single[i] > post.single[best]) {
			best = i
		}
	}
	h := l.Hypotheses[best]
	what := fmt.Sprintf("about %s in a joint of %q", ohms(h.Param), h.Place)
	switch h.Class {
	case fault.Leak:
		what = fmt.Sprintf("a leak of about %s", ohms(h.Param))
	case fault.BadPlug:
		what = fmt.Sprintf("about %s in its plug", ohms(h.Param))
	}
	return "too little to be seen or excluded: a joint that takes less than a tenth of what hangs on it, a leak of " +
		"a thousandth of it all; likeliest " + what
}

// ohms writes a resistance that is known to about half a decade.
func ohms(r float64) string {
	if r >= 1000 {
		return fmt.Sprintf("%.0f kohm", r/1000)
	}
	return fmt.Sprintf("%.0f ohm", r)
}

// closureOf is what has to be opened to reach a place.
func closureOf(p *plan.Plan, c Cause) string {
	g, _ := p.Group(c.Place)
	b, _ := p.Board(c.Place)
	j, _ := p.Joint(c.Place)
	r, _ := p.Return(c.Place)
	return cmp.Or(g.Closure, b.Closure, j.Closure, r.Closure)
}
