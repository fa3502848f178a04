package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"sealworthy/capture"
	"sealworthy/compare/plan"
	"sealworthy/compare/returns"
)

// inquiry is one question of a return: what to do and to type, and what becomes
// of it. Enter alone stands for enter; keys are single letters with what they
// mean; anything else goes to typed.
type inquiry struct {
	question string
	text     []string
	enter    string            // "": Enter alone is no answer
	keys     map[string]string // letter to answer
	hint     string            // the line that says what may be typed
	typed    func(s string) (answer, why string)
}

// inquirer leads through what is looked at and measured before the model gets
// current, with the face that shows the test later.
type inquirer struct {
	face *face
	p    *plan.Plan
	s    *returns.Signature
	have answers
	keep func(question, answer string) error
}

// errHeldBack: the maker didn't give the model current because of what he saw.
var errHeldBack = errors.New("stopped before the model got any current: open it where it shows")

// all asks what wasn't answered yet, in order.
func (q *inquirer) all(ctx context.Context) error {
	if err := q.eye(ctx); err != nil {
		return err
	}
	for _, x := range []inquiry{q.client(), q.colours()} {
		if err := q.one(ctx, x); err != nil {
			return err
		}
	}
	if err := q.one(ctx, q.adapter()); err != nil || q.have[askedAdapter] != wasSent {
		return err
	}
	if err := q.one(ctx, q.polarity()); err != nil {
		return err
	}
	if err := q.one(ctx, q.openVolts()); err != nil {
		return err
	}
	if q.have.adapter().Reversed {
		return nil // whatever else it does, it doesn't fit this model
	}
	if err := q.one(ctx, q.ohms()); err != nil || q.have.number(askedOhms) == nil {
		return err
	}
	return q.one(ctx, q.loadedVolts())
}

// one asks a question that has no answer yet, and keeps the answer.
func (q *inquirer) one(ctx context.Context, x inquiry) error {
	if _, ok := q.have[x.question]; ok {
		return nil
	}
	a, err := q.ask(ctx, x)
	if err != nil {
		return err
	}
	q.have[x.question] = a
	return q.keep(x.question, a)
}

