package machine

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
)

// Verb is what happens to a build, its maker, its record or the machine.
type Verb string

// What can happen. A and B of an Event say to what and how, N draws the rest.
const (
	// A: a closure, or all; B: alone (nobody there), looks (an honest maker), overlook (all is called right), ahead
	// (typed before it is asked, and then left out), undo (a look is taken back, and then left out), mistype (honest,
	// with slips of the keys)
	Measure Verb = "measure"
	Redo    Verb = "redo"   // A: a group
	Resume  Verb = "resume" // A, B as for measure: what isn't done yet
	Added   Verb = "added"  // A, B as for measure: each feed on top of those before it
	// A: a closure or all: a test that dies in its N-th step; B: clean or torn; redo: A is a group that is measured
	// again
	Kill    Verb = "kill"
	Full    Verb = "full"    // A: a closure or all: a test whose disk has room for N kB more
	Rework  Verb = "rework"  // A: a place, told; B: stays, cures, breaks
	Touch   Verb = "touch"   // the same, untold
	Nothing Verb = "nothing" // the maker says that nothing was touched
	Skip    Verb = "skip"    // A: a group's feed, with a reason
	Accept  Verb = "accept"  // A: a group, with a reason
	// A: a closure, outside a test; B: honest, overlook, wrong (N says which group is called dark)
	Look     Verb = "look"
	TakeBack Verb = "takeback" // A: rework, look, accept or tick: the last one
	// A: a group, jack, or all that misfit; B: one more, one less, 22 ohm, gone, 24 V, undo, one of drawEdits, one to fit: fit ohms,
	// or the first that can be made to: fit any; like part: another part that draws the same
	Edit     Verb = "edit"
	Clock    Verb = "clock"    // B: seconds, forwards or back, between sittings
	Stage    Verb = "stage"    // A: loose, fitted, closed: what follows is at that stage
	Flip     Verb = "flip"     // one bit in a file of the record; N draws where
	Drop     Verb = "drop"     // one line deleted
	Double   Verb = "double"   // one line doubled
	Swap     Verb = "swap"     // a line changes places with the next
	Tear     Verb = "tear"     // the last file loses its tail
	DropFile Verb = "dropfile" // one file deleted
	DropHead Verb = "drophead" // what knows of the end of the record is deleted
	Rename   Verb = "rename"   // a file of the record gets another name
	Copy     Verb = "copy"     // a synchronised folder leaves a second copy of a file
	OldFile  Verb = "oldfile"  // a file is what it was some lines ago
	Splice   Verb = "splice"   // the lines of a file are those of another one
	OldHead  Verb = "oldhead"  // what knows of the end of the record is what it was some events ago
	Editor   Verb = "editor"   // a file is saved by an editor that ends lines its own way
	Foreign  Verb = "foreign"  // a file of another build's record is copied in
	Second   Verb = "second"   // another program writes to the record at the same time
	Answer   Verb = "answer"   // A: retest or words: all damage is answered so
	// A: a closure or all: a test in which B, an instrument, loses its cable; swap: two, back under other names
	Pull  Verb = "pull"
	Tick  Verb = "tick"  // all that no test tells of is ticked by hand
	Allow Verb = "allow" // every check that binds is accepted by name
)

// Event is one thing that happens.
type Event struct {
	Verb Verb
	A, B string // to what, and how, see Verb
	N    int    // draws the rest
}

// String is the line of a script: the verb, then A, B and N apart by bars.
func (e Event) String() string {
	return fmt.Sprintf("%s | %s | %s | %d", e.Verb, e.A, e.B, e.N)
}

// Script is a sequence that can be replayed: the build and the pieces by their
// seeds, then the events.
type Script struct {
	Shape, Pieces uint64 // the seed of the build, and that of its pieces
	Events        []Event
}

func (s Script) String() string {
	var t strings.Builder
	fmt.Fprintf(&t, "build %d\npieces %d\n", s.Shape, s.Pieces)
	for _, e := range s.Events {
		fmt.Fprintln(&t, e)
	}
	return t.String()
}

// ParseScript reads what Script.String wrote. Lines that are empty or begin with
// # are left out. The error names the line.
func ParseScript(text string) (Script, error) {
	var s Script
	for i, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		if err := s.line(line); err != nil {
			return s, fmt.Errorf("line %d: %w", i+1, err)
		}
	}
	return s, nil
}

func (s *Script) line(line string) (err error) {
	if n, ok := strings.CutPrefix(line, "build "); ok {
		s.Shape, err = strconv.ParseUint(n, 10, 64)
		return err
	}
	if n, ok := strings.CutPrefix(line, "pieces "); ok {
		s.Pieces, err = strconv.ParseUint(n, 10, 64)
		return err
	}
	part := strings.Split(line, "|")
	if len(part) != 4 {
		return fmt.Errorf("%q is no event: VERB | A | B | N", line)
	}
	n, err := strconv.Atoi(strings.TrimSpace(part[3]))
	if err != nil {
		return err
	}
	s.Events = append(s.Events, Event{Verb(strings.TrimSpace(part[0])), strings.TrimSpace(part[1]),
		strings.TrimSpace(part[2]), n})
	return nil
}

