package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"sealworthy/compare"
	"sealworthy/compare/plan"
)

// width is what every line of a report fits into.
const width = 80

// ink writes words in colour where that is wanted. Colour never carries a
// meaning of its own: a mark and a word stand beside it.
type ink struct{ on bool }

func (k ink) paint(code, s string) string {
	if !k.on {
		return s
	}
	return "\x1b[" + code + "m" + s + "\x1b[0m"
}

func (k ink) good(s string) string { return k.paint("32", s) }
func (k ink) bad(s string) string  { return k.paint("1;31", s) }
func (k ink) open(s string) string { return k.paint("33", s) }
func (k ink) loud(s string) string { return k.paint("1", s) }

// mark is the sign before a verdict.
func mark(v compare.Verdict) string {
	switch v {
	case compare.InBand:
		return "+"
	case compare.CantTell, compare.NotMeasured:
		return "?"
	}
	return "!"
}

func (k ink) verdict(v compare.Verdict) string {
	s := mark(v) + " " + string(v)
	switch mark(v) {
	case "+":
		return k.good(s)
	case "?":
		return k.open(s)
	}
	return k.bad(s)
}

func (k ink) closure(v compare.ClosureVerdict) string {
	s := strings.ToUpper(string(v))
	switch v {
	case compare.ReadyToClose, compare.ReadyByCurrent:
		return k.good("+ " + s)
	case compare.KeepOpen:
		return k.bad("! " + s)
	}
	return k.open("? " + s)
}

// sayFindings prints closures with their groups and reasons, the gravest first.
func sayFindings(w io.Writer, k ink, cs []compare.ClosureFinding, all bool) {
	cs = slices.Clone(cs)
	slices.SortStableFunc(cs, func(a, b compare.ClosureFinding) int { return gravity(a) - gravity(b) })
	for i, c := range cs {
		if i > 0 {
			fmt.Fprintln(w)
		}
		head := c.Closure
		if c.Inside != "" {
			head += " (closes inside " + c.Inside + ")"
		}
		fmt.Fprintf(w, "%s: %s\n", k.loud(head), k.closure(c.Verdict))
		groups := slices.DeleteFunc(slices.Clone(c.Groups), func(f compare.Finding) bool {
			return !all && f.Verdict == compare.InBand && len(f.Notes) == 0
		})
		slices.SortStableFunc(groups, func(a, b compare.Finding) int { return order(a.Verdict) - order(b.Verdict) })
		for _, r := range c.Reasons {
			if !saidBelow(r, groups) {
				wrap(w, "  - ", "    ", r)
			}
		}
		for _, f := range groups {
			sayFinding(w, k, f)
		}
	}
}

// gravity orders closures: what keeps one open comes first.
func gravity(c compare.ClosureFinding) int {
	return slices.Index([]compare.ClosureVerdict{compare.KeepOpen, compare.NotSettled, compare.ClosedByChoice, compare.ReadyByCurrent, compare.ReadyToClose}, c.Verdict)
}

// order puts failures first, then what can't be told, then the rest.
func order(v compare.Verdict) int { return strings.Index("!?+", mark(v)) }

// saidBelow: the reason is a group's, and that group is written out below it.
func saidBelow(reason string, groups []compare.Finding) bool {
	return slices.ContainsFunc(groups, func(f compare.Finding) bool {
		return mark(f.Verdict) != "+" && f.Accepted == "" && (strings.HasPrefix(reason, f.Group+":") || strings.HasPrefix(reason, f.Group+", pace "))
	})
}

func sayFinding(w io.Writer, k ink, f compare.Finding) {
	name := f.Group
	if f.Pace != "" {
		name += ", " + f.Pace
	}
	s := compare.Say(f)
	fmt.Fprintf(w, "  %s  %s\n", k.loud(name), k.verdict(f.Verdict))
	switch {
	case s.Measured != "" && s.Expected != "":
		wrap(w, "      ", "      ", "measured "+s.Measured+", expected "+s.Expected)
	case s.Measured != "":
		wrap(w, "      ", "      ", "measured "+s.Measured)
	}
	if f.Why != "" {
		wrap(w, "      why: ", "           ", f.Why)
	}
	for i, c := range f.Causes {
		lead := "likely: "
		if i > 0 {
			lead = "or:     "
		}
		wrap(w, "      "+lead, "              ", c.Text)
	}
	for _, x := range f.Settle {
		wrap(w, "      to settle it: ", "                    ", x)
	}
	for _, n := range f.Notes {
		wrap(w, "      note: ", "            ", n)
	}
}

// say writes words within width columns; a text that has lines of its own, as
// those of a file or of a command, stays as it is.
func say(w io.Writer, first, next, text string) {
	if strings.Contains(text, "\n") {
		fmt.Fprintln(w, first+text)
		return
	}
	wrap(w, first, next, text)
}

// wrap writes words within width columns.
func wrap(w io.Writer, first, next, text string) {
	for _, l := range wrapped(first, next, text) {
		fmt.Fprintln(w, l)
	}
}

// wrapped parts words into lines of width columns.
func wrapped(first, next, text string) []string { return wrappedTo(width, first, next, text) }

// wrappedTo parts words into lines of so many columns, width at most; colours
// don't count.
func wrappedTo(cols int, first, next, text string) []string {
	cols = min(cols, width)
	var out []string
	line, used := first, columns(first)
	empty := true
	for _, word := range strings.Fields(text) {
		n := columns(word)
		if !empty && used+1+n > cols {
			out = append(out, line)
			line, used, empty = next, columns(next), true
		}
		if !empty {
			line, used = line+" ", used+1
		}
		line, used, empty = line+word, used+n, false
	}
	return append(out, line)
}

// columns is how wide a text is on a terminal.
func columns(s string) int {
	n, esc := 0, false
	for _, r := range s {
		switch {
		case r == '\x1b':
			esc = true
		case esc:
			esc = r != 'm'
		case r != '\a':
			n++
		}
	}
	return n
}

// cautions are shown where a test begins, in few words; the sheet says more.
func cautions(p *plan.Plan) []string {
	out := []string{
		"never solder with the output on; the screen always says which it is",
		"meter in the plus lead, its plug in the jack that fits the current",
		"low voltage still burns, and sets plastic on fire: keep the fuse in",
		"two USB instruments can meet through the computer: join minus once",
	}
	for _, j := range p.Jacks {
		if j.Source == "adapter" {
			out = append(out, "adapters: a marked one, unopened; mains is for licensed people")
			break
		}
	}
	return out
}

// exitOf gives the status for a set of closures: the gravest counts.
func exitOf(cs []compare.ClosureFinding) int {
	status := exitReady
	for _, c := range cs {
		switch c.Verdict {
		case compare.KeepOpen:
			return exitKeepOpen
		case compare.NotSettled:
			status = exitNotSettled
		}
	}
	return status
}
