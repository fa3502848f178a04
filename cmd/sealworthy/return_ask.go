package main

import (
	"context"
	"fmt"
	"strings"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/wording"
)

// inquiry is how a question of a return is asked on a terminal: what to do and to
// type, and what becomes of it. Enter alone stands for enter; keys are single
// letters with what they mean; anything else goes to typed.
type inquiry struct {
	text  []string
	enter string            // "": Enter alone is no answer
	keys  map[string]string // letter to choice
	hint  string            // the line that says what may be typed
	typed func(s string) (a capture.Answer, why string)
}

// inquire writes a question of a return and waits for a line that answers it.
func (f *face) inquire(ctx context.Context, x inquiry) (capture.Answer, error) {
	f.line("")
	for i, t := range x.text {
		lead := "  "
		if i == 0 {
			lead = "> "
		}
		f.wrapped(lead, t)
	}
	for {
		f.keys.flush()
		f.line("  %s", f.ink.open(x.hint))
		f.prompt()
		s, err := f.hear(ctx)
		switch {
		case err != nil:
			return capture.Answer{}, err
		case stops(s):
			return capture.Answer{Choice: "stop"}, nil
		case s == "" && x.enter != "":
			return capture.Answer{Choice: x.enter}, nil
		}
		if c, ok := x.keys[strings.ToLower(s)]; ok {
			return capture.Answer{Choice: c}, nil
		}
		why := fmt.Sprintf("%q is no answer here", s)
		if s != "" && x.typed != nil {
			var a capture.Answer
			if a, why = x.typed(s); why == "" {
				return a, nil
			}
		}
		f.wrapped("  ? ", why)
	}
}

// prompt stands before what is typed, on a terminal that shows it.
func (f *face) prompt() {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.screen.live {
		fmt.Fprint(f.screen.w, prompt)
	}
}

// inquiryOf is how a question of a return is asked; false: it's none of these.
func inquiryOf(q session.Question) (x inquiry, ok bool) {
	if q.About == nil {
		return x, false
	}
	switch q.Kind {
	case session.AskEye:
		x = eyeInquiry()
	case session.AskGoOn:
		x = inquiry{enter: session.StopHere, keys: map[string]string{"g": session.GoOn},
			hint: "Enter: stop here   g: go on all the same"}
	case session.AskClient:
		x = clientInquiry(q.About.Why != "")
	case session.AskColours:
		x = inquiry{enter: session.Judges, keys: map[string]string{"n": session.JudgesNot},
			hint: "Enter: yes   n: no   q: stop"}
	case session.AskAdapter:
		x = inquiry{
			enter: session.WasSent, keys: map[string]string{"n": session.NotSent, "d": session.DontKnow},
			hint: "Enter: it is here   n: " + wording.NotThere(q) + "   d: don't know   q: stop",
		}
	case session.AskPolarity:
		x = inquiry{
			enter: session.PlusRight, keys: map[string]string{"m": session.TurnedRound, "d": session.DontKnow},
			hint: "Enter: no minus   m: a minus, turned round   d: don't know   q: stop",
		}
	case session.AskOpen:
		x = voltsInquiry(q, 1.01)
	case session.AskLoad:
		x = loadInquiry(q)
	case session.AskLoaded:
		x = voltsInquiry(q, 0.99)
	case session.AskFuse:
		x = fuseInquiry(q)
	default:
		if x, ok = benchInquiry(q); !ok {
			return x, false
		}
	}
	x.text = wording.Inquired(q)
	if l := placeList(q.Places); len(l) > 0 {
		x.text = append(x.text, strings.Join(l, ", "))
	}
	return x, true
}

// eyeInquiry is the first look: what passes it is never Enter alone.
func eyeInquiry() inquiry {
	return inquiry{
		keys: map[string]string{"a": session.NothingSeen, "all right": session.NothingSeen},
		hint: "a: none of these   or type what you see   q: stop",
		typed: func(s string) (a capture.Answer, why string) {
			if len([]rune(s)) < 3 || strings.EqualFold(s, "yes") {
				return a, fmt.Sprintf("%q is no answer here", s)
			}
			return capture.Answer{Choice: session.Seen, Text: s}, ""
		},
	}
}

// clientInquiry asks for the client's own words, or once more.
func clientInquiry(again bool) inquiry {
	keys, hint := map[string]string{"d": session.DontKnow},
		"type it   Enter: nothing was said   d: don't know   q: stop"
	if again {
		keys, hint = nil, "type it   Enter: leave it at that   q: stop"
	}
	return inquiry{
		enter: session.NothingSaid, keys: keys,
		hint: hint,
		typed: func(s string) (a capture.Answer, why string) {
			if len([]rune(s)) < 3 {
				return a, fmt.Sprintf("%q is no answer here", s)
			}
			return capture.Answer{Choice: session.Said, Text: s}, ""
		},
	}
}

// voltsInquiry asks for volts, with an example of about the jack's.
func voltsInquiry(q session.Question, factor float64) inquiry {
	return inquiry{
		keys:  map[string]string{"d": session.DontKnow},
		hint:  fmt.Sprintf("type the volts, as %.1f   d: don't know   q: stop", factor*q.About.Volts),
		typed: valueTyped(q),
	}
}

// loadInquiry asks for the resistor that the adapter is tried with.
func loadInquiry(q session.Question) inquiry {
	return inquiry{
		keys:  map[string]string{"d": session.DontKnow},
		hint:  fmt.Sprintf("type the ohms, as %.3g   d: I have none   q: stop", q.About.LoadOhm),
		typed: valueTyped(q),
	}
}

// fuseInquiry asks for the fuse behind a meter's jack.
func fuseInquiry(q session.Question) inquiry {
	return inquiry{
		enter: session.DontKnow, keys: map[string]string{"d": session.DontKnow},
		hint:  "type it, as 0.4 (A) or 400 mA   Enter: don't know   q: stop",
		typed: valueTyped(q),
	}
}

// valueTyped takes the value that a question asks for, with its unit or without.
func valueTyped(q session.Question) func(string) (capture.Answer, string) {
	return func(s string) (a capture.Answer, why string) {
		if v, ok := session.TypedValue(q.Kind, s); ok {
			a = capture.Answer{Choice: "number", Number: &v}
		}
		if a.Number == nil || session.Fits(q, a) != "" {
			return a, fmt.Sprintf("%q isn't taken. %s", s, wording.ValueWanted(q))
		}
		return a, ""
	}
}
