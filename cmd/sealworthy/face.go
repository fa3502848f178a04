package main

import (
	"cmp"
	"fmt"
	"io"
	"runtime"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare"
	"sealworthy/compare/words"
	"sealworthy/instruments"
)

// face shows a test on a terminal and asks with whole lines: Enter alone is the
// answer "go on", so that one key does it with an iron in hand. What passes a
// look, or says what was touched, has a key of its own.
type face struct {
	ink    ink
	keys   *keyboard // what the maker types; nil: nobody is there
	now    func() time.Time
	settle time.Duration // what comes so soon after a question wasn't meant for it
	bell   *ringer       // nil: it's quiet

	mu     sync.Mutex // the engine shows while a question is open
	screen screen
	state  capture.Event // the last one with a step
	amps   string        // what flows, as it's written; "" unknown
	meter  bool          // the meter was read in this step: the supply's own reading is the poorer
	drops  int           // in this wiggle
	last   time.Time     // when the live lines were painted
	ask    *capture.Question
	light  bool // more of it is wanted, at a look

	looksAt string // the port that is looked at; "": none, or that was told
}

// tooSoon is how soon after a question nobody has read it yet, let alone looked
// at a light (our own choice; a simple reaction takes a person 0.2 s and more).
const tooSoon = 300 * time.Millisecond

var (
	_ session.Asker   = (*face)(nil)
	_ capture.Lighter = (*face)(nil)
)

// colour says whether to paint: a terminal, and no NO_COLOR.
func colour(e env) ink {
	if e.getenv("NO_COLOR") != "" || !understands(e, e.stdout) {
		return ink{}
	}
	return ink{on: outletOf(e.stdout)}
}

func isTerminal(x any) bool {
	f, ok := fileOf(x)
	return ok && term.IsTerminal(int(f.Fd()))
}

// understands: x is a terminal that understands escape codes.
func understands(e env, x any) bool {
	f, ok := fileOf(x)
	return ok && isTerminal(x) && e.getenv("TERM") != "dumb" && ansi(f.Fd())
}

// newFace makes a face on stderr. attended reads answers from stdin, in a
// goroutine that run starts; what stops between two questions calls halt.
func newFace(e env, attended bool, run instruments.Runner, halt func()) *face {
	live := understands(e, e.stderr)
	to := outletOf(e.stderr)
	f := &face{now: time.Now, settle: tooSoon, screen: screen{w: to, live: live, size: sizeOf(to), block: blockOf(e)}}
	if live && e.getenv("NO_COLOR") == "" {
		f.ink = ink{on: to}
	}
	if live && e.getenv(bellSetting) != "off" {
		f.bell = &ringer{strike: f.ring, sleep: time.Sleep, run: instruments.Go}
	}
	if attended {
		f.keys = newKeyboard(f.now)
		f.keys.clear, f.keys.halt = clearOf(e.stdin), halt
		f.keys.listen(e.stdin, run)
	}
	return f
}

// sizeOf asks a terminal for its size, anew each time.
func sizeOf(w io.Writer) func() (int, int) {
	return func() (cols, rows int) {
		if f, ok := fileOf(w); ok {
			if c, r, err := term.GetSize(int(f.Fd())); err == nil && c > 0 {
				return c, r
			}
		}
		return width, 24
	}
}

// blockOf is what big figures are made of.
func blockOf(e env) string {
	for _, k := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := strings.ToUpper(e.getenv(k)); v != "" {
			if strings.Contains(v, "UTF-8") || strings.Contains(v, "UTF8") {
				return "█"
			}
			return "#"
		}
	}
	if runtime.GOOS == "windows" {
		return "█"
	}
	return "#"
}

// Tell writes what happened in a session.
func (f *face) Tell(e session.Event) {
	f.bell.hear(e)
	switch e.What {
	case session.Shown:
		if e.Return != nil && e.Test.Step != nil {
			f.showReturn(*e.Test, *e.Return)
			return
		}
		f.show(*e.Test)
	case session.Cautioned:
		f.wrapped("  caution: ", e.Text)
	case session.WrongInPlan:
		f.wrapped("  WRONG in the plan: ", wording.WrongInPlan(e.Wrong.Text, e.Wrong.Closures))
	case session.Proved:
		f.proved(*e.Proof)
	case session.Remetered:
		for _, s := range wording.Remetered(*e.Meter) {
			f.wrapped("  ", s)
		}
	case session.Looking, session.LookedAt, session.Trying, session.Tried:
		f.searched(e)
	case session.Chosen:
		f.wrapped("  ", fmt.Sprintf("next: %s (%s)", e.Next.What, tells(e.Next.Bits)))
	}
}

// searched writes what a search for instruments tells: of a port the whole once, then
// what is new.
func (f *face) searched(e session.Event) {
	switch e.What {
	case session.Looking:
		f.wrapped("", wording.LooksAt(e.Port))
		f.looksAt = e.Port
	case session.LookedAt:
		if x := *e.Looked; x.Port == f.looksAt {
			cols, _ := f.screen.size()
			for _, l := range lookedLines(cols, x) {
				f.line("%s", l)
			}
			f.looksAt = ""
		} else if x.Why != "" {
			f.wrapped("  ! ", x.Why)
		}
	case session.Trying:
		f.wrapped("", wording.Tries(e.Text, e.Port))
	case session.Tried:
		f.wrapped("  * ", e.Text)
	}
}

// proved writes what the proof of a bench came to.
func (f *face) proved(p capture.Proof) {
	for _, w := range p.Warnings {
		f.wrapped("  ! bench: ", w)
	}
	if p.Good() {
		f.line("  %s", wording.BenchProved(p))
	}
}

