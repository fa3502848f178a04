package budget

import (
	"math"

	"sealworthy/compare/plan"
)

// jackPlace is where the outputs of a whole model at one jack lie.
type jackPlace struct {
	darkMeter, allMeter, dark, all, mean, highest int
	byPace                                        []pacePlace
	groups                                        map[int]int // group to output: its current in service
}

type pacePlace struct{ board, pace, out int }

// blend is the mean draw of the whole model: dark plus, of what lighting every
// output adds, the part that each board is lit for. Lamps that are dark make
// the others a trace brighter through shared wires; that is left out.
type blend struct {
	out, dark, all int
	boards         []blendBoard
}

type blendBoard struct {
	groups []int // outputs: currents of its groups, all lit
	duty   int
	fixed  float64
	turns  int // outputs that take turns; 0: none do
}

func (b *blend) over(s *side, dev, y []float64) float64 {
	lit, mean := 0.0, 0.0
	for i := range b.boards {
		x := &b.boards[i]
		d := math.Min(1, math.Max(0, s.dutyAt(x.duty, x.fixed, dev)))
		if x.turns > 0 {
			d = math.Min(d, 1/float64(x.turns))
		}
		for _, g := range x.groups {
			lit += y[g]
			mean += d * y[g]
		}
	}
	if lit <= 0 {
		return y[b.dark]
	}
	return y[b.dark] + (y[b.all]-y[b.dark])*mean/lit
}

// addWhole makes the settings of the whole model at a jack.
func (m *model) addWhole(s *side, jack plan.Jack) (jackPlace, error) {
	pl := jackPlace{groups: map[int]int{}}
	s.allOfIt = true
	// What is clipped onto a sealed wire for its test isn't there in service.
	everything := func(t int) bool { return !m.sealed(s.w.Terminals[t]) }
	steady := func(b, _ int) bool { return !blinks(m.p.Boards[b]) }
	blinking := false
	for i, b := range m.p.Boards {
		blinking = blinking || s.w.Boards[i].Here && blinks(b)
	}
	all, err := s.add(s.everything(), everything, always, jack.Volts, 0, false)
	if err != nil {
		return pl, err
	}
	pl.all = s.output(all, -1)
	s.places, s.placesIn = places(s.w), len(s.settings)-1
	for i := range m.p.Groups {
		if s.w.Groups[i].Here {
			pl.groups[i] = s.output(all, i)
		}
	}
	at := func(like int, lit func(int, int) bool, volts float64, meter bool) (int, error) {
		leads := 0.0
		if meter {
			leads = m.at.SeriesOhm()
			if m.at.Volts != nil {
				volts = *m.at.Volts
			}
			if m.at.Loose || leads == 0 && m.at.LeadsHalfOhm == 0 && volts == jack.Volts && m.everything {
				return like, nil
			}
		}
		on := everything
		if meter {
			on = func(t int) bool { return m.wanted[t] }
		}
		t, err := s.add(s.everything(), on, lit, volts, leads, meter)
		if err != nil {
			return 0, err
		}
		return s.output(t, -1), nil
	}
	if pl.dark = pl.all; blinking {
		if pl.dark, err = at(0, steady, jack.Volts, false); err != nil {
			return pl, err
		}
	}
	if pl.allMeter, err = at(pl.all, always, jack.Volts, true); err != nil {
		return pl, err
	}
	if pl.darkMeter = pl.allMeter; blinking {
		if pl.darkMeter, err = at(pl.dark, steady, jack.Volts, true); err != nil {
			return pl, err
		}
	}
	if pl.highest = pl.all; jack.HighVolts > jack.Volts {
		if pl.highest, err = at(0, always, jack.HighVolts, false); err != nil {
			return pl, err
		}
	}
	pl.mean = m.addBlend(s, pl, -1, 0)
	for i, b := range m.p.Boards {
		if !s.w.Boards[i].Here || len(b.Paces) < 2 {
			continue
		}
		for k := range b.Paces {
			pl.byPace = append(pl.byPace, pacePlace{i, k, m.addBlend(s, pl, i, k)})
		}
	}
	return pl, nil
}

// addBlend adds the mean with one board at a pace and the others at their first.
func (m *model) addBlend(s *side, pl jackPlace, board, pace int) int {
	b := blend{out: s.outs, dark: pl.dark, all: pl.all}
	s.outs++
	for i, bd := range m.p.Boards {
		if !s.w.Boards[i].Here || !blinks(bd) {
			continue
		}
		k := 0
		if i == board {
			k = pace
		}
		var x blendBoard
		x.duty, x.fixed = s.dutyOf(i, k)
		used := map[int]bool{}
		for g, grp := range m.p.Groups {
			if grp.Board == bd.Name {
				x.groups = append(x.groups, pl.groups[g])
				used[grp.Output] = true
			}
		}
		if bd.Run == plan.Alternate && !bd.Paces[k].Steady() {
			x.turns = len(used)
		}
		b.boards = append(b.boards, x)
	}
	s.blends = append(s.blends, b)
	return b.out
}
