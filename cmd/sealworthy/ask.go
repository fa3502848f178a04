package main

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sealworthy/compare/plan"
)

// newAsked makes a plan by asking for it, and gives its text.
func newAsked(e env, dir, name string) ([]byte, map[string][]byte, error) {
	book, err := bookOf(e)
	if err != nil {
		return nil, nil, err
	}
	v, err := newInterview(e, answersFile(dir))
	if err != nil {
		return nil, nil, err
	}
	if n := len(v.answers); n > 0 {
		wrap(e.stdout, "", "", fmt.Sprintf("Going on after %s.", countOf(n, "answer")))
	} else {
		wrap(e.stdout, "", "", "Enter takes what stands in [ ], ? explains, u goes back, q stops and keeps.")
	}
	var d plan.Draft
	err = v.run(func(v *interview) (err error) {
		d, err = askFor(v, book, name)
		return err
	})
	switch {
	case errors.Is(err, errLeave), errors.Is(err, errNoInput):
		return nil, nil, withHint(fmt.Errorf("%w; what you said is kept in %s", err, v.file), "sealworthy new "+
			quoted(dir)+" --ask goes on there")
	case err != nil:
		return nil, nil, err
	}
	src, err := textOf(d, book)
	return src, nil, err
}

// bookOf is the maker's part book, else the built-in one.
func bookOf(e env) (*plan.Book, error) {
	book, err := partBook(e)
	if err == nil && book == nil {
		book = plan.BuiltIn()
	}
	return book, err
}

// askFor asks for a plan from its first question on.
func askFor(v *interview, book *plan.Book, name string) (plan.Draft, error) {
	a := asker{v: v, book: book, lastPart: map[plan.PartKind]string{}, before: map[lightKind]plan.DraftGroup{}}
	a.d.Build = name
	err := a.all()
	return a.d, err
}

// textOf is the text of a plan that was asked for.
func textOf(d plan.Draft, book *plan.Book) ([]byte, error) {
	src := d.Text()
	if _, problems := plan.ParseWith(planFile, src, plan.Options{Book: book}); len(problems) > 0 {
		return nil, planError(planFile, problems)
	}
	return src, nil
}

// asker asks for a plan.
type asker struct {
	v    *interview
	book *plan.Book
	d    plan.Draft

	closure   string // of which groups are asked for; empty: the model as one
	lastJoint string // what the group before had, which Enter takes
	lastKind  int    // of lightKinds
	lastPart  map[plan.PartKind]string
	before    map[lightKind]plan.DraftGroup // the last that was told of each kind
}

func (a *asker) all() error {
	for _, part := range []func() error{a.jack, a.closures, a.joints, a.groups, a.wires} {
		if err := part(); err != nil {
			return err
		}
	}
	return nil
}

// number asks for a number that a key of the plan takes.
func (a *asker) number(key, text, fallback string, least, most float64, help string) (float64, error) {
	s, err := a.v.ask(query{text: text, fallback: fallback, hasFall: fallback != "", help: help,
		check: func(s string) string {
			x, ok := plan.NumberOf(key, s)
			if !ok {
				return fmt.Sprintf("%q isn't understood: a number, as %s.", s, cmp.Or(fallback, "12"))
			}
			if math.IsNaN(x) || x < least || x > most {
				return fmt.Sprintf("It must lie between %g and %g.", least, most)
			}
			return ""
		}})
	if err != nil {
		return 0, err
	}
	x, _ := plan.NumberOf(key, s)
	return x, nil
}

// count asks for a whole number.
func (a *asker) count(text, fallback string, most int) (int, error) {
	s, err := a.v.ask(query{text: text, fallback: fallback, hasFall: fallback != "", check: func(s string) string {
		if n, err := strconv.Atoi(s); err != nil || n < 1 || n > most {
			return fmt.Sprintf("A whole number from 1 to %d.", most)
		}
		return ""
	}})
	if err != nil {
		return 0, err
	}
	n, err := strconv.Atoi(s)
	return n, err
}

// choose asks for one of several by its number, and gives its place from 0. Enter takes
// the one at usual, none where that is -1.
func (a *asker) choose(text string, choices []string, usual int, help string) (int, error) {
	fallback := ""
	if usual >= 0 {
		fallback = strconv.Itoa(usual + 1)
	}
	s, err := a.v.ask(query{text: text, choices: choices, fallback: fallback, hasFall: usual >= 0, help: help,
		check: func(s string) string {
			if n, err := strconv.Atoi(s); err != nil || n < 1 || n > len(choices) {
				return fmt.Sprintf("The number before one of them, 1 to %d.", len(choices))
			}
			return ""
		}})
	if err != nil {
		return 0, err
	}
	n, err := strconv.Atoi(s)
	return n - 1, err
}

// name asks for a name of a kind of thing that is none of those taken.
func (a *asker) name(kind, text string, optional bool, taken []string) (string, error) {
	return a.v.ask(query{text: text, hasFall: optional, check: func(s string) string {
		if s == "" {
			return ""
		}
		if what, instead := plan.NameProblem(kind, s); what != "" {
			return "That name " + what + ": " + instead + "."
		}
		if slices.ContainsFunc(taken, func(t string) bool { return strings.EqualFold(t, s) }) {
			return "There is one of that name already."
		}
		return ""
	}})
}

