package returns

import (
	"math"
	"slices"

	"sealworthy/compare/circuit"
	"sealworthy/compare/wiring"
)

// seen gives for each group the voltages at which, fed alone, it would draw what it
// draws in the whole model at volts: what the others take from it in the common wires
// is gone. By the plan, with every output dark; meaningless where that knows nothing of it.
func (m *model) seen(w *wiring.Wired, volts []float64) ([][]float64, error) {
	out := make([][]float64, len(m.groups))
	for k := range out {
		out[k] = slices.Clone(volts)
	}
	for i, v := range volts {
		if v <= 0 {
			continue
		}
		w.SetAll(true)
		w.LightAll(false)
		if err := w.Solve(circuit.Source{EmfV: v}); err != nil {
			return nil, err
		}
		for k, g := range m.groups {
			out[k][i] += fedV(w, g)
		}
	}
	for k, g := range m.groups {
		if g.along == nil {
			continue
		}
		w.Alone(g.i)
		for i, v := range volts {
			if v <= 0 {
				continue
			}
			if err := w.Solve(circuit.Source{EmfV: v}); err != nil {
				return nil, err
			}
			out[k][i] -= fedV(w, g)
		}
	}
	w.Reset()
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
	cold, err := m.seen(m.w, m.volts)
	if err != nil {
		return err
	}
	warm, err := m.seen(hot, m.volts)
	if err != nil {
		return err
	}
	var sides [2][][]float64
	for k, d := range []float64{-slopeV, slopeV} {
		at := make([]float64, len(m.volts))
		for i, v := range m.volts {
			at[i] = v + d
		}
		if sides[k], err = m.seen(m.w, at); err != nil {
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
