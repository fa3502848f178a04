package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"golang.org/x/term"

	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
	"sealworthy/plots"
)

// width is what every line of a report fits into.
const width = 80

// ink writes words in colour where that is wanted. Colour never carries a
// meaning of its own: a mark and a word stand beside it.
type ink struct{ on *outlet } // nil: no colour

func (k ink) paint(c code, s string) string {
	if k.on == nil {
		return s
	}
	return k.on.own(c) + s + k.on.own(noInk)
}

func (k ink) good(s string) string { return k.paint(goodInk, s) }
func (k ink) bad(s string) string  { return k.paint(badInk, s) }
func (k ink) open(s string) string { return k.paint(openInk, s) }
func (k ink) loud(s string) string { return k.paint(loudInk, s) }

// mark is the sign before a verdict.
func mark(v compare.Verdict) string { return wording.Mark(v) }

// verdict is a mark and the word for it.
func (k ink) verdict(v compare.Verdict, word string) string {
	s := mark(v) + " " + word
	switch mark(v) {
	case "+":
		return k.good(s)
	case "?":
		return k.open(s)
	}
	return k.bad(s)
}

func (k ink) closure(v compare.ClosureVerdict) string {
	s := wording.ClosureMark(v) + " " + strings.ToUpper(string(v))
	switch wording.ClosureMark(v) {
	case "+":
		return k.good(s)
	case "!":
		return k.bad(s)
	}
	return k.open(s)
}

// sayFindings prints closures with their groups and reasons, the gravest first. The
// changes to the plan go by their numbers where they are listed below, else in full.
func sayFindings(w io.Writer, k ink, cs []compare.ClosureFinding, changes []planChange, all bool) {
	if s := planChanged(cs); s != "" {
		wrap(w, "note: ", "      ", s)
		fmt.Fprintln(w)
	}
	if beforeChain(cs) {
		wrap(w, "note: ", "      ", ofBeforeTheChain)
		fmt.Fprintln(w)
	}
	for _, s := range beside(cs) {
		wrap(w, "note: ", "      ", s)
	}
	for i, c := range wording.Gravest(cs) {
		if i > 0 {
			fmt.Fprintln(w)
		}
		head := c.Closure
		if c.Inside != "" {
			head += " (closes inside " + c.Inside + ")"
		}
		fmt.Fprintf(w, "%s: %s\n", k.loud(head), k.closure(c.Verdict))
		if c.Simulated {
			wrap(w, "  ", "  ", plots.SimulatedVerdict)
		}
		if c.Slip != nil {
			wrap(w, "  ", "  ", c.Slip.Text())
		}
		groups := slices.DeleteFunc(slices.Clone(c.Groups), func(f compare.Finding) bool {
			return !all && f.Verdict == compare.InBand && len(notes(f)) == 0 && f.Accepted == ""
		})
		slices.SortStableFunc(groups, func(a, b compare.Finding) int { return order(a.Verdict) - order(b.Verdict) })
		if names := unmeasured(c); names != nil {
			filled(w, "  nothing measured yet: ", "    ", names)
			for _, r := range c.Reasons {
				if !saidBelow(r, c.Groups) {
					wrap(w, "  - ", "    ", r)
				}
			}
			continue
		}
		for _, r := range c.Reasons {
			if !saidBelow(r, groups) {
				wrap(w, "  - ", "    ", r)
			}
		}
		for _, f := range groups {
			sayFinding(w, k, f, changes)
		}
		if all {
			sayItems(w, c.Items)
		}
	}
}

