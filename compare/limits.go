package compare

import (
	"fmt"
	"math"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
)

// rampVolts are the voltages on the way up: low enough that a forgotten
// resistor is met while it is still harmless.
func rampVolts(top float64) []float64 {
	var out []float64
	step := max(0.5, top/12)
	for v := min(1.5, top/2); v < top-step/2; v += step {
		out = append(out, math.Round(v*10)/10) // what a knob can be turned to
	}
	return append(out, top)
}

func (m maker) groupRamp(f budget.Feed, top float64) ([]capture.RampPoint, error) {
	vs := rampVolts(top)
	curve, err := m.b.Curve(f.Feed, vs...)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.Feed, err)
	}
	least := m.ceiling(f)
	var out []capture.RampPoint
	for _, c := range curve {
		out = append(out, m.point(c, limitFactor, least, f.AsFound))
	}
	return out, nil
}

// asFoundA bounds a group of which nothing is known (common practice, no source).
const asFoundA = 0.1

// point makes a ramp point. The alarm sits a little below the limit, so that
// the meter names it before the supply bends the voltage.
func (m maker) point(c budget.RampPoint, factor, ceiling float64, unknown bool) capture.RampPoint {
	high := c.HighA
	if unknown {
		high = max(high, asFoundA)
	}
	limit := math.Ceil((high*factor+limitExtraA)*1e3) / 1e3
	return capture.RampPoint{
		Volts: c.Volts, LimitA: min(limit, ceiling), ExpectA: c.NominalA,
		MaxA: min(high*(1+0.8*(factor-1))+0.8*limitExtraA, ceiling),
	}
}

func (m maker) boardRamp(board plan.Board, f budget.Feed, top float64) ([]capture.RampPoint, error) {
	low := min(boardCheckV, top/2)
	curve, err := m.b.Curve(f.Feed, low, top)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.Feed, err)
	}
	ceiling := m.ceiling(f)
	work := m.point(curve[1], limitFactor, ceiling, f.AsFound)
	// An output that gives more than it can stays lit: that is to be read and
	// named, not tripped over.
	if most := overloadA(board, m.b.Levels(f.Feed)); most > work.MaxA {
		work.MaxA = min(most, ceiling)
		work.LimitA = min(math.Ceil((most+limitExtraA)*1e3)/1e3, ceiling)
	}
	first := m.point(curve[0], limitFactor, ceiling, f.AsFound)
	// Below its lowest voltage nobody knows what a board draws, but not more
	// than when it works.
	first.LimitA, first.MaxA = work.LimitA, work.MaxA
	surge := work
	surge.LimitA = min(math.Ceil(work.LimitA*boardInrush*1e3)/1e3, ceiling)
	surge.MaxA = surge.LimitA
	return []capture.RampPoint{first, surge, work}, nil
}

// chargeTime is how long a board's capacitor may hold the supply at its limit:
// twice C V / I, for capacitors are sold with +20 % and more, and at least a second.
func chargeTime(b plan.Board, volts float64, ramp []capture.RampPoint) time.Duration {
	most := 0.0
	for _, p := range ramp {
		most = max(most, p.LimitA)
	}
	if !(most > 0) || math.IsInf(most, 0) {
		return inrushFor
	}
	return max(inrushFor, time.Duration(2*b.CapacitorF*volts/most*float64(time.Second)))
}

// overloadFactor over its rating is what an overloaded output may give before
// the test stops (common practice, no source).
const overloadFactor = 1.5

// overloadA is the draw of a board with every output in use overloaded.
func overloadA(board plan.Board, levels []budget.Level) float64 {
	most, used := 0.0, map[int]bool{}
	for _, l := range levels {
		if len(l.Outputs) == 0 {
			most = l.Draw.HighA
		}
		for _, n := range l.Outputs {
			used[n] = true
		}
	}
	for _, o := range board.Outputs {
		if used[o.Number] {
			most += overloadFactor * o.MaxAmps
		}
	}
	return most
}

// How long the wires of a feed carry its current in a test, s (common practice, no
// source). A steady group is on for its ramp, some seconds of reading and a sweep
// at lower voltages; a board for a trace at each pace.
const (
	groupSeconds = 30
	boardSeconds = 300
)

// bound is a limit that nothing may exceed, and what sets it.
type bound struct {
	amps float64
	what string
}

func (b *bound) meet(amps float64, what string) {
	if amps > 0 && amps < b.amps {
		b.amps, b.what = amps, what
	}
}

// bound of a feed: the meter jack's fuse, the supply, what sits in the joints on
// the way, and every wire on the way of which the size is known, for as long as
// the test takes. What it may carry for hours in glued plastic is the budget's.
func (m maker) bound(f budget.Feed) bound {
	c := m.benchBound()
	seconds := float64(groupSeconds)
	if f.Board {
		seconds = boardSeconds
	}
	for _, w := range wiresTo(m.p, f) {
		c.meet(w.AmpsFor(seconds), fmt.Sprintf("the wire to it (%s)", w.Text))
	}
	for _, h := range holdsTo(m.p, f) {
		c.meet(h.RatedAmps, fmt.Sprintf("the %s on its way", h.Text))
	}
	return c
}

func (m maker) ceiling(f budget.Feed) float64 { return m.bound(f).amps }

// binds says what holds a ramp back below its own limits; empty: nothing.
func (m maker) binds(f budget.Feed, ramp []capture.RampPoint) string {
	c := m.bound(f)
	if slices.ContainsFunc(ramp, func(p capture.RampPoint) bool { return p.LimitA >= c.amps || p.MaxA >= c.amps }) {
		return c.what
	}
	return ""
}

// benchBound is what the bench itself allows: the meter jack's fuse, the supply.
func (m maker) benchBound() bound {
	c := bound{amps: math.Inf(1)}
	c.meet(fuseFraction*m.o.JackFuseAmps, "the fuse of the meter's jack")
	c.meet(m.o.SupplyMaxAmps, "the supply")
	return c
}

func (m maker) fuseA() float64 { return m.benchBound().amps }
