package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/wording"
)

// prompt stands before what the maker types.
const prompt = "> "

// question gives the lines of the question that is open, the prompt last.
func (f *face) question() []string {
	if f.ask == nil {
		return nil
	}
	cols, _ := f.screen.size()
	out := wrappedTo(cols, "> ", "  ", f.ask.Text)
	if l := placeList(f.ask.Places); len(l) > 0 {
		out = append(out, filledTo(cols, "  ", "  ", l)...)
	}
	k := keys(*f.ask)
	if columns(k)+2 < cols {
		return append(out, "  "+f.ink.open(k), prompt)
	}
	return append(append(out, wrappedTo(cols, "  ", "  ", k)...), prompt)
}

// placeList numbers what may have been touched, but for what lies elsewhere. A number stays beside
// its name.
func placeList(ps []capture.Place) (out []string) {
	for i, p := range ps {
		if p.Elsewhere {
			continue
		}
		name := p.Name
		if p.Kind != "" && p.Kind != "group" {
			name = p.Kind + " " + p.Name
		}
		out = append(out, fmt.Sprintf("%d %s", i+1, name))
	}
	return out
}

// Ask writes a question and waits for a line that answers it.
func (f *face) Ask(ctx context.Context, asked session.Question) (capture.Answer, error) {
	if x, ok := inquiryOf(asked); ok {
		return f.inquire(ctx, x)
	}
	q := asked.Question
	if asked.About != nil && q.Kind == capture.AskLook {
		q.Text, q.Help = wording.LookQuestion(q.Groups, *asked.About)
	}
	if asked.About != nil && asked.About.Stopped { // why was said
		q.Text = wording.StoppedByLimit + " r tries it once more; Enter ends it here."
	}
	for {
		f.keys.flush()
		f.open(q)
		s, err := f.hear(ctx)
		f.close(s, err == nil)
		switch {
		case errors.Is(err, errInputEnded):
			return capture.Answer{Choice: "stop"}, err
		case err != nil:
			return capture.Answer{}, err
		case s == "?":
			f.wrapped("  ? ", cmp.Or(q.Help, "Answer with one of these: "+keys(q)+".")+givesUp(q))
			continue
		case strings.EqualFold(s, anotherMeter) && givesUp(q) != "":
			return capture.Answer{}, capture.AnotherMeter()
		case f.wantsLight(q, s):
			continue
		case strings.EqualFold(s, wording.Else) && wording.HasElse(q):
			q.Places = hereAll(q.Places)
			continue
		}
		a, why := answer(q, s)
		if why == "" {
			return a, nil
		}
		f.wrapped("  ? ", why)
	}
}

// hereAll are places as if all of them were at hand: they are listed all.
func hereAll(ps []capture.Place) []capture.Place {
	out := slices.Clone(ps)
	for i := range out {
		out[i].Elsewhere = false
	}
	return out
}

// wantsLight takes what is typed at a look for more light. Enter alone keeps it lit, and lights
// nothing that went dark.
func (f *face) wantsLight(q capture.Question, s string) bool {
	if q.Kind != capture.AskLook && q.Kind != capture.AskUnderstood {
		return false
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if !strings.EqualFold(s, wording.MoreLight) && (s != "" || f.state.LitFor <= 0) {
		return false
	}
	f.light = true
	return true
}

// Lights tells, once, whether more light is wanted.
func (f *face) Lights() bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	was := f.light
	f.light = false
	return was
}

// anotherMeter is typed at a question to take another meter from now on.
const anotherMeter = "meter"

// givesUp says how the meter is given up at a question of a test; "": it can't be there.
func givesUp(q capture.Question) string {
	switch q.Kind {
	case capture.AskClip, capture.AskSense, capture.AskAgain, capture.AskNumber, capture.AskPlug, capture.AskSolder:
		return " " + anotherMeter + ": another meter from now on."
	}
	return ""
}

var errInputEnded = errors.New("the input ended in the middle of a question")

// typedAhead is said of a line that came before its question could be read.
const typedAhead = "That was typed before the question; it doesn't count."

// hear waits for a line that was typed after the question that stands on the
// screen now, with a little quiet before it. What was typed ahead is dropped, and
// that is said once; the words that stop always count.
func (f *face) hear(ctx context.Context) (string, error) {
	f.keys.await(true)
	defer f.keys.await(false)
	opened, said := f.now(), false
	quiet := opened // since when nothing came
	for {
		lines, ended := f.keys.take()
		for i, l := range lines {
			switch {
			case stops(l.text):
				return l.text, nil
			case l.at.Sub(quiet) >= f.settle:
				f.keys.putBack(lines[i+1:])
				return l.text, nil
			}
			f.ahead(l, !l.at.Before(opened), !said)
			said = true
			if l.at.After(quiet) {
				quiet = l.at // a key that is held down answers nothing
			}
		}
		if ended {
			return "", errInputEnded
		}
		select {
		case <-ctx.Done():
			return "", context.Cause(ctx)
		case <-f.keys.more:
		}
	}
}

