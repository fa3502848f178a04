package returns

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sealworthy/compare/plan"
)

// Drop is a dip of the draw of the whole model in time: an intermittent contact.
type Drop struct {
	AtS    float64  `json:"at_s"`  // from the first reading
	ForS   float64  `json:"for_s"` // at least: between the readings around it
	ByA    float64  `json:"by_a"`
	Groups []string `json:"groups,omitempty"` // whose draw as built is about that much
	Text   string   `json:"text"`
}

// How a drop is told from noise: below what the fit says by this share of the
// base, and by so many standard deviations of the readings between the edges.
const (
	dropShare  = 0.008
	dropSigmas = 6
	dropMost   = 0.25 // of the readings: more isn't a drop but another model
	// A group takes less out of the whole than it draws alone: the others get
	// some of it back.
	groupLeast, groupMost = 0.8, 1.05
)

// drops finds readings that lie below what base and blinkers make of a trace.
func drops(p *plan.Plan, s *Signature, r *Return) []Drop {
	if len(r.Trace) < 20 {
		return nil
	}
	rest, edge, limit := restOf(p, s, r)
	if rest == nil {
		return nil
	}
	below := func(i int) bool { return !edge[i] && rest[i] < -limit }
	var out []Drop
	n := 0
	for i := 0; i < len(rest); i++ {
		if !below(i) {
			continue
		}
		from, low := i, rest[i]
		for i+1 < len(rest) && (below(i+1) || edge[i+1] && rest[i+1] < -limit) {
			i++
			low = math.Min(low, rest[i])
		}
		n += i - from + 1
		out = append(out, Drop{AtS: r.Trace[from].AtS, ForS: r.Trace[i].AtS - r.Trace[from].AtS + r.WindowS, ByA: -low})
	}
	if float64(n) > dropMost*float64(len(rest)) {
		return nil
	}
	biggest := 0.0
	for _, d := range out {
		biggest = math.Max(biggest, d.ByA)
	}
	groups := groupsOf(s, biggest)
	for i := range out {
		out[i].Groups = groups
		out[i].Text = fmt.Sprintf("%.1f s after the first reading the draw fell by %.1f mA for about %.1f s", out[i].AtS, 1e3*out[i].ByA, out[i].ForS)
		if len(groups) > 0 {
			out[i].Text += ": as much as " + strings.Join(groups, " or ")
		}
	}
	return out
}

// restOf is what base and blinkers leave of each reading, which of them hold an
// edge, and below what a reading is a drop.
func restOf(p *plan.Plan, s *Signature, r *Return) (rest []float64, edge []bool, limit float64) {
	if bs := inWhole(p, s, r.Pace, beatsOf(p, s.Groups, r.Pace, r.Volts)); len(bs) > 0 {
		f := fitBeats(r.Trace, r.WindowS, bs, false)
		if !f.ok || f.scatterA > worstFit*f.baseA {
			return nil, nil, 0
		}
		return f.rest, f.edge, math.Max(dropShare*f.baseA, dropSigmas*f.scatterA)
	}
	amps := make([]float64, len(r.Trace))
	for i, x := range r.Trace {
		amps[i] = x.Amps
	}
	base := slices.Sorted(slices.Values(amps))[len(amps)/2]
	rest, off := make([]float64, len(amps)), make([]float64, len(amps))
	for i, a := range amps {
		rest[i], off[i] = a-base, math.Abs(a-base)
	}
	slices.Sort(off)
	return rest, make([]bool, len(amps)), math.Max(dropShare*base, dropSigmas*off[len(off)/2]/0.6745)
}

// groupsOf names the groups whose draw as built is about so much.
func groupsOf(s *Signature, amps float64) []string {
	var out []string
	for _, g := range s.Groups {
		if n := len(g.Lit.Amps); n > 0 && g.Board == "" && amps > groupLeast*g.Lit.Amps[n-1] && amps < groupMost*g.Lit.Amps[n-1] {
			out = append(out, g.Group)
		}
	}
	return out
}
