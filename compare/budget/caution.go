package budget

import (
	"fmt"
	"math"

	"sealworthy/compare/plan"
)

// Limits of flashing light. More than three flashes in any one second is what
// WCAG 2.x, 2.3.1 and 2.3.2, bars; 15 to 25 Hz is the most provocative band and
// 3 to 60 Hz its extremes (lay summaries of the photosensitivity literature;
// expert consensus in Epilepsia 46(9), 2005, 1423-5).
const (
	mostFlashes   = 3
	provokeLowHz  = 15.0
	provokeHighHz = 25.0
	flickerHz     = 60.0
)

// mostFlashesInASecond counts the flashes that begin within any one second, its
// end left out, of a pattern that repeats every period. starts rise from 0 and
// stay below period.
func mostFlashesInASecond(starts []float64, period float64) int {
	if !(period > 0) || len(starts) == 0 {
		return 0
	}
	most := 0
	for _, from := range starts {
		n := 0
		for _, s := range starts {
			// Beginnings at s + k period within [from, from+1). A microsecond keeps
			// rounding from counting the end: three a second is allowed.
			first := math.Ceil((from - s) / period * (1 - 1e-12))
			last := math.Ceil((from+1-1e-6-s)/period) - 1
			if last >= first {
				n += int(last-first) + 1
			}
		}
		most = max(most, n)
	}
	return most
}

// flashStarts gives when the flashes of a pace begin, within its period.
func flashStarts(p plan.Pace) []float64 {
	if len(p.Flashes) == 0 {
		return []float64{0}
	}
	var starts []float64
	t := 0.0
	for i, d := range p.Flashes {
		if i%2 == 0 && d > 0 {
			starts = append(starts, t)
		}
		t += d
	}
	return starts
}

// flash warns of paces faster than three flashes a second.
func (c *checker) flash(i int) {
	b := c.p.Boards[i]
	reds := false
	for _, g := range c.p.Groups {
		reds = reds || g.Board == b.Name && red(g)
	}
	for _, p := range b.Paces {
		if p.Steady() || 1/p.PeriodS > flickerHz {
			continue
		}
		n := mostFlashesInASecond(flashStarts(p), p.PeriodS)
		if n <= mostFlashes {
			continue
		}
		text := fmt.Sprintf("%s at pace %s flashes %d times in a second, more than 3 can set off a seizure in "+
			"photosensitive viewers", quote(b.Name), quote(p.Name), n)
		if f := float64(n); f >= provokeLowHz && f <= provokeHighHz {
			text += "; 15 to 25 a second is the worst band"
		}
		if reds {
			text += "; red makes it worse"
		}
		at := Check{Board: b.Name, Closure: b.Closure, Pos: b.Pos}
		at.detail = "pace " + p.Name
		if p.Pos.Line > 0 {
			at.Pos = p.Pos
		}
		c.say(Caution, KindFlash, at, float64(n), mostFlashes, "1/s", "%s: slow it down, or tell who looks at it",
			text)
	}
}

// Heat in a closed part from which on a caution is due, and from which on it is
// called risky; common practice, no source.
const (
	warmWatts = 1.0
	hotWatts  = 5.0
)

// closures adds up the heat in each closure, with what closes inside it.
func (c *checker) closures() {
	heat := make(map[string]float64)
	for i, g := range c.p.Groups {
		if g.Sealed {
			continue // hot for its test only
		}
		s := c.high.groups[i]
		heat[g.Closure] += s.volts * s.amps
	}
	for i, b := range c.p.Boards {
		s := c.high.boards[i]
		w := s.volts * s.amps
		for _, g := range c.p.Groups {
			if g.Board == b.Name {
				k := c.p.GroupAt(g.Name)
				w -= c.high.groups[k].volts * c.high.groups[k].amps
			}
		}
		heat[b.Closure] += math.Max(0, w)
	}
	// Inner closures come after outer ones: walk back to hand their heat outwards.
	for k := len(c.p.Closures) - 1; k >= 0; k-- {
		if cl := c.p.Closures[k]; cl.Inside != "" {
			heat[cl.Inside] += heat[cl.Name]
		}
	}
	for _, cl := range c.p.Closures {
		w := heat[cl.Name]
		at := Check{Closure: cl.Name, Pos: cl.Pos}
		switch {
		case w >= hotWatts:
			c.say(Risky, KindHeat, at, w, hotWatts, "W", "%s turn into heat inside %s: give it vents, keep strips "+
				"and resistors off thin plastic, and feel it after half an hour before it's glued",
				watts(w), inside(cl))
		case w >= warmWatts:
			c.say(Caution, KindHeat, at, w, warmWatts, "W", "%s turn into heat inside %s: keep strips and resistors "+
				"off thin plastic and feel it after half an hour before it's glued",
				watts(w), inside(cl))
		}
	}
}

// inside names a closure; one that the plan doesn't write stands for the whole model.
func inside(c plan.Closure) string {
	if c.Name == "model" && c.Pos.Line == 0 {
		return "the model"
	}
	return quote(c.Name)
}
