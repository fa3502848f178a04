package plan

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
)

// Draft is a plan in the making, in the maker's own units: what was asked for, and
// nothing assumed. Text writes it as a commented plan file.
type Draft struct {
	Build, Scale string // Scale as "1:96"; empty: not said
	Jack         DraftJack
	Closures     []DraftClosure // in the order in which they were told
	Joints       []DraftJoint   // in the order in which they were told
	Boards       []DraftBoard   // in the order in which they were told
	Groups       []DraftGroup   // in the order in which they were told
}

// DraftJack is what feeds the model.
type DraftJack struct {
	Volts       float64 // V
	Source      string  // adapter, usb, coin, battery
	AdapterAmps float64 // A; 0: not known
	Plug        string  // in the maker's words; empty: not known
}

// MainJack is the jack of a plan that was asked for: nobody gave it a name.
const MainJack = "main"

// DraftClosure is what is glued shut.
type DraftClosure struct {
	Name, Inside string // Inside: the closure that it closes inside of; empty: none
}

// DraftJoint is a solder point; its wire is assumed.
type DraftJoint struct {
	Name, From string // From: a joint, or the jack: "main"
}

// DraftBoard is a board; it knows what its part knows.
type DraftBoard struct {
	Name, Part, Joint, Closure string // Part: a part of the book; Joint, empty: the jack
}

// DraftGroup is a group of one kind of light.
type DraftGroup struct {
	Name, Closure string
	Joint, Board  string
	Output        int // of the board, from 1
	Wire          DraftWire
	Light         DraftLight
	See           string // what should be seen, in the maker's words
}

// DraftWire is what is known of a group's wire; the zero value is nothing.
type DraftWire struct {
	Colour, Pin string  // of its insulation, and where it ends, in the maker's words
	LengthMm    float64 // mm, one way; 0: not known
}

// DraftLight is one kind of light; what doesn't belong to its kind is zero.
type DraftLight struct {
	AsFound  bool    // no plan of it: all else is zero
	Part     string  // a part of the book, by its name
	Segments int     // of a strip
	InSeries int     // LEDs behind one resistor
	Ohms     float64 // ohm; of each branch of bare LEDs
	HasOhms  bool    // Ohms was said, though it may be 0
	Count    int     // pieces or branches in parallel
	TestOhms float64 // ohm, across the end of a sealed wire
	Behaves  string  // of a load without a pace: flicker, welding, ...; empty: it has none of that
	LowMA    float64 // mA
	MeanMA   float64 // mA
	HighMA   float64 // mA
}

// Text writes the plan with its remarks. It parses without problems if the draft's
// names and parts are sound; the caller sees by Parse.
func (d Draft) Text() []byte {
	var w draftWriter
	w.remark("The plan of one model: what feeds it, where its wires part, what lights there are,",
		"and what closes over them for good. Change what differs from yours; what isn't said",
		`is assumed, with a wide band. "sealworthy explain KEY" tells each key.`)
	w.line("build = %s", tomlText(d.Build))
	if d.Scale != "" {
		w.line("scale = %s", tomlText(d.Scale))
	}
	w.remark("", "Where the model is fed. Direct current only.")
	w.line("[jack." + MainJack + "]")
	w.line("volts = %s", plainNumber(d.Jack.Volts))
	w.line("# volts_range = [%s, %s]   # what the source may really give", plainNumber(roundOff(0.95*d.Jack.Volts)),
		plainNumber(roundOff(1.05*d.Jack.Volts)))
	w.line("source = %s", tomlText(d.Jack.Source))
	if d.Jack.AdapterAmps > 0 {
		w.line("adapter_amps = %s", plainNumber(d.Jack.AdapterAmps))
	}
	if d.Jack.Plug != "" {
		w.line("plug = %s", tomlText(d.Jack.Plug))
	}
	if len(d.Closures) > 0 {
		w.remark("", "What is glued shut, and what closes inside what. Things that must be in it and that no",
			`test shows are listed with must_hold = [ "ballast" ].`)
	}
	for _, c := range d.Closures {
		w.line("[closure.%s]", bareOrQuoted(c.Name))
		if c.Inside != "" {
			w.line("inside = %s", tomlText(c.Inside))
		}
	}
	if len(d.Joints) > 0 {
		w.remark("", "Solder points from which wires go on. What you know of the wire makes bands narrow:",
			"wire = { mm = 0.4, length_mm = 350 }")
	}
	for _, j := range d.Joints {
		w.line("[joint.%s]", bareOrQuoted(j.Name))
		w.line("from = %s", tomlText(j.From))
	}
	if len(d.Boards) > 0 {
		w.remark("", "Boards. The part knows the usual values; what you read on yours goes beside it:",
			"standing_mA = 4, paces = [ { name = \"blink\", period_s = 1.2, duty = 0.45 } ]")
	}
	for _, b := range d.Boards {
		w.line("[board.%s]", bareOrQuoted(b.Name))
		w.line("part = %s", tomlText(b.Part))
		w.said("joint", b.Joint)
		w.said("closure", b.Closure)
	}
	if len(d.Groups) > 0 {
		w.remark("", "The groups: lights that are judged together. What is known of a wire goes into it:",
			"wire = { mm = 0.2, length_mm = 220 }; see = what you should see when it's lit.")
	}
	for i, g := range d.Groups {
		if i > 0 {
			w.line("")
		}
		w.group(g)
	}
	return w.b.Bytes()
}

