package sketch

import (
	"fmt"
	"slices"
	"strconv"

	"sealworthy/compare/plan"
)

// Input is how a field is filled in.
type Input string

// The ways to fill a field in.
const (
	Typed  Input = "typed"  // text
	Number Input = "number" // with or without a unit
	Whole  Input = "whole"  // a count
	List   Input = "list"   // texts with commas between
	Choice Input = "choice" // one of Choices
	Part   Input = "part"   // one of the cards of Kinds
)

// Field is one thing that can be said of a place.
type Field struct {
	// in the plan's file; of a choice of what feeds a group, its table and "fed by"
	Path    string `json:"path"`
	Key     string `json:"key"`   // in that path
	Label   string `json:"label"` // what the field is called, in words
	Value   string `json:"value"` // as the plan says it; empty: it doesn't
	Input   Input  `json:"input"`
	Unit    string `json:"unit,omitempty"`    // of Value; empty: it has none
	Default string `json:"default,omitempty"` // what holds where nothing is said
	// what it means, in words, as the key says of itself
	Says    string   `json:"says,omitempty"`
	Example string   `json:"example,omitempty"` // a Value that could be
	Choices []Option `json:"choices,omitempty"` // empty: it's typed
	// of parts that may be chosen; empty: it's no choice of a part
	Kinds []plan.PartKind `json:"kinds,omitempty"`
	Must  bool            `json:"must"`            // it can't be left out
	Light int             `json:"light,omitempty"` // of which kind of light of a group, from 1
	Of    string          `json:"of,omitempty"`    // the item of a list that it's of; see Items
}

// Option is one choice.
type Option struct {
	Value string `json:"value"` // as it stands in the file
	Says  string `json:"says"`  // what it is, in words
}

// fedBy is the key of what feeds a group: a joint, or a board and its output.
const fedBy = "fed by"

// form collects the fields of a place.
type form struct {
	p    *plan.Plan
	said plan.Said
	at   Place
	out  []Field
}

// Fields are what can be said of a place, in the order in which a maker thinks of it.
// The error says that the plan has no such place.
func Fields(p *plan.Plan, said plan.Said, at Place) ([]Field, error) {
	if !Has(p, said, at) {
		return nil, fmt.Errorf("the plan has no %s %q", at.Kind, at.Name)
	}
	f := &form{p: p, said: said, at: at}
	f.out = append(f.out, Field{Path: at.Path(), Key: "name", Label: "name", Value: at.Name, Input: Typed, Must: true})
	switch at.Kind {
	case "jack":
		f.key("volts", "volts", Number)
		f.key("adapter_amps", "adapter", Number)
		f.choice("source", "source", false, []Option{{"adapter", "an adapter"}, {"usb", "USB"},
			{"battery", "a battery"}, {"coin", "a coin cell"}})
		f.key("plug", "plug, as: 5.5 x 2.1 mm, centre plus", Typed)
	case "closure":
		f.choice("inside", "closes inside of", false, f.closures())
		f.key("must_hold", "must be in it", List)
	case "joint":
		f.choice("from", "fed by", len(p.Jacks) > 1, f.feeds())
		f.holds()
	case "return":
		f.choice("to", "leads to", len(p.Jacks) > 1, f.returns())
	case "board":
		f.key("part", "part", Part, plan.PartBoard)
		f.choice("joint", "fed by", len(p.Jacks) > 1, f.feeds())
		f.key("standing_mA", "draws itself", Number)
		f.boardLists()
	case "group":
		f.group()
	}
	if at.Kind != "jack" && at.Kind != "closure" {
		f.choice("closure", "closes under", false, f.closures())
		f.wire()
	}
	return headed(f.out, itemsOf(p, said, at)), nil
}

// add adds a field unless a choice of it would be none.
func (f *form) add(table string, x Field) {
	if k, err := plan.KeyOf(table, x.Key); err == nil {
		x.Unit, x.Default, x.Says, x.Example = k.Unit, k.Default, k.Says, k.Example
	}
	if v, ok := f.said.At(x.Path); ok && x.Value == "" {
		x.Value = v
	}
	f.out = append(f.out, x)
}

func (f *form) key(key, label string, in Input, kinds ...plan.PartKind) {
	k, _ := plan.KeyOf(f.at.Kind, key)
	f.add(f.at.Kind, Field{Path: f.at.Path() + "." + key, Key: key, Label: label, Input: in, Kinds: kinds,
		Must: k.Default == "" && in == Number})
}

// choice adds one of several; where there is nothing to choose and nothing said, none.
func (f *form) choice(key, label string, must bool, of []Option) {
	x := Field{Path: f.at.Path() + "." + key, Key: key, Label: label, Input: Choice, Choices: of, Must: must}
	if len(of) == 0 && !f.said.Has(x.Path) || len(of) < 2 && must {
		return
	}
	f.add(f.at.Kind, x)
}

func (f *form) closures() (out []Option) {
	for _, c := range f.p.Closures {
		if at := (Place{"closure", c.Name}); f.said.Has(at.Path()) && at != f.at {
			out = append(out, Option{c.Name, c.Name})
		}
	}
	return out
}

// feeds are what can feed something: jacks and joints, but not what hangs on itself.
func (f *form) feeds() (out []Option) {
	for _, j := range f.p.Jacks {
		out = append(out, Option{j.Name, "jack " + j.Name})
	}
	for _, j := range f.p.Joints {
		if f.at.Kind != "joint" || !behind(f.p, j.Name, f.at.Name) {
			out = append(out, Option{j.Name, j.Name})
		}
	}
	return out
}

