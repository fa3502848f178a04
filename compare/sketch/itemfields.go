package sketch

import (
	"fmt"
	"strings"
)

// holdFields are what is asked of each kind of thing that a joint holds, its own kind
// first.
var holdFields = []struct {
	kind   string
	types  []Option // none: in the maker's words
	fields []Field
}{
	{"diode", options("silicon", "schottky"), []Field{{Key: "amps", Label: "rated for", Input: Number},
		{Key: "drop_volts", Label: "drops", Input: Number}}},
	{"fuse", options("resettable", "glass", "blade"), []Field{{Key: "amps", Label: "rated for", Input: Number,
		Must: true},
		{Key: "ohms", Label: "its resistance", Input: Number}}},
	{"switch", nil, []Field{{Key: "amps", Label: "rated for", Input: Number}}},
	{"plug", nil, []Field{{Key: "amps", Label: "rated for", Input: Number}}},
	{"converter", options("step-down", "step-up", "linear"), []Field{{Key: "out_volts", Label: "gives", Input: Number,
		Must: true},
		{Key: "max_amps", Label: "at most", Input: Number}, {Key: "idle_mA", Label: "draws itself", Input: Number}}},
}

func options(of ...string) (out []Option) {
	for _, x := range of {
		out = append(out, Option{x, x})
	}
	return out
}

// holds adds what is said of what a joint holds.
func (f *form) holds() {
	for i := range f.said.Len(f.at.Path() + ".holds") {
		path := fmt.Sprintf("%s.holds[%d].", f.at.Path(), i)
		for _, h := range holdFields {
			if !f.said.Has(path + h.kind) {
				continue
			}
			of := Field{Path: path + h.kind, Key: h.kind, Label: h.kind, Input: Typed, Must: true}
			if h.types != nil {
				of.Input, of.Choices = Choice, h.types
			}
			f.add(h.kind, of)
			for _, x := range h.fields {
				x.Path = path + x.Key
				f.add(h.kind, x)
			}
		}
	}
}

// boardLists adds what is said of a board's own outputs and paces.
func (f *form) boardLists() {
	f.choice("outputs_run", "its outputs run", false, []Option{{"alternate", "one lit at a time, in turn"},
		{"together", "together"},
		{"free", "each for itself"}})
	for i := range f.said.Len(f.at.Path() + ".outputs") {
		path := fmt.Sprintf("%s.outputs[%d].", f.at.Path(), i)
		for _, x := range []Field{{Key: "max_mA", Label: "gives at most", Input: Number}, {Key: "ohms",
			Label: "its own resistor", Input: Number}} {
			x.Path = path + x.Key
			f.add("output", x)
		}
	}
	for i := range f.said.Len(f.at.Path() + ".paces") {
		path := fmt.Sprintf("%s.paces[%d].", f.at.Path(), i)
		of := []Field{{Key: "name", Label: "its name", Input: Typed}}
		if !f.said.Has(path+"flashes") && !f.said.Has(path+"steady") { // those are written in an editor
			of = append(of, Field{Key: "period_s", Label: "from one lighting up to the next", Input: Number,
				Must: true},
				Field{Key: "duty", Label: "lit share of it", Input: Number})
		}
		for _, x := range of {
			x.Path = path + x.Key
			f.add("pace", x)
		}
	}
}

// headed says of each field of which item of a list it is. One kind of light alone needs
// no head.
func headed(fields []Field, lists map[string][]Item) []Field {
	for list, items := range lists {
		if list == "lights" && len(items) == 1 {
			continue
		}
		for _, it := range items {
			for i := range fields {
				if strings.HasPrefix(fields[i].Path, it.Path+".") {
					fields[i].Of = it.Says
				}
			}
		}
	}
	return fields
}
