package budget

import (
	"math"

	"sealworthy/compare/plan"
)

// weights says how often a board shows each of its levels.
type weights struct {
	run     plan.OutputsRun
	outputs int // that are loaded
	// alone: the level is what one output draws, lit for its duty; outputs, if
	// given, take turns.
	alone bool
}

// most outputs of which every combination is listed.
const everyCombination = 4

// share is the part of time that one particular level with lit outputs takes at
// a duty d of each output. For many unrelated outputs, of which not every
// combination is listed, the shares add up what each output brings on top of
// dark; the one for dark may then be negative.
func (w weights) share(d float64, lit int) float64 {
	n := w.outputs
	d = math.Min(1, math.Max(0, d))
	switch {
	case w.alone && n > 1:
		return math.Min(d, 1/float64(n))
	case w.alone:
		return d
	case n == 0:
		return 1
	case n == 1 || w.run == plan.Together:
		switch lit {
		case 0:
			return 1 - d
		case n:
			return d
		}
		return 0
	case w.run == plan.Alternate:
		// In turn: they share a period, so no output can have more than its part of it.
		if d >= 1 { // a steady pace: all lit
			if lit == n {
				return 1
			}
			return 0
		}
		d = math.Min(d, 1/float64(n))
		switch lit {
		case 0:
			return 1 - float64(n)*d
		case 1:
			return d
		}
		return 0
	}
	if n > everyCombination {
		switch lit {
		case 0:
			return 1 - float64(n)*d
		case 1:
			return d
		}
		return 0
	}
	// Unrelated outputs: each lit with probability d.
	return math.Pow(d, float64(lit)) * math.Pow(1-d, float64(n-lit))
}

// over averages the levels of a board; y holds all outputs of its side.
func (m mean) over(d float64, y []float64) float64 {
	sum := 0.0
	for k, l := range m.levels {
		sum += m.set.share(d, m.lit[k]) * y[l]
	}
	return sum
}

// blinks reports whether some pace of a board is not steady.
func blinks(b plan.Board) bool {
	for _, p := range b.Paces {
		if !p.Steady() {
			return true
		}
	}
	return false
}

// subset is a set of loaded outputs (indices into Board.Outputs) that are lit together.
type subset struct {
	outputs []int
	usual   bool
}

// levelsOf lists the sets of outputs that a board can show: dark first, all
// lit last. loaded are the indices of outputs with lights on them.
func levelsOf(b plan.Board, loaded []int) []subset {
	blinking, steady := blinks(b), false
	for _, p := range b.Paces {
		steady = steady || p.Steady()
	}
	all := subset{loaded, true}
	if !blinking || len(loaded) == 0 {
		return []subset{all}
	}
	dark := subset{nil, true}
	if len(loaded) == 1 {
		return []subset{dark, all}
	}
	sets := []subset{dark}
	if b.Run == plan.Free && len(loaded) <= everyCombination {
		for bits := 1; bits < 1<<len(loaded)-1; bits++ {
			var s subset
			for k, o := range loaded {
				if bits>>k&1 == 1 {
					s.outputs = append(s.outputs, o)
				}
			}
			s.usual = true
			sets = append(sets, s)
		}
		return append(sets, all)
	}
	for _, o := range loaded {
		sets = append(sets, subset{[]int{o}, b.Run != plan.Together})
	}
	all.usual = steady || b.Run != plan.Alternate
	return append(sets, all)
}
