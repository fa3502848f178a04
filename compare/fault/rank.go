package fault

import (
	"cmp"
	"math"
	"slices"
)

// Seen is one measured draw of a group. All in A.
type Seen struct {
	DeltaA float64 // measured less expected
	U      float64 // combined standard uncertainty of that difference
	// SpreadA is the width over which an unknown cause would spread: the draw
	// that the limit allows.
	SpreadA float64
	// Healthy is the prior probability that nothing is wrong; 0: it is known
	// that something is.
	Healthy float64
}

// Ranked is one class of look-alike faults with its probability.
type Ranked struct {
	Fault  Fault   // one of the class, for its place
	Kinds  []Kind  // all kinds of the class, the likeliest first
	Groups int     // groups that it could be in
	Places int     // branches or LEDs that it could be
	DeltaA float64 // what it makes of the draw
	P      float64
}

// Prior probabilities of faults in one group, for each place: defaults of
// common practice, no data behind them.
var priors = map[Kind]float64{
	OpenBranch: .010, DarkSegment: .010, ReversedLED: .005, ShortedLED: .001,
	MissingOhms: .002, DecadeOff: .003, BadJoint: .010, ExtraBranch: .003,
	Overloaded: .003, StuckDark: .010, Short: .002, PieceReversed: .003, GroupReversed: .005,
}

const priorUnknown = .010

// Rank gives each class of faults its probability: prior times likelihood,
// normalised over all classes, an unknown cause and, where Seen.Healthy allows
// it, nothing wrong (those two are left out of the list, so the sum is below 1). Faults whose
// effects lie within half of U are one class: no reading tells them apart.
//
// The likelihood is normal about the effect with standard deviation U; a bad
// joint has no one effect, it reaches from a whole draw lost to none. A
// missing resistor or a short is taken to be at least as bad as its effect.
func Rank(effects []Effect, s Seen) []Ranked {
	if !(s.U > 0) {
		return nil
	}
	type class struct {
		Ranked
		weight float64
		kinds  map[Kind]float64
		groups map[string]bool
	}
	var classes []*class
	total := priorUnknown/max(s.SpreadA, 4*s.U) + s.Healthy*normal(s, 0)
	for _, e := range effects {
		w := priors[e.Fault.Kind] * likelihood(e, s)
		total += w
		i := slices.IndexFunc(classes, func(c *class) bool {
			return math.Abs(c.DeltaA-e.DeltaA()) < s.U/2 && (c.Fault.Kind == BadJoint) == (e.Fault.Kind == BadJoint)
		})
		if i < 0 {
			classes = append(classes, &class{Ranked: Ranked{Fault: e.Fault, DeltaA: e.DeltaA()}, kinds: map[Kind]float64{}, groups: map[string]bool{}})
			i = len(classes) - 1
		}
		c := classes[i]
		if w > 0 && c.kinds[e.Fault.Kind] == 0 && w > maxOf(c.kinds) {
			c.Fault = e.Fault
		}
		c.kinds[e.Fault.Kind] += w
		c.weight += w
		c.Places++
		if w > 0 {
			c.groups[e.Fault.Group] = true
		}
	}
	var out []Ranked
	for _, c := range classes {
		c.P, c.Groups = c.weight/total, len(c.groups)
		for k := range c.kinds {
			c.Kinds = append(c.Kinds, k)
		}
		slices.SortFunc(c.Kinds, func(a, b Kind) int {
			return cmp.Or(-cmp.Compare(c.kinds[a], c.kinds[b]), cmp.Compare(a, b))
		})
		out = append(out, c.Ranked)
	}
	slices.SortStableFunc(out, func(a, b Ranked) int { return -cmp.Compare(a.P, b.P) })
	return out
}

func maxOf(m map[Kind]float64) float64 {
	x := 0.0
	for _, v := range m {
		x = max(x, v)
	}
	return x
}

func likelihood(e Effect, s Seen) float64 {
	switch e.Fault.Kind {
	case BadJoint:
		// Its resistance is anybody's guess: flat between nothing lost and all.
		if e.HealthyA <= 0 {
			return 0
		}
		return (below((s.DeltaA+e.HealthyA)/s.U) - below(s.DeltaA/s.U)) / e.HealthyA
	case Short, MissingOhms, Overloaded:
		// How bad it gets depends on what gives way first: flat above half its effect.
		d := e.DeltaA()
		if d > 0 && s.DeltaA > 0.5*d {
			return 1 / max(s.SpreadA, d)
		}
	}
	return normal(s, e.DeltaA())
}

// below is the standard normal distribution.
func below(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// normal is the density of what was seen where the effect is delta.
func normal(s Seen, delta float64) float64 {
	z := (s.DeltaA - delta) / s.U
	return math.Exp(-z*z/2) / (s.U * math.Sqrt(2*math.Pi))
}
