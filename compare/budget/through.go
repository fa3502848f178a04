package budget

import (
	"math"
	"slices"

	"sealworthy/compare/wiring"
)

// through says that inputs of one group act on everything else through the
// group's current alone. So one of them, the leader, is tried in the whole model;
// what the others do follows from what they do to that current, in a circuit of
// the group's own feed. Otherwise the whole model would be solved for each piece
// of each group.
type through struct {
	leader    int
	followers []follower
}

// follower is an input with, by setting, what it does to the group's current, of what
// the leader does.
type follower struct {
	input int
	share []float64
}

// fewest inputs that make it worth while, and how near the volts of a group in its
// own feed must come to those in the whole: the currents follow them by some
// tenfold, what an input does to the current by about as much.
const (
	fewestFollowers = 2
	nearVolts       = 1e-5
)

// sensitivities of a side whose settings hold the whole model: leaders and all
// that belongs to no group are tried, near the operating point; followers follow.
func (s *side) wholeSensitivities(forks []*side, nominal []float64, r *reaches) (*sens, error) {
	rest := make([]float64, s.law.inputs)
	by := make([]moved, len(forks))
	for i, x := range forks {
		if err := x.hold(rest); err != nil {
			return nil, err
		}
		by[i] = x.near(r)
	}
	step, like := s.step(), s.like()
	groups, err := s.followers(len(forks), step, like)
	if err != nil {
		return nil, err
	}
	tried := slices.Clone(step)
	for _, g := range groups {
		for _, f := range g.followers {
			tried[f.input] = 0
		}
	}
	c, err := sensitivities(tried, like, nominal, by...)
	if err != nil {
		return nil, err
	}
	c.step, c.through = step, groups
	c.setting = make([]int, s.outs)
	for k := range c.setting {
		c.setting[k] = -1
	}
	for k, t := range s.settings {
		for _, x := range t.reads {
			c.setting[x.out] = k
		}
	}
	c.listLeads()
	s.madeByLeaders(c, nominal, rest, r)
	return c, nil
}

// hold brings every setting to rest and keeps it for near.
func (s *side) hold(rest []float64) error {
	for _, t := range s.settings {
		if err := t.solve(s, rest); err != nil {
			return err
		}
		src := t.src
		src.EmfV += t.dv
		if err := t.w.Hold(src); err != nil {
			return err
		}
	}
	return nil
}

// near is what an input moves, everything else held at rest, at the cost of the nodes
// of the feed tree and not of all branches. Voltage and leads move all and are tried in full.
func (s *side) near(r *reaches) moved {
	at := 0
	near := func(dev, out []float64) error {
		for _, t := range s.settings {
			t.w.Apply(at, dev[at])
			err := t.w.Near(t.src)
			t.w.Apply(at, 0)
			if err != nil {
				return err
			}
			t.read(out)
		}
		s.compose(&r.all, dev, out)
		return nil
	}
	full := func(dev, out []float64) error {
		err := s.eval(dev, out)
		for _, t := range s.settings {
			t.w.Net.SetOhms(t.w.Meter, t.leads)
			t.dv, t.dr, t.solved = 0, 0, false
		}
		return err
	}
	return func(i int) (function, []int) {
		if at = i; i < s.params {
			return near, nil
		}
		return full, nil
	}
}

// madeByLeaders finds what leaders do, by each setting alone, to the outputs that are
// made of others.
func (s *side) madeByLeaders(c *sens, nominal, rest []float64, r *reaches) {
	c.made = map[int][][]float64{}
	for k, at := range c.setting {
		if at < 0 {
			c.made[k] = make([][]float64, len(c.through))
		}
	}
	up, down := slices.Clone(nominal), slices.Clone(nominal)
	for n, g := range c.through {
		if len(g.followers) == 0 {
			continue
		}
		for k := range c.made {
			c.made[k][n] = make([]float64, len(s.settings))
		}
		for at, t := range s.settings {
			for _, x := range t.reads {
				by := c.leads[x.out][n]
				up[x.out], down[x.out] = nominal[x.out]+by, nominal[x.out]-by
			}
			s.compose(&r.all, rest, up)
			s.compose(&r.all, rest, down)
			for k := range c.made {
				c.made[k][n][at] = (up[k] - down[k]) / 2
			}
			for _, x := range t.reads {
				up[x.out], down[x.out] = nominal[x.out], nominal[x.out]
			}
		}
	}
}

