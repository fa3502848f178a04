package budget

import (
	"fmt"
	"slices"

	"sealworthy/compare/plan"
)

// feedPlace is where the outputs of one feed's budget lie.
type feedPlace struct {
	terminal int
	board    int  // -1: a group on a joint
	site     site // never solved, only cloned
	volts    float64
	settings []*setting
	levels   []subset
	outs     []int // by level, at the jack
	means    []int // by pace
	groups   []groupPlace
}

// groupPlace is where the outputs of one group lie.
type groupPlace struct {
	group, level, out int
	means             []int // by pace
}

// ServiceVolts is what a joint is fed with: the jack's voltage, or that of the
// last converter on the way.
func ServiceVolts(p *plan.Plan, joint string, jackVolts float64) float64 {
	for _, at := range p.UpFrom(joint) {
		j, _ := p.Joint(at)
		for _, h := range slices.Backward(j.Holds) {
			if h.Kind == plan.HoldConverter {
				return h.OutVolts.Nominal
			}
		}
	}
	return jackVolts
}

// addFeeds makes the settings of every feed behind the side's jack that is
// wanted, each alone at the meter.
func (m *model) addFeeds(s *side, jack plan.Jack) ([]feedPlace, error) {
	var feeds []feedPlace
	for t, term := range s.w.Terminals {
		if !m.wanted[t] {
			continue
		}
		f := feedPlace{terminal: t, board: term.Board}
		joint := ""
		if term.Board >= 0 {
			joint = m.p.Boards[term.Board].Joint
			if !s.w.Boards[term.Board].Here {
				continue
			}
		} else {
			joint = m.p.Groups[term.Group].Joint
			if !s.w.Groups[term.Group].Here {
				continue
			}
		}
		switch f.volts = jack.Volts; {
		case m.at.Volts != nil:
			f.volts = *m.at.Volts
		case m.at.Loose:
			f.volts = ServiceVolts(m.p, joint, jack.Volts)
		}
		var err error
		if f.site, err = s.feed(t); err == nil && term.Board >= 0 {
			err = m.addBoard(s, &f)
		} else if err == nil {
			err = m.addGroup(s, &f, term.Group)
		}
		if err != nil {
			return nil, fmt.Errorf("%s alone at %g V: %w", term.Name, f.volts, err)
		}
		feeds = append(feeds, f)
	}
	return feeds, nil
}

func (m *model) addGroup(s *side, f *feedPlace, group int) error {
	t, err := s.add(f.site.clone(), only(f.terminal), never, f.volts, m.at.SeriesOhm(), true)
	if err != nil {
		return err
	}
	out := s.output(t, -1)
	f.settings, f.levels, f.outs = []*setting{t}, []subset{{usual: true}}, []int{out}
	f.groups = []groupPlace{{group: group, out: out}}
	return nil
}

func (m *model) addBoard(s *side, f *feedPlace) error {
	b := m.p.Boards[f.board]
	var loaded []int
	for k, o := range b.Outputs {
		for _, g := range m.p.Groups {
			if g.Board == b.Name && g.Output == o.Number {
				loaded = append(loaded, k)
				break
			}
		}
	}
	f.levels = levelsOf(b, loaded)
	for _, l := range f.levels {
		t, err := s.add(f.site.clone(), only(f.terminal), litOf(f.board, l.outputs), f.volts,
			m.at.SeriesOhm(), true)
		if err != nil {
			return err
		}
		f.settings = append(f.settings, t)
		f.outs = append(f.outs, s.output(t, -1))
	}
	if err := m.addRises(s, f); err != nil {
		return err
	}
	var lit []int
	for _, l := range f.levels {
		lit = append(lit, len(l.outputs))
	}
	set := weights{run: b.Run, outputs: len(loaded)}
	for k, pc := range b.Paces {
		d, fixed := s.dutyOf(f.board, k)
		mn := mean{out: s.outs, levels: f.outs, lit: lit, set: set, duty: d, fixed: fixed}
		if len(f.levels) == 1 { // one level, whatever the pace
			mn.set, mn.lit = weights{}, []int{0}
		}
		s.outs++
		s.means = append(s.means, mn)
		f.means = append(f.means, mn.out)
		for i := range f.groups {
			g := &f.groups[i]
			// Its own share of time: lit for d, limited where outputs take turns.
			gm := mean{out: s.outs, levels: []int{g.out}, lit: []int{1}, duty: d, fixed: fixed,
				set: weights{alone: true}}
			if b.Run == plan.Alternate && !pc.Steady() {
				gm.set.outputs = len(loaded)
			}
			s.outs++
			s.means = append(s.means, gm)
			g.means = append(g.means, gm.out)
		}
	}
	return nil
}

// levelOf is the level in which a group shows its draw: the one with the fewest
// outputs lit, among those that a healthy board shows.
func (m *model) levelOf(f *feedPlace, output int) int {
	best, n := -1, 1<<30
	for k, l := range f.levels {
		for _, o := range l.outputs {
			size := len(l.outputs)
			if !l.usual {
				size += 1 << 20
			}
			if m.p.Boards[f.board].Outputs[o].Number == output && size < n {
				best, n = k, size
			}
		}
	}
	return best
}

func only(terminal int) func(int) bool { return func(t int) bool { return t == terminal } }

func never(int, int) bool { return false }

func always(int, int) bool { return true }

// litOf lights some outputs of one board.
func litOf(board int, outputs []int) func(int, int) bool {
	return func(b, o int) bool {
		if b != board {
			return false
		}
		for _, x := range outputs {
			if x == o {
				return true
			}
		}
		return false
	}
}

// rise is what lighting a group adds to the draw at the meter: of what its level
// lies above the dark one, its share by the currents of the groups lit with it.
// Behind a converter that isn't the group's own current.
type rise struct {
	out, lit, dark, own int
	with                []int // currents of all groups lit in the level, own among them
}

func (r rise) over(y []float64) float64 {
	sum := 0.0
	for _, k := range r.with {
		sum += y[k]
	}
	if sum <= 0 {
		return 0
	}
	return (y[r.lit] - y[r.dark]) * y[r.own] / sum
}

// addRises adds the groups of a board. A board that is never dark gets a dark
// setting that is no level of it.
func (m *model) addRises(s *side, f *feedPlace) error {
	b := m.p.Boards[f.board]
	dark := f.outs[0]
	if len(f.levels[0].outputs) > 0 {
		t, err := s.add(f.site.clone(), only(f.terminal), never, f.volts, m.at.SeriesOhm(), true)
		if err != nil {
			return err
		}
		dark = s.output(t, -1)
	}
	for i, g := range m.p.Groups {
		k := -1
		if g.Board == b.Name {
			k = m.levelOf(f, g.Output)
		}
		if k < 0 {
			continue
		}
		r := rise{lit: f.outs[k], dark: dark}
		for n, h := range m.p.Groups {
			if h.Board != b.Name || !m.lights(f, k, h.Output) {
				continue
			}
			o := s.output(f.settings[k], n)
			if r.with = append(r.with, o); n == i {
				r.own = o
			}
		}
		r.out = s.outs
		s.outs++
		s.rises = append(s.rises, r)
		f.groups = append(f.groups, groupPlace{group: i, level: k, out: r.out})
	}
	return nil
}

// lights reports whether an output is lit in a level.
func (m *model) lights(f *feedPlace, level, output int) bool {
	for _, o := range f.levels[level].outputs {
		if m.p.Boards[f.board].Outputs[o].Number == output {
			return true
		}
	}
	return false
}
