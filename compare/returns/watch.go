package returns

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sealworthy/compare/blink"
	"sealworthy/compare/plan"
)

// Drop is a dip of the draw of the whole model in time: an intermittent contact.
type Drop struct {
	AtS    float64  `json:"at_s"`  // from the first reading
	ForS   float64  `json:"for_s"` // at least: between the readings around it
	ByA    float64  `json:"by_a"`
	Groups []string `json:"groups,omitempty"` // whose draw as built is about that much
	Text   string   `json:"text"`             // in plain words, with when and by how much
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

// watch looks at stretches of one trace, one after the other: what blinks in them is
// the same in all.
type watch struct {
	s       *Signature
	windowS float64
	clocks  []blink.Clock
	// was is what the stretch before was taken into, and began; nil: it couldn't be.
	was     *blink.Parted
	wasFrom float64
}

func newWatch(p *plan.Plan, s *Signature, pace string, volts, windowS float64) *watch {
	return &watch{s: s, windowS: windowS, clocks: inWhole(p, s, pace, clocksOf(p, s.Groups, pace, volts))}
}

// drops finds readings that lie below what base and blinkers make of a trace.
func drops(p *plan.Plan, s *Signature, r *Return) []Drop {
	out, _ := newWatch(p, s, r.Pace, r.Volts, r.WindowS).drops(r.Trace, 0)
	return out
}

// fewestWatched readings: less isn't looked at.
const fewestWatched = 20

// drops finds them in a stretch whose times count from fromS. judged is false where
// base and blinkers don't account for it.
func (w *watch) drops(t []blink.Sample, fromS float64) (out []Drop, judged bool) {
	if len(t) < fewestWatched {
		return nil, true
	}
	left, limit := w.left(t, fromS)
	below := func(i int) bool { return !left[i].Edge && left[i].Amps < -limit }
	n := 0
	for i := 0; i < len(left); i++ {
		if !below(i) {
			continue
		}
		from, low := i, left[i].Amps
		for i+1 < len(left) && (below(i+1) || left[i+1].Edge && left[i+1].Amps < -limit) {
			i++
			low = math.Min(low, left[i].Amps)
		}
		n += i - from + 1
		out = append(out, Drop{AtS: left[from].AtS, ForS: left[i].AtS - left[from].AtS + w.windowS, ByA: -low})
	}
	if float64(n) > dropMost*float64(len(left)) {
		return nil, left != nil
	}
	biggest := 0.0
	for _, d := range out {
		biggest = math.Max(biggest, d.ByA)
	}
	groups := groupsOf(w.s, biggest)
	for i := range out {
		out[i].Groups = groups
		out[i].Text = fmt.Sprintf("%.1f s after the first reading the draw fell by %.1f mA for about %.1f s",
			out[i].AtS, 1e3*out[i].ByA, out[i].ForS)
		if len(groups) > 0 {
			out[i].Text += ": as much as " + strings.Join(groups, " or ")
		}
	}
	return out, left != nil
}

// left is what base and blinkers leave of each reading, and below what a reading is a
// drop; nil: they don't account for the trace.
func (w *watch) left(t []blink.Sample, fromS float64) (left []blink.Left, limit float64) {
	if len(w.clocks) > 0 {
		f := w.parted(t, fromS)
		if !f.Usable || f.Poor {
			w.was = nil
			return nil, 0
		}
		w.was, w.wasFrom = &f, fromS
		return f.Left, math.Max(dropShare*f.BaseA, dropSigmas*f.ScatterA)
	}
	amps := make([]float64, len(t))
	for i, x := range t {
		amps[i] = x.Amps
	}
	base := slices.Sorted(slices.Values(amps))[len(amps)/2]
	off := make([]float64, len(amps))
	for i, x := range t {
		left, off[i] = append(left, blink.Left{AtS: x.AtS, Amps: x.Amps - base}), math.Abs(x.Amps-base)
	}
	slices.Sort(off)
	return left, math.Max(dropShare*base, dropSigmas*off[len(off)/2]/0.6745)
}

// restless is by how much more a stretch may scatter than the one before, if the paces
// of that one are to be taken for its own.
const restless = 1.2

// parted takes a stretch apart: where the blinkers run on as they did before, or else
// wherever they are.
func (w *watch) parted(t []blink.Sample, fromS float64) blink.Parted {
	known := blink.Known{WindowS: w.windowS}
	if w.was != nil {
		f := w.was.After(fromS-w.wasFrom, t, known, w.clocks)
		if f.Usable && !f.Poor && f.ScatterA <= restless*w.was.ScatterA {
			return f
		}
	}
	return blink.Joint(t, known, w.clocks)
}

// groupsOf names the groups whose draw as built is about so much.
func groupsOf(s *Signature, amps float64) []string {
	var out []string
	for _, g := range s.Groups {
		if n := len(g.Lit.Amps); n > 0 && g.Board == "" && amps > groupLeast*g.Lit.Amps[n-1] &&
			amps < groupMost*g.Lit.Amps[n-1] {
			out = append(out, g.Group)
		}
	}
	return out
}
