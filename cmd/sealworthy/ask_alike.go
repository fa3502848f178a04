package main

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"

	"sealworthy/compare/plan"
)

// lightKind says which groups can be told by one another: a resistor beside a board's
// own is none of those that stand alone.
type lightKind struct {
	kind    int // of lightKinds
	onBoard bool
}

// somethingElse is the answer of who has other lights, or has them elsewhere.
const (
	somethingElse = "n"
	elseTyped     = " Else: n."
	elseAsks      = " n asks for each anew, with what was said before in [ ]."
)

// asBefore takes over what the last group of a kind is made of, where the maker says how
// many there are this time, and of which colour; fed: what feeds it, too. A group that has
// no part after it is told from the beginning.
func (a *asker) asBefore(g *plan.DraftGroup, kind int) (fed bool, err error) {
	last, ok := a.before[lightKind{kind, g.Board != ""}]
	if !ok || last.Light.Part == "" {
		return false, nil
	}
	fed = a.sameFeed(*g, last)
	text := "As " + last.Name + ": " + a.described(last, fed) + ". "
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
	s, err := a.v.ask(query{text: text + " Another colour: 2 red." + elseTyped, fallback: usual, hasFall: usual != "",
		help: "All but the number is taken over, and the colour if you name another." + elseAsks,
		check: func(s string) string {
			if s == somethingElse {
				return ""
			}
			_, _, why := a.alike(last.Light, s, usual)
			return why
		}})
	if err != nil || s == somethingElse {
		return false, err
	}
	n, part, _ := a.alike(last.Light, s, usual)
	g.Light = last.Light
	g.Light.Part = part
	if p, err := a.book.Find(part); err == nil {
		a.lastPart[p.Kind] = p.Name
	}
	if g.Light.Segments > 0 {
		g.Light.Segments = n
	} else {
		g.Light.Count = n
	}
	if fed {
		g.Joint = last.Joint
	}
	return fed, nil
}

// alike reads "2 red": how many, of which part; why, where that isn't understood. Without
// a number it is the usual one.
func (a *asker) alike(l plan.DraftLight, s, usual string) (n int, part, why string) {
	words := strings.Fields(s)
	n, err := strconv.Atoi(usual)
	if len(words) > 0 && strings.ContainsAny(words[0][:1], "0123456789-") {
		n, err = strconv.Atoi(words[0])
		words = words[1:]
	}
	if err != nil || n < 1 || n > 10000 {
		return 0, "", "A whole number from 1 to 10000, with a colour behind it if that is another; or n."
	}
	if len(words) == 0 {
		return n, l.Part, ""
	}
	colour := strings.Join(words, " ")
	if p, err := a.book.Find(l.Part); err == nil && p.Colour != "" {
		if x, err := a.book.Find(strings.Replace(p.Name, p.Colour, colour, 1)); err == nil && x.Kind == p.Kind {
			return n, x.Name, ""
		}
	}
	return 0, "", fmt.Sprintf("%s isn't there in %q; n asks for each anew.", l.Part, colour)
}

// sameFeed: a new group is fed like the last one of its kind, because the one told just
// before it is as well. Where the two differ it's asked.
func (a *asker) sameFeed(g, last plan.DraftGroup) bool {
	before := a.d.Groups[len(a.d.Groups)-1]
	return g.Board == "" && before.Board == "" && before.Joint == last.Joint
}

// described says what is taken over, in one line.
func (a *asker) described(g plan.DraftGroup, fed bool) string {
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
	if fed && len(a.d.Joints) > 0 {
		s += ", fed by " + cmp.Or(g.Joint, "the jack")
	}
	return s
}
