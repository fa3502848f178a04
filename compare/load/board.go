package load

import (
	"math"
	"math/rand/v2"
	"time"

	"sealworthy/compare/plan"
	"sealworthy/instruments/rig"
)

// boardState is a board as it really runs.
type boardState struct {
	board  plan.Board
	period []float64    // factor on the planned period, by pace
	duty   []float64    // added to the planned duty, by pace
	phase  []float64    // of each output, in periods
	drift  []float64    // factor on the period of each output that runs free
	stuck  map[int]bool // output number: lit (true) or dark for ever
}

func newBoard(b plan.Board, r *rand.Rand) *boardState {
	s := &boardState{board: b, stuck: map[int]bool{}}
	for _, p := range b.Paces {
		// Half of the tolerance: a board's own, the rest is for its age and the cold.
		s.period = append(s.period, 1+0.5*p.PeriodRelTol*(2*r.Float64()-1))
		s.duty = append(s.duty, 0.5*p.DutyTol*(2*r.Float64()-1))
	}
	start := r.Float64()
	for i := range b.Outputs {
		ph, drift := start, 1.0
		switch b.Run {
		case plan.Alternate:
			ph += float64(i) / float64(len(b.Outputs))
		case plan.Free:
			ph = r.Float64()
			drift = 1 + 0.03*(2*r.Float64()-1)
		}
		s.phase = append(s.phase, ph)
		s.drift = append(s.drift, drift)
	}
	return s
}

// pace is the one that the button has stepped to.
func (b *boardState) pace(s rig.State) int {
	n := len(b.board.Paces)
	if n == 0 || !b.board.Button {
		return 0
	}
	return s.Presses[b.board.Name] % n
}

func (b *boardState) blinks(s rig.State) bool {
	return len(b.board.Paces) > 0 && !b.board.Paces[b.pace(s)].Steady()
}

// turns gives the period and the lit spans of a pace in fractions of it.
func (b *boardState) turns(output int, s rig.State) (periodS float64, edges []float64) {
	i := b.pace(s)
	p := b.board.Paces[i]
	periodS = p.PeriodS * b.period[i] * b.drift[output]
	if len(p.Flashes) == 0 {
		return periodS, []float64{0, min(max(p.Duty+b.duty[i], 0.01), 0.99)}
	}
	at := 0.0
	for _, f := range p.Flashes { // lit, dark, lit, dark …
		edges = append(edges, at/p.PeriodS)
		at += f
	}
	return periodS, edges
}

// lit says whether an output is lit.
func (b *boardState) lit(number int, s rig.State) bool {
	if stuck, ok := b.stuck[number]; ok {
		return stuck
	}
	if !b.blinks(s) {
		return true
	}
	for i, o := range b.board.Outputs {
		if o.Number != number {
			continue
		}
		period, edges := b.turns(i, s)
		x := frac(s.Since.Seconds()/period + b.phase[i])
		lit := false
		for k, e := range edges {
			if x >= e {
				lit = k%2 == 0
			}
		}
		return lit
	}
	return false
}

func frac(x float64) float64 { return x - math.Floor(x) }

// next is when the next edge of any output comes; -1: never.
func (b *boardState) next(s rig.State) time.Duration {
	if !b.blinks(s) {
		return -1
	}
	next := math.Inf(1)
	now := s.Since.Seconds()
	for i, o := range b.board.Outputs {
		if _, ok := b.stuck[o.Number]; ok {
			continue
		}
		period, edges := b.turns(i, s)
		x := frac(now/period + b.phase[i])
		for _, e := range append(edges, 1) {
			if e > x {
				next = min(next, now+(e-x)*period)
				break
			}
		}
	}
	if math.IsInf(next, 1) {
		return -1
	}
	// A nanosecond on: the edge itself must lie behind it, not before.
	return time.Duration(math.Ceil(next*1e9)) + 1
}
