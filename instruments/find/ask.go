package find

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// How long somebody who was asked may take, and the silence that ends an answer.
// A slow supply takes a quarter of a second; an adapter holds bytes for 16 ms.
const (
	answerWithin = 700 * time.Millisecond
	answerEnds   = 120 * time.Millisecond
	// moduleWithin is for a Modbus module at one address of several: they answer within
	// some milliseconds (common practice, no source). A late answer still counts while
	// the next is asked.
	moduleWithin = 200 * time.Millisecond
)

// asker speaks to an open port without knowing how it answers.
type asker struct {
	c    clock.Clock
	port instruments.Port
	end  string // of what is sent
	// Of what comes back, found by the first answer.
	echo   bool
	prompt string
}

// hear collects bytes until none came for a while, the first within limit.
func (a *asker) hear(ctx context.Context, limit, quiet time.Duration) ([]byte, error) {
	var got []byte
	buf := make([]byte, 512)
	last := a.c.Now().Add(limit + 4*quiet) // of what never ends
	until := a.c.Now().Add(limit)
	for len(got) < 4096 && a.c.Now().Before(last) {
		n, err := a.port.ReadUntil(ctx, buf, until)
		got = append(got, buf[:n]...)
		switch {
		case errors.Is(err, clock.ErrDeadline):
			return got, nil
		case err != nil:
			return got, err
		}
		until = a.c.Now().Add(quiet)
	}
	return got, nil
}

// raw sends bytes and gives what comes.
func (a *asker) raw(ctx context.Context, message []byte) ([]byte, error) {
	a.port.Discard()
	return a.within(ctx, message, answerWithin)
}

// within is raw with a limit of its own, and hears what came before, too.
func (a *asker) within(ctx context.Context, message []byte, limit time.Duration) ([]byte, error) {
	if err := a.port.Write(ctx, message); err != nil {
		return nil, err
	}
	return a.hear(ctx, limit, answerEnds)
}

// ask asks in a line and gives the answer's line, "" for none.
func (a *asker) ask(ctx context.Context, question string) (string, error) {
	got, err := a.raw(ctx, []byte(question+a.end))
	if err != nil {
		return "", err
	}
	line, _, _ := a.line(question, got)
	return line, nil
}

// line takes echo, ends and prompt off an answer. ended: it had a line end.
func (a *asker) line(question string, got []byte) (line, behind string, ended bool) {
	text := string(got)
	if echoed := question + a.end; strings.HasPrefix(text, echoed) {
		text = text[len(echoed):]
	} else if a.echo {
		text = strings.TrimPrefix(text, question)
	}
	text = strings.TrimLeft(text, "\r\n")
	for a.prompt != "" && strings.HasPrefix(text, a.prompt) {
		text = strings.TrimLeft(text[len(a.prompt):], "\r\n")
	}
	i := strings.IndexAny(text, "\r\n")
	if i < 0 {
		return text, "", false
	}
	return text[:i], strings.TrimLeft(text[i:], "\r\n"), true
}

// readable tells whether bytes are text of which a person could read something.
func readable(b []byte) bool {
	letters := 0
	for _, c := range bytes.TrimRight(b, "\r\n") {
		switch {
		case c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z':
			letters++
		case c < ' ' && c != '\r' && c != '\n' && c != '\t', c > '~':
			return false
		}
	}
	return letters >= 2
}
