package returns

import (
	"math"
	"slices"

	"sealworthy/compare/circuit"
	"sealworthy/compare/wiring"
)

// feedDrops are what lies between jack and feeds, by the plan, over the current that flows: that is
// known as built, and the plan's own law would put it elsewhere. Near its knee a group that
// draws little drops little in a diode that it shares, where the plan has it dark.
type feedDrops struct {
	totalA       Curve   // of the whole model with every output dark, over volts
	whole, alone []Curve // V, by group, over ln of the whole draw, of the group's own
}

const (
	dropStepV = 0.3
	leastA    = 1e-7 // below it a drop is what it is there
)

// dropsOf finds them for a circuit, up to topV.
func (m *model) dropsOf(w *wiring.Wired, topV float64) (*feedDrops, error) {
	d := &feedDrops{whole: make([]Curve, len(m.groups)), alone: make([]Curve, len(m.groups))}
	defer w.Reset()
	for v := dropStepV; v < topV+2*dropStepV; v += dropStepV {
		w.SetAll(true)
		w.LightAll(false)
		if err := w.Solve(circuit.Source{EmfV: v}); err != nil {
			return nil, err
		}
		a := w.JackAmps(w.Point)
		d.totalA.add(v, a)
		for k, g := range m.groups {
			d.whole[k].add(lnA(a), v-fedV(w, g))
		}
		for k, g := range m.groups {
			if g.along == nil {
				continue
			}
			w.Alone(g.i)
			if err := w.Solve(circuit.Source{EmfV: v}); err != nil {
				return nil, err
			}
			d.alone[k].add(lnA(w.JackAmps(w.Point)), v-fedV(w, g))
		}
	}
	return d, nil
}

func lnA(amps float64) float64 { return math.Log(math.Max(amps, leastA)) }

// add appends a point that lies beyond the last.
func (c *Curve) add(x, y float64) {
	if n := len(c.Volts); n == 0 || x > c.Volts[n-1] {
		c.Volts, c.Amps = append(c.Volts, x), append(c.Amps, y)
	}
}

// inPlaceTries bring the volts that a group sees, and what it draws there, together.
const inPlaceTries = 4

// seen gives for each group the voltages at which, fed alone, it would draw what it
// draws in the whole model at volts: what the others take from it in the common wires
// is gone. warmerA is what the whole draws more than as built; meaningless of a group of which
// the plan knows nothing.
func (m *model) seen(d *feedDrops, volts, warmerA []float64) ([][]float64, error) {
	total := slices.Clone(warmerA)
	for _, g := range m.groups {
		switch {
		case g.board >= 0:
		case g.along == nil:
			total = added(total, g.curve.at(volts))
		default:
			own, err := g.along(volts)
			if err != nil {
				return nil, err
			}
			total = added(total, own)
		}
	}
	for _, b := range m.boards {
		total = added(total, Curve{Volts: m.volts, Amps: b.dark}.at(volts))
	}
	out := make([][]float64, len(m.groups))
	for k, g := range m.groups {
		out[k] = slices.Clone(volts)
		if g.along == nil {
			continue
		}
		fed := slices.Clone(volts)
		for i, a := range total {
			fed[i] -= d.whole[k].At(lnA(a))
		}
		for range inPlaceTries {
			own, err := g.along(out[k])
			if err != nil {
				return nil, err
			}
			for i, a := range own {
				out[k][i] = math.Max(0, fed[i]+d.alone[k].At(lnA(a)))
			}
		}
	}
	return out, nil
}

// fedV is the voltage at what feeds a group: its joint, or its board.
func fedV(w *wiring.Wired, g builtGroup) float64 {
	if g.board >= 0 {
		return w.BoardVolts(w.Point, g.board)
	}
	x := w.Groups[g.i]
	return w.Point.NodeV[x.Feed] - w.Point.GroundV[x.Ret]
}

// inPlace finds the shapes of all groups, and how they answer to volts and warmth, as
// they are in the whole model.
func (m *model) inPlace(hot *wiring.Wired) error {
	as, err := m.dropsOf(m.w, m.topV)
	if err != nil {
		return err
	}
	asHot, err := m.dropsOf(hot, m.topV)
	if err != nil {
		return err
	}
	none := make([]float64, len(m.volts))
	cold, err := m.seen(as, m.volts, none)
	if err != nil {
		return err
	}
	warm, err := m.seen(asHot, m.volts, minus(asHot.totalA.at(m.volts), as.totalA.at(m.volts)))
	if err != nil {
		return err
	}
	var sides [2][][]float64
	for k, d := range []float64{-slopeV, slopeV} {
		at := make([]float64, len(m.volts))
		for i, v := range m.volts {
			at[i] = v + d
		}
		if sides[k], err = m.seen(as, at, none); err != nil {
			return err
		}
	}
	for k := range m.groups {
		b := &m.groups[k]
		if b.along != nil {
			if err := m.answers(b, hot, cold[k], warm[k], sides[0][k], sides[1][k]); err != nil {
				return err
			}
		}
		m.warm = added(m.warm, scaled(b.duty, b.warm))
	}
	return nil
}

// answers finds how a group that the plan knows answers: to volts along its curve as
// built, whose knee may lie elsewhere than the plan's; to warmth like to so many volts
// a kelvin as the plan has it at the highest voltage.
func (m *model) answers(b *builtGroup, hot *wiring.Wired, cold, warm, low, high []float64) error {
	var err error
	if b.shape, err = b.along(cold); err != nil {
		return err
	}
	b.seenV = cold
	below, err := b.along(low)
	if err != nil {
		return err
	}
	above, err := b.along(high)
	if err != nil {
		return err
	}
	// The steps of a sweep are too coarse for the slope at a knee.
	b.slopeA = scaled(1/(2*slopeV), minus(above, below))
	last := len(m.volts) - 1
	top := func(w *wiring.Wired, v float64) (float64, error) {
		x, err := alone(w, b.i, b.board, []float64{math.Max(0, v-b.shiftV)})
		if err != nil {
			return 0, err
		}
		return b.factor * x[0], nil
	}
	var a [4]float64
	for i, x := range []struct {
		w *wiring.Wired
		v float64
	}{{m.w, cold[last]}, {hot, warm[last]}, {m.w, low[last]}, {m.w, high[last]}} {
		if a[i], err = top(x.w, x.v); err != nil {
			return err
		}
	}
	perK := 0.0
	if slope := (a[3] - a[2]) / (2 * slopeV); slope > 0 {
		perK = (a[1] - a[0]) / slope
	}
	b.warm = scaled(perK, b.slopeA)
	return nil
}
