package plan

import (
	"fmt"
	"math"
	"strings"
)

const (
	maxCount    = 10000
	maxBranches = 100000
	asFound     = "as found"
	lightsHint  = `write lights = [ { part = "strip warm white 12 V", segments = 6 } ], or lights = "as found" if ` +
		`nobody knows`
)

// groupLights reads what a group is made of. Volts is the supply there, 0 if unknown.
func (p *parser) groupLights(s *section, g *Group, volts float64) {
	e := s.n.get("lights")
	switch {
	case e == nil:
		if !s.meant["lights"] {
			p.fail(s.n.at, lightsHint, "%s has no lights", s.what)
		}
		return
	case e.val.shape == textShape && e.val.text == asFound:
		g.AsFound = true
		return
	case e.val.shape == tableShape && e.val.inline:
		p.fail(e.val.at, "put square brackets around it: lights = [ { … } ]", "lights are a list, even of one")
		return
	case e.val.shape != arrayShape:
		p.fail(e.val.at, lightsHint, "lights can't be %s", e.val.show())
		return
	case len(e.val.items) == 0:
		p.fail(e.val.at, lightsHint, "%s has no lights", s.what)
		return
	}
	branches := 0
	for i, it := range e.val.items {
		what := fmt.Sprintf("light %d of %s", i+1, s.what)
		if it.shape != tableShape {
			p.fail(it.at, lightsHint, "%s must be a table, not %s", what, it.shape)
			continue
		}
		raw := &section{source: p.source, n: it, what: what}
		if l, ok := p.light(raw, g, volts); ok {
			l.Pos = p.place(it.at)
			g.Lights = append(g.Lights, l)
			branches += l.Branches()
		}
	}
	if branches > maxBranches {
		p.fail(e.val.at, "split it into smaller groups", "%s has %d branches, more than %d", s.what, branches,
			maxBranches)
	}
}

// lightKeys lists what a light of a kind may say, besides its part's own keys.
func lightKeys(k PartKind) []string {
	return append(keysIn(string(k)), keysOf(k)...)
}

func (p *parser) light(raw *section, g *Group, volts float64) (Light, bool) {
	var part Part
	if p.ledsBesidePart(raw) {
		return Light{}, false
	}
	is := raw.onlyOne("part", "leds", "test_ohms")
	if is != "test_ohms" && raw.has("test_ohms") {
		return Light{}, false // reported
	}
	switch is {
	case "test_ohms":
		return p.testLoad(raw, g)
	case "part":
		name := raw.words("part", "strip warm white 12 V")
		if name == "" {
			return Light{}, false
		}
		var ok bool
		if part, ok = p.part(raw, "part", name, PartStrip, PartSMD, PartLED, PartLoad); !ok {
			return Light{}, false
		}
	case "leds":
		part = blankPart(PartLED)
	default:
		if !raw.has("behaves") {
			for _, e := range raw.n.entries {
				if near := nearest(e.key, []string{"part", "leds", "behaves", "test_ohms"}); near != "" {
					p.fail(e.keyAt, fmt.Sprintf("write %q", near), "unknown key %q", e.key)
					return Light{}, false
				}
			}
			p.fail(raw.n.at, `add part = "strip warm white 12 V", leds = [ … ], or behaves = "flicker"`,
				"%s doesn't say what it is", raw.what)
			return Light{}, false
		}
		part = blankPart(PartLoad)
	}
	s := p.table(raw.n, raw.what, lightKeys(part.Kind)...)
	own := part
	if !s.has("leds") {
		own = readPart(s, part)
		if !s.complete(&own) {
			return Light{}, false
		}
	}
	l := Light{Part: own.Name, Count: s.whole("count", 1, 1, maxCount), Source: own.Source,
		BranchSpread: Value{Nominal: 1, Share: own.Share, Source: own.Source}}
	ok := true
	switch own.Kind {
	case PartStrip, PartSMD:
		ok = p.resistored(s, &l, own, volts)
	case PartLED:
		ok = p.leds(s, &l, own, g, volts)
	case PartLoad:
		l.Kind, l.Envelope = Envelope, own.Envelope
		if l.Part == "" {
			l.Part = own.Envelope.Behaves
		}
	}
	p.reel(s, &l)
	return l, ok
}

// ledsBesidePart reports a number of LEDs beside a part, with the key that counts
// pieces of that part.
func (p *parser) ledsBesidePart(s *section) bool {
	e, name := s.n.get("leds"), s.n.get("part")
	if e == nil || name == nil || e.val.shape != numberShape || name.val.shape != textShape {
		return false
	}
	part, ok := p.book.get(name.val.text)
	if !ok {
		return false
	}
	n := int(e.val.number)
	instead := fmt.Sprintf("write in_series = %d for LEDs behind one resistor, or count = %d for so many with a "+
		"resistor each", n, n)
	switch {
	case part.Kind == PartStrip && part.InSeries > 0:
		instead = fmt.Sprintf("write segments = %d: %d LEDs at %d in a segment, if yours has %d between two marks",
			max(1, n/part.InSeries), n, part.InSeries, part.InSeries)
	case part.Kind != PartLED:
		instead = fmt.Sprintf("write count = %d", n)
	}
	p.fail(e.keyAt, instead, "leds is a list of different LEDs, not a number beside a part")
	return true
}

