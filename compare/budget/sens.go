package budget

import (
	"cmp"
	"slices"
)

// sens is what each input does to each output. Most do nothing to most: of a plan of a
// thousand groups the whole table would take gigabytes. So only what was tried is held,
// by output, and a row is written out when it's asked for: by one goroutine at a time.
type sens struct {
	step  []float64
	like  []int
	tried [][]entry // by output, inputs rising
	// through are the groups whose inputs follow a leader; setting is where an output is
	// read, -1: it's made of others, and made has what followers do to it.
	through []through
	setting []int
	nominal []float64
	made    map[int][]entry

	last int // the output that row and byFactor are of; -1: none
	row  []float64
	by   []float64
}

// entry is what one input does.
type entry struct {
	input int
	c     float64
}

// newSens orders what was tried by its outputs: cols has, for each input, what it does to
// each of its outs, nil for one that wasn't tried.
func newSens(outputs int, step []float64, like []int, cols [][]float64, outs [][]int) *sens {
	s := &sens{step: step, like: like, tried: make([][]entry, outputs), last: -1}
	n := make([]int, outputs)
	for i := range cols {
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

// of gives what each input does to an output. It is good until the next call.
func (s *sens) of(k int) []float64 {
	if s.last == k {
		return s.row
	}
	if s.row == nil {
		s.row = make([]float64, len(s.step))
	}
	s.last, s.by = k, s.by[:0]
	s.fill(k, s.row)
	return s.row
}

func (s *sens) fill(k int, row []float64) {
	clear(row)
	for _, e := range s.tried[k] {
		row[e.input] = e.c
	}
	if s.like != nil {
		for i, h := range s.step {
			if h != 0 && s.like[i] < i {
				row[i] = row[s.like[i]]
			}
		}
	}
	if s.through == nil {
		return
	}
	if t := s.setting[k]; t >= 0 {
		for _, g := range s.through {
			leads := row[g.leader] * s.step[g.leader]
			for i, share := range g.share {
				row[i] = ((s.nominal[k] + leads*share[t]) - (s.nominal[k] - leads*share[t])) / (2 * s.step[i])
			}
		}
		return
	}
	for _, e := range s.made[k] {
		row[e.input] = e.c
	}
}

// triedOf is what an input that was tried does to an output; 0: it wasn't.
func (s *sens) triedOf(k, input int) float64 {
	at, ok := slices.BinarySearchFunc(s.tried[k], input, func(e entry, i int) int { return cmp.Compare(e.input, i) })
	if !ok {
		return 0
	}
	return s.tried[k][at].c
}

// variance is that of an output, by the law, with what each factor brings. byFactor is
// good until the next call.
func (s *sens) variance(l *law, k int) (v float64, byFactor []float64) {
	c := s.of(k)
	if len(s.by) == 0 {
		s.by = append(s.by[:0], make([]float64, len(l.shapes))...)
		return l.linear(c, s.by), s.by
	}
	for _, x := range s.by {
		v += x
	}
	return v, s.by
}
