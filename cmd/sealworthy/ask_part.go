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
	names, choices, heads := menuOf(parts)
	pick := func(s string) (string, string) {
		if n, err := strconv.Atoi(s); err == nil && n >= 1 && n <= len(names) {
			return names[n-1], ""
		}
		if _, err := a.book.Find(s); err == nil {
			return s, ""
		}
		near := a.book.Closest(s, 3, kind)
		return "", fmt.Sprintf("The number before one of them, or its name. Nearest: %s.", strings.Join(near, ", "))
	}
	usual := a.lastPart[kind]
	if !slices.Contains(names, usual) {
		usual = ""
	}
	s, err := a.v.ask(query{text: text + " By number or name.", choices: choices, heads: heads, named: true,
		fallback: usual, hasFall: usual != "",
		help: "Not among them? Take what is nearest; sealworthy part measures a few of yours, and then the bands " +
			"are narrow.",
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

// menuOf lists parts to choose from: what a family looks like and draws stands over it
// once, and beside a part only what differs.
func menuOf(parts []plan.Part) (names, choices []string, heads map[int]string) {
	heads = map[int]string{}
	common := ""
	for i, p := range parts {
		f := words.PartFamily(p.Name)
		if i == 0 || f < 0 || f != words.PartFamily(parts[i-1].Name) {
			common = words.PartFigures(p)
			heads[i] = common
			if f >= 0 {
				heads[i] = words.PartFamilies()[f].Looks + "; " + common
			}
		}
		line := p.Name
		if own := words.PartFigures(p); own != common {
			line += ": " + own
		}
		names, choices = append(names, p.Name), append(choices, line)
	}
	return names, choices, heads
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
	s, err := a.v.ask(query{text: text + " Its colour first, by number; or its whole name.", choices: colours,
		named: true, fallback: usual, hasFall: usual != "",
		help: "sealworthy part lists them all.", check: func(s string) string {
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
