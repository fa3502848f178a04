package main

import (
	"fmt"
	"io"
	"path"
	"strings"
	"time"

	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/words"
)

// sayChecked prints what was found in a record.
func sayChecked(w io.Writer, k ink, c checked, build string, where *time.Location) {
	for _, x := range c.Converted {
		if x.Why != "" {
			wrap(w, "left as it is: ", "  ", fmt.Sprintf("%s: %s", x.From, x.Why))
			continue
		}
		wrap(w, "converted: ", "  ", fmt.Sprintf("%s into %s; the old one is kept as %s", x.From, path.Base(x.Into),
			path.Base(x.Kept)))
	}
	for _, x := range c.Repaired {
		if x.Why != "" {
			wrap(w, "no copy: ", "  ", fmt.Sprintf("%s: %s", x.From, x.Why))
			continue
		}
		wrap(w, "copied beside it: ", "  ", fmt.Sprintf("%s into %s, %d sound lines; left out there: %s", x.From,
			path.Base(x.Into), x.Lines, strings.Join(x.Left, ", ")))
	}
	if len(c.Sittings) == 0 && len(c.Damage) == 0 {
		fmt.Fprintln(w, "Nothing is recorded yet.")
		return
	}
	old := false
	for _, s := range c.Sittings {
		old = old || !s.Chained
		wrap(w, fmt.Sprintf("%3d  ", s.Number), "       ", sittingWords(s, where))
		for _, c := range s.Clock {
			wrap(w, "     ", "       ", c)
		}
	}
	for _, f := range c.Files {
		wrap(w, "     beside it: ", "       ", fmt.Sprintf("%s, %s", f.Name, f.State))
	}
	for _, x := range c.Warnings {
		wrap(w, "note: ", "  ", fmt.Sprint(x))
	}
	for _, d := range c.Damage {
		sayDamage(w, k, d)
	}
	fmt.Fprintln(w)
	switch {
	case c.Whole:
		fmt.Fprintln(w, k.good("+ whole: every line is there, as it was written"))
	case c.Open == 0:
		fmt.Fprintln(w, k.open("? damaged, and all of it is answered"))
	default:
		fmt.Fprintln(w, k.bad(fmt.Sprintf("! damaged: %d place(s) to answer", c.Open)))
		fmt.Fprintf(w, "  sealworthy check %s --answer NAME --say TEXT\n", quoted(build))
		wrap(w, "  ", "    ", "Say retest, and all that was recorded before it must be measured and looked at anew. "+
			"Or say what it was: the rest is taken as it stands, and a closure is at best closed by choice.")
	}
	if old {
		wrap(w, "", "  ", "Files of before the chain hold less against damage: sealworthy check "+quoted(build)+
			" --convert chains them.")
	}
}

// sittingWords says what a sitting is in one line.
func sittingWords(s record.SittingState, where *time.Location) string {
	out := []string{path.Base(s.File), s.Stage}
	if s.What != "" && s.What != record.ForTest {
		out = append(out, s.What)
	}
	if s.At.IsZero() {
		out = append(out, "start unknown")
	} else {
		out = append(out, words.Minute(s.At, where))
	}
	out = append(out, fmt.Sprintf("%d lines", s.Lines))
	switch {
	case !s.Chained:
		out = append(out, "before the chain")
	case s.BrokeOff != "":
		out = append(out, "broke off: "+s.BrokeOff)
	case s.Whole:
		out = append(out, "whole")
	default:
		out = append(out, noEndRecorded)
	}
	if s.GoesOn > 0 {
		out = append(out, fmt.Sprintf("goes on with %d", s.GoesOn))
	}
	if s.Simulated {
		out = append(out, "simulated")
	}
	return strings.Join(out, ", ")
}

// sayDamage prints one damage: its name, what it is and what remains of it.
func sayDamage(w io.Writer, k ink, d record.Damage) {
	mark := k.bad("!")
	if d.Answered != "" {
		mark = k.open("?")
	}
	fmt.Fprintf(w, "%s %s\n", mark, d.Name)
	wrap(w, "    ", "    ", d.What)
	if d.Remains != "" {
		fmt.Fprintln(w, "    it reads:")
		for _, part := range pieces(d.Remains, width-6) {
			fmt.Fprintln(w, "      "+part)
		}
	}
	switch d.Answered {
	case "":
	case compare.Retest:
		wrap(w, "    ", "    ", "answered: retest; what came before that counts no more")
	default:
		wrap(w, "    answered: ", "    ", d.Answered)
	}
}

// pieces parts a text of ASCII, which may have no spaces, into lines.
func pieces(s string, columns int) (out []string) {
	for len(s) > columns {
		out, s = append(out, s[:columns]), s[columns:]
	}
	return append(out, s)
}
