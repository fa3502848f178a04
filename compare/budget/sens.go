package budget

import (
	"cmp"
	"slices"
)

// sens is what each input does to each output. Most do nothing to most: of a plan of a
// thousand groups the whole table would take gigabytes. So only what was tried is held,
// by output, and a row is written out when it's asked for: by one goroutine at a time.
type sens struct {
	step   []float64
	copies [][]int   // by input: later ones that act as it does
	tried  [][]entry // by output, inputs rising
	// through are the groups whose inputs follow a leader; setting is where an output is
	// read, and leads by output and group what the leader does to it. -1: it's made of
	// others, and made has by group and setting what the leader does to it by what is read there.
	through []through
	setting []int
	leads   [][]float64
	made    map[int][][]float64

	last int // the output that row is of; -1: none
	row  []entry
}

// entry is what one input does, or one factor brings.
type entry struct {
	at int
	c  float64
}

// newSens orders what was tried by its outputs: cols has, for each input, what it does to
// each of its outs, nil for one that wasn't tried.
func newSens(outputs int, step []float64, like []int, cols [][]float64, outs [][]int) *sens {
	s := &sens{step: step, copies: make([][]int, len(step)), tried: make([][]entry, outputs), last: -1}
	n := make([]int, outputs)
	for i := range cols {
		if step[i] != 0 && same(like, i) {
			s.copies[like[i]] = append(s.copies[like[i]], i)
		}
		for _, k := range outs[i] {
			n[k]++
		}
	}
	for k := range s.tried {
		s.tried[k] = make([]entry, 0, n[k])
	}
	for i, col := range cols {
		for q, k := range outs[i] {
			s.tried[k] = append(s.tried[k], entry{i, col[q]})
		}
	}
	return s
}

// same: an earlier input acts as this one does.
func same(like []int, i int) bool { return like != nil && like[i] < i }

// of gives what inputs do to an output, those that do something. It is good until the next call.
func (s *sens) of(k int) []entry {
	if s.last == k {
		return s.row
	}
	s.last = k
	row := s.row[:0]
	for _, e := range s.tried[k] {
		if e.c == 0 {
			continue
		}
		row = append(row, e)
		for _, i := range s.copies[e.at] {
			row = append(row, entry{i, e.c})
		}
	}
	for g := range s.through {
		row = s.follow(row, k, g)
	}
	s.row = row
	return row
}

// follow adds what the followers of a group do to an output.
func (s *sens) follow(row []entry, k, g int) []entry {
	x := &s.through[g]
	if len(x.followers) == 0 {
		return row
	}
	t := s.setting[k]
	if t < 0 {
		leads := s.made[k][g]
		for _, f := range x.followers {
			c := 0.0
			for t, share := range f.share {
				c += leads[t] * share
			}
			if c != 0 {
				row = append(row, entry{f.input, c / s.step[f.input]})
			}
		}
		return row
	}
	leads := s.leads[k][g]
	if leads == 0 {
		return row
	}
	for _, f := range x.followers {
		if share := f.share[t]; share != 0 {
			row = append(row, entry{f.input, leads * share / s.step[f.input]})
		}
	}
	return row
}

// listLeads writes out what leaders do.
func (s *sens) listLeads() {
	s.leads = make([][]float64, len(s.setting))
	for k := range s.leads {
		s.leads[k] = make([]float64, len(s.through))
		for g, x := range s.through {
			if len(x.followers) > 0 {
				s.leads[k][g] = s.triedOf(k, x.leader) * s.step[x.leader]
			}
		}
	}
}

// triedOf is what an input that was tried does to an output; 0: it wasn't.
func (s *sens) triedOf(k, input int) float64 {
	at, ok := slices.BinarySearchFunc(s.tried[k], input, func(e entry, i int) int { return cmp.Compare(e.at, i) })
	if !ok {
		return 0
	}
	return s.tried[k][at].c
}

// variance is that of an output, by the law, with what each factor brings to it.
func (s *sens) variance(l *law, k int) (v float64, byFactor []entry) { return l.linear(s.of(k)) }