// DrawScript draws a sequence for a build. It begins as makers do, with a whole
// test, so that most of what follows happens to a build that is nearly ready.
func DrawScript(b Build, pieces uint64) Script {
	d := drawer{rand.New(rand.NewPCG(pieces, 0x5c81))}
	s := Script{Shape: b.Shape, Pieces: pieces}
	add := func(e Event) { s.Events = append(s.Events, e) }
	add(Event{Measure, "all", pick(d, "looks", "looks", "looks", "alone", "alone", "overlook"), 0})
	if d.chance(0.7) {
		add(Event{Tick, "", "", 0})
	}
	for n := 2 + d.r.IntN(8); len(s.Events) < n; {
		for _, e := range drawEvents(d, b) {
			add(e)
		}
	}
	return s
}

// drawEvents draws one event, with those that a maker would let follow it.
func drawEvents(d drawer, b Build) []Event {
	closures, places := b.spec.closureNames(), b.places()
	where := pick(d, "all", "all", pick(d, closures...))
	how := pick(d, "looks", "looks", "looks", "looks", "alone", "overlook", "ahead", "undo", "mistype")
	n := d.r.IntN(1000)
	again := Event{Measure, where, how, 0}
	one := func(v Verb, a, x string) []Event { return []Event{{v, a, x, n}} }
	then := func(v Verb, a, x string) []Event {
		if d.chance(0.5) {
			return one(v, a, x)
		}
		return append(one(v, a, x), again)
	}
	group := pick(d, b.groups()...)
	switch d.r.IntN(30) {
	case 0, 1:
		return one(Measure, where, how)
	case 2:
		return one(pick(d, Resume, Resume, Added), where, how)
	case 3:
		return one(Redo, group, "")
	case 4:
		return then(Kill, pick(d, b.groups()...), "redo")
	case 5:
		return then(Kill, where, pick(d, "clean", "torn"))
	case 6:
		return then(Full, where, "")
	case 7, 8, 9:
		return then(Rework, pick(d, places...), pick(d, "stays", "cures", "breaks"))
	case 10:
		// A maker who tells nothing and sees nothing: the current alone can speak.
		return []Event{{Touch, pick(d, places...), pick(d, "stays", "cures", "breaks", "breaks"), n},
			{Measure, where, pick(d, "alone", "overlook"), 3 * d.r.IntN(2)}}
	case 26:
		return then(Touch, pick(d, places...), pick(d, "stays", "cures", "breaks"))
	case 11:
		return one(pick(d, Nothing, Tick, Tick), "", "")
	case 12:
		return one(pick(d, Skip, Accept), group, "")
	case 13, 14:
		return one(Look, pick(d, closures...), pick(d, "honest", "honest", "overlook", "wrong"))
	case 15:
		return one(TakeBack, pick(d, "rework", "look", "accept", "tick"), "")
	case 16, 17:
		edit := one(Edit, pick(d, b.groups()...), pick(d, "one more", "one more", "one less", "22 ohm", "gone"))
		if d.chance(0.2) {
			edit = one(Edit, "jack", "24 V")
		}
		if d.chance(0.7) {
			edit = append(edit, again)
		}
		if d.chance(0.7) {
			edit = append(edit, Event{Edit, "", "undo", 0})
		}
		return edit
	case 18, 19:
		return then(Clock, "", fmt.Sprint(pick(d, -365*86400, -7200, -3600, 3600, 86400, 365*86400)))
	case 20:
		return then(Stage, pick(d, "loose", "fitted", "fitted", "closed"), "")
	case 21, 22, 23:
		hurt := one(pick(d, Flip, Drop, Double, Swap, Tear, DropFile, DropHead, OldHead, Rename, Copy, Editor, OldFile,
			Splice, Foreign), "", "")
		switch d.r.IntN(4) {
		case 0:
			hurt = append(hurt, again)
		case 1:
			hurt = append(hurt, Event{Answer, pick(d, "retest", "retest", "words"), "", 0}, again)
		}
		if d.chance(0.5) { // what is nearly ready has most to lose
			hurt = append([]Event{{Measure, "all", "looks", 0}, {Tick, "", "", 0}, {Nothing, "", "", 0}}, hurt...)
		}
		return hurt
	case 24:
		return one(Second, where, "")
	case 25:
		return one(Pull, where, pick(d, "supply", "meter", "relays", "swap"))
	case 28, 29:
		return fitted(d, group, n)
	}
	return one(Allow, "", "")
}

// fitted is a maker who changes the plan of what doesn't fit it, so that it does, or in anything else, and calls all
// that is lit right.
func fitted(d drawer, group string, n int) []Event {
	edit := Event{Edit, "all", "fit any", n}
	if d.chance(0.5) {
		edit = Event{Edit, group, pick(d, "like part", "like part", pick(d, drawEdits...)), n}
	}
	out := []Event{{Measure, "all", pick(d, "alone", "looks", "looks"), 0}, {Nothing, "", "", 0}, edit}
	if d.chance(0.6) {
		out = append([]Event{{pick(d, Touch, Rework, Rework), group, pick(d, "breaks", "breaks", "stays"), n}}, out...)
	}
	if d.chance(0.7) {
		out = append(out, Event{Measure, "all", pick(d, "overlook", "overlook", "looks"), 0})
	}
	return append(out, Event{Nothing, "", "", 0})
}

// groups and places name what can be measured, and what can be touched.
func (b Build) groups() []string {
	var out []string
	for _, g := range b.spec.groups {
		out = append(out, g.name)
	}
	return out
}

func (b Build) places() []string {
	out := b.groups()
	for _, j := range b.spec.joints {
		out = append(out, j.name)
	}
	for _, r := range b.spec.returns {
		out = append(out, r.name)
	}
	for _, x := range b.spec.boards {
		out = append(out, x.name)
	}
	return out
}
