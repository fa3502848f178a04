package budget

import (
	"runtime"
	"slices"
)

// reach says which settings an output is read from, and what an input or an
// output needs to have evaluated. Without it each of n feeds would be solved for
// each of n inputs.
type reach struct {
	settings []int // by index in side.settings, rising
	outs     []int // outputs that are read from them
	rises    []int // by index in side.rises, and so on: what is made of those outputs
	means    []int
	blends   []int
}

// reaches holds what follows from how a side's settings and outputs hang together.
type reaches struct {
	needs     [][]int // by output: the settings it is read from
	bySetting []reach
	all       reach
}

// newReaches walks the outputs in the order in which eval makes them.
func (s *side) newReaches() *reaches {
	r := &reaches{needs: make([][]int, s.outs), bySetting: make([]reach, len(s.settings))}
	of := func(outs ...int) (need []int) {
		for _, o := range outs {
			need = append(need, r.needs[o]...)
		}
		slices.Sort(need)
		return slices.Compact(need)
	}
	for k, t := range s.settings {
		r.bySetting[k].settings = []int{k}
		r.all.settings = append(r.all.settings, k)
		for _, x := range t.reads {
			r.needs[x.out] = []int{k}
			r.bySetting[k].outs = append(r.bySetting[k].outs, x.out)
		}
	}
	hang := func(out int, need []int, list func(*reach) *[]int, i int) {
		r.needs[out] = need
		for _, k := range need {
			at := &r.bySetting[k]
			at.outs = append(at.outs, out)
			*list(at) = append(*list(at), i)
		}
		*list(&r.all) = append(*list(&r.all), i)
	}
	for i, x := range s.rises {
		hang(x.out, of(append([]int{x.lit, x.dark}, x.with...)...), func(r *reach) *[]int { return &r.rises }, i)
	}
	for i, x := range s.means {
		hang(x.out, of(x.levels...), func(r *reach) *[]int { return &r.means }, i)
	}
	for i := range s.blends {
		x := &s.blends[i]
		from := []int{x.dark, x.all}
		for _, b := range x.boards {
			from = append(from, b.groups...)
		}
		hang(x.out, of(from...), func(r *reach) *[]int { return &r.blends }, i)
	}
	for k := range s.outs {
		r.all.outs = append(r.all.outs, k)
	}
	return r
}

// of joins what hangs on some settings.
func (r *reaches) of(settings []int) reach {
	if len(settings) == len(r.bySetting) {
		return r.all
	}
	if len(settings) == 1 {
		return r.bySetting[settings[0]]
	}
	var out reach
	for _, k := range settings {
		x := &r.bySetting[k]
		out.settings = append(out.settings, k)
		out.outs = append(out.outs, x.outs...)
		out.rises, out.means, out.blends = append(out.rises, x.rises...), append(out.means, x.means...),
			append(out.blends, x.blends...)
	}
	for _, l := range []*[]int{&out.settings, &out.outs, &out.rises, &out.means, &out.blends} {
		slices.Sort(*l)
		*l = slices.Compact(*l)
	}
	return out
}

// inputs gives, for each input, what it moves: its settings by their circuits;
// voltage, leads, gain and duties go everywhere.
func (s *side) inputs(r *reaches) []reach {
	settings := make([][]int, s.params)
	for k, t := range s.settings {
		for _, i := range t.inputs {
			settings[i] = append(settings[i], k)
		}
	}
	out := make([]reach, s.law.inputs)
	for i := range out {
		if i < s.params {
			out[i] = r.of(settings[i])
		} else {
			out[i] = r.all
		}
	}
	return out
}

// moved is what an input can move on this side.
func (s *side) moved(by []reach) moved {
	at := 0
	f := func(dev, out []float64) error { return s.evalPart(&by[at], dev, out) }
	return func(i int) (function, []int) {
		at = i
		return f, by[i].outs
	}
}

// mostForks: more goroutines wait for memory, not for arithmetic (tried with 200 groups).
const mostForks = 4

// forks is the side itself and copies of it, one for each processor. Nothing may
// have been evaluated yet.
func (s *side) forks() ([]*side, error) {
	out := []*side{s}
	for range min(runtime.GOMAXPROCS(0), mostForks) - 1 {
		c := *s
		c.settings = make([]*setting, len(s.settings))
		for k, t := range s.settings {
			c.settings[k] = t.again()
			if err := c.settings[k].home(); err != nil {
				return nil, err
			}
		}
		out = append(out, &c)
	}
	return out, nil
}