// reel: pieces of one part are taken for one reel unless the plan says otherwise.
func (p *parser) reel(s *section, l *Light) {
	l.Reel = l.Part
	r := s.words("reel", "bag 3")
	if r == "" {
		return
	}
	l.Reel = r
	if r != "mixed" || s.has("share") {
		return
	}
	// Mixed bags have little in common.
	l.Reel = "mixed " + l.Part
	l.BranchSpread.Share = min(0.25, l.BranchSpread.Share)
	for i := range l.Series {
		l.Series[i].Volts.Share = min(0.25, l.Series[i].Volts.Share)
	}
	l.Ohms.Share = min(0.25, l.Ohms.Share)
}

// resistored makes a strip or SMD: the resistor inside follows from the current
// at rated voltage. Its whole spread is BranchSpread; LEDs and resistor have none
// of their own, or it would count twice.
func (p *parser) resistored(s *section, l *Light, part Part, volts float64) bool {
	l.Kind, l.RatedVolts = SMD, part.RatedVolts
	if part.Kind == PartStrip {
		l.Kind = Strip
		s.must("segments", "6")
		l.Segments = s.whole("segments", 1, 1, maxCount)
		l.CopperOhms = Value{Nominal: part.CopperOhms, HalfWidth: 0.5 * part.CopperOhms,
			Assumed: !s.has("copper_ohms"), Source: practice}
	}
	l.BranchSpread.HalfWidth = part.Tolerance
	led, ok := p.book.get(part.LED)
	if !ok || led.Kind != PartLED {
		if s.has("led") {
			p.fail(s.at("led"), suggest(part.LED, p.book.names(PartLED), "LEDs"), "unknown LED %q", part.LED)
		}
		return false
	}
	n := part.InSeries
	vf := led.inside(part)
	if part.HoldVolts > 0 {
		return p.regulated(s, l, part, led, vf, volts)
	}
	if n == 0 {
		// Makers leave about a quarter of the voltage to the resistor.
		n = max(1, int(math.Floor(0.8*part.RatedVolts/vf)))
	}
	rest := part.RatedVolts - float64(n)*vf
	if rest <= 0 {
		p.fail(s.n.at, fmt.Sprintf("write leds_in_series = %d or less", max(1, int(part.RatedVolts/vf))),
			"%d LEDs in series need %.1f V, more than the %s V of part %q", n, float64(n)*vf,
			plainNumber(part.RatedVolts), part.Name)
		return false
	}
	one := led.inSeries(part)
	for range n {
		l.Series = append(l.Series, one)
	}
	l.Ohms = Value{Nominal: rest / part.Amps, Share: part.Share, Source: "from the current at rated voltage"}
	p.checkRated(s, part, volts)
	return true
}

// leastRegulatorVolts is what a regulator is taken to need at the least where the
// number of LEDs isn't said (common practice, no source).
const leastRegulatorVolts = 0.5

// regulated makes a strip whose segments hold a regulator. Its spread is that of
// the current that it holds; what its LEDs differ by moves the voltage from which
// it holds, and no current above that.
func (p *parser) regulated(s *section, l *Light, part, led Part, vf, volts float64) bool {
	at := s.n.at
	if s.has("holds_from_volts") {
		at = s.at("holds_from_volts")
	}
	n := part.InSeries
	if n == 0 {
		n = max(1, int((part.HoldVolts-leastRegulatorVolts)/vf))
	}
	switch rest := part.HoldVolts - float64(n)*vf; {
	case part.HoldVolts >= part.RatedVolts:
		p.fail(at, fmt.Sprintf("write holds_from_volts below %s", plainNumber(part.RatedVolts)),
			"part %q is made for %s V and would hold its current from %s V only",
			part.Name, plainNumber(part.RatedVolts), plainNumber(part.HoldVolts))
		return false
	case rest <= 0:
		p.fail(at, fmt.Sprintf("write leds_in_series = %d or less, or a higher holds_from_volts",
			max(1, int(part.HoldVolts/vf))),
			"%d LEDs in series need %.1f V, which leaves nothing of %s V for the regulator of part %q",
			n, float64(n)*vf, plainNumber(part.HoldVolts), part.Name)
		return false
	default:
		l.Regulator = Regulator{Amps: part.Amps, HoldVolts: rest}
	}
	one := led.inSeries(part)
	one.Volts.HalfWidth = led.SpreadVolts
	for range n {
		l.Series = append(l.Series, one)
	}
	l.Ohms = Value{Source: "none: a regulator holds its current"}
	p.checkRated(s, part, volts)
	return true
}

// inside is the forward voltage of the LEDs of a part at its rated current, of which
// each chip has its share, V.
func (led Part) inside(part Part) float64 {
	return forwardVolts(led.Points, part.Amps/float64(max(1, part.Chips)))
}