// ahead drops a line, below its question or from before it, and says so.
func (f *face) ahead(l typedLine, below, say bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if below {
		f.screen.typed(prompt + l.text)
	}
	switch {
	case say:
		f.printWrapped("  ? ", "    ", typedAhead)
	case below:
		f.print()
	}
}

func (f *face) open(q capture.Question) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.ask = &q
	if !f.screen.live { // the prompt can't stand below what comes
		for _, l := range f.question()[:len(f.question())-1] {
			fmt.Fprintln(f.screen.w, l)
		}
		return
	}
	f.print()
}

// close takes the question away; what was typed stays to be read.
func (f *face) close(typed string, entered bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.ask = nil
	if entered {
		f.screen.typed(prompt + typed)
	}
	if typed != "" && f.screen.live {
		f.printWrapped("  > ", "    ", typed)
		return
	}
	f.print()
}

// keys says what may be typed.
func keys(q capture.Question) string { return wording.Keys(q) }

// answer turns a typed line into an answer; what isn't understood is asked
// again, with the words that say why. A slip of the finger must not switch on,
// nor pass a look.
func answer(q capture.Question, s string) (a capture.Answer, why string) {
	word, rest, _ := strings.Cut(s, " ")
	word, rest = strings.ToLower(word), strings.TrimSpace(rest)
	switch {
	case stops(s):
		return capture.Answer{Choice: "stop"}, ""
	case rest == "" && (word == "u" || word == capture.Undo) && slices.Contains(q.Choices, capture.Undo):
		return capture.Answer{Choice: capture.Undo}, ""
	case rest == "" && (word == "u" || word == capture.Undo):
		return a, "there is no answer to take back here"
	}
	switch q.Kind {
	case capture.AskNumber:
		return capture.Answer{Choice: "number", Text: s}, ""
	case capture.AskHazard, capture.AskReason:
		return hazardAnswer(q.Kind, s)
	case capture.AskLook, capture.AskUnderstood:
		return lookAnswer(q, s, word, rest)
	case capture.AskTouched:
		return touchAnswer(q, s)
	case capture.AskSense:
		return senseAnswer(q, s, word, rest)
	}
	if word == "" {
		return capture.Answer{Choice: wording.Entered(session.Question{Question: q})}, ""
	}
	for _, c := range q.Choices {
		if c == "done" || c == "stop" || c == capture.Undo || (word != c && word != c[:1]) {
			continue
		}
		if rest == "" && (c == "accept" || c == "skip") {
			return a, fmt.Sprintf("say why, too: %s REASON", word)
		}
		return capture.Answer{Choice: c, Text: rest}, ""
	}
	return a, fmt.Sprintf("%q is no answer here", s)
}

// lookAnswer: only a passes a look, and the words all right.
func lookAnswer(q capture.Question, s, word, rest string) (a capture.Answer, why string) {
	right := slices.Contains(q.Choices, "right")
	switch lower := strings.ToLower(s); {
	case s == "":
		return a, "Enter alone is no answer here: " + keys(q)
	case right && (lower == "a" || lower == capture.AllRight):
		return capture.Answer{Choice: "right"}, ""
	case word == "s" || word == "skip":
		return capture.Answer{Choice: "skip", Text: rest}, ""
	case s == "c" && slices.Contains(q.Choices, capture.NoColours):
		return capture.Answer{Choice: capture.NoColours}, ""
	case s == "c" && slices.Contains(q.Choices, capture.Colours):
		return capture.Answer{Choice: capture.Colours}, ""
	case (word == "p" || word == capture.Press) && slices.Contains(q.Choices, capture.Press):
		return capture.Answer{Choice: capture.Press, Text: rest}, ""
	case len([]rune(s)) < 3 || lower == "yes":
		return a, fmt.Sprintf("%q is no answer here: %s", s, keys(q))
	}
	return capture.Answer{Choice: "wrong", Text: s}, ""
}

// touchAnswer: that nothing was touched is said, too.
func touchAnswer(q capture.Question, s string) (a capture.Answer, why string) {
	switch strings.ToLower(s) {
	case "":
		return a, "Enter alone is no answer here: " + keys(q)
	case "n", "nothing":
		return capture.Answer{Choice: "nothing"}, ""
	}
	return capture.Answer{Choice: "touched", Text: s}, ""
}
