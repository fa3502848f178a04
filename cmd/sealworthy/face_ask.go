package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"sealworthy/capture"
)

// lineReader hands out lines until the input ends. It can't be stopped while it
// waits for a key; the process ends with it.
func lineReader(r io.Reader) <-chan string {
	c := make(chan string)
	go func() {
		defer close(c)
		s := bufio.NewScanner(r)
		for s.Scan() {
			c <- strings.TrimSpace(s.Text())
		}
	}()
	return c
}

// prompt stands before what the maker types.
const prompt = "> "

// question gives the lines of the question that is open, the prompt last.
func (f *face) question() []string {
	if f.ask == nil {
		return nil
	}
	cols, _ := f.screen.size()
	out := wrappedTo(cols, "> ", "  ", f.ask.Text)
	k := keys(*f.ask)
	if columns(k)+2 < cols {
		return append(out, "  "+f.ink.open(k), prompt)
	}
	return append(append(out, wrappedTo(cols, "  ", "  ", k)...), prompt)
}

// Ask writes a question and waits for a line.
func (f *face) Ask(ctx context.Context, q capture.Question) (capture.Answer, error) {
	if f.lines == nil {
		return capture.Answer{}, fmt.Errorf("%w: nobody to ask (%s)", capture.ErrUnattended, q.Kind)
	}
	for {
		f.open(q)
		select {
		case <-ctx.Done():
			f.close("", false)
			return capture.Answer{}, context.Cause(ctx)
		case s, ok := <-f.lines:
			f.close(s, ok)
			if !ok {
				return capture.Answer{Choice: "stop"}, errors.New("the input ended in the middle of a question")
			}
			a, why := answer(q, s)
			if why == "" {
				return a, nil
			}
			f.wrapped("  ? ", why)
		}
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
func keys(q capture.Question) string {
	switch q.Kind {
	case capture.AskLook:
		return "Enter: all right   or type which isn't   s: skip   q: stop"
	case capture.AskAgain:
		return "Enter: go on   r: redo   a REASON: accept as it is   q: stop"
	case capture.AskNumber:
		return "type what it shows, as 38.2 (mA) or 0.04 A or OL   q: stop"
	case capture.AskHazard, capture.AskReason:
		return hazardKeys(q.Kind)
	case capture.AskWiggle, capture.AskSupply, capture.AskPlug:
		return "Enter: done   q: stop"
	}
	if slices.Contains(q.Choices, "keep") {
		return "Enter: moved it   k: it is right as it is   s REASON: skip   q: stop"
	}
	return "Enter: done   s REASON: skip   q: stop"
}

// answer turns a typed line into an answer; what isn't understood is asked
// again, with the words that say why. A slip of the finger must not switch on.
func answer(q capture.Question, s string) (a capture.Answer, why string) {
	word, rest, _ := strings.Cut(s, " ")
	word, rest = strings.ToLower(word), strings.TrimSpace(rest)
	if rest == "" && (word == "q" || word == "stop" || word == "quit") {
		return capture.Answer{Choice: "stop"}, ""
	}
	switch q.Kind {
	case capture.AskNumber:
		return capture.Answer{Choice: "number", Text: s}, ""
	case capture.AskHazard, capture.AskReason:
		return hazardAnswer(q.Kind, s)
	}
	if word == "" {
		return capture.Answer{Choice: goOn(q.Kind)}, ""
	}
	for _, c := range q.Choices {
		if c == goOn(q.Kind) || c == "stop" || c == "wrong" || (word != c && word != c[:1]) {
			continue
		}
		if rest == "" && (c == "accept" || (c == "skip" && q.Kind != capture.AskLook)) {
			return a, fmt.Sprintf("say why, too: %s REASON", word)
		}
		return capture.Answer{Choice: c, Text: rest}, ""
	}
	if q.Kind == capture.AskLook {
		return capture.Answer{Choice: "wrong", Text: s}, ""
	}
	return a, fmt.Sprintf("%q is no answer here", s)
}

// goOn is what Enter alone means.
func goOn(k capture.QuestionKind) string {
	switch k {
	case capture.AskLook:
		return "right"
	case capture.AskAgain:
		return "next"
	}
	return "done"
}
