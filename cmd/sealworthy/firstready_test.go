//go:build unix

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode"

	"sealworthy/compare"
)

// person is how fast somebody reads, types and clips: 240 words a minute read (the mean
// of studies of silent reading, from memory), 40 typed (common practice, no source), a quarter of a minute to move a
// clip or to look.
type person struct {
	t     *testing.T
	spent time.Duration
	known map[string]bool // what was read: it's recognised the next time
}

const (
	keyTime  = 300 * time.Millisecond
	wordTime = 250 * time.Millisecond
	handTime = 15 * time.Second
	thinks   = 2 * time.Second // before an answer that is typed
	nods     = time.Second     // before Enter alone
)

func (p *person) reads(text string) {
	for _, l := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune("\n.?:;", r) }) {
		if !p.known[l] {
			p.known[l] = true
			p.spent += time.Duration(wordsIn(l)) * wordTime
		}
	}
}

// wordsIn counts the words of a text; numbers and marks are seen, not read.
func wordsIn(text string) (n int) {
	for _, w := range strings.Fields(text) {
		if strings.ContainsFunc(w, unicode.IsLetter) {
			n++
		}
	}
	return n
}

// question is what is asked on a terminal: what stands behind the last lead of a
// question. The lines above it, painted over all the time, are glanced at.
func question(painted string) string { return painted[strings.LastIndex(painted, "> ")+1:] }

func (p *person) types(line string) {
	if line == "" {
		p.spent += nods
		return
	}
	p.spent += thinks + time.Duration(len(line)+1)*keyTime
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

// commands types a command in a folder, with all that it then asks, and reads what it
// says. It gives the exit status.
func (p *person) commands(typed []string, lines ...string) (int, string) {
	p.t.Helper()
	p.types("sealworthy " + strings.ReplaceAll(strings.Join(typed, " "), tramFolder(typed), "tram"))
	for _, l := range lines {
		p.types(l)
	}
	var out, errs bytes.Buffer
	e := env{stdin: strings.NewReader(strings.Join(lines, "\n") + "\n"), stdout: &out, stderr: &errs,
		getenv: func(string) string { return "" }}
	status := run(context.Background(), typed, e)
	screen := strings.SplitAfterN(out.String()+errs.String(), "\n", 25)
	if len(lines) == 0 && len(screen) == 25 {
		screen = screen[:24] // of a report the first screen
	}
	p.reads(strings.Join(screen, ""))
	return status, out.String() + errs.String()
}

// tramAnswers are what somebody says of an invented tram of three groups in two
// closures, to new --ask.
var tramAnswers = []string{
	"", "", "1.5", "cab, body", "", "", // adapter, 12 V, two closures side by side, no joints
	"cab lamp", "2", "6", "", "", "a warm lamp", "red",
	"headlight", "3", "3", "5", "", "680", "", "", "", "white",
	"saloon", "1", "6", "6", "2", "12 windows", "blue",
	"",
}

// longTramAnswers are those of one of eight groups.
var longTramAnswers = []string{
	"", "", "1.5", "cab, body", "", "",
	"cab lamp", "2", "6", "", "", "a warm lamp", "red",
	"headlight", "3", "3", "5", "", "680", "", "", "", "white",
	"tail light", "", "n", "1", "2", "", "", "", "", "", "brown", // another colour, the same resistor
	"saloon", "1", "6", "6", "2", "12 windows", "blue",
	"platform", "", "2", "4 windows", "green",
	"step lamp", "2", "2", "", "", "grey",
	"route board", "1", "3", "", "pink",
	"stop lamp", "3", "", "", "", "black",
	"",
}

// From an empty folder to the first "ready to close": the plan asked for, the budget
// read, and the first closure of a tram tested on the simulated bench by hand, with
// no editor. A person at the speed above needs less than ten minutes for three groups
// with ports that are typed and a key for each clip, which is the slower way. For eight,
// where bench finds the ports and clips are felt, it is 12m49s: half of the telling goes
// into reading each list once, and half of the typing into names, what is seen and wires,
// which are new with each group. A minute goes into bench, the rest is as long as for
// three. Machine time is what the program itself says that it takes, not that of a busy
// machine.
func TestFirstReadyInTenMinutes(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		answers []string
		groups  []string // of the closure
		finds   bool
		most    time.Duration
	}{
		"three groups, typed": {tramAnswers, []string{"cab lamp", "headlight"}, false, 10 * time.Minute},
		"eight groups, felt": {longTramAnswers, []string{"cab lamp", "headlight", "tail light"}, true,
			13 * time.Minute},
	} {
		t.Run(name, func(t *testing.T) { // one after the other: as parallel ones they would begin last of all
			firstReady(t, c.answers, c.groups, c.finds, c.most)
		})
	}
}

