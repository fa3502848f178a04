package budget

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// model is what Of builds a budget from, kept for Curve.
type model struct {
	p          *plan.Plan
	at         At
	seed       uint64
	wanted     []bool // by terminal
	everything bool   // all of them
	stated     bool   // the trials are the caller's
	sides      []*alone
}

// alone is the feeds behind one jack, each alone at the meter, with their draws.
type alone struct {
	jack  int
	side  *side
	feeds []feedPlace
	drawn *drawn
}

// whole is everything behind one jack together.
type whole struct {
	side  *side
	place jackPlace
	drawn *drawn
}

// Of makes the budget of a plan. The same plan, conditions and seed give the
// same budget on every machine. An error names group or joint and its line in
// the plan; a plan that works badly is no error but has Checks.
func Of(p *plan.Plan, at At, seed uint64) (*Budget, error) {
	if p == nil || len(p.Jacks) == 0 {
		return nil, errors.New("a plan without a jack draws nothing: state where the model is fed")
	}
	if err := at.check(); err != nil {
		return nil, fmt.Errorf("conditions of the budget: %w", err)
	}
	m := &model{p: p, seed: seed, stated: at.Trials > 0}
	at = at.filled()
	m.at = at
	if err := m.choose(); err != nil {
		return nil, err
	}
	if at.FeedsOnly {
		return m.feedsOnly()
	}
	b := &Budget{Build: p.Build, Revision: p.Revision, At: at, Seed: seed, Trials: at.Trials, Coverage: Coverage,
		model: m}
	c := newChecker(p)
	groups := make([]*Group, len(p.Groups))
	for j, jack := range p.Jacks {
		a, w, err := m.both(j)
		if err != nil {
			return nil, err
		}
		m.sides = append(m.sides, a)
		b.Trials = max(b.Trials, a.drawn.trials, w.drawn.trials)
		b.Jacks = append(b.Jacks, m.jack(jack, w))
		maps.Copy(c.bands, w.drawn.places)
		all := w.drawn.draws[w.place.all]
		c.bands[placeOf{"jack", j}] = placeBand{amps: fromTo{all.LowA, all.HighA}}
		if err := m.fillFeeds(b, groups, a, w); err != nil {
			return nil, err
		}
		if err := c.operate(w.side.w, j); err != nil {
			return nil, err
		}
		if err := c.served(w.side.w, j); err != nil {
			return nil, err
		}
		if !at.Loose {
			t, err := m.twins(a)
			if err != nil {
				return nil, err
			}
			b.Twins = append(b.Twins, t...)
		}
	}
	for i, g := range groups {
		if g != nil {
			g.FarVolts, g.FarVoltsLow = c.mid.groups[i].far(), c.low.groups[i].far()
			b.Groups = append(b.Groups, *g)
		}
	}
	b.Joints = c.tree()
	seeing := b.seeing()
	concern(p, seeing)
	nameAll(seeing)
	b.Checks = append(c.run(), seeing...)
	slices.SortStableFunc(b.Checks, func(x, y Check) int { return rank(x.Severity) - rank(y.Severity) })
	b.warn()
	return b, nil
}

// feedsOnly is the budget without the whole model.
func (m *model) feedsOnly() (*Budget, error) {
	p := m.p
	b := &Budget{Build: p.Build, Revision: p.Revision, At: m.at, Seed: m.seed, Coverage: Coverage, model: m}
	groups := make([]*Group, len(p.Groups))
	for j := range p.Jacks {
		if !m.wantedAt(j) {
			continue
		}
		a, err := m.alone(j)
		if err != nil {
			return nil, err
		}
		m.sides = append(m.sides, a)
		b.Trials = max(b.Trials, a.drawn.trials)
		if err := m.fillFeeds(b, groups, a, nil); err != nil {
			return nil, err
		}
	}
	for _, g := range groups {
		if g != nil {
			b.Groups = append(b.Groups, *g)
		}
	}
	b.warn()
	return b, nil
}

// wantedAt reports whether a terminal behind a jack is wanted.
func (m *model) wantedAt(jack int) bool {
	for t, term := range wiring.Terminals(m.p) {
		at := ""
		if term.Board >= 0 {
			at = m.p.JackOf(m.p.Boards[term.Board].Joint)
		} else {
			at = m.p.JackOf(m.p.JointOf(m.p.Groups[term.Group]))
		}
		if m.wanted[t] && at == m.p.Jacks[jack].Name {
			return true
		}
	}
	return false
}

