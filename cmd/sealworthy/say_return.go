package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare/look"
	"sealworthy/compare/returns"
	"sealworthy/compare/words"
)

// sayDiagnosis prints what a return tells.
func sayDiagnosis(w io.Writer, k ink, d *returns.Diagnosis) {
	fmt.Fprintf(w, "%s: %s\n", k.loud(d.Build+", returned"), k.diagnosis(d))
	for i, c := range d.Set {
		if d.Verdict == returns.ShortedUp {
			break
		}
		lead := "  "
		if len(d.Set) > 1 {
			lead = fmt.Sprintf("  %d. ", i+1)
		}
		line := c.Text + " (" + words.Sureness(c.P) + ")"
		if c.Closure != "" {
			line += ". To reach it: open the " + c.Closure
		}
		wrap(w, lead, "     ", line)
	}
	if line := seenLine(d.Seen); line != "" {
		wrap(w, "  seen: ", "        ", line)
	}
	if d.Adapter != nil {
		wrap(w, "  adapter: ", "           ", d.Adapter.Text)
	}
	for _, b := range d.Blinkers {
		if b.State != "running" {
			wrap(w, "  blinker: ", "           ", fmt.Sprintf("%q is %s in the trace: %s", b.Group, b.State, b.Why))
		}
	}
	for _, x := range d.Drops {
		wrap(w, "  intermittent: ", "    ", x.Text)
	}
	if d.Named != nil {
		wrap(w, "  ", "  ", d.RestsOn(false))
	}
	for _, line := range alike(d.Twins) {
		wrap(w, "  alike: ", "         ", line+d.AlikeText())
	}
	for _, n := range d.Next {
		wrap(w, "  next: ", "        ", n.What)
	}
	for _, n := range d.Notes {
		wrap(w, "  note: ", "        ", n)
	}
	if d.Simulated {
		fmt.Fprintln(w, "  The bench was simulated: no real model stands behind it.")
	}
}

// seenLine says what was seen of lights; "" where nobody looked.
func seenLine(all []returns.Seen) string {
	var odd, hidden []string
	looked, blind := 0, false // blind: by somebody who can't judge colours
	for _, s := range all {
		if s.Client {
			continue
		}
		looked++
		blind = blind || s.Look.Saw == look.AllLit && !s.Look.SaysOf(look.Colour)
		switch {
		case s.Look.What == look.NotSeen:
			hidden = append(hidden, s.Group)
		case s.Look.Saw != look.AllLit:
			odd = append(odd, s.Group+" "+s.Look.Words())
		}
	}
	var parts []string
	if len(odd) > 0 {
		parts = append(parts, strings.Join(odd, ", "))
	}
	if len(hidden) > 0 {
		parts = append(parts, "not to be seen: "+strings.Join(hidden, ", "))
	}
	switch rest := looked - len(odd) - len(hidden); {
	case looked == 0:
		return ""
	case len(parts) == 0 && blind:
		return "all lights are " + look.RightNoColours
	case len(parts) == 0:
		return "all lights are " + look.Right
	case rest > 0 && blind:
		parts = append(parts, "the others "+look.RightNoColours)
	case rest > 0:
		parts = append(parts, "the others "+look.Right)
	}
	return strings.Join(parts, "; ")
}

// diagnosis is the verdict as one word group.
func (k ink) diagnosis(d *returns.Diagnosis) string {
	if len(d.Drops) > 0 && !d.Alarm {
		return k.bad("! a contact in it opens now and then")
	}
	switch d.Verdict {
	case returns.AsItLeft:
		if d.Adapter != nil && d.Adapter.Faulty {
			return k.bad("! the model draws what it drew when it left; the adapter is at fault")
		}
		return k.good("+ it draws what it drew when it left")
	case returns.OnePlace:
		if !d.Known() {
			return k.bad("! most likely " + wording.PlaceOf(*d.Named) + ": " + returns.LookBeforeOpening)
		}
		return k.bad("! one place is at fault: " + wording.PlaceOf(*d.Named))
	case returns.OneOf:
		return k.bad("! something is wrong, in one of these places")
	case returns.NotListed:
		return k.bad("! something is wrong that is not in the list")
	case returns.ShortedUp:
		return k.bad("! stopped by the limit: too much flows")
	}
	if d.Adapter != nil && d.Adapter.Faulty {
		return k.bad("! the adapter is at fault; the model may be as it was")
	}
	return k.open("? can't tell: it may be as it was")
}

// alike puts twins together that hang together: "a, b and c".
func alike(ts []returns.Twin) []string {
	var sets [][]string
	find := func(name string) int {
		return slices.IndexFunc(sets, func(s []string) bool { return slices.Contains(s, name) })
	}
	for _, t := range ts {
		a, b := find(t.A), find(t.B)
		switch {
		case a < 0 && b < 0:
			sets = append(sets, []string{t.A, t.B})
		case a < 0:
			sets[b] = append(sets[b], t.A)
		case b < 0:
			sets[a] = append(sets[a], t.B)
		case a != b:
			sets[a] = append(sets[a], sets[b]...)
			sets = slices.Delete(sets, b, b+1)
		}
	}
	var out []string
	for _, s := range sets {
		out = append(out, strings.Join(s[:len(s)-1], ", ")+" and "+s[len(s)-1])
	}
	return out
}

// keptOf says how much of a group a signature holds.
var keptOf = map[returns.Kept]string{returns.KeptSweep: "measured alone, over all voltages",
	returns.KeptLevels: "measured alone, at some voltages", returns.KeptOne: "measured alone, at one voltage"}

// sayKept prints what a signature holds and what can't be told apart later.
func sayKept(w io.Writer, s *returns.Signature, file string) {
	kept := map[returns.Kept][]string{}
	for _, g := range s.Groups {
		kept[g.Kept] = append(kept[g.Kept], g.Group)
	}
	wrap(w, "", "  ", fmt.Sprintf("%s is kept as it is now: that is what it's compared with if it comes back.",
		s.Build))
	wrap(w, "  in ", "    ", file)
	for _, k := range []returns.Kept{returns.KeptSweep, returns.KeptLevels, returns.KeptOne} {
		if len(kept[k]) > 0 {
			wrap(w, "  "+keptOf[k]+": ", "    ", strings.Join(kept[k], ", "))
		}
	}
	for _, x := range s.Whole {
		pace := x.Pace
		if pace != "" {
			pace = " (" + pace + ")"
		}
		wrap(w, "  the whole model"+pace+": ", "    ", fmt.Sprintf("at %d voltages, and %d readings one after another",
			len(x.Sweep.Volts), len(x.Trace)))
	}
	if r := s.Resistor; r != nil {
		wrap(w, "  a resistor of ", "    ", fmt.Sprintf("%.3g ohm, read in its place: put it away with the model's "+
			"papers. Read again when it comes back, it tells two meters apart from the model", r.Ohm()))
	}
	for _, line := range alike(s.Twins) {
		wrap(w, "  alike: ", "    ", "a dark light in any of these looks the same from the jack: "+line)
	}
	for _, n := range s.Notes {
		wrap(w, "  note: ", "    ", n)
	}
	if s.WarmS < returns.Warm.Seconds()-1 {
		wrap(w, "  note: ", "    ", fmt.Sprintf("it was on for %.0f s only before it was measured; one that comes "+
			"back is measured warm: better keep it once more, after ten minutes", s.WarmS))
	}
}
