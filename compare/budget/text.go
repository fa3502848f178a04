package budget

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"
)

// Text writes the budget as a table for a maker, lines of at most width
// columns (40 at least). Numbers are in mA with no more digits than they carry.
func (b *Budget) Text(w io.Writer, width int) error {
	t := &page{w: w, width: max(40, width)}
	at := "no meter in the way"
	if r := b.At.SeriesOhm(); r > 0 {
		at = fmt.Sprintf("meter and leads of %s in the way", ohms(r))
	}
	t.para("", fmt.Sprintf("%s: what each group draws, alone, at %s, %s", b.Build, b.voltsText(), at))
	t.line("")
	t.groups(b)
	t.boards(b)
	t.whole(b)
	t.opens(b)
	t.checks(b)
	return t.err
}

// voltsText names the voltage, or the voltages.
func (b *Budget) voltsText() string {
	var seen []string
	for _, f := range b.Feeds {
		v := volts(f.Volts)
		known := false
		for _, s := range seen {
			known = known || s == v
		}
		if !known {
			seen = append(seen, v)
		}
	}
	return list(seen)
}

// page keeps the first error and the width.
type page struct {
	w     io.Writer
	width int
	err   error
}

func (p *page) line(s string) {
	if p.err == nil {
		_, p.err = fmt.Fprintln(p.w, strings.TrimRight(s, " "))
	}
}

// para writes text wrapped at the width; lines after the first are indented as
// wide as the lead.
func (p *page) para(lead, text string) {
	indent := strings.Repeat(" ", utf8.RuneCountInString(lead))
	line, empty := lead, true
	for _, word := range strings.Fields(text) {
		if !empty && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > p.width {
			p.line(line)
			line, empty = indent, true
		}
		if !empty {
			line += " "
		}
		line, empty = line+word, false
	}
	p.line(line)
}

// table writes rows with the first column left, the others right-aligned. A name that is
// too wide stands on a line of its own: it's copied as it stands.
func (p *page) table(rows [][]string) {
	if len(rows) == 0 {
		return
	}
	wide := make([]int, len(rows[0]))
	for _, r := range rows {
		for i, c := range r {
			wide[i] = max(wide[i], utf8.RuneCountInString(c))
		}
	}
	rest := 0
	for _, x := range wide[1:] {
		rest += x + 2
	}
	wide[0] = max(8, min(wide[0], p.width-rest))
	for _, r := range rows {
		var s strings.Builder
		name := r[0]
		if utf8.RuneCountInString(name) > wide[0] {
			p.para("", name)
			name = ""
		}
		s.WriteString(padRight(name, wide[0]))
		for i, c := range r[1:] {
			s.WriteString("  ")
			s.WriteString(strings.Repeat(" ", wide[i+1]-utf8.RuneCountInString(c)))
			s.WriteString(c)
		}
		p.line(s.String())
	}
}

func padRight(s string, n int) string {
	return s + strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s)))
}

// withWorst: a table of groups with its column of the worst case is no wider than this.
const withWorst = 66

func (p *page) groups(b *Budget) {
	rows := [][]string{{"group", "draw", "healthy", "worst case", "dead light", "seen"},
		{"", "mA", "mA", "mA", "mA", "on plan"}}
	note, unknown := false, false
	for _, g := range b.Groups {
		if g.AsFound {
			rows = append(rows, []string{g.Group, "?", "as found", "", "", ""})
			continue
		}
		d := decimals(g.Lit.UA * 1e3)
		seen := "?"
		if g.Visible.Known {
			seen = "yes"
			if !g.Visible.OnPlan {
				seen, note = "NO", true
			}
		} else if !(g.SmallestA > 0) {
			seen = "look"
		} else {
			unknown = true
		}
		small := "-"
		if g.SmallestA > 0 {
			small = sig(g.SmallestA*1e3, 2)
		}
		rows = append(rows, []string{g.Group, milli(g.Lit.NominalA, d), span(g.Lit.LowA, g.Lit.HighA, d),
			span(g.Lit.WorstLowA, g.Lit.WorstHighA, d), small, seen})
	}
	if p.width < withWorst { // the names before what a bad group alone could draw
		for i, r := range rows {
			rows[i] = slices.Concat(r[:3], r[4:])
		}
	}
	p.table(rows)
	p.line("")
	p.para("", fmt.Sprintf("healthy: %.0f of 100 good groups draw within it. dead light: what the draw falls by "+
		"when the least branch goes dark.", 100*b.Coverage))
	var sealed []string
	for _, g := range b.Groups {
		if g.TestLoad != "" {
			sealed = append(sealed, fmt.Sprintf("%s: %s", g.Group, g.TestLoad))
		}
	}
	if len(sealed) > 0 {
		p.para("", "sealed wires, with what is clipped across their ends for the test: "+strings.Join(sealed, "; "))
	}
	if note {
		p.para("", "NO: the spread of the parts hides it; see what helps at the end.")
	}
	if unknown {
		p.para("", "?: it depends on the meter; name the one in use.")
	}
	p.line("")
}

func span(lo, hi float64, d int) string { return milli(lo, d) + " to " + milli(hi, d) }

