package sketch

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// Item is one of several that a place lists: what a joint holds, a kind of light of a
// group, an output or a pace of a board.
type Item struct {
	Path string `json:"path"` // of it in the plan's file, as Edit takes it
	Says string `json:"says"` // "schottky diode", "output 2"
}

// itemsOf are the items of a place as its plan lists them, by the name of the list.
func itemsOf(p *plan.Plan, said plan.Said, at Place) map[string][]Item {
	out := map[string][]Item{}
	put := func(list string, says []string) {
		for i := range min(said.Len(at.Path()+"."+list), len(says)) {
			out[list] = append(out[list], Item{fmt.Sprintf("%s.%s[%d]", at.Path(), list, i), says[i]})
		}
	}
	for _, j := range p.Joints {
		if at == (Place{"joint", j.Name}) {
			put("holds", each(j.Holds, func(_ int, h plan.Hold) string { return h.Text }))
		}
	}
	for _, g := range p.Groups {
		if at == (Place{"group", g.Name}) {
			put("lights", each(g.Lights, func(_ int, l plan.Light) string { return words.Lights(l) }))
		}
	}
	for _, b := range p.Boards {
		if at == (Place{"board", b.Name}) {
			put("outputs", each(b.Outputs, func(i int, _ plan.Output) string { return fmt.Sprintf("output %d", i+1) }))
			put("paces", each(b.Paces, func(_ int, x plan.Pace) string { return "pace " + x.Name }))
		}
	}
	return out
}

func each[T any](of []T, say func(int, T) string) (out []string) {
	for i, x := range of {
		out = append(out, say(i, x))
	}
	return out
}

// Items are those of a place that can be taken out. Of outputs it's the last alone: what
// hangs on those behind it would hang on others.
func Items(p *plan.Plan, said plan.Said, at Place) (out []Item) {
	lists := itemsOf(p, said, at)
	out = append(out, lists["holds"]...)
	if len(lists["lights"]) > 1 { // a group has one at least
		out = append(out, lists["lights"]...)
	}
	if n := len(lists["outputs"]); n > 1 {
		out = append(out, lists["outputs"][n-1])
	}
	return append(out, lists["paces"]...)
}

// TakeOut is the change that takes an item out; with the last one its list goes.
func TakeOut(p *plan.Plan, said plan.Said, at Place, path string) (plan.Change, error) {
	if !slices.ContainsFunc(Items(p, said, at), func(x Item) bool { return x.Path == path }) {
		return plan.Change{}, fmt.Errorf("%s %s has nothing there that can be taken out", at.Kind, at.Name)
	}
	list := path[:strings.LastIndex(path, "[")]
	if said.Len(list) == 1 {
		return plan.Drop(list), nil
	}
	return plan.Drop(path), nil
}

// Another is one more that a place may list, to be filled in: Fields by their keys, and
// where there are Cards one of them under "part".
type Another struct {
	List   string          // holds, lights, outputs, paces
	Says   string          // "a pace"
	Kinds  []plan.PartKind // of parts that may be chosen; empty: it's no choice of a part
	Cards  []Card          // of what a joint may hold
	Fields []Field
}

// Part of a filled-in Another is the card that was chosen.
const partOf = "part"

// Others are what can be added to the lists of a place.
func Others(p *plan.Plan, said plan.Said, at Place) []Another {
	field := func(table, key, label string, in Input, must bool) Field {
		f := Field{Path: key, Key: key, Label: label, Input: in, Must: must}
		if k, err := plan.KeyOf(table, key); err == nil {
			f.Unit, f.Example, f.Default = k.Unit, k.Example, k.Default
		}
		return f
	}
	switch at.Kind {
	case "joint":
		return []Another{{List: "holds",
			Says:  "a diode, fuse, switch, plug or converter that all behind it is fed through",
			Cards: holdCards(), Fields: []Field{
				field("fuse", "amps", "rated for (a fuse needs it)", Number, false),
				field("converter", "out_volts", "gives (a converter needs it)", Number, false)}}}
	case "group":
		if v, _ := said.At(at.Path() + ".lights"); v == "as found" {
			return nil
		}
		return []Another{{List: "lights", Says: "a second kind of light in this group",
			Kinds:  []plan.PartKind{plan.PartStrip, plan.PartSMD, plan.PartLED},
			Fields: []Field{{Path: "count", Key: "count", Label: "how many: segments, or pieces", Input: Whole}}}}
	case "board":
		return []Another{
			{List: "outputs", Says: "an output", Fields: []Field{
				field("output", "max_mA", "gives at most", Number, true), field("output", "ohms", "its own resistor",
					Number, false)}},
			{List: "paces", Says: "a pace", Fields: []Field{
				field("pace", "name", "its name", Typed, true), field("pace", "period_s",
					"from one lighting up to the next", Number, true),
				field("pace", "duty", "lit share of it", Number, false)}},
		}
	}
	return nil
}

