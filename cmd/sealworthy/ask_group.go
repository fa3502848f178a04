package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/compare/words"
)

// groups asks for one group after the other, closure by closure.
func (a *asker) groups() error {
	if len(a.d.Closures) == 0 {
		return a.groupsIn("", true)
	}
	for i, c := range a.d.Closures {
		if err := a.groupsIn(c.Name, i == len(a.d.Closures)-1); err != nil {
			return err
		}
	}
	return nil
}

// groupsIn asks for those of one closure, the last of them or not. A plan has one at least.
func (a *asker) groupsIn(closure string, last bool) error {
	a.closure = closure
	for first := true; ; first = false {
		n := len(a.d.Groups)
		text := fmt.Sprintf("Group %d: its name?", n+1)
		if n == 0 {
			text = "Group 1: its name, as: cabin windows?"
		}
		several := len(a.d.Closures) > 1
		if several && first {
			text = "Under " + closure + ". " + text
		}
		optional := n > 0 || !last
		switch {
		case optional && several && first:
			text += " Enter: none there."
		case optional && several:
			text += " Enter: no more there."
		case optional:
			text += " Enter: that was all."
		}
		a.v.about = ""
		name, err := a.name("group", text, optional, a.taken())
		if err != nil || name == "" {
			return err
		}
		a.v.about = name
		if err := a.group(name); err != nil {
			return err
		}
	}
}

// taken are the names of groups and boards: both are named where a feed is.
func (a *asker) taken() (names []string) {
	for _, g := range a.d.Groups {
		names = append(names, g.Name)
	}
	for _, b := range a.d.Boards {
		names = append(names, b.Name)
	}
	return names
}

// lightKinds are what a group can be, in a maker's words.
var lightKinds = []string{
	"strip",
	"LEDs with a resistor soldered in",
	"LEDs with a resistor of yours",
	"lights on a board",
	"fire, sound, motor",
	"unknown: measured, not judged",
	"a wire for a part still to come",
}

// bareLEDs is the place among lightKinds of those that get a resistor of the maker's.
const bareLEDs = 2

// group asks for one group.
func (a *asker) group(name string) error {
	g := plan.DraftGroup{Name: name, Closure: a.closure}
	usual := -1
	if len(a.d.Groups) > 0 {
		usual = a.lastKind
	}
	kind, err := a.choose("What is it?", lightKinds, usual,
		"A strip is cut at its marks; what has its resistor soldered in hangs on thin wires; a board "+
			"blinks or steers lights; a wire that is sealed in gets a resistor at its end for the test. What each "+
			"looks like is told with the parts.")
	if err != nil {
		return err
	}
	a.lastKind = kind
	if kind == 3 {
		if err := a.board(&g); err != nil {
			return err
		}
		if kind, err = a.choose("And what hangs on that output?", lightKinds[:3], -1, ""); err != nil {
			return err
		}
	}
	fed, err := a.asBefore(&g, kind)
	if err != nil {
		return err
	}
	if g.Light.Part == "" {
		if err := a.light(&g, kind); err != nil {
			return err
		}
	}
	a.grown(g)
	if !fed && g.Board == "" {
		if g.Joint, err = a.joint("What feeds it?"); err != nil {
			return err
		}
	}
	if g.See, err = a.v.ask(query{text: "What should you see, as: 14 windows, warm? Enter: leave it out.",
		hasFall: true, help: "When it's lit. You are asked for it at the look."}); err != nil {
		return err
	}
	a.d.Groups = append(a.d.Groups, g)
	a.before[lightKind{kind, g.Board != ""}] = g
	return nil
}

// board asks which board and output a group hangs on.
func (a *asker) board(g *plan.DraftGroup) error {
	var choices []string
	for _, b := range a.d.Boards {
		choices = append(choices, b.Name+" ("+b.Part+")")
	}
	which := len(choices)
	if which > 0 {
		var err error
		if which, err = a.choose("Which board?", append(choices, "another board"), 0, ""); err != nil {
			return err
		}
	}
	if which == len(a.d.Boards) {
		if err := a.newBoard(); err != nil {
			return err
		}
	}
	b := a.d.Boards[which]
	g.Board, g.Output = b.Name, 1
	part, err := a.book.Find(b.Part)
	if err != nil {
		return err
	}
	if n := len(part.Outputs); n > 1 {
		if g.Output, err = a.count(fmt.Sprintf("Which of its %d outputs?", n),
			strconv.Itoa(min(n, 1+a.onBoard(b.Name))), n); err != nil {
			return err
		}
	}
	return nil
}

