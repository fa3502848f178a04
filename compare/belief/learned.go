package belief

import (
	"math"

	"sealworthy/compare/reel"
	"sealworthy/compare/wiring"
)

// commons is what is known of the factors that pieces of one reel have in common.
type commons interface {
	// Split gives the factors of a quantity's common and own deviation.
	Split(q wiring.Param) (common, own float64)
	// Shape says where a factor stands, and which others it goes with: c = mean +
	// chol z for z standard normal. Where it isn't known, c is rectangular from -1 to 1.
	Shape(factor int) (mean float64, chol []float64, known bool)
}

// planned is what the plan alone says.
type planned struct{}

func (planned) Split(q wiring.Param) (common, own float64) {
	s := math.Min(1, math.Max(0, q.Value.Share))
	return math.Sqrt(s), math.Sqrt(1 - s)
}

func (planned) Shape(int) (float64, []float64, bool) { return 0, nil, false }

// learned is what groups measured before say of their reels.
type learned struct{ *reel.Factors }

func (l learned) Shape(factor int) (float64, []float64, bool) {
	return l.Mean[factor], l.Chol[factor], l.Learned[factor]
}

var (
	_ commons = planned{}
	_ commons = learned{}
)

// commonsOf takes what was learned to a circuit.
func commonsOf(l *reel.Learned, w *wiring.Wired) commons {
	if l.Empty() {
		return planned{}
	}
	return learned{l.For(w)}
}