// beside is what couldn't be worked out for some of the closures, each once.
func beside(cs []compare.ClosureFinding) []string {
	var out []string
	for _, c := range cs {
		for _, s := range c.Beside {
			if !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	return out
}

// ofBeforeTheChain is said of readings that stand in no chain.
const ofBeforeTheChain = "some of the record is of before the chain: whether a line of it is missing can't be told"

func beforeChain(cs []compare.ClosureFinding) bool {
	return slices.ContainsFunc(cs, func(c compare.ClosureFinding) bool { return c.BeforeChain })
}

// sayItems lists what a closure must hold, ticked or not.
func sayItems(w io.Writer, items []compare.Item) {
	for _, x := range items {
		tick := "[x]"
		if x.By == "" {
			tick = "[ ]"
		}
		wrap(w, "  "+tick+" ", "      ", fmt.Sprintf("%s (%s): %s", x.Name, x.Kind, x.By.Words()))
	}
}

// order puts failures first, then what can't be told, then the rest.
func order(v compare.Verdict) int { return strings.Index("!?+", mark(v)) }

// saidBelow: the reason is a group's, and that group is written out below it.
func saidBelow(reason string, groups []compare.Finding) bool {
	return slices.ContainsFunc(groups, func(f compare.Finding) bool {
		return mark(f.Verdict) != "+" && f.Accepted == "" && (strings.HasPrefix(reason, f.Group+":") ||
			strings.HasPrefix(reason, f.Group+", pace "))
	})
}

// planChanged says once which readings were taken by an older plan.
func planChanged(cs []compare.ClosureFinding) string {
	var older []string
	every := true
	for _, c := range cs {
		for _, f := range c.Groups {
			switch {
			case f.PlanChanged && !slices.Contains(older, f.Group):
				older = append(older, f.Group)
			case !f.PlanChanged && f.Readings > 0:
				every = false
			}
		}
	}
	switch {
	case older == nil:
		return ""
	case every:
		return "the plan changed after these readings; they are judged by the plan as it is now"
	}
	return "the plan changed after the readings of " + strings.Join(older, ", ") +
		"; they are judged by the plan as it is now"
}

// notes of a finding, but for what planChanged says of all.
func notes(f compare.Finding) []string {
	return slices.DeleteFunc(slices.Clone(f.Notes), func(n string) bool {
		return f.PlanChanged && strings.HasPrefix(n, "the plan changed after this reading")
	})
}

// unmeasured names the groups of a closure of which nothing was measured, and
// nothing told either; nil where there is more to say.
func unmeasured(c compare.ClosureFinding) []string {
	var names []string
	for _, f := range c.Groups {
		if f.Verdict != compare.NotMeasured || f.Readings > 0 || len(f.Notes) > 0 || len(f.Causes) > 0 ||
			f.Why != "" || f.Seen != "" || f.Accepted != "" || !f.At.IsZero() {
			return nil
		}
		if !slices.Contains(names, f.Group) {
			names = append(names, f.Group)
		}
	}
	return names
}

func sayFinding(w io.Writer, k ink, f compare.Finding, changes []planChange) {
	name := f.Group
	if f.Pace != "" {
		name += ", " + f.Pace
	}
	s := compare.Say(f)
	fmt.Fprintf(w, "  %s  %s\n", k.loud(name), k.verdict(f.Verdict, s.Word))
	switch {
	case s.Measured != "" && s.Expected != "":
		wrap(w, "      ", "      ", "measured "+s.Measured+", expected "+s.Expected)
	case s.Measured != "":
		wrap(w, "      ", "      ", "measured "+s.Measured)
	}
	for _, a := range f.Also {
		if a.Nothing() {
			continue
		}
		wrap(w, "      ", "      ", fmt.Sprintf("at %s V: %s, expected %s", words.Number(a.Volts, 0.1),
			words.Milliamps(a.MeasuredA, a.MeasuredU), words.Milliamps(a.ExpectedA, a.ExpectedU)))
	}
	if x := f.Excluded; x != nil {
		wrap(w, "      ", "      ", words.Excluded(x.LossA, x.JointOhm, f.PHealthy))
	}
	if f.Why != "" {
		wrap(w, "      why: ", "           ", f.Why)
	}
	for i, c := range f.Causes {
		lead := "likely: "
		switch {
		case i > 0:
			lead = "or:     "
		case words.Asks(c.Text):
			lead = "do this: "
		}
		n := slices.IndexFunc(changes, func(x planChange) bool { return x.Edit == c.Edit })
		if n >= 0 {
			c.Text += fmt.Sprintf(" (change %d of the plan, below)", changes[n].Number)
		}
		wrap(w, "      "+lead, strings.Repeat(" ", 6+len(lead)), c.Text)
		if c.Edit != "" && n < 0 {
			wrap(w, "              to change the plan: ", "                ", c.Edit)
		}
	}
	settle := f.Settle
	if f.Verdict == compare.NotMeasured && slices.Equal(settle, []string{"measure it"}) {
		settle = nil // the verdict says that
	}
	for i, x := range settle {
		lead := "to settle it: "
		if i > 0 {
			lead = "or:           "
		}
		wrap(w, "      "+lead, "                    ", x)
	}
	if f.Learned != "" {
		wrap(w, "      note: ", "            ", f.Learned)
	}
	if f.Accepted != "" {
		wrap(w, "      note: ", "            ", "accepted by the maker: "+f.Accepted)
	}
	for _, n := range notes(f) {
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
	for _, l := range linesOf(columnsOf(w), first, next, text) {
		fmt.Fprintln(w, l)
	}
}

// columnsOf is how wide a report on w may be: the width, or what a narrower terminal has.
func columnsOf(w io.Writer) int {
	if o, ok := w.(*outlet); ok && o.flow {
		return math.MaxInt
	}
	if f, ok := fileOf(w); ok {
		if cols, _, err := term.GetSize(int(f.Fd())); err == nil && cols > 0 {
			return min(cols, width)
		}
	}
	return width
}

// wrapped parts words into lines of width columns.
func wrapped(first, next, text string) []string { return wrappedTo(width, first, next, text) }

// wrappedTo parts words into lines of so many columns, width at most; colours
// don't count.
func wrappedTo(cols int, first, next, text string) []string {
	return linesOf(min(cols, width), first, next, text)
}

// linesOf is wrappedTo of any width.
func linesOf(cols int, first, next, text string) []string {
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

// filled writes names with commas within width columns. No name is parted: a
// maker copies it as it stands.
func filled(w io.Writer, first, next string, names []string) {
	for _, l := range filledTo(columnsOf(w), first, next, names) {
		fmt.Fprintln(w, l)
	}
}

// filledTo is filled within so many columns.
func filledTo(cols int, first, next string, names []string) (out []string) {
	line, empty := first, true
	for i, n := range names {
		if i < len(names)-1 {
			n += ","
		}
		if !empty && columns(line)+1+columns(n) > min(cols, width) {
			out = append(out, line)
			line, empty = next, true
		}
		if !empty {
			line += " "
		}
		line, empty = line+n, false
	}
	return append(out, line)
}

// cautions are shown where a test begins: two short lines each at most, five at
// most; the sheet says more. Common practice, no source.
func cautions(p *plan.Plan) []string {
	out := []string{
		"never solder with the output on, nor while it is sensing; the screen always says which",
		"the meter goes into the plus lead, and its plug into the jack that is marked for the current.",
		"low voltage still burns you, and can set glued plastic on fire. Don't bridge or leave out the fuse in the feed.",
		"two instruments on USB can be joined through the computer. Connect their minus to the model in one place only.",
	}
	for _, j := range p.Jacks {
		if j.Source == "adapter" {
			out = append(out, "use a mains adapter with its safety marks and never open it. The mains side is for "+
				"licensed people.")
			break
		}
	}
	return out
}

// exitOf gives the status for a set of closures: the gravest counts, and all of
// them must be ready to close for the status that says so.
func exitOf(cs []compare.ClosureFinding) int {
	status := exitReady
	if len(cs) == 0 {
		status = exitNotReady
	}
	for _, c := range cs {
		if c.Changed != "" {
			return exitKeepOpen
		}
		switch c.Verdict {
		case compare.KeepOpen:
			return exitKeepOpen
		case compare.ReadyToClose:
		default:
			status = exitNotReady
		}
	}
	return status
}
