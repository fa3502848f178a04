package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sealworthy/compare"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// groups asks for one group after the other.
func (a *asker) groups() error {
	for {
		n := len(a.d.Groups)
		text := fmt.Sprintf("Group %d: what do you call it? As: cabin windows.", n+1)
		if n > 0 {
			text = fmt.Sprintf("Group %d: what do you call it? Enter: that was all.", n+1)
		}
		var taken []string
		for _, g := range a.d.Groups {
			taken = append(taken, g.Name)
		}
		for _, b := range a.d.Boards {
			taken = append(taken, b.Name)
		}
		name, err := a.name("group", text, n > 0, taken)
		if err != nil || name == "" {
			return err
		}
		if err := a.group(name); err != nil {
			return err
		}
	}
}

// lightKinds are what a group can be, in a maker's words.
var lightKinds = []string{
	"a strip, cut at its marks",
	"LEDs with a resistor soldered in, on thin wires",
	"bare LEDs with a resistor of yours",
	"lights on a board that blinks or steers them",
	"a fire, a sound, a motor: no steady draw",
	"bought ready made, nobody knows: measured, not judged",
	"a wire that is sealed in for a part still to come",
}

// bareLEDs is the place among lightKinds of those that get a resistor of the maker's.
const bareLEDs = 2

// group asks for one group.
func (a *asker) group(name string) error {
	g := plan.DraftGroup{Name: name}
	usual := -1
	if len(a.d.Groups) > 0 {
		usual = a.lastKind
	}
	kind, err := a.choose("What is "+name+"?", lightKinds, usual,
		"By its number. What it looks like is told with the parts.")
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
	placed, err := a.asBefore(&g, kind)
	if err != nil {
		return err
	}
	if g.Light.Part == "" {
		if err := a.light(&g, kind); err != nil {
			return err
		}
	}
	a.grown(g)
	if !placed {
		if err := a.where(&g); err != nil {
			return err
		}
	}
	if g.See, err = a.v.ask(
		query{text: "What should you see when it's lit? As: 14 windows, warm. Enter: leave it out.",
			hasFall: true,
			help:    "You are asked for it at the look."}); err != nil {
		return err
	}
	if err := a.wire(&g); err != nil {
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
	var taken []string
	for _, g := range a.d.Groups {
		taken = append(taken, g.Name)
	}
	for _, b := range a.d.Boards {
		taken = append(taken, b.Name)
	}
	name, err := a.name("board", "What do you call the board? As: beacon.", false, taken)
	if err != nil {
		return err
	}
	b := plan.DraftBoard{Name: name, Part: part.Name}
	if b.Closure, err = a.closure("Under what is the board?"); err != nil {
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
	if l.InSeries, err = a.count("How many of them share one resistor, in series?", "1", 60); err != nil {
		return err
	}
	if g.Board == "" {
		usual := ""
		if last, ok := a.before[lightKind{bareLEDs, false}]; ok {
			usual = strconv.FormatFloat(last.Light.Ohms, 'f', -1, 64)
		}
		l.Ohms, err = a.number("ohms", "Which resistor, in ohm? As 470, 1k, 4k7.", usual, 1, 1e7,
			"Printed on it, or by its rings. An LED without one burns out; sealworthy budget says if yours fits.")
		l.HasOhms = true
	} else {
		l.Ohms, err = a.number("ohms", "Which resistor of yours, in ohm? 0: the board's own alone.", "0", 0, 1e7,
			"It comes on top of the board's own.")
		l.HasOhms = l.Ohms > 0
	}
	if err != nil {
		return err
	}
	l.Count, err = a.count("How many such branches, each with a resistor?", "1", 10000)
	return err
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

// closure asks what closes over something; without a choice it isn't asked.
func (a *asker) closure(text string) (string, error) {
	switch len(a.d.Closures) {
	case 0:
		return "", nil
	case 1:
		return a.d.Closures[0].Name, nil
	}
	var names []string
	for _, c := range a.d.Closures {
		names = append(names, c.Name)
	}
	i, err := a.choose(text, names, max(0, slices.Index(names, a.lastClosure)), "What hides it once it's glued.")
	if err != nil {
		return "", err
	}
	a.lastClosure = names[i]
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

// where asks what closes over a group and what feeds it.
func (a *asker) where(g *plan.DraftGroup) (err error) {
	if g.Closure, err = a.closure("What closes over it?"); err != nil || g.Board != "" {
		return err
	}
	g.Joint, err = a.joint("What feeds it?")
	return err
}

// wire asks what is known of a group's wire, in one line.
func (a *asker) wire(g *plan.DraftGroup) error {
	s, err := a.v.ask(query{text: "Its wire: colour, pin, length, as: red, 3, 22 cm. Enter: leave it out.",
		hasFall: true,
		help:    "All of them may be left out; the sheet prints colours and pins as a map.",
		check: func(s string) string {
			if _, ok := wireOf(s); !ok {
				return "A colour, then a pin, then a length with mm or cm, with commas between them; what you " +
					"don't know stays empty, as: red,,22 cm."
			}
			return ""
		}})
	if err != nil {
		return err
	}
	g.Wire, _ = wireOf(s)
	return nil
}

// wireOf reads "red, 3, 22 cm".
func wireOf(s string) (w plan.DraftWire, ok bool) {
	parts := strings.Split(s, ",")
	if len(parts) > 3 {
		return w, false
	}
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	w.Colour = parts[0]
	if len(parts) > 1 {
		w.Pin = parts[1]
	}
	if len(parts) > 2 && parts[2] != "" {
		w.LengthMm, ok = plan.NumberOf("length_mm", parts[2])
		if !ok || w.LengthMm <= 0 || w.LengthMm > 50000 {
			return w, false
		}
	}
	return w, !strings.ContainsAny(s, `\"`)
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
	bud, err := compare.NewExpected(p).At(compare.Conditions{})
	if err != nil {
		wrap(a.v.e.stdout, "  note: ", "    ", "its draw can't be worked out yet: "+err.Error())
		return
	}
	a.sayGrown(g, bud)
}

func (a *asker) sayGrown(g plan.DraftGroup, bud *budget.Budget) {
	fmt.Fprintln(a.v.e.stdout)
	for _, x := range bud.Groups {
		if x.Group != g.Name {
			continue
		}
		switch {
		case x.AsFound:
			fmt.Fprintf(a.v.e.stdout, "  %s: measured, not judged\n", g.Name)
		default:
			fmt.Fprintf(a.v.e.stdout, "  %s draws %s (%s to %s)\n", g.Name,
				words.Milliamps(x.Service.NominalA, x.Service.UA),
				words.Milliamps(x.Service.LowA, x.Service.UA), words.Milliamps(x.Service.HighA, x.Service.UA))
		}
	}
	for _, j := range bud.Jacks {
		text := "all lit: " + words.Milliamps(j.AllLit.NominalA, j.AllLit.UA)
		if amps := a.d.Jack.AdapterAmps; amps > 0 {
			text += fmt.Sprintf(" of the adapter's %s", words.Milliamps(amps, 0))
		}
		wrap(a.v.e.stdout, "  ", "  ", text)
	}
	for _, c := range bud.Checks {
		if c.Group == g.Name && (c.Severity == budget.Wrong || c.Severity == budget.Risky) {
			wrap(a.v.e.stdout, "  "+strings.ToUpper(string(c.Severity))+": ", "    ", c.Text+" (u goes back to it)")
		}
	}
}