// firstReady goes the whole way for one plan.
func firstReady(t *testing.T, answers, groups []string, finds bool, most time.Duration) {
	if testing.Short() {
		t.Skip("real time between processes: runs without -short")
	}
	home := t.TempDir()
	p := &person{t: t, known: map[string]bool{}}
	dir := filepath.Join(t.TempDir(), "tram")
	if status, out := p.commands([]string{"new", dir, "--ask"}, answers...); status != exitReady {
		t.Fatalf("new: %d %s", status, out)
	}
	planned := p.spent
	if status, out := p.commands([]string{"budget", dir}); status != exitReady || strings.Contains(out, "WRONG") {
		t.Fatalf("budget: %d %s", status, out)
	}
	budgeted := p.spent
	// It stands on no clock.
	_, out := (&person{t: t, known: map[string]bool{}}).commands([]string{"left", dir, "--json"})
	var left buildLeft
	if err := json.Unmarshal([]byte(out[strings.Index(out, "{"):]), &left); err != nil {
		t.Fatal(err)
	}
	test := time.Duration(0)
	for _, c := range left.Closures {
		if c.Closure == "cab" {
			test = time.Duration(c.LeftS * float64(time.Second)) // with the clips and looks
		}
	}
	p.spent += test

	r := putUpFor(t, dir)
	typed := []string{"measure", dir, "--closure", "cab"}
	if finds {
		p.finds(r, home)
	} else {
		typed = append(append(typed, "--hands-free=false"), r.ports(false)...)
	}
	found := p.spent - budgeted - test
	p.tests(r, home, groups, typed)
	status, out := p.commands([]string{"compare", dir, "--closure", "cab"})
	if status != exitReady || !strings.Contains(out, strings.ToUpper(string(compare.ReadyToClose))) {
		t.Errorf("compare: %d %s", status, out)
	}
	t.Logf("the plan %v, its budget %v, the bench %v, the test by its own reckoning %v, its questions %v: %v in all",
		planned.Round(time.Second), (budgeted - planned).Round(time.Second), found.Round(time.Second),
		test.Round(time.Second), (p.spent - budgeted - found - test).Round(time.Second), p.spent.Round(time.Second))
	if p.spent > most {
		t.Errorf("a person needs %v, which is more than %v", p.spent.Round(time.Second), most)
	}
}

// finds lets bench find the instruments and write them down. How long that takes the
// machine is read off a simulated bench's clock.
func (p *person) finds(r *rigged, home string) {
	p.t.Helper()
	x := newWorkbench(p.t, nil, nil)
	began := x.w.Clock.Now()
	if _, _, err := x.run("--json", "--port", x.rig.Ports().Supply, "--port", x.rig.Ports().Meter); err != nil {
		p.t.Fatal(err)
	}
	p.spent += x.w.Clock.Now().Sub(began)
	p.types("sealworthy bench") // the ports of a pseudo terminal are in no list of the system: the test names them
	m := command(p.t, "bench", "--port", r.rep.Ports.Supply, "--port", r.rep.Ports.Meter)
	m.cmd.Env = append(m.cmd.Env, "SEALWORTHY_HOME="+home)
	m.onTerminal()
	for range 10 {
		q, more := m.untilAsked()
		p.reads(q)
		if !more {
			break
		}
		answer := "no" // they are tried another day
		if strings.Contains(q, "Write down") {
			answer = "yes"
		}
		p.types(answer)
		m.enter(answer)
	}
	if s := m.status(); s != exitReady {
		p.t.Fatalf("bench: status %d: %s", s, m.out.plain())
	}
}

// nextFelt is the feed that the next clip is proposed for while it's felt for.
var nextFelt = regexp.MustCompile(`lip the plus lead to "([^"]+)"(?:, or to any other that is left)?\. Sensing`)

// tests goes through the test of a closure on a terminal.
func (p *person) tests(r *rigged, home string, groups, typed []string) {
	p.t.Helper()
	p.types("sealworthy " + strings.ReplaceAll(strings.Join(typed, " "), tramFolder(typed), "tram"))
	m := command(p.t, typed...)
	m.cmd.Env = append(m.cmd.Env, "SEALWORTHY_HOME="+home)
	m.onTerminal()
	clip := ""
	for range 40 {
		q, more := m.untilAsked()
		p.reads(question(q))
		if !more {
			break
		}
		answer := ""
		switch {
		case strings.Contains(q, "Hold the clips apart"):
			r.hand("open")
			p.spent += handTime
		case strings.Contains(q, "Put the clips together"):
			r.hand("together")
			p.spent += handTime
		case strings.Contains(q, "known resistor of"):
			r.hand("resistor 1000")
			p.spent += handTime
		case strings.Contains(q, "Look at"):
			answer = "a"
			time.Sleep(400 * time.Millisecond) // who answers within 0.3 s hasn't looked
		case strings.Contains(q, "What did you touch"):
			answer = "n"
		case nextFelt.MatchString(q): // no key: it's felt that the clip comes off and goes on
			r.hand("clip")
			all := nextFelt.FindAllStringSubmatch(q, -1)
			clip = all[len(all)-1][1]
			r.hand("clip " + clip)
			continue
		case strings.Contains(q, "which? The output is off."):
			answer = regexp.MustCompile(`(\d) ` + clip).FindStringSubmatch(q)[1]
		case strings.Contains(q, "Clip the plus lead"):
			last := q[strings.LastIndex(q, "Clip the plus lead"):]
			var on []string
			for _, g := range groups {
				if strings.Contains(last, g) {
					on = append(on, g)
				}
			}
			r.hand("clip " + strings.Join(on, ", "))
		}
		p.types(answer)
		m.enter(answer)
	}
	if s := m.status(); s != exitReady {
		p.t.Fatalf("status %d: %s", s, m.out.plain())
	}
	r.mustBeOff()
}

// untilAsked waits for the next question of a terminal, and gives all that was said
// since the last; false: the process has ended.
func (p *process) untilAsked() (string, bool) {
	p.t.Helper()
	const asks = "q: stop"
	for end := time.Now().Add(patience); ; time.Sleep(10 * time.Millisecond) {
		gone := false
		select {
		case <-p.done:
			gone = true
		default:
		}
		s := p.out.plain()
		s = s[min(p.from, len(s)):]
		if i := strings.Index(s, asks); i >= 0 {
			p.from += i + len(asks)
			return s[:i], true
		}
		if gone {
			p.from += len(s)
			return s, false
		}
		if time.Now().After(end) {
			p.t.Fatalf("%v asks nothing and doesn't end: %s", p.cmd.Args, s)
		}
	}
}
