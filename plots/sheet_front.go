package plots

import (
	"html/template"
	"strings"
	"unicode/utf8"

	"sealworthy/compare"
	"sealworthy/compare/plan"
)

// The sheet's first page says all that is needed at the bench; what stands behind it
// is an appendix. A build of fourteen groups fits onto it.

// WireMark is what tells a wire from the others: its colour and where it ends.
type WireMark struct {
	Of     string // the group, board, joint or return that it leads to
	Kind   string // group, board, joint, return
	Colour string // of its insulation; empty: not said
	Pin    string // that it ends at; empty: not said
}

// String is "red, black at pin 3".
func (m WireMark) String() string {
	switch {
	case m.Pin == "":
		return m.Colour
	case m.Colour == "":
		return "pin " + m.Pin
	}
	return m.Colour + " at pin " + m.Pin
}

// WireMarksOf lists the wires of a plan of which a colour or a pin is stated.
func WireMarksOf(p *plan.Plan) []WireMark {
	var out []WireMark
	add := func(kind, of string, w plan.Wire) {
		if w.Colour != "" || w.Pin != "" {
			out = append(out, WireMark{of, kind, w.Colour, w.Pin})
		}
	}
	for _, j := range p.Joints {
		add("joint", j.Name, j.Wire)
	}
	for _, r := range p.Returns {
		add("return", r.Name, r.Wire)
	}
	for _, b := range p.Boards {
		add("board", b.Name, b.Wire)
	}
	for _, g := range p.Groups {
		add("group", g.Name, g.Wire)
	}
	return out
}

// frontClosure is a closure on the first page: one line, and one for each group.
type frontClosure struct {
	Name, Inside, Verdict, Class string
	Mark                         template.HTML
	Note                         string // the first reason, and how many more there are
	Rows                         []frontRow
	Open                         []string // what it must hold and nobody has ticked yet
}

type frontRow struct {
	Group, Wire, Measured, Expected, Verdict, Class, Looked, Cause string
	Mark                                                           template.HTML
}

// frontOf puts the closures of a sheet onto its first page.
func frontOf(closures []sheetClosure, marks []WireMark) []frontClosure {
	wires := map[string]string{}
	for _, m := range marks {
		if m.Kind == "group" {
			wires[m.Of] = m.String()
		}
	}
	var out []frontClosure
	for _, c := range closures {
		f := frontClosure{Name: c.Name, Inside: c.Inside, Verdict: c.Verdict, Class: c.Class, Mark: c.Mark,
			Note: c.Slip}
		if n := len(c.Reasons); n > 0 {
			f.Note = strings.TrimRight(shortened(c.Reasons[0], 110), ".")
			if !strings.HasSuffix(f.Note, "…") {
				f.Note += "."
			}
			if n > 1 {
				f.Note += " And " + countOf(n-1, "reason") + " more."
			}
		}
		for _, i := range c.Items {
			if strings.HasSuffix(i.How, compare.TickedBy("").Words()) {
				f.Open = append(f.Open, i.Name)
			}
		}
		for _, r := range c.Rows {
			name, _, _ := strings.Cut(r.Group, ", ")
			x := frontRow{Group: r.Group, Wire: wires[r.Group], Measured: r.Measured, Expected: r.Expected,
				Verdict: r.Verdict,
				Class:   r.Class, Looked: r.Looked, Mark: r.Mark}
			if x.Wire == "" {
				x.Wire = wires[name]
			}
			switch {
			case r.Yet != "":
				x.Cause = r.Yet
			case len(r.Causes) > 0:
				x.Cause = shortened(r.Causes[0], 90)
			}
			f.Rows = append(f.Rows, x)
		}
		out = append(out, f)
	}
	return out
}

// shortened cuts a text at a word's end; the appendix has it whole.
func shortened(s string, most int) string {
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	cut := string([]rune(s)[:most])
	if i := strings.LastIndexByte(cut, ' '); i > most/2 {
		cut = cut[:i]
	}
	return strings.TrimRight(cut, " ,;:.") + " …"
}

func countOf(n int, what string) string {
	words := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}
	s := "many"
	if n < len(words) {
		s = words[n]
	}
	if n != 1 {
		what += "s"
	}
	return s + " " + what
}

// wireMap says the marks of all wires but those of groups, which stand in their rows.
func wireMap(marks []WireMark) []string {
	var out []string
	for _, m := range marks {
		if m.Kind != "group" {
			out = append(out, m.Kind+" "+m.Of+": "+m.String())
		}
	}
	return out
}

// hasGroupWires: a column is wanted for the wires of groups.
func hasGroupWires(marks []WireMark) bool {
	for _, m := range marks {
		if m.Kind == "group" {
			return true
		}
	}
	return false
}
