package plan

import (
	"fmt"
	"strings"
)

// maxJackVolts: beyond 60 V DC is no longer extra-low voltage (IEC 61140, from
// memory), and no model needs it.
const maxJackVolts = 60.0

var sources = []string{"adapter", "usb", "coin", "battery"}

// mainsWords are supplies that this program doesn't measure.
var mainsWords = []string{"ac", "dcc", "track", "transformer", "mains", "digital"}

func (p *parser) jacks(top *section) {
	p.jackOf, p.returnTo = map[string]string{}, map[string]string{}
	names := newNameBook(p.source)
	for _, e := range p.tables(top, "jack", "[jack.main]") {
		direct := p.directCurrent(e)
		s := p.table(e.val, fmt.Sprintf("jack %q", e.key), keysIn("jack")...)
		p.checkName(e.keyAt, "jack", e.key, false)
		names.enter(e.keyAt, "jack", e.key)
		p.jackOf[e.key], p.returnTo[e.key] = e.key, e.key
		p.plan.Jacks = append(p.plan.Jacks, p.jack(s, e, direct))
	}
	if len(p.plan.Jacks) == 0 {
		p.fail(len(p.text), "add [jack.main] with volts = 12.0 below it", "the plan has no jack to feed the model")
	}
}

// directCurrent reports AC and track power, in whatever way it was written.
func (p *parser) directCurrent(e entry) bool {
	direct := true
	words := func(t string) bool {
		for _, w := range strings.FieldsFunc(strings.ToLower(t), func(r rune) bool { return r < 'a' || r > 'z' }) {
			if contains(mainsWords, w) {
				return true
			}
		}
		return false
	}
	for _, k := range e.val.entries {
		if k.val.shape == textShape && words(k.val.text) && k.key != "plug" {
			direct = false
			p.fail(k.val.at, "feed the model from a regulated DC adapter, USB or a battery; AC, DCC and track power "+
				"are out of scope",
				"%s = %q: this program measures direct current only", k.key, k.val.text)
		}
	}
	return direct
}

func (p *parser) jack(s *section, e entry, direct bool) Jack {
	j := Jack{Name: e.key, Source: "adapter", Pos: p.place(e.keyAt),
		Plug: s.words("plug", "5.5 x 2.1 mm, centre plus")}
	if direct {
		j.Source = s.choice("source", "adapter", sources...)
	}
	s.into(&j.AdapterAmps, 1, "adapter_amps", over(0, 100), "1.5")
	if !direct || !s.must("volts", "12.0") {
		return j
	}
	s.into(&j.Volts, 1, "volts", over(0, maxJackVolts), "12.0")
	j.RangeAssumed = true
	// Regulated adapters and USB +-5 %; a battery from empty to fresh. Common
	// practice, no source.
	low, high := 0.95, 1.05
	switch j.Source {
	case "coin":
		low, high = 0.67, 1.1
	case "battery":
		low, high = 0.75, 1.1
	}
	j.LowVolts, j.HighVolts = low*j.Volts, high*j.Volts
	if !s.has("volts_range") {
		return j
	}
	const instead = "write volts_range = [11.4, 12.6]: lowest and highest, with volts between them"
	items, ok := s.list("volts_range", "[11.4, 12.6]")
	if !ok {
		return j
	}
	if len(items) != 2 {
		s.fail(s.at("volts_range"), instead, "volts_range must be two numbers")
		return j
	}
	lo, ok1 := s.numberAt(items[0], "the lower volts of volts_range", over(0, maxJackVolts), instead)
	hi, ok2 := s.numberAt(items[1], "the higher volts of volts_range", over(0, maxJackVolts), instead)
	switch {
	case !ok1 || !ok2 || j.Volts == 0:
	case lo > hi:
		s.fail(items[0].at, fmt.Sprintf("write volts_range = [%s, %s]", plainNumber(hi), plainNumber(lo)),
			"volts_range is upside down")
	case j.Volts < lo || j.Volts > hi:
		s.fail(items[0].at, fmt.Sprintf("write a range that holds %s, or change volts", plainNumber(j.Volts)),
			"volts_range %s to %s doesn't hold volts = %s", plainNumber(lo), plainNumber(hi), plainNumber(j.Volts))
	default:
		j.LowVolts, j.HighVolts, j.RangeAssumed = lo, hi, false
	}
	return j
}