// mostDropLines is how many drops of a wiggle get a line of their own.
const mostDropLines = 5

// show writes what the engine shows.
func (f *face) show(e capture.Event) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if e.Step != nil {
		f.state = e
	} else { // as it is told with each event
		f.state.OutputOn, f.state.Sensing, f.state.Unsure = e.OutputOn, e.Sensing, e.Unsure
		f.state.SetVolts, f.state.LimitA = e.SetVolts, e.LimitA
	}
	f.reading(e)
	switch e.What {
	case capture.Starting:
		f.print(e.Text)
	case capture.StepBegins:
		f.amps, f.meter, f.drops = "", false, 0
		if f.keys != nil && e.Step != nil && !f.screen.live {
			f.print(f.ink.loud(wording.Title(e)))
		}
		f.paint(true)
	case capture.OutputOn, capture.OutputOff:
		f.paint(true)
	case capture.RampStep, capture.Settling, capture.Sampling:
		f.paint(false)
	case capture.SensingOn, capture.ClipOff:
		f.paint(e.Reading == nil)
	case capture.Contact:
		f.print("  " + cmp.Or(e.Text, "felt something: hold still"))
	case capture.HandsOff:
		f.print(f.ink.loud("  " + e.Text))
	case capture.Trip:
		f.printWrapped(f.ink.bad("! STOPPED, output off: "), "    ", e.Text)
	case capture.DropSeen:
		if f.drops++; f.drops <= mostDropLines {
			f.print(f.ink.bad("! the draw dropped") + fmt.Sprintf(" (%d)", f.drops))
		} // the live line counts on
	case capture.Lit:
		if e.Text == "" {
			f.paint(false)
			break
		}
		f.printWrapped("  ", "  ", e.Text)
	case capture.Told, capture.NothingYet:
		f.printWrapped("  ", "  ", e.Text)
	case capture.Warning:
		f.printWrapped("  note: ", "        ", e.Text)
	case capture.Paused:
		f.printWrapped(f.ink.open("? paused: "), "    ", e.Text)
	case capture.SoFar:
		for _, s := range e.Said {
			f.said("  ", s)
		}
		f.printWrapped("        ", "        ", wording.SoFar)
		f.paint(true)
	case capture.StepEnds:
		f.step(e)
	case capture.Ended:
		f.state.Step = nil
		if e.Text != "" {
			f.print(e.Text)
		}
		f.paint(true)
	}
}

// reading takes over what flows. The supply's own reading counts only where no
// meter was read.
func (f *face) reading(e capture.Event) {
	r := e.Reading
	if r == nil || r.Unit != "A" || (r.Instrument == compare.SupplyName && f.meter) {
		return
	}
	f.meter = f.meter || r.Instrument != compare.SupplyName
	if v, ok := r.Float(); ok {
		f.amps = words.Milliamps(v, r.HalfWidth)
		return
	}
	f.amps = "- " + string(r.Status)
}

// step writes what a step gave, one line a group.
func (f *face) step(e capture.Event) {
	if e.Step == nil {
		return
	}
	if len(e.Said) == 0 {
		text := e.Text
		if text == "" {
			text = "done"
		}
		e.Done-- // the title counts on from what is done
		f.printWrapped(fmt.Sprintf("%-36s ", wording.Title(e)), "        ", text)
		return
	}
	head := fmt.Sprintf("[%d/%d] ", e.Done, max(e.Total, e.Done))
	for i, s := range e.Said {
		if i > 0 {
			head = strings.Repeat(" ", len(head))
		}
		f.said(head, s)
	}
}

// said writes the verdict on a group right after its step.
func (f *face) said(head string, s capture.Said) {
	name := s.Group
	if s.Pace != "" {
		name += ", " + s.Pace
	}
	name = head + name
	cols, _ := f.screen.size()
	wide := min(36, max(12, cols-26)) // beside it the draw and the verdict
	f.print(fmt.Sprintf("%-*s %10s  %s", wide, cut(name, wide), s.Measured,
		f.ink.verdict(compare.Verdict(s.Verdict), cmp.Or(s.Word, s.Verdict))))
	if c := wording.ChangedBy(s); c != "" {
		f.printWrapped("        ", "        ", c)
	}
	if s.Good && s.Yet == "" {
		return
	}
	if s.Expected != "" {
		f.print("        expected " + s.Expected)
	}
	if s.Good {
		f.printWrapped("        ", "        ", s.Yet)
		return
	}
	for i, c := range s.Causes {
		if i > 1 {
			break
		}
		f.printWrapped("        ", "        ", c)
	}
}

// ring rings the bell once.
func (f *face) ring() {
	f.mu.Lock()
	defer f.mu.Unlock()
	io.WriteString(f.screen.w, f.screen.w.own(bell))
}

// line writes one line that stays.
func (f *face) line(format string, a ...any) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.print(fmt.Sprintf(format, a...))
}

// wrapped writes words that stay, within the width.
func (f *face) wrapped(lead, text string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.printWrapped(lead, strings.Repeat(" ", len(lead)), text)
}

// print writes lines that stay, above those that are written over. mu is held.
func (f *face) print(lines ...string) { f.screen.draw(lines, f.liveLines(), f.question()) }

func (f *face) printWrapped(first, next, text string) {
	cols, _ := f.screen.size()
	f.print(wrappedTo(cols, first, next, text)...)
}

// paint renews the lines that are written over, a few times a second at most.
func (f *face) paint(now bool) {
	if !f.screen.live {
		return
	}
	t := f.now()
	if !now && t.Sub(f.last) < 80*time.Millisecond {
		return
	}
	f.last = t
	if f.ask != nil {
		f.screen.refresh(f.liveLines())
		return
	}
	f.print()
}