// filled writes the defaults into the conditions.
func (a At) filled() At {
	a.Scene = a.Filled()
	if a.Trials == 0 {
		a.Trials = defaultTrials
	}
	return a
}

// choose marks the terminals that are wanted. A group on a board asks for its board.
func (m *model) choose() error {
	terms := wiring.Terminals(m.p)
	m.wanted = make([]bool, len(terms))
	if m.at.On == nil {
		m.everything = true
		for i := range m.wanted {
			m.wanted[i] = true
		}
		return nil
	}
	for _, name := range m.at.On {
		feed := name
		if i := m.p.GroupAt(name); i >= 0 && m.p.Groups[i].Board != "" {
			feed = m.p.Groups[i].Board
		}
		k := slices.IndexFunc(terms, func(t wiring.Terminal) bool { return t.Name == feed })
		if k < 0 {
			var all []string
			for _, t := range terms {
				all = append(all, t.Name)
			}
			return fmt.Errorf("no group or board is called %q: there are %s", name, strings.Join(all, ", "))
		}
		m.wanted[k] = true
	}
	return nil
}

// trials are the conditions with as many trials as the wanted feeds get.
func (m *model) trials(inFull, least int) At {
	at := m.at
	if !m.stated {
		n := 0
		for _, w := range m.wanted {
			if w {
				n++
			}
		}
		at.Trials = trialsOf(n, inFull, least)
	}
	return at
}

// sealed tells whether a terminal is a wire that is sealed in for a part still to come.
func (m *model) sealed(t wiring.Terminal) bool { return t.Group >= 0 && m.p.Groups[t.Group].Sealed }

// alone makes and propagates the feeds behind one jack.
func (m *model) alone(jack int) (*alone, error) {
	p := m.p
	if m.at.Loose {
		p = wiring.Loose(p)
	}
	s, err := newSide(p, jack, m.at)
	if err != nil {
		return nil, err
	}
	a := &alone{jack: jack, side: s}
	if a.feeds, err = m.addFeeds(s, m.p.Jacks[jack]); err != nil {
		return nil, err
	}
	if a.drawn, err = s.propagate(m.seed, m.trials(feedsInFull, leastOfFeeds)); err != nil {
		return nil, fmt.Errorf("feeds of jack %s, each alone: %w", m.p.Jacks[jack].Name, err)
	}
	return a, nil
}

// whole makes and propagates the whole model at a jack.
func (m *model) whole(jack int) (*whole, error) {
	j := m.p.Jacks[jack]
	s, err := newSide(m.p, jack, m.at)
	if err != nil {
		return nil, err
	}
	w := &whole{side: s}
	if w.place, err = m.addWhole(s, j); err == nil {
		w.drawn, err = s.propagate(m.seed, m.trials(wholeInFull, leastOfWhole))
	}
	if err != nil {
		return nil, fmt.Errorf("everything on at jack %s: %w", j.Name, err)
	}
	return w, nil
}

// both makes feeds and whole side by side; they share nothing.
func (m *model) both(jack int) (*alone, *whole, error) {
	var w *whole
	var whErr error
	done := make(chan struct{})
	go func() {
		defer close(done)
		w, whErr = m.whole(jack)
	}()
	a, err := m.alone(jack)
	<-done
	if err == nil {
		err = whErr
	}
	return a, w, err
}

// jack reads the whole model's draws.
func (m *model) jack(j plan.Jack, w *whole) Jack {
	pl, d := w.place, w.drawn
	out := Jack{Jack: j.Name, Volts: j.Volts,
		DarkMeter: d.draws[pl.darkMeter], AllLitMeter: d.draws[pl.allMeter], DarkService: d.draws[pl.dark],
		AllLit: d.draws[pl.all], MeanService: d.draws[pl.mean], HighestVolts: d.draws[pl.highest]}
	for _, b := range pl.byPace {
		bd := m.p.Boards[b.board]
		out.ByPace = append(out.ByPace, BoardPace{Board: bd.Name, Pace: bd.Paces[b.pace].Name, Mean: d.draws[b.out]})
	}
	return out
}

