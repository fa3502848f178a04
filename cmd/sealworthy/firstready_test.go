//go:build unix

package main

import (
	"encoding/json"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"sealworthy/compare"
)

// tramAnswers are what somebody says of an invented tram of three groups in two
// closures, to new --ask.
var tramAnswers = []string{
	"", "", "1.5", "cab, body", "", // adapter, 12 V, two closures side by side, no joints
	"cab lamp", "2", "6", "", "a warm lamp",
	"headlight", "3", "3", "5", "", "680", "",
	"",
	"saloon", "1", "6", "6", "12 windows",
	"", "red, white, blue",
}

// longTramAnswers are those of one of eight groups.
var longTramAnswers = []string{
	"", "", "1.5", "cab, body", "",
	"cab lamp", "2", "6", "", "a warm lamp",
	"headlight", "3", "3", "5", "", "680", "",
	"tail light", "", "amber", "", // another colour, the same resistor
	"",
	"saloon", "1", "6", "6", "12 windows",
	"platform", "", "2", "4 windows",
	"step lamp", "2", "2", "",
	"route board", "1", "3", "",
	"stop lamp", "3", "", "",
	"", "red, white, brown, blue, green, grey, pink, black",
}

// From an empty folder to the first "ready to close": the plan asked for, with its draws,
// and the first closure of a tram tested on the simulated bench by hand, with no editor. A
// person at the speed above needs less than ten minutes: for three groups, with ports that
// are typed and a key for each clip, which is the slower way, and for eight, where bench
// finds the ports and clips are felt. The log tells where the time goes. Machine time is
// what the program itself says that it takes, not that of a busy machine.
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
			10 * time.Minute},
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
	status, out := p.commands([]string{"new", dir, "--ask"}, answers...)
	if status != exitReady || !strings.Contains(out, "nothing in it is wrong") {
		t.Fatalf("new: %d %s", status, out)
	}
	if next := "Next: sealworthy bench\n"; !strings.HasSuffix(out, next) {
		t.Errorf("it goes on with something else than %q: %s", next, out)
	}
	planned := p.spent
	// Each draw was told as the plan grew: nobody has to read the budget first.
	if status, out = (&person{t: t, known: map[string]bool{}}).commands([]string{"budget", dir}); status != exitReady ||
		strings.Contains(out, "WRONG") {
		t.Errorf("budget: %d %s", status, out)
	}
	// It stands on no clock.
	_, out = (&person{t: t, known: map[string]bool{}}).commands([]string{"left", dir, "--json"})
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
	p.stands("the test by its own reckoning")
	p.takes(test, toDo)

	r := putUpFor(t, dir)
	typed := []string{"measure", dir, "--closure", "cab"}
	if finds {
		p.finds(r, home)
	} else {
		typed = append(append(typed, "--hands-free=false"), r.ports(false)...)
	}
	found := p.spent - planned - test
	p.tests(r, home, groups, typed)
	asked := len(p.asked)
	all := p.spent // measure ends with the word that it's ready; compare says the same later
	if status, out = p.commands([]string{"compare", dir, "--closure", "cab"}); status != exitReady ||
		!strings.Contains(out, strings.ToUpper(string(compare.ReadyToClose))) {
		t.Errorf("compare: %d %s", status, out)
	}
	p.asked = p.asked[:asked]
	t.Log("\n" + p.account())
	t.Logf("the plan %v, the bench %v, the test by its own reckoning %v, its questions %v: %v in all",
		planned.Round(time.Second), found.Round(time.Second), test.Round(time.Second),
		(all - planned - found - test).Round(time.Second), all.Round(time.Second))
	if all > most {
		t.Errorf("a person needs %v, which is more than %v", all.Round(time.Second), most)
	}
}