// followers finds, for each group behind the jack, who leads and who follows.
func (s *side) followers(workers int, step []float64, like []int) ([]through, error) {
	inputs := make([][]int, len(s.w.Groups))
	for i, q := range s.w.Params {
		if q.Group >= 0 && step[i] > 0 {
			inputs[q.Group] = append(inputs[q.Group], i)
		}
	}
	found := make([]through, len(inputs))
	err := shared(len(inputs), workers, func(_, first, end int) error {
		for g := first; g < end; g++ {
			if len(inputs[g]) <= fewestFollowers {
				continue
			}
			x, err := s.throughGroup(g, inputs[g], step, like)
			if err != nil {
				return err
			}
			found[g] = x
		}
		return nil
	})
	return found, err
}

// throughGroup tries a group's inputs in its own feed, at the volts that it has in
// each setting of the whole.
func (s *side) throughGroup(g int, inputs []int, step []float64, like []int) (through, error) {
	terminal := -1
	board, _, _ := wiring.OutputOf(s.w.Plan, s.w.Plan.Groups[g])
	for k, t := range s.w.Terminals {
		if t.Group == g || board >= 0 && t.Board == board {
			terminal = k
		}
	}
	at, err := s.feed(terminal)
	if err != nil {
		return through{}, err
	}
	own := map[int]int{}
	for k, i := range at.inputs {
		own[i] = k
	}
	does := map[int][]float64{} // by input, by setting
	for _, i := range inputs {
		does[i] = make([]float64, len(s.settings))
	}
	for k, t := range s.settings {
		if !(t.w.GroupAmps(t.w.Point, g) > 0) {
			continue
		}
		x, ok, err := s.feedAs(t, at.clone(), g)
		if err != nil || !ok {
			return through{}, err
		}
		for _, i := range inputs {
			if j := like[i]; j < i && does[j] != nil {
				does[i][k] = does[j][k]
				continue
			}
			var amps [2]float64
			for e, sign := range []float64{1, -1} {
				x.w.Apply(own[i], sign*step[i])
				if err := x.w.Solve(x.src); err != nil {
					return through{}, err
				}
				amps[e] = x.w.GroupAmps(x.w.Point, g)
			}
			x.w.Apply(own[i], 0)
			does[i][k] = amps[0] - amps[1]
		}
	}
	return lead(inputs, does), nil
}

// lead picks the input that does most and sets the others beside it. Where it does
// nothing in a setting and others do, none follows: all are tried in the whole.
func lead(inputs []int, does map[int][]float64) through {
	out := through{leader: inputs[0]}
	most := 0.0
	for _, i := range inputs {
		sum := 0.0
		for _, d := range does[i] {
			sum += math.Abs(d)
		}
		if sum > most {
			out.leader, most = i, sum
		}
	}
	leads := does[out.leader]
	for _, i := range inputs {
		if i == out.leader {
			continue
		}
		share := make([]float64, len(leads))
		for k, d := range does[i] {
			switch {
			case leads[k] != 0:
				share[k] = d / leads[k]
			case d != 0:
				return through{}
			}
		}
		out.followers = append(out.followers, follower{i, share})
	}
	return out
}

// feedAs is a feed as it stands in a setting of the whole: what is lit, and a source that
// gives the group the volts it has there. false: none does, as past a converter that the whole model drags down.
func (s *side) feedAs(t *setting, at site, g int) (x *setting, ok bool, err error) {
	x = &setting{site: at, src: t.src, leads: t.leads}
	for i, term := range x.w.Terminals {
		x.w.SetOn(i, true)
		if b := term.Board; b >= 0 && x.w.Boards[b].Here {
			for o, pin := range t.w.Boards[b].Outputs {
				x.w.SetLit(b, o, t.w.Net.Output(pin).Lit)
			}
		}
	}
	x.w.Net.SetOhms(x.w.Meter, t.leads)
	volts := func(w *wiring.Wired) float64 {
		return w.Point.NodeV[w.Groups[g].Far] - w.Point.GroundV[w.Groups[g].Ret]
	}
	want := volts(t.w)
	// By secants; a volt more at the source is taken for one more at the group at first.
	lacks, slope, step := 0.0, 1.0, 0.0
	for n := range 6 {
		if err := x.w.Solve(x.src); err != nil {
			return nil, false, err
		}
		d := want - volts(x.w)
		if ok = math.Abs(d) < nearVolts*want; math.Abs(d) < 1e-9*want {
			break
		}
		if n > 0 && step != 0 {
			slope = math.Min(1, math.Max(0.1, (lacks-d)/step))
		}
		lacks, step = d, d/slope
		x.src.EmfV = math.Max(0, x.src.EmfV+step)
	}
	if err := x.home(); err != nil {
		return nil, false, err
	}
	return x, ok, nil
}
