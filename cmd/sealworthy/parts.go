package main

import (
	"fmt"
	"io"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"sealworthy/compare/plan"
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

// family is parts that look alike, and how they are told from their neighbours.
// Common practice, no source; the sizes of chips are in their names (metric of 0402,
// 0603, 0805: 1.0 x 0.5, 1.6 x 0.8, 2.0 x 1.25 mm, from memory).
type family struct {
	of          *regexp.Regexp
	looks, told string
}

var families = []family{
	{regexp.MustCompile(`^strip (amber|blue|cold white|green|red|warm white) `),
		"a flexible band with LEDs of 2 to 3.5 mm and marks to cut at; black resistors beside them",
		"at 12 V three LEDs between two marks, at 24 V six or seven, at 5 V one"},
	{regexp.MustCompile(`^strip 5050 `),
		"a band with square LEDs of 5 mm, each with three bright points in it",
		"LEDs of 5 mm, not 3; its segments draw three times as much"},
	{regexp.MustCompile(`^strip constant current `),
		"a band with a small black chip in each segment, beside the LEDs",
		"as bright at 11 V as at 12 V, where a strip with resistors grows dimmer"},
	{regexp.MustCompile(`^smd `),
		"a grain of an LED on two hair-thin wires with a resistor soldered in",
		"lights on its volts as it is; a bare LED would burn out there"},
	{regexp.MustCompile(` 0[468]0[235]$`),
		"a bare chip: 0402 is 1.0 x 0.5 mm, 0603 1.6 x 0.8 mm, 0805 2.0 x 1.25 mm",
		"no resistor on its wires; measure its length"},
	{regexp.MustCompile(` (1\.8|3|5) mm$`),
		"a round head of 1.8, 3 or 5 mm on two stiff legs, the long one plus",
		"legs, not wires; measure its head"},
	{regexp.MustCompile(`^two-output blinker$`), "a small board with two pairs of wires out", "its two lights flash in turn"},
	{regexp.MustCompile(`^single blinker$`), "a small board with one pair of wires out", "its light flashes evenly"},
	{regexp.MustCompile(`^three-pace board$`), "a small board with a push button", "the button steps slow, fast, steady"},
	{regexp.MustCompile(`^lighthouse board$`), "a small board with one pair of wires out", "it flashes in groups, with a long dark time"},
	{regexp.MustCompile(`^steady driver$`), "a small board with one pair of wires out", "its light doesn't flash"},
}

// looksOf says what a part looks like and how it's told from its neighbours; empty
// of one that nobody has described.
func looksOf(name string) (looks, told string) {
	if i := familyOf(name); i >= 0 {
		return families[i].looks, families[i].told
	}
	return "", ""
}

// familyOf is the place of a part's family, -1 of none.
func familyOf(name string) int {
	return slices.IndexFunc(families, func(f family) bool { return f.of.MatchString(name) })
}

// figuresOf says what a part draws, and how far that may be off.
func figuresOf(p plan.Part) string {
	percent := fmt.Sprintf("±%.0f %%", 100*p.Tolerance)
	switch p.Kind {
	case plan.PartStrip:
		return fmt.Sprintf("%.3g mA a segment, %s", 1e3*p.Amps, percent)
	case plan.PartSMD:
		return fmt.Sprintf("%.3g mA a piece, %s", 1e3*p.Amps, percent)
	case plan.PartLED:
		last := p.Points[0]
		for _, x := range p.Points {
			if p.MaxAmps == 0 || x.Amps <= p.MaxAmps {
				last = x
			}
		}
		return fmt.Sprintf("%.3g V at %.3g mA, ±%.2g V; %.3g mA at most", last.Volts, 1e3*last.Amps, p.SpreadVolts, 1e3*p.MaxAmps)
	case plan.PartBoard:
		most := 0.0
		for _, o := range p.Outputs {
			most = max(most, o.MaxAmps)
		}
		return fmt.Sprintf("%.3g mA itself, %s; %s of %.3g mA at most", 1e3*p.StandingAmps, percent, countOf(max(1, len(p.Outputs)), "output"), 1e3*most)
	case plan.PartLoad:
		return fmt.Sprintf("%.3g mA, %.3g to %.3g", 1e3*p.Envelope.MeanAmps, 1e3*p.Envelope.LowAmps, 1e3*p.Envelope.HighAmps)
	}
	return ""
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
		looks, told := looksOf(p.Name)
		list = append(list, listedPart{p.Name, p.Kind, mine, figuresOf(p), looks, told})
		if mine {
			own = append(own, p)
		} else {
			byKind[p.Kind] = append(byKind[p.Kind], p)
		}
	}
	if asJSON {
		return exitReady, writeJSON(e.stdout, list)
	}
	if own != nil {
		fmt.Fprintln(e.stdout, "your own part book:")
		for _, p := range own {
			sayPartLine(e.stdout, p.Name, figuresOf(p))
		}
	}
	for _, k := range partKinds {
		if byKind[k.kind] != nil {
			fmt.Fprintf(e.stdout, "%s:\n", k.says)
			sayFamilies(e.stdout, byKind[k.kind])
		}
	}
	fmt.Fprintln(e.stdout, "\nIn a plan: part = \"strip amber 12 V\", the whole name. To measure some of yours:\nsealworthy part NAME")
	return exitReady, nil
}

// sayFamilies writes parts of a kind, those that look alike together.
func sayFamilies(w io.Writer, parts []plan.Part) {
	said := map[string]bool{}
	for i, f := range families {
		var alike []plan.Part
		for _, p := range parts {
			if familyOf(p.Name) == i {
				alike = append(alike, p)
				said[p.Name] = true
			}
		}
		if alike == nil {
			continue
		}
		wrap(w, "  ", "  ", f.looks)
		wrap(w, "  - ", "    ", f.told)
		for _, l := range partLines(alike) {
			sayPartLine(w, l.names, l.figures)
		}
	}
	for _, p := range parts {
		if !said[p.Name] {
			sayPartLine(w, p.Name, figuresOf(p))
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
		i := slices.IndexFunc(out, func(l partLine) bool { return l.figures == figuresOf(p) && strings.HasPrefix(l.names, stem+" ") })
		if i >= 0 && stems[i] == stem && variant != "" {
			out[i].names += ", " + variant
			continue
		}
		out, stems = append(out, partLine{p.Name, figuresOf(p)}), append(stems, stem)
	}
	return out
}

func sayPartLine(w io.Writer, names, figures string) {
	wrap(w, "    "+names+": ", "      ", figures)
}