// finds lets bench find the instruments and write them down. How long that takes the
// machine is read off a simulated bench's clock.
func (p *person) finds(r *rigged, home string) {
	p.t.Helper()
	p.stands("")
	x := newWorkbench(p.t, nil, nil)
	began := x.w.Clock.Now()
	if _, _, err := x.run("--json", "--port", x.rig.Ports().Supply, "--port", x.rig.Ports().Meter); err != nil {
		p.t.Fatal(err)
	}
	p.takes(x.w.Clock.Now().Sub(began), toDo)
	p.begins([]string{"bench"}) // the ports of a pseudo terminal are in no list of the system: the test names them
	m := command(p.t, "bench", "--port", r.rep.Ports.Supply, "--port", r.rep.Ports.Meter)
	m.cmd.Env = append(m.cmd.Env, "SEALWORTHY_HOME="+home)
	m.onTerminal()
	for range 10 {
		q, more := m.untilAsked()
		p.stands(q)
		p.reads(q)
		if !more {
			break
		}
		p.types("") // they are tried another day, and written down
		m.enter("")
	}
	if s := m.status(); s != exitReady {
		p.t.Fatalf("bench: status %d: %s", s, m.out.plain())
	}
}

// nextFelt is the feed that the next clip is proposed for while it's felt for.
var nextFelt = regexp.MustCompile(`lip the plus lead to "([^"]+)"\.(?: Any other that is left will do\.)? Sensing`)

// tests goes through the test of a closure on a terminal.
func (p *person) tests(r *rigged, home string, groups, typed []string) {
	p.t.Helper()
	p.begins(typed)
	m := command(p.t, typed...)
	m.cmd.Env = append(m.cmd.Env, "SEALWORTHY_HOME="+home)
	m.onTerminal()
	clip, held := "", ""
	for range 40 {
		q, more := m.untilAsked()
		p.stands(question(q))
		p.reads(question(q))
		if !more {
			break
		}
		answer, flat := "", strings.Join(strings.Fields(q), " ")
		switch {
		case strings.Contains(flat, "It's felt, and goes on by itself"): // no key
			held = m.holds(p, r, flat, held)
			continue
		case strings.Contains(q, "Hold the clips apart"):
			r.hand("open")
			p.takes(handTime, toDo)
		case strings.Contains(q, "Put the clips together"):
			r.hand("together")
			p.takes(handTime, toDo)
		case strings.Contains(q, "known resistor of"):
			r.hand("resistor 1000")
			p.takes(handTime, toDo)
		case strings.Contains(q, "Look at"):
			answer = "a"
			time.Sleep(400 * time.Millisecond) // who answers within 0.3 s hasn't looked
		case strings.Contains(q, "What did you touch"):
			answer = "n"
		case nextFelt.MatchString(q): // no key: it's felt that the clip comes off and goes on
			all := nextFelt.FindAllStringSubmatch(q, -1)
			if next := all[len(all)-1][1]; next != clip { // else it's the same question, painted anew
				clip = next
				m.felt(r, clip)
			}
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
	if s := m.status(); s != exitReady || !strings.Contains(m.out.plain(), "cab: + READY TO CLOSE") {
		p.t.Fatalf("status %d: %s", s, m.out.plain())
	}
	r.mustBeOff()
}

// holds does with the clips what the proof of the bench asks for last, which is felt, and
// gives the words that asked for it. was were those before: they may be painted anew.
func (p *process) holds(who *person, r *rigged, asked, was string) string {
	p.t.Helper()
	const touch, together, resistor = "Touch the clips together, then", "Put the clips together.",
		"Put the known resistor"
	words := touch
	for _, w := range []string{together, resistor} {
		if strings.LastIndex(asked, w) > strings.LastIndex(asked, words) {
			words = w
		}
	}
	if words == was {
		return was
	}
	if words == resistor {
		r.hand("resistor 1000")
	} else {
		r.hand("together")
	}
	who.takes(handTime, toDo)
	if words == touch {
		p.await("Felt. Now hold them apart.")
		r.hand("open")
		who.takes(handTime, toDo)
	}
	p.await("Felt. Hold it like that.")
	return words
}

// felt moves the clip to a feed while it's felt for: no hand is so fast that what hung on
// before is never felt, nor that it's off.
func (p *process) felt(r *rigged, feed string) {
	p.t.Helper()
	for end := time.Now().Add(patience); ; time.Sleep(10 * time.Millisecond) {
		s := p.out.plain()
		if strings.Contains(s[min(p.from, len(s)):], "SENSING 3.00 V") {
			break
		}
		if time.Now().After(end) {
			p.t.Fatalf("nothing is felt for: %s", s[min(p.from, len(s)):])
		}
	}
	time.Sleep(time.Second)
	r.hand("clip")
	time.Sleep(time.Second)
	r.hand("clip " + feed)
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
