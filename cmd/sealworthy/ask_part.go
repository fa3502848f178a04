package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sealworthy/compare/plan"
	"sealworthy/compare/sketch"
	"sealworthy/compare/words"
)

// part asks for a part by number, or by words of its name.
func (a *asker) part(text string, kind plan.PartKind) (plan.Part, error) {
	parts := slices.DeleteFunc(a.book.Parts(), func(p plan.Part) bool {
		return p.Kind != kind ||
			!sketch.Fits(p, a.d.Jack.Volts)
	})
	if parts == nil {
		parts = slices.DeleteFunc(a.book.Parts(), func(p plan.Part) bool { return p.Kind != kind })
	}
	slices.SortStableFunc(parts, func(x,
		y plan.Part) int {
		return words.PartFamily(x.Name) - words.PartFamily(y.Name)
	})
	if len(parts) > mostAtOnce {
		named, err := a.colour(&parts, text, a.lastPart[kind])
		if err != nil {
			return plan.Part{}, err
		}
		if named != "" {
			return a.took(named, kind)
		}
	}
	m := menuOf(parts)
	names := m.names
	pick := func(s string) (string, string) {
		if n, err := strconv.Atoi(s); err == nil && n >= 1 && n <= len(names) {
			return names[n-1], ""
		}
		if _, err := a.book.Find(s); err == nil {
			return s, ""
		}
		if i := onlyOne(m.labels, s); i >= 0 {
			return names[i], ""
		}
		near := a.book.Closest(s, 3, kind)
		return "", fmt.Sprintf("The number before one of them, or its name. Nearest: %s.", strings.Join(near, ", "))
	}
	usual := a.lastPart[kind]
	if !slices.Contains(names, usual) {
		usual = ""
	}
	s, err := a.v.ask(query{text: text, choices: m.choices, brief: m.brief, heads: m.heads,
		named: true, fallback: usual, hasFall: usual != "",
		help:  "Not among them? Take what is nearest. Measure a few of yours later, and the bands get narrow.",
		check: func(s string) string { _, why := pick(s); return why }})
	if err != nil {
		return plan.Part{}, err
	}
	name, _ := pick(s)
	return a.took(name, kind)
}

// took is a part that was chosen; Enter takes it at the next list of its kind.
func (a *asker) took(name string, kind plan.PartKind) (plan.Part, error) {
	p, err := a.book.Find(name)
	if err == nil {
		a.lastPart[kind] = p.Name
	}
	return p, err
}

// menu is a list of parts to choose from.
type menu struct {
	names   []string
	labels  []string       // what of a name differs within its family
	choices []string       // by the whole name, where nothing stands over it
	brief   []string       // by the label, under the head of its family
	heads   map[int]string // over families
}

// menuOf lists parts: what a family is called, looks like and draws stands over it once,
// and beside a part only what differs.
func menuOf(parts []plan.Part) menu {
	m := menu{heads: map[int]string{}}
	for len(parts) > 0 {
		f := words.PartFamily(parts[0].Name)
		n := slices.IndexFunc(parts, func(p plan.Part) bool { return f < 0 || words.PartFamily(p.Name) != f })
		switch {
		case f < 0:
			n = 1
		case n < 0:
			n = len(parts)
		}
		family := parts[:n]
		parts = parts[n:]
		before, after := shared(family)
		common := words.PartDraw(family[0])
		head := common
		if f >= 0 {
			head = words.PartFamilies()[f].Brief + "; " + common
		}
		if before+after != "" {
			head = strings.TrimSpace(before+"…"+after) + ": " + head
		}
		m.heads[len(m.names)] = head
		for _, p := range family {
			label := strings.TrimSuffix(strings.TrimPrefix(p.Name, before), after)
			own := ""
			if d := words.PartDraw(p); d != common {
				own = ": " + d
			}
			m.names, m.labels = append(m.names, p.Name), append(m.labels, label)
			m.choices, m.brief = append(m.choices, p.Name+own), append(m.brief, label+own)
		}
	}
	return m
}

// shared are the words with which all names of a family begin and end; none of a family
// of one. A colour stays whole, and what is left is no bare number: those choose.
func shared(family []plan.Part) (before, after string) {
	if len(family) < 2 {
		return "", ""
	}
	whole := func(p plan.Part) []string { // cold white is one word
		return strings.Fields(strings.ReplaceAll(p.Name, " white", "_white"))
	}
	first := whole(family[0])
	all := func(holds func(of []string) bool) bool {
		return !slices.ContainsFunc(family, func(p plan.Part) bool { return !holds(whole(p)) })
	}
	n, m := 0, 0
	for n < len(first)-1 && all(func(of []string) bool { return n < len(of)-1 && of[n] == first[n] }) {
		n++
	}
	for m < len(first)-1-n && all(func(of []string) bool {
		if m >= len(of)-1-n || of[len(of)-1-m] != first[len(first)-1-m] {
			return false
		}
		_, err := strconv.ParseFloat(strings.Join(of[n:len(of)-1-m], " "), 64)
		return err != nil || len(of[n]) > 3 // 0603 is a size, and no list is as long
	}) {
		m++
	}
	if n > 0 {
		before = strings.ReplaceAll(strings.Join(first[:n], " "), "_", " ") + " "
	}
	if m > 0 {
		after = " " + strings.ReplaceAll(strings.Join(first[len(first)-m:], " "), "_", " ")
	}
	return before, after
}

// onlyOne is the place of what stands in a list once; -1: it doesn't.
func onlyOne(all []string, s string) int {
	i := slices.Index(all, s)
	if i >= 0 && slices.Contains(all[i+1:], s) {
		return -1
	}
	return i
}

// mostAtOnce is how many parts a maker chooses from at a time.
const mostAtOnce = 20

// colour keeps the parts of one colour, that is asked; a part that is named in full in
// its place is the answer, and Enter stands for the usual one.
func (a *asker) colour(parts *[]plan.Part, text, usual string) (named string, err error) {
	var colours []string
	for _, p := range *parts {
		if !slices.Contains(colours, p.Colour) {
			colours = append(colours, p.Colour)
		}
	}
	s, err := a.v.ask(query{text: text + " Its colour, or whole name.", choices: colours,
		named: true, fallback: usual, hasFall: usual != "",
		help: "A whole name has its size: red 3 mm.", check: func(s string) string {
			if _, err := a.book.Find(s); err == nil {
				return ""
			}
			if n, err := strconv.Atoi(s); (err != nil || n < 1 || n > len(colours)) && !slices.Contains(colours, s) {
				return fmt.Sprintf("The number before a colour, 1 to %d.", len(colours))
			}
			return ""
		}})
	if err != nil {
		return "", err
	}
	if _, err := a.book.Find(s); err == nil {
		return s, nil
	}
	if n, err := strconv.Atoi(s); err == nil {
		s = colours[n-1]
	}
	*parts = slices.DeleteFunc(*parts, func(p plan.Part) bool { return p.Colour != s })
	return "", nil
}