// holdCards are what a joint can hold, in a maker's words, by the kinds that a plan takes.
func holdCards() (out []Card) {
	for _, x := range []struct{ name, looks, figures string }{
		{"silicon diode", "a diode, against a plug turned round", "drops 0.7 V"},
		{"schottky diode", "a diode, against a plug turned round", "drops 0.3 V"},
		{"resettable fuse", "a fuse, for a short inside the model", "comes back when it's cold"},
		{"glass fuse", "a fuse, for a short inside the model", "to be replaced"},
		{"blade fuse", "a fuse, for a short inside the model", "to be replaced"},
		{"slide switch", "a switch, between two halves of a model", "0.06 ohm"},
		{"two-pin plug", "a plug and its socket", "0.06 ohm"},
		{"step-down converter", "a converter to another voltage", "gives less than it gets"},
		{"step-up converter", "a converter to another voltage", "gives more than it gets"},
		{"linear converter", "a converter to another voltage", "burns what is too much"},
	} {
		_, kind := holdOf(x.name)
		out = append(out, Card{Name: x.name, Looks: x.looks, Figures: x.figures, Shape: words.Shape(kind), Fits: true})
	}
	return out
}

// holdOf parts "schottky diode" into what kind of which.
func holdOf(name string) (type_, kind string) {
	i := strings.LastIndex(name, " ")
	return name[:max(i, 0)], name[i+1:]
}

// Listed are the changes that add to a list of a place what was filled in, by the keys of
// its fields. Where a board's own list takes the place of its part's, that is written out
// before it. What hung on its only output goes on hanging on the first.
func Listed(p *plan.Plan, said plan.Said, book *plan.Book, at Place, list string,
	filled map[string]string) ([]plan.Change, error) {
	i := slices.IndexFunc(Others(p, said, at), func(x Another) bool { return x.List == list })
	if i < 0 {
		return nil, fmt.Errorf("nothing can be added to the %s of %s %s", list, at.Kind, at.Name)
	}
	x := Others(p, said, at)[i]
	if bad := Unread(x.Fields, filled); bad != nil {
		return nil, fmt.Errorf("%s", strings.Join(bad, "; "))
	}
	t, err := x.table(book, filled)
	if err != nil {
		return nil, err
	}
	path := at.Path() + "." + list
	var out []plan.Change
	for _, g := range p.Groups {
		if path := plan.PathOf("group", g.Name, "output"); list == "outputs" && g.Board == at.Name && !said.Has(path) {
			out = append(out, plan.Put(path, 1))
		}
	}
	if n := said.Len(path); n > 0 {
		return append(out, plan.Put(fmt.Sprintf("%s[%d]", path, n), t)), nil
	}
	return append(out, plan.Put(path, append(asItIs(p, at, list), t))), nil
}

// table is what was filled in as the plan takes it.
func (x Another) table(book *plan.Book, filled map[string]string) (plan.Table, error) {
	var t plan.Table
	put := func(as string, f Field) {
		if v := strings.Join(strings.Fields(filled[f.Path]), " "); v != "" {
			t = append(t, plan.KeyValue{Key: as, Value: valueOf(f, v)})
		}
	}
	switch x.List {
	case "lights":
		light, err := lightOf(book, filled[partOf])
		if err != nil {
			return nil, err
		}
		return counted(light, strings.TrimSpace(filled["count"]))
	case "holds":
		type_, kind := holdOf(filled[partOf])
		if !slices.ContainsFunc(x.Cards, func(c Card) bool { return c.Name == filled[partOf] }) {
			return nil, fmt.Errorf("choose what it is")
		}
		t = plan.Table{{Key: kind, Value: type_}}
		for _, f := range x.Fields {
			switch {
			case kind == "converter" && f.Key == "amps":
				put("max_amps", f)
			case kind == "converter" || f.Key == "amps":
				put(f.Key, f)
			}
		}
		return t, nil
	}
	for _, f := range x.Fields {
		put(f.Key, f)
	}
	return t, nil
}

// asItIs are the outputs or paces that a board has from its part, as its plan would say
// them.
func asItIs(p *plan.Plan, at Place, list string) (out []plan.Table) {
	i := slices.IndexFunc(p.Boards, func(b plan.Board) bool { return at == Place{"board", b.Name} })
	if i < 0 || p.Boards[i].Part == "own values" {
		return nil
	}
	b := p.Boards[i]
	switch list {
	case "outputs":
		for _, o := range b.Outputs {
			t := plan.Table{{Key: "max_mA", Value: thousand(o.MaxAmps)}, {Key: "ohms", Value: o.Ohms.Nominal}}
			if !o.FollowsSupply {
				t = append(t, plan.KeyValue{Key: "volts", Value: o.OpenVolts.Nominal})
			}
			out = append(out, t)
		}
	case "paces":
		for _, x := range b.Paces {
			t := plan.Table{{Key: "name", Value: x.Name}}
			switch {
			case x.Steady():
				t = append(t, plan.KeyValue{Key: "steady", Value: true})
			case len(x.Flashes) > 0:
				t = append(t, plan.KeyValue{Key: "flashes", Value: x.Flashes})
			default:
				t = append(t, plan.KeyValue{Key: "period_s", Value: x.PeriodS}, plan.KeyValue{Key: "duty",
					Value: x.Duty})
			}
			if !x.Steady() {
				t = append(t, plan.KeyValue{Key: "tolerance", Value: x.PeriodRelTol})
			}
			out = append(out, t)
		}
	}
	return out
}

// thousand is amperes in milliamperes, without the last bits that a product leaves.
func thousand(amps float64) float64 { return float64(int64(amps*1e9+0.5)) / 1e6 }
