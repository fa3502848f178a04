package main

import (
	"fmt"
	"strconv"

	"sealworthy/compare/plan"
)

// lightKind says which groups can be told by one another: a resistor beside a board's
// own is none of those that stand alone.
type lightKind struct {
	kind    int // of lightKinds
	onBoard bool
}

// somethingElse is the answer of who has other lights, or has them elsewhere.
const somethingElse = "n"

// asBefore takes over what the last group of a kind is made of, where the maker says how
// many there are this time; placed: what closes over it and what feeds it, too. A group
// that has no part after it is told from the beginning.
func (a *asker) asBefore(g *plan.DraftGroup, kind int) (placed bool, err error) {
	last, ok := a.before[lightKind{kind, g.Board != ""}]
	if !ok || last.Light.Part == "" {
		return false, nil
	}
	placed = a.samePlace(*g, last)
	text := "As " + last.Name + ": " + a.described(last, placed) + ". "
	usual := "1"
	switch {
	case last.Light.Segments > 0:
		text += "How many segments?"
		usual = ""
	case last.Light.InSeries > 0:
		text += "How many branches?"
	default:
		text += "How many?"
	}
	s, err := a.v.ask(query{text: text + " Or n: something else.", fallback: usual, hasFall: usual != "",
		help: "All but the number is taken over. n asks for each anew, with what was said before in [ ].",
		check: func(s string) string {
			if n, err := strconv.Atoi(s); s != somethingElse && (err != nil || n < 1 || n > 10000) {
				return "A whole number from 1 to 10000, or n."
			}
			return ""
		}})
	if err != nil || s == somethingElse {
		return false, err
	}
	n, err := strconv.Atoi(s)
	if err != nil {
		return false, err
	}
	g.Light = last.Light
	if g.Light.Segments > 0 {
		g.Light.Segments = n
	} else {
		g.Light.Count = n
	}
	if placed {
		g.Closure, g.Joint = last.Closure, last.Joint
	}
	return placed, nil
}

// samePlace: a new group goes where the last one of its kind is, because the one told
// just before it is there as well. Where the two differ it's asked.
func (a *asker) samePlace(g, last plan.DraftGroup) bool {
	before := a.d.Groups[len(a.d.Groups)-1]
	return g.Board == "" && before.Board == "" && before.Closure == last.Closure && before.Joint == last.Joint
}

// described says what is taken over, in one line.
func (a *asker) described(g plan.DraftGroup, placed bool) string {
	s := g.Light.Part
	if n := g.Light.InSeries; n > 1 {
		s += fmt.Sprintf(", %d in series", n)
	}
	switch {
	case g.Light.HasOhms:
		s += ", " + strconv.FormatFloat(g.Light.Ohms, 'f', -1, 64) + " ohm"
	case g.Board != "" && g.Light.InSeries > 0:
		s += ", no resistor of yours"
	}
	if placed && len(a.d.Closures) > 1 {
		s += ", under " + g.Closure
	}
	if placed && len(a.d.Joints) > 0 {
		feed := g.Joint
		if feed == "" {
			feed = "the jack"
		}
		s += ", fed by " + feed
	}
	return s
}