func (p *page) boards(b *Budget) {
	rows := [][]string{{"board at its pace", "period s", "dark mA", "lit mA", "mean mA"}}
	for _, f := range b.Feeds {
		if !f.Board || len(f.Levels) == 0 {
			continue
		}
		dark := f.Levels[0].Draw
		for _, pc := range f.Paces {
			d := decimals(pc.Mean.UA * 1e3)
			period, off := "steady", "-"
			if pc.PeriodS > 0 {
				period, off = sig(pc.PeriodS, 3), milli(dark.NominalA, d)
			}
			rows = append(rows, []string{f.Feed + ", " + pc.Pace, period, off, milli(pc.PeakA, d),
				milli(pc.Mean.NominalA, d)})
		}
	}
	if len(rows) > 1 {
		p.table(rows)
		p.line("")
	}
}

func (p *page) whole(b *Budget) {
	rows := [][]string{{"whole model in service, mA", "draw", "healthy"}}
	add := func(name string, d Draw) {
		n := decimals(d.UA * 1e3)
		rows = append(rows, []string{name, milli(d.NominalA, n), span(d.LowA, d.HighA, n)})
	}
	for _, j := range b.Jacks {
		at := fmt.Sprintf("jack %s, %s: ", j.Jack, volts(j.Volts))
		add(at+"all lit", j.AllLit)
		if j.DarkService != j.AllLit {
			add(at+"blinkers dark", j.DarkService)
			add(at+"mean", j.MeanService)
			for _, x := range j.ByPace {
				add(fmt.Sprintf("%s%s at %s", at, x.Board, x.Pace), x.Mean)
			}
		}
		if j.HighestVolts != j.AllLit {
			add(at+"all lit, jack at its highest", j.HighestVolts)
		}
	}
	p.table(rows)
}

// opens says what goes dark where a joint or a return comes off.
func (p *page) opens(b *Budget) {
	first := true
	for _, j := range b.Joints {
		if len(j.Dark) == 0 || j.Kind != "joint" && j.Kind != "return" {
			continue
		}
		if first {
			p.line("")
			p.line("if a joint comes off, these go dark")
			first = false
		}
		dark := list(j.Dark)
		if len(j.Dark) == len(b.Groups) {
			dark = "everything"
		}
		p.para("  "+j.Name+": ", dark)
	}
}

// hidden lists the groups whose dead light the meter can't show, those with the
// same way out together.
func (p *page) hidden(b *Budget) {
	type way struct {
		groups []Group
		names  []string
	}
	var ways []*way
	byText := map[string]*way{}
	for _, g := range b.Groups {
		if !g.Visible.Known || g.Visible.OnPlan {
			continue
		}
		key := g.SmallestText + "\x00" + strings.Join(g.Visible.Advice, "\x00")
		w := byText[key]
		if w == nil {
			w = &way{}
			byText[key] = w
			ways = append(ways, w)
		}
		w.groups, w.names = append(w.groups, g), append(w.names, quote(g.Group))
	}
	if len(ways) > 0 {
		p.line("")
		p.line("A DEAD LIGHT COULD HIDE IN")
	}
	for _, w := range ways {
		g := w.groups[0]
		text := fmt.Sprintf("%s: %s gone dark takes %s away, only %s or more can be seen", quote(g.Group),
			g.SmallestText, amps(g.SmallestA), amps(g.Visible.PlanA))
		if len(w.groups) > 1 {
			text = fmt.Sprintf("%s: %s gone dark takes away too little to be seen", someOf(w.names), g.SmallestText)
		}
		if g.Pos.Line > 0 && len(w.groups) == 1 {
			text += fmt.Sprintf(" (plan line %d)", g.Pos.Line)
		}
		p.para("  - ", text)
		for i, a := range g.Visible.Advice {
			lead := "      or "
			if i == 0 {
				lead = "      "
			}
			p.para(lead, a)
		}
	}
}

func (p *page) checks(b *Budget) {
	for _, s := range []Severity{Wrong, Risky, Caution, Advice} {
		first := true
		for _, c := range b.Checks {
			if c.Severity != s || c.Kind == KindInvisible {
				continue
			}
			if first {
				p.line("")
				p.line(map[Severity]string{Wrong: "WRONG", Risky: "RISKY", Caution: "CAUTION", Advice: "ADVICE"}[s])
				first = false
			}
			text := c.Text
			if c.Pos.Line > 0 {
				text += fmt.Sprintf(" (plan line %d)", c.Pos.Line)
			}
			p.para("  - ", text)
			if c.Binds() {
				p.para("      ", c.bindingText())
				p.para("      name: ", c.Name)
			}
		}
		if s == Wrong && len(b.Binding("", Check.accepted)) > 0 {
			p.para("", "What is wrong holds its closures until it's mended in the plan, or accepted by its name.")
		}
	}
	p.hidden(b)
	if len(b.Warnings) > 0 {
		p.line("")
		p.line("ABOUT THE FIGURES")
		for _, w := range b.Warnings {
			p.para("  - ", w.Text)
		}
	}
}
