package main

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/wording"
)

// benchInquiry is how a question about the instruments of a bench is asked on a terminal;
// false: it's none of these. What lets something go on is typed in full.
func benchInquiry(q session.Question) (x inquiry, ok bool) {
	switch q.Kind {
	case session.AskProfile, session.AskWhich, session.AskOutput, session.AskJack:
		return pickInquiry(q), true
	case session.AskTry:
		x = inquiry{enter: session.Leave, keys: map[string]string{"yes": session.TryThem, "y": session.TryThem,
			"no": session.Leave, "n": session.Leave}, hint: "yes   Enter: not now   q: stop"}
	case session.AskFree:
		x = inquiry{enter: session.NotFree, keys: map[string]string{"yes": session.Free, "no": session.NotFree,
			"n": session.NotFree}, hint: "yes, in full   Enter: no, leave it off   q: stop"}
	case session.AskWritten:
		x = inquiry{enter: session.Write, keys: map[string]string{"yes": session.Write, "y": session.Write,
			"no": session.Leave, "n": session.Leave}, hint: "Enter: yes   n: no   q: stop"}
	default:
		return x, false
	}
	return x, true
}

// pickInquiry asks for one of a list, by number or name.
func pickInquiry(q session.Question) (x inquiry) {
	x.hint = "type its number   q: stop"
	x.keys = map[string]string{}
	x.enter = wording.Entered(q)
	for _, w := range wording.Ways(q) {
		if w.Choice == x.enter {
			x.hint = "type its number   Enter: " + w.Says + "   q: stop"
		}
	}
	x.typed = func(s string) (a capture.Answer, why string) {
		for i, p := range q.Places {
			if s == strconv.Itoa(i+1) || strings.EqualFold(s, p.Name) {
				return capture.Answer{Choice: session.Pick, Text: p.Name}, ""
			}
		}
		return a, fmt.Sprintf("%q is none of these", s)
	}
	return x
}

// sayLooked writes what came of a port.
func sayLooked(w io.Writer, cols int, x session.Looked) {
	for _, l := range lookedLines(cols, x) {
		fmt.Fprintln(w, l)
	}
}

func lookedLines(cols int, x session.Looked) (out []string) {
	t := wording.LookedText(x)
	add := func(first, next, text string) { out = append(out, wrappedTo(cols, first, next, text)...) }
	out = append(out, "", x.Port)
	more := "    "
	switch {
	case t.Head == "":
		add("  - ", "    ", t.Why)
	default:
		add("  ", "    ", t.Head)
		if t.Why != "" {
			add("  ! ", "    ", t.Why)
		}
	}
	for _, m := range t.More {
		add(more, more, m)
	}
	if x.Use != nil && x.Trial != nil && x.Trial.Reading != nil {
		out = append(out, "  "+readingText(x.Trial.Reading))
	}
	return out
}