// jack asks what feeds the model.
func (a *asker) jack() error {
	kinds := []string{"adapter", "usb", "battery", "coin"}
	i, err := a.choose("What feeds the model?", []string{"an adapter", "USB", "a battery", "a coin cell"}, 0,
		"Direct current only, up to 60 V.")
	if err != nil {
		return err
	}
	j := &a.d.Jack
	j.Source = kinds[i]
	if j.Volts, err = a.number("volts", "How many volts?", []string{"12", "5", "9", "3"}[i], 0.5, 60,
		"What is printed on it, or what you measured."); err != nil {
		return err
	}
	if j.Source != "adapter" {
		return nil
	}
	s, err := a.v.ask(query{text: "How many amperes can it give? Enter: not known.", hasFall: true,
		help: "It is printed on it, behind \"output\", as 1.5 A or 1500 mA.", check: func(s string) string {
			if x, ok := plan.NumberOf("adapter_amps", s); s != "" && (!ok || x <= 0 || x > 100) {
				return "Amperes, as 1.5, or milliamperes, as 1500 mA; at most 100 A."
			}
			return ""
		}})
	if err == nil && s != "" {
		j.AdapterAmps, _ = plan.NumberOf("adapter_amps", s)
	}
	return err
}

// placed is a name with what it lies at: "lantern in deckhouse".
type placed struct{ name, at string }

// listed parts names that were typed in one line. What follows a word like in is where a
// name lies, if that is one of them.
func listed(s, word string) []placed {
	var all []placed
	for _, n := range strings.Split(s, ",") {
		if n = strings.Join(strings.Fields(n), " "); n != "" {
			all = append(all, placed{name: n})
		}
	}
	named := func(s string) bool {
		return slices.ContainsFunc(all, func(x placed) bool {
			own, _, _ := strings.Cut(x.name, " "+word+" ")
			return strings.EqualFold(own, s) || strings.EqualFold(x.name, s)
		})
	}
	out := slices.Clone(all)
	for i, x := range all {
		if j := strings.LastIndex(x.name, " "+word+" "); j > 0 && named(x.name[j+len(word)+2:]) {
			out[i] = placed{x.name[:j], x.name[j+len(word)+2:]}
		}
	}
	return out
}

// inOrder puts what others lie at before them; ok: none lies in itself.
func inOrder(all []placed) (out []placed, ok bool) {
	for len(out) < len(all) {
		n := len(out)
		for _, x := range all {
			there := func(name string) bool {
				return slices.ContainsFunc(out, func(y placed) bool { return strings.EqualFold(y.name, name) })
			}
			if !there(x.name) && (x.at == "" || there(x.at)) {
				out = append(out, x)
			}
		}
		if len(out) == n {
			return nil, false
		}
	}
	return out, true
}

// names asks for several names in one line, each with what it lies at behind a word.
func (a *asker) names(kind, word, text, help string) ([]placed, error) {
	s, err := a.v.ask(query{text: text, hasFall: true, help: help, check: func(s string) string {
		seen := map[string]bool{}
		all := listed(s, word)
		for _, x := range all {
			n := x.name
			if what, instead := plan.NameProblem(kind, n); what != "" {
				return fmt.Sprintf("%q %s: %s.", n, what, instead)
			}
			if seen[strings.ToLower(n)] {
				return fmt.Sprintf("%q stands there twice.", n)
			}
			seen[strings.ToLower(n)] = true
			if i := strings.LastIndex(n, " "+word+" "); i > 0 {
				return fmt.Sprintf("%q is none of them: name it too, or leave out %q.", n[i+len(word)+2:], word)
			}
		}
		if _, ok := inOrder(all); !ok {
			return "One of them lies in itself."
		}
		return ""
	}})
	out, _ := inOrder(listed(s, word))
	return out, err
}

// spelled is a name as it stands where it was given first: case doesn't tell two apart.
func spelled(all []placed, name string) string {
	for _, x := range all {
		if strings.EqualFold(x.name, name) {
			return x.name
		}
	}
	return name
}

// closures asks what is glued shut, and what closes inside what.
func (a *asker) closures() error {
	names, err := a.names("closure", "in",
		"What is glued shut, as: hull, deckhouse, lantern in deckhouse? Enter: the model as one.",
		"Each part that hides lights for good once it's glued. Each is tested before it closes, what closes "+
			"inside another before that.")
	for _, x := range names {
		a.d.Closures = append(a.d.Closures, plan.DraftClosure{Name: x.name, Inside: spelled(names, x.at)})
	}
	return err
}

// joints asks for solder points.
func (a *asker) joints() error {
	names, err := a.names("joint", "from", "Solder points where wires part, as: keel, mast from keel? Enter: none.",
		"A point that feeds several groups. One bad joint then explains several dim groups. What isn't from "+
			"another is fed from the jack.")
	named := func(n string) string {
		if strings.EqualFold(n, "main") {
			return n + " joint"
		}
		return n
	}
	for _, x := range names {
		j := plan.DraftJoint{Name: named(x.name), From: "main"}
		if x.at != "" {
			j.From = named(spelled(names, x.at))
		}
		a.d.Joints = append(a.d.Joints, j)
	}
	return err
}