// onBoard counts the groups that hang on a board already.
func (a *asker) onBoard(name string) int {
	n := 0
	for _, g := range a.d.Groups {
		if g.Board == name {
			n++
		}
	}
	return n
}

func (a *asker) newBoard() error {
	part, err := a.part("Which board is it?", plan.PartBoard)
	if err != nil {
		return err
	}
	name, err := a.name("board", "The board's name, as: beacon?", false, a.taken())
	if err != nil {
		return err
	}
	b := plan.DraftBoard{Name: name, Part: part.Name}
	if b.Closure, err = a.under("Under what is the board?"); err != nil {
		return err
	}
	if b.Joint, err = a.joint("What feeds the board?"); err != nil {
		return err
	}
	a.d.Boards = append(a.d.Boards, b)
	return nil
}

// light asks what a group is made of.
func (a *asker) light(g *plan.DraftGroup, kind int) (err error) {
	l := &g.Light
	switch kind {
	case 0:
		var p plan.Part
		if p, err = a.part("Which strip?", plan.PartStrip); err != nil {
			return err
		}
		l.Part = p.Name
		l.Segments, err = a.count("How many segments? Count the pieces between two marks.", "", 10000)
	case 1:
		var p plan.Part
		if p, err = a.part("Which LED with its resistor?", plan.PartSMD); err != nil {
			return err
		}
		l.Part = p.Name
		l.Count, err = a.count("How many?", "1", 10000)
	case bareLEDs:
		return a.leds(g)
	case 4:
		return a.load(l)
	case 5:
		l.AsFound = true
	case 6:
		l.TestOhms, err = a.number("ohms", "Which resistor do you clip across its end for the test, in ohm?", "680", 1,
			100000, "470 to 1000 ohm at 12 V; as 680, 1k.")
	}
	return err
}

func (a *asker) leds(g *plan.DraftGroup) error {
	l := &g.Light
	p, err := a.part("Which LED?", plan.PartLED)
	if err != nil {
		return err
	}
	l.Part = p.Name
	if err := a.branches(l); err != nil {
		return err
	}
	if g.Board == "" {
		usual := ""
		if last, ok := a.before[lightKind{bareLEDs, false}]; ok {
			usual = strconv.FormatFloat(last.Light.Ohms, 'f', -1, 64)
		}
		l.Ohms, err = a.number("ohms", "Which resistor, in ohm? As 470, 1k, 4k7.", usual, 1, 1e7,
			"Printed on it, or by its rings. An LED without one burns out; the plan's checks say if yours fits.")
		l.HasOhms = true
	} else {
		l.Ohms, err = a.number("ohms", "Which resistor of yours, in ohm? 0: the board's own alone.", "0", 0, 1e7,
			"It comes on top of the board's own.")
		l.HasOhms = l.Ohms > 0
	}
	return err
}

// branches asks how many LEDs there are, and how many of them share a resistor.
func (a *asker) branches(l *plan.DraftLight) error {
	s, err := a.v.ask(query{text: "How many, each with a resistor of its own? Three in series on one: 1 x 3.",
		fallback: "1", hasFall: true,
		help: "2 x 3 are two resistors with three LEDs behind each, six in all.", check: func(s string) string {
			if _, _, ok := branchesOf(s); !ok {
				return "A whole number up to 10000, or as 2 x 3: two resistors, each with three LEDs in series."
			}
			return ""
		}})
	if err != nil {
		return err
	}
	l.Count, l.InSeries, _ = branchesOf(s)
	return nil
}

// branchesOf reads "4" and "2 x 3": how many resistors, and how many LEDs in series
// behind each.
func branchesOf(s string) (count, inSeries int, ok bool) {
	of, series, both := strings.Cut(strings.ReplaceAll(strings.ToLower(s), "×", "x"), "x")
	inSeries = 1
	count, err := strconv.Atoi(strings.TrimSpace(of))
	if err == nil && both {
		inSeries, err = strconv.Atoi(strings.TrimSpace(series))
	}
	return count, inSeries, err == nil && count >= 1 && count <= 10000 && inSeries >= 1 && inSeries <= 60
}