// behind: a joint is another one, or hangs on it.
func behind(p *plan.Plan, joint, on string) bool {
	return slices.Contains(p.UpFrom(joint), on)
}

func (f *form) returns() (out []Option) {
	for _, j := range f.p.Jacks {
		out = append(out, Option{j.Name, "jack " + j.Name})
	}
	for _, r := range f.p.Returns {
		if f.at.Kind != "return" || r.Name != f.at.Name {
			out = append(out, Option{r.Name, r.Name})
		}
	}
	return out
}

func (f *form) group() {
	lights := f.at.Path() + ".lights"
	if v, ok := f.said.At(lights); ok && v == "as found" {
		f.out = append(f.out, Field{Path: lights, Key: "lights", Label: "part", Value: v, Input: Part, Light: 1,
			Kinds: []plan.PartKind{plan.PartStrip, plan.PartSMD, plan.PartLED}, Must: true})
	}
	for i := range f.said.Len(lights) {
		f.light(i, fmt.Sprintf("%s[%d]", lights, i))
	}
	f.fedBy()
	if len(f.p.Returns) > 0 {
		f.choice("return", "minus goes to", false, f.returns())
	}
	f.key("see", "what you should see", Typed)
}

// lightFields are what is asked of each kind of light.
var lightFields = map[plan.LightKind][]Field{
	plan.Strip: {{Key: "segments", Label: "segments", Input: Whole, Must: true},
		{Key: "count", Label: "pieces of so many", Input: Whole}},
	plan.SMD: {{Key: "count", Label: "how many", Input: Whole}},
	plan.LEDs: {{Key: "in_series", Label: "LEDs on one resistor", Input: Whole},
		{Key: "ohms", Label: "resistor", Input: Number}, {Key: "count", Label: "such branches", Input: Whole}},
	plan.TestLoad: {{Key: "test_ohms", Label: "resistor for the test", Input: Number, Must: true}},
	plan.Envelope: {{Key: "low_mA", Label: "draws at least", Input: Number},
		{Key: "mean_mA", Label: "on average", Input: Number}, {Key: "high_mA", Label: "at most", Input: Number}},
}

// tableOf is the table of keys of each kind of light.
var tableOf = map[plan.LightKind]string{plan.Strip: "strip", plan.SMD: "smd", plan.LEDs: "led", plan.TestLoad: "test",
	plan.Envelope: "partload"}

func (f *form) light(i int, path string) {
	l, ok := f.lightAt(i)
	if !ok {
		return
	}
	if f.said.Has(path + ".part") {
		f.add(tableOf[l.Kind],
			Field{Path: path + ".part", Key: "part", Label: "part", Input: Part, Light: i + 1, Must: true,
				Kinds: []plan.PartKind{plan.PartStrip, plan.PartSMD, plan.PartLED}})
	}
	for _, x := range lightFields[l.Kind] {
		if x.Key == "in_series" && f.said.Has(path+".leds") {
			continue
		}
		x.Path, x.Light = path+"."+x.Key, i+1
		f.add(tableOf[l.Kind], x)
	}
	if f.said.Has(path + ".leds") {
		f.add("led", Field{Path: path + ".leds", Key: "leds", Label: "LEDs on one resistor", Input: List, Light: i + 1,
			Must: true})
	}
}

// lightAt is a light of the group as the plan reads it.
func (f *form) lightAt(i int) (plan.Light, bool) {
	if g, ok := f.p.Group(f.at.Name); ok && i < len(g.Lights) {
		return g.Lights[i], true
	}
	return plan.Light{}, false
}

// fedBy asks what feeds a group: a jack, a joint, or an output of a board.
func (f *form) fedBy() {
	x := Field{Path: f.at.Path() + "." + fedBy, Key: fedBy, Label: "fed by", Input: Choice, Choices: Feeds(f.p),
		Must: true}
	if g, ok := f.p.Group(f.at.Name); ok {
		x.Value = feedValue(g.Joint, g.Board, g.Output)
	}
	f.out = append(f.out, x)
}

// Feeds are what can feed a group.
func Feeds(p *plan.Plan) (out []Option) {
	for _, j := range p.Jacks {
		out = append(out, Option{feedValue(j.Name, "", 0), "jack " + j.Name})
	}
	for _, j := range p.Joints {
		out = append(out, Option{feedValue(j.Name, "", 0), j.Name})
	}
	for _, b := range p.Boards {
		for _, o := range b.Outputs {
			says := "board " + b.Name
			if len(b.Outputs) > 1 {
				says += fmt.Sprintf(", output %d", o.Number)
			}
			out = append(out, Option{feedValue("", b.Name, o.Number), says})
		}
	}
	return out
}

// feedValue writes what feeds a group as one word.
func feedValue(joint, board string, output int) string {
	if board != "" {
		return strconv.Itoa(output) + " of " + board
	}
	return "joint " + joint
}

// wire adds what is known of the wire to a place, its size as it's said.
func (f *form) wire() {
	path := f.at.Path() + ".wire."
	size := Field{Key: "mm", Label: "wire, copper thick"}
	switch {
	case f.said.Has(path + "awg"):
		size = Field{Key: "awg", Label: "wire, gauge"}
	case f.said.Has(path + "mm2"):
		size = Field{Key: "mm2", Label: "wire, copper area"}
	}
	for _, x := range []Field{{Key: "length_mm", Label: "wire, length", Input: Number},
		{Key: size.Key, Label: size.Label, Input: Number},
		{Key: "colour", Label: "wire, colour", Input: Typed}, {Key: "pin", Label: "wire, pin", Input: Typed}} {
		x.Path = path + x.Key
		f.add("wire", x)
	}
}
