package reel

import (
	"math"
	"slices"

	"sealworthy/compare/wiring"
)

// ofLights reports a factor of what reels hold: LEDs, resistors, whole parts.
func ofLights(k wiring.ParamKind) bool {
	return k == wiring.BranchSpread || k == wiring.BranchOhms || k == wiring.LEDVolts
}

// highest reports whether no other observation of its group counts before it:
// by its voltage, then by its number.
func highest(obs []observed, o *observed) bool {
	return !slices.ContainsFunc(obs, func(x observed) bool {
		return x.Group == o.Group && x.number != o.number && (x.Volts > o.Volts || x.Volts == o.Volts && x.number < o.number)
	})
}

// reels sums up by reel, in the order in which they were met: by how
// much each draws more at the highest voltage that each group was read at.
func (l *Learner) reels(out *Learned, obs []observed, st *state, f found) {
	for _, name := range f.order {
		r := Reel{Reel: name, Share: f.by[name].Share}
		g := make([]float64, len(st.mean))
		n := 0.0
		for i := range obs {
			o := &obs[i]
			// A reel of which the group has next to nothing would divide by it.
			if of := o.of[name]; of > 0.01 && highest(obs, o) {
				r.Groups = append(r.Groups, o.Group)
				n++
				for _, p := range o.pulls {
					if k := l.factors[p.factor]; k.Reel == name && ofLights(k.Kind) {
						g[p.factor] += p.sum * math.Sqrt(f.of(k).common(p.share)) / (o.nominal * of)
					}
				}
			}
		}
		if n == 0 {
			continue
		}
		for i := range g {
			if g[i] == 0 {
				continue
			}
			g[i] /= n
			r.Rel += g[i] * st.mean[i]
		}
		v, planned := 0.0, 0.0
		for i := range g {
			planned += math.Abs(g[i])
			for j := range g {
				v += g[i] * g[j] * st.cov[i][j]
			}
		}
		r.U = math.Sqrt(math.Max(0, v))
		// c never leaves -1 to 1 where the plan is right.
		r.Beyond = math.Abs(r.Rel)-2*r.U > planned
		for _, pg := range l.p.Groups {
			for _, lt := range pg.Lights {
				if lt.Reel == name && !slices.Contains(r.Parts, lt.Part) {
					r.Parts = append(r.Parts, lt.Part)
				}
			}
		}
		out.Reels = append(out.Reels, r)
	}
}
