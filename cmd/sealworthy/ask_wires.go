package main

import (
	"fmt"
	"regexp"
	"strings"

	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// wires asks what is known of the groups' wires, of all in one line.
func (a *asker) wires() error {
	a.v.about = ""
	var names []string
	for _, g := range a.d.Groups {
		names = append(names, g.Name)
	}
	s, err := a.v.ask(query{text: "Their wires, group by group, as: red 3, blue 22 cm, white? Enter: leave them out.",
		hasFall: true,
		help: "The groups are " + words.List(names) + ". Of each what you know: its colour, its pin, its length; " +
			"nothing between two commas where you know nothing. The sheet prints colours and pins as a map.",
		check: func(s string) string {
			if s == "" {
				return ""
			}
			all := wiresIn(s)
			for _, x := range all {
				if _, ok := wireOf(x); !ok {
					return fmt.Sprintf("%q isn't understood: a colour, then a pin, then a length with mm or cm, "+
						"as: red 3 22 cm. Between two wires put a comma and a space.", strings.TrimSpace(x))
				}
			}
			if len(all) != len(names) {
				return fmt.Sprintf("%s between commas, and %s: what you don't know stays empty between two commas.",
					countOf(len(all), "wire"), countOf(len(names), "group"))
			}
			return ""
		}})
	if err != nil || s == "" {
		return err
	}
	for i, x := range wiresIn(s) {
		a.d.Groups[i].Wire, _ = wireOf(x)
	}
	return nil
}

// wiresIn are the wires that are said in one line. A comma between two digits is that of a
// number, as in 22,5 cm, and parts none.
func wiresIn(s string) (out []string) {
	digit := func(i int) bool { return i >= 0 && i < len(s) && s[i] >= '0' && s[i] <= '9' }
	from := 0
	for i, c := range s {
		if c == ',' && !(digit(i-1) && digit(i+1)) {
			out, from = append(out, s[from:i]), i+1
		}
	}
	return append(out, s[from:])
}

// wireLength is a length at the end of what is said of a wire.
var wireLength = regexp.MustCompile(`(?:^|\s)([0-9.,]+\s*(?:mm|cm|m))$`)

// wireOf reads "red 3 22 cm": a colour, a pin, which has a digit in it, and a length,
// each of which may be left out.
func wireOf(s string) (w plan.DraftWire, ok bool) {
	s = strings.Join(strings.Fields(s), " ")
	if m := wireLength.FindStringSubmatchIndex(s); m != nil {
		w.LengthMm, ok = plan.NumberOf("length_mm", strings.Replace(s[m[2]:m[3]], ",", ".", 1))
		if !ok || w.LengthMm <= 0 || w.LengthMm > 50000 {
			return w, false
		}
		s = strings.TrimSpace(s[:m[0]])
	}
	w.Colour = s
	if i := strings.LastIndexByte(s, ' '); strings.ContainsAny(s[i+1:], "0123456789") {
		w.Colour, w.Pin = strings.TrimSpace(s[:i+1]), s[i+1:]
	}
	return w, !strings.ContainsAny(s, `\",`) && !strings.ContainsAny(w.Colour, "0123456789")
}
