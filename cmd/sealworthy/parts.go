package main

import (
	"fmt"
	"io"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// partKinds are the kinds of part in the order of the list, with a maker's
// words for each.
var partKinds = []struct {
	kind plan.PartKind
	says string
}{
	{plan.PartStrip, "strips, by segment"},
	{plan.PartSMD, "SMD with a resistor inside"},
	{plan.PartLED, "bare LEDs, each needs a resistor"},
	{plan.PartBoard, "boards"},
	{plan.PartLoad, "loads without a pace: flicker, sound, motor"},
}

// listedPart is a part as it is listed for programs.
type listedPart struct {
	Name    string        `json:"name"`
	Kind    plan.PartKind `json:"kind"`
	Own     bool          `json:"own"`               // from the maker's part book
	Figures string        `json:"figures,omitempty"` // what it draws, and how far that may be off
	Looks   string        `json:"looks,omitempty"`
	Told    string        `json:"told,omitempty"` // how it's told from its neighbours
}

// listParts lists the parts that a plan can name, by kind, the maker's own first.
func listParts(e env, asJSON bool) (int, error) {
	book, err := partBook(e)
	if err != nil {
		return exitFailure, err
	}
	if book == nil {
		book = plan.BuiltIn()
	}
	list := []listedPart{}
	var own []plan.Part
	byKind := map[plan.PartKind][]plan.Part{}
	for _, p := range book.Parts() {
		old, err := plan.Find(p.Name)
		mine := err != nil || !reflect.DeepEqual(old, p)
		looks, told := words.PartLooks(p.Name)
		list = append(list, listedPart{p.Name, p.Kind, mine, words.PartFigures(p), looks, told})
		if mine {
			own = append(own, p)
		} else {
			byKind[p.Kind] = append(byKind[p.Kind], p)
		}
	}
	if asJSON {
		return exitReady, writeJSON(e.stdout, whatPartsAre{list})
	}
	if own != nil {
		fmt.Fprintln(e.stdout, "your own part book:")
		for _, p := range own {
			sayPartLine(e.stdout, p.Name, words.PartFigures(p))
		}
	}
	for _, k := range partKinds {
		if byKind[k.kind] != nil {
			fmt.Fprintf(e.stdout, "%s:\n", k.says)
			sayFamilies(e.stdout, byKind[k.kind])
		}
	}
	wrap(e.stdout, "\n", "", "In a plan: part = \"strip amber 12 V\", the whole name. To measure some of yours:")
	fmt.Fprintln(e.stdout, "sealworthy part NAME")
	return exitReady, nil
}

// sayFamilies writes parts of a kind, those that look alike together.
func sayFamilies(w io.Writer, parts []plan.Part) {
	said := map[string]bool{}
	for i, f := range words.PartFamilies() {
		var alike []plan.Part
		for _, p := range parts {
			if words.PartFamily(p.Name) == i {
				alike = append(alike, p)
				said[p.Name] = true
			}
		}
		if alike == nil {
			continue
		}
		wrap(w, "  ", "  ", f.Looks)
		wrap(w, "  - ", "    ", f.Told)
		for _, l := range partLines(alike) {
			sayPartLine(w, l.names, l.figures)
		}
	}
	for _, p := range parts {
		if !said[p.Name] {
			sayPartLine(w, p.Name, words.PartFigures(p))
		}
	}
}

// partLine is parts that differ in size or volts alone.
type partLine struct{ names, figures string }

var lastWords = regexp.MustCompile(`^(.*) ((?:[0-9.]+ (?:V|mm))|0[468]0[235])$`)

func partLines(parts []plan.Part) []partLine {
	var out []partLine
	stems := []string{}
	for _, p := range parts {
		stem, variant := p.Name, ""
		if m := lastWords.FindStringSubmatch(p.Name); m != nil {
			stem, variant = m[1], m[2]
		}
		i := slices.IndexFunc(out, func(l partLine) bool {
			return l.figures == words.PartFigures(p) && strings.HasPrefix(l.names, stem+" ")
		})
		if i >= 0 && stems[i] == stem && variant != "" {
			out[i].names += ", " + variant
			continue
		}
		out, stems = append(out, partLine{p.Name, words.PartFigures(p)}), append(stems, stem)
	}
	return out
}

func sayPartLine(w io.Writer, names, figures string) {
	wrap(w, "    "+names+": ", "      ", figures)
}
