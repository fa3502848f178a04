package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"io"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/plan"
	"sealworthy/instruments/rig"
)

// TestEventScripts lets a program run tests by lines of events, on the ports of a
// simulated bench in simulated time.
func TestEventScripts(t *testing.T) {
	t.Parallel()
	testscript.Run(t, benchScripts("testdata/events"))
}

// talk speaks with a verb as the file "talk" says, line by line:
//
//	when KIND CHOICE        a question of this kind that isn't the next gets this
//	asked KIND PATTERN      a question of this kind is open (open_volts), its text matches
//	hand LINE               hands at the bench, as the rig takes them
//	answer CHOICE [TEXT]    answers that question
//	raw LINE                says this, with the question's number for N
//	close                   ends what the verb reads
//	told WHAT [PATTERN]     such an event comes, and its line matches
//
// heard ends it: the lines that came are whole, in order, and all was said.
func talk(ts *testscript.TestScript, r *rig.Bench, got *bytes.Buffer) (stdin io.Reader, stdout io.Writer,
	heard func()) {
	src, err := os.ReadFile(ts.MkAbs("talk"))
	ts.Check(err)
	ts.Check(os.Remove(ts.MkAbs("talk")))
	in, say := io.Pipe()
	lines, out := io.Pipe()
	x := &talker{r: r, say: say, number: "0", when: map[string]string{},
		todo: strings.Split(strings.TrimSpace(string(src)), "\n")}
	for ; strings.HasPrefix(x.todo[0], "when "); x.todo = x.todo[1:] {
		f := strings.Fields(x.todo[0])
		x.when[f[1]] = f[2]
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		s := bufio.NewScanner(lines)
		s.Buffer(nil, 16<<20)
		for s.Scan() {
			got.Write(append(s.Bytes(), '\n'))
			x.hear(s.Bytes())
		}
	}()
	return in, out, func() {
		in.Close()
		out.Close()
		<-done
		if x.wrong == "" && len(x.todo) > 0 {
			x.wrong = "it never came to: " + x.todo[0]
		}
		if x.wrong != "" {
			ts.Fatalf("%s\n%s", x.wrong, got)
		}
	}
}

// talker is a program that follows a test and answers.
type talker struct {
	r      *rig.Bench
	say    io.WriteCloser
	todo   []string
	n      uint64
	number string            // of the question that is open
	when   map[string]string // choice by kind of question
	wrong  string
}

// hear takes a line that came.
func (x *talker) hear(src []byte) {
	var e session.Event
	if err := json.Unmarshal(src, &e); err != nil {
		x.fail("no event: " + err.Error())
		return
	}
	if x.n++; e.N != x.n {
		x.fail("an event is left out before " + string(src))
	}
	if len(x.todo) == 0 || x.wrong != "" {
		if x.wrong == "" && e.What == session.Asked {
			x.fail("asked more than was thought of: " + e.Ask.Text)
		}
		return
	}
	what, rest, _ := strings.Cut(x.todo[0], " ")
	kind, pattern, _ := strings.Cut(rest, " ")
	kind = strings.ReplaceAll(kind, "_", " ")
	switch {
	case e.What == session.Asked && what == "asked" && string(e.Ask.Kind) == kind &&
		regexp.MustCompile(pattern).MatchString(e.Ask.Text):
		n, _ := json.Marshal(e.Ask.Number)
		x.number = string(n)
	case what == "told" && string(e.What) == kind && regexp.MustCompile(pattern).Match(src):
	case e.What == session.Asked && x.when[string(e.Ask.Kind)] != "":
		n, _ := json.Marshal(e.Ask.Number)
		x.line(`{"question":` + string(n) + `,"choice":"` + x.when[string(e.Ask.Kind)] + `"}`)
		return
	case e.What == session.Asked:
		x.fail("asked " + string(e.Ask.Kind) + " " + e.Ask.Text + "\ninstead of " + x.todo[0])
		return
	case e.What == session.Refused:
		x.fail("refused " + string(e.Why) + "\ninstead of " + x.todo[0])
		return
	default:
		return
	}
	x.todo = x.todo[1:]
	x.speak(what)
}

// speak says and does what is next, up to what is to be heard.
func (x *talker) speak(what string) {
	for len(x.todo) > 0 {
		var rest string
		what, rest, _ = strings.Cut(x.todo[0], " ")
		switch what {
		case "hand":
			if _, err := hand(&atRig{Bench: x.r, plan: new(plan.Plan)}, rest); err != nil {
				x.fail(err.Error())
			}
		case "answer":
			choice, text, _ := strings.Cut(rest, " ")
			t, _ := json.Marshal(text)
			x.line(`{"question":` + x.number + `,"choice":"` + choice + `","text":` + string(t) + `}`)
		case "close":
			x.say.Close()
		case "raw":
			x.line(strings.ReplaceAll(rest, "N", x.number))
		default:
			return
		}
		x.todo = x.todo[1:]
	}
	if what == "asked" {
		x.fail("nothing is said to the last question")
	}
}

func (x *talker) line(s string) {
	if _, err := io.WriteString(x.say, s+"\n"); err != nil {
		x.fail(err.Error())
	}
}

// fail ends the test that isn't what was thought of.
func (x *talker) fail(why string) {
	if x.wrong == "" {
		x.wrong = why
		_, _ = io.WriteString(x.say, `{"stop":true}`+"\n") // it may be over already
	}
}

// The page of the events names each verb that speaks in them, and no other; at the bench all
// of them do.
func TestEventsNameTheirVerbs(t *testing.T) {
	var has []string
	for name, v := range verbs {
		e := silent()
		speaks, bench := false, false
		e.listing = func(f *flag.FlagSet) {
			speaks = f.Lookup("events") != nil
			bench = f.Lookup("supply") != nil && f.Lookup("meter") != nil && name != "page"
		}
		if _, err := v(t.Context(), e, []string{"-h"}); !errors.Is(err, flag.ErrHelp) {
			t.Fatal(name, err)
		}
		if speaks {
			has = append(has, name)
		}
		if bench && !speaks {
			t.Errorf("%s is at the bench, and has no --events", name)
		}
	}
	slices.Sort(has)
	want := "Verbs with --events: " + strings.Join(has, ", ") + "."
	if doc := strings.Join(strings.Fields(session.EventsDoc), " "); len(has) < 7 || !strings.Contains(doc, want) {
		t.Errorf("it doesn't say %q", want)
	}
}