// fillFeeds writes the feeds of one jack and their groups into the budget.
func (m *model) fillFeeds(b *Budget, groups []*Group, a *alone, w *whole) error {
	jack := m.p.Jacks[a.jack].Name
	for i := range a.feeds {
		f := &a.feeds[i]
		term := a.side.w.Terminals[f.terminal]
		fd := Feed{Feed: term.Name, Jack: jack, Volts: f.volts}
		for k, l := range f.levels {
			lv := Level{Draw: a.drawn.draws[f.outs[k]], Usual: l.usual}
			for _, o := range l.outputs {
				lv.Outputs = append(lv.Outputs, m.p.Boards[f.board].Outputs[o].Number)
			}
			for _, g := range f.groups {
				if f.board < 0 || slices.Contains(lv.Outputs, m.p.Groups[g.group].Output) {
					lv.Groups = append(lv.Groups, m.p.Groups[g.group].Name)
				}
			}
			fd.Levels = append(fd.Levels, lv)
		}
		if f.board >= 0 {
			bd := m.p.Boards[f.board]
			fd.Board, fd.Closure, fd.Pos, fd.Run, fd.CapacitorF = true, bd.Closure, bd.Pos, bd.Run, bd.CapacitorF
			for k, pc := range bd.Paces {
				fd.Paces = append(fd.Paces, PaceDraw{Pace: pc.Name, PeriodS: pc.PeriodS, Duty: pc.LitShare(),
					Mean: a.drawn.draws[f.means[k]], PeakA: peak(fd.Levels)})
			}
		}
		for _, gp := range f.groups {
			g := m.p.Groups[gp.group]
			if f.board < 0 {
				fd.Closure, fd.Pos = g.Closure, g.Pos
			}
			fd.Groups = append(fd.Groups, g.Name)
			fd.AsFound = fd.AsFound || g.AsFound
			out := Group{Group: g.Name, Closure: g.Closure, Feed: term.Name, Board: g.Board, Output: g.Output,
				Jack:    jack,
				AsFound: g.AsFound, TestLoad: g.TestLoadText(), Pos: g.Pos, Lit: a.drawn.draws[gp.out],
				Reels: a.side.reels(a.drawn, gp.out)}
			if w != nil {
				if o, ok := w.place.groups[gp.group]; ok {
					out.Service = w.drawn.draws[o]
				}
			}
			for k, mo := range gp.means {
				pc := m.p.Boards[f.board].Paces[k]
				out.Paces = append(out.Paces, PaceDraw{Pace: pc.Name, PeriodS: pc.PeriodS, Duty: pc.LitShare(),
					Mean: a.drawn.draws[mo], PeakA: out.Lit.NominalA})
			}
			for _, l := range g.Lights {
				out.Branches += l.Branches()
			}
			if err := m.losses(f, gp, &out); err != nil {
				return err
			}
			m.see(a, f, gp, &out)
			groups[gp.group] = &out
		}
		b.Feeds = append(b.Feeds, fd)
	}
	return nil
}

// peak is the highest level that a healthy board shows.
func peak(levels []Level) float64 {
	most := 0.0
	for _, l := range levels {
		if l.Usual {
			most = max(most, l.Draw.NominalA)
		}
	}
	return most
}

// warn collects what is to be said of the figures themselves.
func (b *Budget) warn() {
	for _, j := range b.Jacks {
		if d := j.AllLit; d.Differ {
			b.Warnings = append(b.Warnings, Warning{Text: fmt.Sprintf(
				"jack %s: its draw is steep, so the quick estimate of its band is off: %s ± %s by trials, %s ± %s "+
					"by the estimate; the trials are used",
				quote(j.Jack), amps(d.MeanA), amps(d.UA), amps(d.NominalA), amps(d.LinearUA))})
		}
	}
	for _, g := range b.Groups {
		if g.AsFound {
			b.Warnings = append(b.Warnings,
				Warning{g.Group, fmt.Sprintf("%s is as found: what it draws is in none of the sums", quote(g.Group))})
			continue
		}
		if d := g.Lit; d.Differ {
			b.Warnings = append(b.Warnings, Warning{g.Group, fmt.Sprintf(
				"%s: its draw is steep, so the quick estimate of its band is off: %s ± %s by trials, %s ± %s by the "+
					"estimate; the trials are used",
				quote(g.Group), amps(d.MeanA), amps(d.UA), amps(d.NominalA), amps(d.LinearUA))})
		}
	}
}
