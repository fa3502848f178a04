package page

import (
	"fmt"
	"html/template"
	"strings"
	"unicode"
	"unicode/utf8"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare"
	"sealworthy/compare/look"
	"sealworthy/compare/sketch"
	"sealworthy/compare/words"
)

// helpers are what templates call.
var helpers = template.FuncMap{
	"mark":      func(v string) string { return wording.Mark(compare.Verdict(v)) },
	"kind":      func(v string) string { return kindOf(wording.Mark(compare.Verdict(v))) },
	"cmark":     wording.ClosureMark,
	"ckind":     func(v compare.ClosureVerdict) string { return kindOf(wording.ClosureMark(v)) },
	"capital":   capital,
	"changedby": wording.ChangedBy,
	"upper":     strings.ToUpper,
	"reasons":   wording.Reasons,
	"unlike":    wording.Unlike,
	"allright":  func() string { return look.Right },
	"units":     wording.Units,
	"camera":    func(id string, parts []string) camera { return camera{id, parts} },
	"inc":       func(i int) int { return i + 1 },
	"nth":       func(i int, p capture.Place) nthPlace { return nthPlace{p, i + 1} },

	"somethingelse": func() string { return wording.SomethingElse },
	"looked":        wording.LookedText,
	// where the plan says what a jack is
	"jackat": func(id, jack string) string { return planURL(id, sketch.Place{Kind: "jack", Name: jack}) },
	// where the leads go once the bench stands
	"leadsdone": func() []Lead { return []Lead{leadsSupply, leadsMeter, leadsGroup} },
	"say":       compare.Say,
	"also": func(a compare.Also) string {
		return fmt.Sprintf("at %s V: %s, expected %s", words.Number(a.Volts, 0.1),
			words.Milliamps(a.MeasuredA, a.MeasuredU),
			words.Milliamps(a.ExpectedA, a.ExpectedU))
	},
	"verdictof":  verdictOf,
	"otherlines": func(s string) string { return strings.TrimPrefix(s, firstLine(s)+"\n") },
	"lines":      linesOf,
	"kindofline": func(s string) string { return kindOf(markIn(firstLine(s))) },
	"ticked":     compare.TickedBy.Words,
	"here":       here,
	"good":       func(v compare.Verdict) bool { return v == compare.InBand },
}

// nthPlace is a place with its number in a list.
type nthPlace struct {
	capture.Place
	N int
}

// textLine is a line of a report: how far it's set in, and what it says.
type textLine struct {
	In   int // 0 to 3
	Text string
}

// linesOf parts a report into its lines, which a page breaks by its own width.
func linesOf(report string) (out []textLine) {
	for l := range strings.Lines(report) {
		if text := strings.TrimSpace(l); text != "" {
			in := len(l) - len(strings.TrimLeft(l, " "))
			out = append(out, textLine{min(in/2, 3), text})
		}
	}
	return out
}

// verdictOf is the verdict of a text, without the build's name: that stands over it.
func verdictOf(text string) string {
	line := firstLine(text)
	for _, mark := range []string{"!", "+", "?"} {
		if i := strings.Index(line, ": "+mark+" "); i >= 0 {
			return line[i+2:]
		}
	}
	return line
}

// firstLine is the first of a text: of a return, its verdict.
func firstLine(s string) string {
	line, _, _ := strings.Cut(s, "\n")
	return line
}

// markIn is the mark that a line carries between two words; "": none.
func markIn(line string) string {
	for _, w := range strings.Fields(line) {
		if w == "+" || w == "!" {
			return w
		}
	}
	return ""
}

// camera is where a photo is taken: of which build, litBuild of the one under test, and
// what it may be of.
type camera struct {
	ID       string
	Closures []string
}

// kindOf is the class of a mark: its colour and shape.
func kindOf(mark string) string {
	switch mark {
	case "+":
		return "good"
	case "!":
		return "bad"
	}
	return "open"
}

// capital begins a label with a capital letter.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// shapeID is the drawing of a part.
func shapeID(s words.Shape) string {
	if s == words.ShapeSomething {
		return "part-something"
	}
	return "part-" + strings.ReplaceAll(string(s), " ", "-")
}