type draftWriter struct{ b bytes.Buffer }

func (w *draftWriter) line(format string, a ...any) { fmt.Fprintf(&w.b, format+"\n", a...) }

func (w *draftWriter) remark(lines ...string) {
	for _, l := range lines {
		if l == "" {
			w.line("")
			continue
		}
		w.line("# %s", l)
	}
}

func (w *draftWriter) said(key, text string) {
	if text != "" {
		w.line("%s = %s", key, tomlText(text))
	}
}

func (w *draftWriter) group(g DraftGroup) {
	w.line("[[group]]")
	w.line("name = %s", tomlText(g.Name))
	w.said("closure", g.Closure)
	w.said("joint", g.Joint)
	if g.Board != "" {
		w.said("board", g.Board)
		w.line("output = %d", max(1, g.Output))
	}
	var wire []string
	if g.Wire.LengthMm > 0 {
		wire = append(wire, "length_mm = "+plainNumber(g.Wire.LengthMm))
	}
	if g.Wire.Colour != "" {
		wire = append(wire, "colour = "+tomlText(g.Wire.Colour))
	}
	if g.Wire.Pin != "" {
		pin := tomlText(g.Wire.Pin)
		if n, err := strconv.Atoi(g.Wire.Pin); err == nil && n >= 0 {
			pin = strconv.Itoa(n)
		}
		wire = append(wire, "pin = "+pin)
	}
	if wire != nil {
		w.line("wire = { %s }", strings.Join(wire, ", "))
	}
	w.line("lights = %s", g.Light.text())
	w.said("see", g.See)
}

func (l DraftLight) text() string {
	if l.AsFound {
		return tomlText(asFound)
	}
	var out []string
	set := func(key, value string) { out = append(out, key+" = "+value) }
	switch {
	case l.TestOhms > 0:
		set("test_ohms", plainNumber(l.TestOhms))
	case l.Behaves != "":
		set("behaves", tomlText(l.Behaves))
		set("low_mA", plainNumber(l.LowMA))
		set("mean_mA", plainNumber(l.MeanMA))
		set("high_mA", plainNumber(l.HighMA))
	default:
		set("part", tomlText(l.Part))
	}
	if l.Segments > 0 {
		set("segments", strconv.Itoa(l.Segments))
	}
	if l.InSeries > 1 {
		set("in_series", strconv.Itoa(l.InSeries))
	}
	if l.HasOhms {
		set("ohms", plainNumber(l.Ohms))
	}
	if l.Count > 1 {
		set("count", strconv.Itoa(l.Count))
	}
	return "[ { " + strings.Join(out, ", ") + " } ]"
}

// NumberOf reads a number that a key of the plan takes, with or without a unit: for
// "length_mm" "18 cm" is 180. False: it's none, or in a unit of something else.
func NumberOf(key, text string) (float64, bool) {
	s, ok := numberFor(key, text)
	if !ok {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// NameProblem says why a name can't stand for a group, board, joint, jack or closure
// (kind), with what to write instead; "" when it can.
func NameProblem(kind, name string) (what, instead string) {
	if what, instead = nameFault(name, kind == "build" || kind == "closure"); what != "" {
		return what, instead
	}
	if isPlace(kind) && isAnswer(name) {
		return "is an answer that a question of the test understands", fmt.Sprintf("write %q", name+" lamps")
	}
	return "", ""
}

// Closest are up to n parts whose names hold most of the written words, likeliest first.
func (b *Book) Closest(written string, n int, kinds ...PartKind) []string {
	return closest(written, b.names(kinds...), n)
}