// ask writes a question and waits for a line that answers it.
func (q *inquirer) ask(ctx context.Context, x inquiry) (string, error) {
	f := q.face
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
			return "", err
		case stops(s):
			return "", capture.ErrStopped
		case s == "" && x.enter != "":
			return x.enter, nil
		}
		if a, ok := x.keys[strings.ToLower(s)]; ok {
			return a, nil
		}
		why := fmt.Sprintf("%q is no answer here", s)
		if s != "" && x.typed != nil {
			var a string
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

// eye is the first look. Something seen stops it unless the maker wants to go on.
func (q *inquirer) eye(ctx context.Context) error {
	err := q.one(ctx, inquiry{
		question: askedEye,
		text: []string{
			"First by eye. Nothing is connected yet.",
			"- Smell at the jack and along the seams: burnt?",
			"- Brown, melted or bulging spots? Traces of liquid, green or white crust?",
			"- The jack: bent, loose, dirty? Tilt the model: does anything rattle?",
			"- A battery inside? If it's swollen or warm: outside with it, onto stone; don't press or charge it.",
		},
		keys: map[string]string{"a": nothingSeen, "all right": nothingSeen}, hint: "a: nothing of that   or type what you see   q: stop",
		typed: func(s string) (string, string) {
			if len([]rune(s)) < 3 || strings.EqualFold(s, "yes") {
				return "", fmt.Sprintf("%q is no answer here", s)
			}
			return s, ""
		},
	})
	if err != nil || q.have[askedEye] == nothingSeen {
		return err
	}
	const goOn = "go on"
	a, err := q.ask(ctx, inquiry{
		text: []string{"That is kept: " + q.have[askedEye] + ".",
			"A model that was hot or wet gets no current: open it where it shows. Only what can't burn, as a bent plug, is gone on with."},
		enter: "stop", keys: map[string]string{"g": goOn}, hint: "Enter: stop here   g: go on all the same",
	})
	if err == nil && a != goOn {
		return errHeldBack
	}
	return err
}

func (q *inquirer) client() inquiry {
	return inquiry{
		question: askedClient,
		text:     []string{"What does the client say is wrong? In their words, as: the bow light is dark."},
		enter:    saidNothing, keys: map[string]string{"d": dontKnow}, hint: "type it   Enter: nothing was said   d: don't know   q: stop",
		typed: func(s string) (string, string) {
			if len([]rune(s)) < 3 {
				return "", fmt.Sprintf("%q is no answer here", s)
			}
			return s, ""
		},
	}
}

func (q *inquirer) colours() inquiry {
	return inquiry{
		question: askedColours,
		text:     []string{"Can you tell the colours of lights apart? It's asked once; without, no look asks for colours."},
		enter:    judges, keys: map[string]string{"n": judgesNot}, hint: "Enter: yes   n: no   q: stop",
	}
}

func (q *inquirer) adapter() inquiry {
	return inquiry{
		question: askedAdapter,
		text: []string{
			"The client's own adapter, alone: the commonest cause. Is it there?",
			"Never open it. With a cracked case or cable it isn't plugged in: say n.",
		},
		enter: wasSent, keys: map[string]string{"n": notSent, "d": dontKnow},
		hint: "Enter: it is here   n: not sent   d: don't know   q: stop",
	}
}

func (q *inquirer) polarity() inquiry {
	return inquiry{
		question: askedPolarity,
		text: []string{
			"Plug the adapter in alone, nothing on it. Meter on DC volts: red to " + plusOf(q.p, q.s) + ", black to the other. Does it show a minus?",
			"Its leads in the volts jacks: in the mA jack the meter is a short.",
		},
		enter: plusRight, keys: map[string]string{"m": turnedRound, "d": dontKnow},
		hint: "Enter: no minus   m: a minus, turned round   d: don't know   q: stop",
	}
}

func (q *inquirer) openVolts() inquiry {
	return inquiry{
		question: askedOpen, text: []string{"How many volts does it show?"},
		keys: map[string]string{"d": dontKnow}, hint: voltsHint(q.p, q.s, 1.01),
		typed: func(s string) (string, string) {
			v, why := numberIn(s, "volts", -mostVolts, mostVolts)
			return volts(v), why
		},
	}
}

func (q *inquirer) ohms() inquiry {
	ohm, watt := returns.AdapterLoad(q.p, q.s)
	return inquiry{
		question: askedOhms,
		text: []string{fmt.Sprintf("Now with a load: a resistor of about %.3g ohm, %.3g W or more, draws what the model draws. How many ohms has yours?", ohm, watt),
			"Don't put it on yet."},
		keys: map[string]string{"d": dontKnow},
		hint: fmt.Sprintf("type the ohms, as %.3g   d: I have none   q: stop", ohm),
		typed: func(s string) (string, string) {
			v, why := numberIn(s, "ohms", 0, 1e5)
			if why == "" && v < ohm/4 {
				why = fmt.Sprintf("%.3g ohm would take more than any adapter for this model gives: take at least %.3g", v, ohm/2)
			}
			return volts(v), why
		},
	}
}

func (q *inquirer) loadedVolts() inquiry {
	return inquiry{
		question: askedLoaded,
		text: []string{"Put the resistor onto the adapter's plug, the meter beside it. After five seconds: how many volts? Then take it off.",
			"It gets hot: hold it with pliers, away from plastic."},
		keys: map[string]string{"d": dontKnow},
		hint: voltsHint(q.p, q.s, 0.99),
		typed: func(s string) (string, string) {
			v, why := numberIn(s, "volts", 0, mostVolts)
			return volts(v), why
		},
	}
}

// voltsHint says what may be typed, with an example of about the jack's volts.
func voltsHint(p *plan.Plan, s *returns.Signature, factor float64) string {
	return fmt.Sprintf("type the volts, as %.1f   d: don't know   q: stop", factor*returns.JackOf(p, s).Volts)
}

// plusOf says where plus of a plug should be.
func plusOf(p *plan.Plan, s *returns.Signature) string {
	if plug := returns.JackOf(p, s).Plug; plug != "" {
		return "where plus should be (" + plug + ")"
	}
	return "where plus should be"
}

var numberAlone = regexp.MustCompile(`^([+-]?[0-9]+(?:[.,][0-9]+)?)\s*([a-zA-ZΩ]*)$`)

// numberIn reads a typed number, with a comma or its unit if need be.
func numberIn(s, what string, least, most float64) (v float64, why string) {
	m := numberAlone.FindStringSubmatch(strings.TrimSpace(s))
	if m == nil {
		return 0, fmt.Sprintf("%q is no number of %s", s, what)
	}
	switch strings.ToLower(m[2]) {
	case "", what[:1], what, strings.TrimSuffix(what, "s"):
	case "r", "ω":
		if what != "ohms" {
			return 0, fmt.Sprintf("%q: type %s", s, what)
		}
	default:
		return 0, fmt.Sprintf("%q: type %s", s, what)
	}
	v, err := strconv.ParseFloat(strings.Replace(m[1], ",", ".", 1), 64)
	switch {
	case err != nil || math.IsNaN(v):
		return 0, fmt.Sprintf("%q is no number of %s", s, what)
	case v < least || v > most:
		return 0, fmt.Sprintf("%g %s can't be: see what the meter is set to", v, what)
	}
	return v, ""
}