func (p *parser) joints(top *section) {
	entries := p.tables(top, "joint", "[joint.keel]")
	names := p.branchNames("joint", entries)
	var all []Joint
	branches := newForest(p, "joint", "from", p.jackOf)
	for _, e := range entries {
		s := p.table(e.val, fmt.Sprintf("joint %q", e.key), keysIn("joint")...)
		if _, clash := p.jackOf[e.key]; clash {
			continue
		}
		j := Joint{Name: e.key, Pos: p.place(e.keyAt)}
		j.From = p.trunk(s, "from", "joint", names)
		j.Wire = p.wire(s)
		j.Holds = p.holds(s)
		j.Closure = p.closureNameIn(s, top)
		branches.add(e.key, j.From, s.at("from"))
		all = append(all, j)
	}
	for _, i := range branches.order() {
		p.plan.Joints = append(p.plan.Joints, all[i])
	}
}

func (p *parser) returns(top *section) {
	entries := p.tables(top, "return", `[return."brass mast"]`)
	names := p.branchNames("return", entries)
	var all []Return
	branches := newForest(p, "return", "to", p.returnTo)
	for _, e := range entries {
		s := p.table(e.val, fmt.Sprintf("return %q", e.key), keysIn("return")...)
		if _, clash := p.returnTo[e.key]; clash {
			continue
		}
		r := Return{Name: e.key, Pos: p.place(e.keyAt)}
		r.To = p.trunk(s, "to", "return", names)
		r.Wire = p.wire(s)
		r.Closure = p.closureNameIn(s, top)
		branches.add(e.key, r.To, s.at("to"))
		all = append(all, r)
	}
	for _, i := range branches.order() {
		p.plan.Returns = append(p.plan.Returns, all[i])
	}
}

// branchNames are what a branch of the tree may hang on: the jacks and all branches of
// its kind, joints or returns, none of them named twice.
func (p *parser) branchNames(kind string, entries []entry) []string {
	names := p.jackNames()
	taken := newNameBook(p.source)
	for _, j := range p.plan.Jacks {
		taken.seen[strings.ToLower(j.Name)] = named{"jack", j.Name, j.Pos.Line}
	}
	for _, e := range entries {
		p.checkName(e.keyAt, kind, e.key, false)
		taken.enter(e.keyAt, kind, e.key)
		names = append(names, e.key)
	}
	return names
}

// trunk is what a branch hangs on: what its key names, else the only jack.
func (p *parser) trunk(s *section, key, kind string, names []string) string {
	switch {
	case s.has(key):
		return p.known(s, key, kind+" or jack", names)
	case len(p.plan.Jacks) == 1:
		return p.plan.Jacks[0].Name
	}
	s.must(key, `"main"`)
	return ""
}

func (p *parser) closures(top *section) {
	entries := p.tables(top, "closure", "[closure.hull]")
	p.inside = map[string]string{}
	taken := newNameBook(p.source)
	for _, e := range entries {
		p.checkName(e.keyAt, "closure", e.key, true)
		taken.enter(e.keyAt, "closure", e.key)
	}
	var all []Closure
	names := p.closureNames(top)
	branches := newForest(p, "closure", "inside", map[string]string{"": ""})
	for _, e := range entries {
		s := p.table(e.val, fmt.Sprintf("closure %q", e.key), keysIn("closure")...)
		c := Closure{Holds: p.mustHold(s), Name: e.key, Pos: p.place(e.keyAt),
			Inside: p.known(s, "inside", "closure", names)}
		p.inside[c.Name] = c.Inside
		branches.add(e.key, c.Inside, s.at("inside"))
		all = append(all, c)
	}
	for _, i := range branches.order() {
		p.plan.Closures = append(p.plan.Closures, all[i])
	}
}

func (p *parser) jackNames() []string {
	var out []string
	for _, j := range p.plan.Jacks {
		out = append(out, j.Name)
	}
	return out
}

// mustHold reads what must be in a closure before it closes, besides what the
// plan knows of itself.
func (p *parser) mustHold(s *section) []string {
	const example = `["ballast", "light pipe of the name plate"]`
	items, ok := s.list("must_hold", example)
	if !ok {
		return nil
	}
	taken := newNameBook(p.source)
	var out []string
	for _, it := range items {
		switch {
		case it.shape != textShape:
			p.fail(it.at, "write must_hold = "+example, "what %s must hold must be texts, not %s", s.what, it.shape)
		case p.checkName(it.at, "item", it.text, false) && taken.enter(it.at, "item", it.text):
			out = append(out, it.text)
		}
	}
	if len(items) == 0 {
		p.fail(s.at("must_hold"), "name what must be in it, or leave must_hold out",
			"the list of what %s must hold is empty", s.what)
	}
	return out
}

// closureNames lists closures before they are read: joints may name them.
func (p *parser) closureNames(top *section) []string {
	var out []string
	for _, e := range p.tables(top, "closure", "") {
		out = append(out, e.key)
	}
	return out
}

func (p *parser) closureNameIn(s, top *section) string {
	return p.known(s, "closure", "closure", p.closureNames(top))
}