func (a *asker) load(l *plan.DraftLight) (err error) {
	does := []string{"flicker", "welding", "sound", "motor", "dimmer", "pixels"}
	i, err := a.choose("What does it do?", []string{"flicker like a fire", "flash like welding", "make a sound",
		"turn", "fade", "single lights that are told their colour"}, -1, "")
	if err != nil {
		return err
	}
	l.Behaves = does[i]
	if l.MeanMA, err = a.number("mean_mA", "How many milliamperes does it draw on average?", "", 0.01, 20000,
		"What your meter shows with it alone, or what is printed on it."); err != nil {
		return err
	}
	half, twice := strconv.FormatFloat(l.MeanMA/2, 'g', 4, 64), strconv.FormatFloat(2*l.MeanMA, 'g', 4, 64)
	if l.LowMA, err = a.number("low_mA", "And at the least?", half, 0, l.MeanMA, ""); err != nil {
		return err
	}
	l.HighMA, err = a.number("high_mA", "And at the most?", twice, l.MeanMA, 20000, "")
	return err
}

// under asks what closes over a board, which may lie elsewhere than its lights; without a
// choice it isn't asked.
func (a *asker) under(text string) (string, error) {
	if len(a.d.Closures) < 2 {
		return a.closure, nil
	}
	var names []string
	for _, c := range a.d.Closures {
		names = append(names, c.Name)
	}
	i, err := a.choose(text, names, max(0, slices.Index(names, a.closure)), "What hides it once it's glued.")
	if err != nil {
		return "", err
	}
	return names[i], nil
}

// joint asks what feeds something; without a choice it isn't asked.
func (a *asker) joint(text string) (string, error) {
	if len(a.d.Joints) == 0 {
		return "", nil
	}
	choices := []string{"the jack"}
	for _, j := range a.d.Joints {
		choices = append(choices, j.Name)
	}
	i, err := a.choose(text, choices, max(0, slices.Index(choices, a.lastJoint)), "")
	if err != nil {
		return "", err
	}
	if a.lastJoint = choices[i]; i == 0 {
		return "", nil
	}
	return choices[i], nil
}

// grown says what a group of which the lights were just told draws, what all of them
// draw, and what in it won't work: right there, so that one u mends it.
func (a *asker) grown(g plan.DraftGroup) {
	if !a.v.asked() {
		return
	}
	d := a.d
	d.Groups = append(slices.Clone(a.d.Groups), g)
	p, problems := plan.ParseWith(planFile, d.Text(), plan.Options{Book: a.book})
	if len(problems) > 0 {
		for _, x := range problems {
			wrap(a.v.e.stdout, "  ! ", "    ", x.What+": "+x.Instead)
		}
		return
	}
	bud, err := compare.NewExpected(p).At(scene.Scene{})
	if err != nil {
		wrap(a.v.e.stdout, "  note: ", "    ", "its draw can't be worked out yet: "+err.Error())
		return
	}
	a.sayGrown(g, bud)
}

func (a *asker) sayGrown(g plan.DraftGroup, bud *budget.Budget) {
	fmt.Fprintln(a.v.e.stdout)
	line := ""
	for _, x := range bud.Groups {
		switch {
		case x.Group != g.Name:
		case x.AsFound:
			line = "measured, not judged"
		default:
			line = fmt.Sprintf("%s (%s to %s)", words.Milliamps(x.Service.NominalA, x.Service.UA),
				bareMilliamps(x.Service.LowA, x.Service.UA), bareMilliamps(x.Service.HighA, x.Service.UA))
		}
	}
	for _, j := range bud.Jacks {
		all := words.Milliamps(j.AllLit.NominalA, j.AllLit.UA)
		if amps := a.d.Jack.AdapterAmps; amps > 0 {
			all = bareMilliamps(j.AllLit.NominalA, j.AllLit.UA) + " of " + words.Milliamps(amps, 0)
		}
		line += ", all lit " + all
	}
	wrap(a.v.e.stdout, "  ", "  ", line)
	back := " (u goes back to it)"
	if a.v.leaf { // a page has a button for that
		back = ""
	}
	for _, c := range bud.Checks {
		if c.Group == g.Name && (c.Severity == budget.Wrong || c.Severity == budget.Risky) {
			wrap(a.v.e.stdout, "  "+strings.ToUpper(string(c.Severity))+": ", "    ", c.Text+back)
		}
	}
}

// bareMilliamps leaves out the unit, which stands beside it once.
func bareMilliamps(a, u float64) string { return strings.TrimSuffix(words.Milliamps(a, u), " mA") }
