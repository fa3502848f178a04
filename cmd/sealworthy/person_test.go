//go:build unix

package main

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode"
)

// person is how fast somebody reads, types and clips: 240 words a minute read (the mean
// of studies of silent reading, from memory), 40 typed (common practice, no source), a quarter of a minute to move a
// clip or to look.
type person struct {
	t     *testing.T
	spent time.Duration
	known map[string]bool // what was read: it's recognised the next time
	asked []moment        // where the time went
}

const (
	keyTime  = 300 * time.Millisecond
	wordTime = 250 * time.Millisecond
	handTime = 15 * time.Second
	thinks   = 2 * time.Second // before an answer that is typed
	nods     = time.Second     // before Enter alone
)

// moment is what one prompt took of a person's time.
type moment struct {
	at                             string // what was read last
	reading, thinking, typing, own time.Duration
	answer                         string
}

func (m moment) all() time.Duration { return m.reading + m.thinking + m.typing + m.own }

// stands begins another moment.
func (p *person) stands(at string) { p.asked = append(p.asked, moment{at: at}) }

// takes adds to what the prompt takes at which the person stands; by is its kind.
func (p *person) takes(d time.Duration, by func(*moment) *time.Duration) {
	if len(p.asked) == 0 {
		p.stands("")
	}
	p.spent += d
	*by(&p.asked[len(p.asked)-1]) += d
}

func toThink(m *moment) *time.Duration { return &m.thinking }
func toType(m *moment) *time.Duration  { return &m.typing }
func toRead(m *moment) *time.Duration  { return &m.reading }
func toDo(m *moment) *time.Duration    { return &m.own } // hands, eyes and the bench

// reads reads what is new. A line whose words were read before, with other numbers in it,
// takes a glance: they are seen.
func (p *person) reads(text string) {
	for _, l := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune("\n.?:;", r) }) {
		if p.known[l] {
			continue
		}
		p.known[l] = true
		words := wordsIn(l)
		n := len(words)
		if template := strings.Join(words, " "); p.known[template] {
			n = min(n, 1)
		} else {
			p.known[template] = true
		}
		p.takes(time.Duration(n)*wordTime, toRead)
	}
}

// wordsIn are the words of a text; numbers and marks are seen, not read.
func wordsIn(text string) (words []string) {
	for _, w := range strings.Fields(text) {
		if strings.ContainsFunc(w, unicode.IsLetter) {
			words = append(words, w)
		}
	}
	return words
}

// question is what is asked on a terminal: what stands behind the last lead of a
// question. The lines above it, painted over all the time, are glanced at.
func question(painted string) string { return painted[strings.LastIndex(painted, "> ")+1:] }

func (p *person) types(line string) {
	if line == "" {
		p.takes(nods, toThink)
		return
	}
	p.takes(thinks, toThink)
	p.takes(time.Duration(len(line)+1)*keyTime, toType)
	p.asked[len(p.asked)-1].answer += line
}

// tramFolder is the folder among the words of a command: somebody who stands beside it
// types its name alone.
func tramFolder(typed []string) string {
	for _, w := range typed {
		if filepath.Base(w) == "tram" {
			return w
		}
	}
	return "tram"
}

// begins types a command.
func (p *person) begins(typed []string) {
	p.stands("")
	p.types("sealworthy " + strings.ReplaceAll(strings.Join(typed, " "), tramFolder(typed), "tram"))
}

// commands types a command in a folder, with all that it then asks, and reads what it
// says. It gives the exit status.
func (p *person) commands(typed []string, lines ...string) (int, string) {
	p.t.Helper()
	p.begins(typed)
	var out, errs bytes.Buffer
	e := env{stdin: strings.NewReader(strings.Join(lines, "\n") + "\n"), stdout: &out, stderr: &errs,
		getenv: func(string) string { return "" }}
	status := run(context.Background(), typed, e)
	screen := strings.SplitAfterN(out.String()+errs.String(), "\n", 25)
	if len(lines) == 0 && len(screen) == 25 {
		screen = screen[:24] // of a report the first screen
	}
	for _, asked := range strings.SplitAfter(strings.Join(screen, ""), "\n> ") {
		if p.reads(asked); len(lines) > 0 {
			p.types(lines[0])
			p.asked[len(p.asked)-1].at = strings.TrimSuffix(asked, "\n> ")
			lines = lines[1:]
			p.stands("")
		}
	}
	if len(lines) > 0 {
		p.t.Errorf("%v: answers nobody asked for: %q", typed, lines)
	}
	return status, out.String() + errs.String()
}

// account tells where the time went, prompt by prompt.
func (p *person) account() string {
	var s strings.Builder
	for _, m := range p.asked {
		if m.all() == 0 {
			continue
		}
		at := []rune(strings.Join(strings.Fields(m.at), " "))
		fmt.Fprintf(&s, "%5.1f s: reads %4.1f, thinks %3.1f, types %4.1f, hands %4.1f; %q to %q\n", m.all().Seconds(),
			m.reading.Seconds(), m.thinking.Seconds(), m.typing.Seconds(), m.own.Seconds(), m.answer,
			string(at[max(0, len(at)-90):]))
	}
	var sum moment
	for _, m := range p.asked {
		for _, part := range []func(*moment) *time.Duration{toRead, toThink, toType, toDo} {
			*part(&sum) += *part(&m)
		}
	}
	fmt.Fprintf(&s, "in all it reads %v, thinks %v, types %v, hands and bench %v", sum.reading, sum.thinking,
		sum.typing, sum.own)
	return s.String()
}