// inSeries is the LED inside a strip or SMD: one point, at its working current,
// so that the part draws what it's said to draw.
func (led Part) inSeries(part Part) LED {
	v := led.inside(part)
	return LED{
		Part: led.Name, Colour: led.Colour, Points: []VoltsAtAmps{{v, part.Amps}},
		Volts: Value{Nominal: v, Share: part.Share, Source: led.Source}, TempcoVPerK: led.TempcoVPerK,
		Conducts: led.Conducts, Source: led.Source, // the rated voltage guards it, no rating of its own
	}
}

func (p *parser) checkRated(s *section, part Part, volts float64) {
	if volts == 0 || math.Abs(volts-part.RatedVolts) <= 0.12*part.RatedVolts {
		return
	}
	does := "it will be dim or dark"
	if volts > part.RatedVolts {
		does = "it will burn out"
	}
	p.warn(s.n.at, "use a part for this voltage, or a converter", "%s: part %q is made for %s V and gets %s V; %s",
		s.what, part.Name, plainNumber(part.RatedVolts), plainNumber(volts), does)
}

// leds makes LEDs in series with the maker's own resistor.
func (p *parser) leds(s *section, l *Light, part Part, g *Group, volts float64) bool {
	l.Kind = LEDs
	var parts []Part
	if s.has("leds") {
		if parts = p.mixed(s); parts == nil {
			return false
		}
	} else {
		for range s.whole("in_series", 1, 1, 60) {
			parts = append(parts, part)
		}
	}
	var names, sources []string
	need := 0.0
	for i, pt := range parts {
		last := pt.Points[len(pt.Points)-1]
		l.Series = append(l.Series, LED{
			Part: pt.Name, Colour: pt.Colour, Points: pt.Points,
			Volts:       Value{Nominal: last.Volts, HalfWidth: pt.SpreadVolts, Share: pt.Share, Source: pt.Source},
			TempcoVPerK: pt.TempcoVPerK, MaxAmps: pt.MaxAmps, Conducts: pt.Conducts, Source: pt.Source,
		})
		need += forwardVolts(pt.Points, 0.001)
		if i == 0 || pt.Name != parts[i-1].Name {
			names, sources = append(names, pt.Name), append(sources, pt.Source)
		}
	}
	l.Source = strings.Join(sources, "; ")
	l.Part = strings.Join(names, " + ")
	p.resistor(s, l, g)
	if volts > 0 && need >= volts {
		p.warn(s.n.at, "put fewer LEDs in series", "%s: %d LEDs in series need %.1f V to light and get %s V", s.what,
			len(parts), need, plainNumber(volts))
	}
	return true
}

// resistor reads ohms. An output may have a resistor of its own; a joint hasn't.
func (p *parser) resistor(s *section, l *Light, g *Group) {
	l.Ohms = Value{Share: 0.5, Assumed: true, Source: "the board's own"}
	if !s.has("ohms") && !s.meant["ohms"] && g.Board == "" {
		p.fail(s.n.at, "add ohms = 470 (the resistor of each branch); ohms = 0 only if there is none on purpose",
			"%s has no resistor: LEDs without one burn out", s.what)
	}
	if s.into(&l.Ohms.Nominal, 1, "ohms", between(0, 1e7), "470") {
		l.Ohms.HalfWidth, l.Ohms.Assumed, l.Ohms.Source = 0.05*l.Ohms.Nominal, false, "the maker's own value"
		if l.Ohms.Nominal == 0 && g.Board == "" {
			p.warn(s.at("ohms"), "add a resistor, if there is none elsewhere", "%s has no resistor", s.what)
		}
	}
	if t, ok := s.number("ohms_tolerance", between(0, 0.9), "0.05"); ok {
		l.Ohms.HalfWidth = t * l.Ohms.Nominal
	}
	s.into(&l.OhmsWatts, 1, "watts", over(0, 100), "0.25")
}

// mixed reads leds = ["red 1.8 mm", "amber 1.8 mm"].
func (p *parser) mixed(s *section) []Part {
	for _, k := range append([]string{"in_series"}, keysOf(PartLED)...) {
		if s.has(k) {
			p.fail(s.keyAt(k), "write one part with in_series, or give the part a name of its own under [part.\"…\"]",
				"%s can't stand beside leds", k)
		}
	}
	items, ok := s.list("leds", `["red 1.8 mm", "amber 1.8 mm"]`)
	if !ok {
		return nil
	}
	if len(items) == 0 || len(items) > 60 {
		p.fail(s.at("leds"), `write leds = ["red 1.8 mm", "amber 1.8 mm"]`, "leds must be 1 to 60 parts")
		return nil
	}
	var out []Part
	for _, it := range items {
		if it.shape != textShape {
			p.fail(it.at, `write leds = ["red 1.8 mm", "amber 1.8 mm"]`, "leds must be names of parts, not %s",
				it.shape)
			return nil
		}
		part, ok := p.partAt(it.at, it.text, PartLED)
		if !ok {
			return nil
		}
		out = append(out, part)
	}
	return out
}
