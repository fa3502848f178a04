package returns

import (
	"math"
	"slices"

	"sealworthy/compare/linear"
)

// scaleBy puts few points as built onto the nominal curve: the ratio at those
// points, between them in a straight line, beyond them as at the nearest.
func scaleBy(built Curve, nominal, volts, shape []float64) []float64 {
	out := make([]float64, len(volts))
	ratio := func(k int) float64 {
		if nominal[k] > 1e-6 {
			return built.Amps[k] / nominal[k]
		}
		return 1
	}
	n := len(built.Volts)
	for i, v := range volts {
		k := 0
		for k < n && built.Volts[k] < v {
			k++
		}
		r := 0.0
		switch {
		case k == 0:
			r = ratio(0)
		case k == n:
			r = ratio(n - 1)
		default:
			x := (v - built.Volts[k-1]) / (built.Volts[k] - built.Volts[k-1])
			r = (1-x)*ratio(k-1) + x*ratio(k)
		}
		out[i] = r * shape[i]
	}
	return out
}

// calibrate finds the factor and the shift in volts that bring the nominal
// curve onto the one as built.
func (m *model) calibrate(b *builtGroup, built Curve) error {
	best := math.Inf(1)
	n := len(built.Volts)
	at := make([]float64, n)
	try := func(shift float64) error {
		for i, v := range built.Volts {
			at[i] = math.Max(0, v-shift)
		}
		nominal, err := alone(m.w, b.i, b.board, at)
		if err != nil {
			return err
		}
		nn, ny := linear.Dot(nominal, nominal), linear.Dot(nominal, built.Amps)
		if nn == 0 {
			return nil
		}
		k := ny / nn
		d := minus(built.Amps, scaled(k, nominal))
		if c := linear.Dot(d, d); c < best {
			best, b.factor, b.shiftV = c, k, shift
		}
		return nil
	}
	for _, step := range []float64{0.1, 0.02} {
		centre := b.shiftV
		for k := -6; k <= 6; k++ {
			if err := try(centre + float64(k)*step); err != nil {
				return err
			}
		}
	}
	return nil
}

// slopeV is to how far on each side a slope is taken.
const slopeV = 0.02

// fineV is how finely the nominal shape is followed between the points of a
// curve as built.
const fineV = 0.1

// alongShape interpolates a curve as built: not itself, since between its points
// it bends at the knee, but what it differs by from the plan's shape. Below its
// first point that shape goes on: behind a bad joint a group gets less than it
// ever got in its sweep.
func (m *model) alongShape(b *builtGroup, kept Curve) error {
	there, err := m.shapeAt(*b, kept.Volts)
	if err != nil {
		return err
	}
	shapeAt := func(volts []float64) ([]float64, error) { return m.shapeAt(*b, volts) }
	// Its own law goes before the plan's where it comes nearer.
	if l, ok := lawOf(kept); ok {
		if own := l.over(kept.Volts); farOff(kept.Amps, own) < farOff(kept.Amps, there) {
			there, shapeAt = own, func(volts []float64) ([]float64, error) { return l.over(volts), nil }
		}
	}
	rest := Curve{Volts: kept.Volts, Amps: minus(kept.Amps, there)}
	along := func(volts []float64) ([]float64, error) {
		shape, err := shapeAt(volts)
		if err != nil {
			return nil, err
		}
		out := added(shape, rest.at(volts))
		for i := range out {
			out[i] = math.Max(0, out[i])
		}
		return out, nil
	}
	b.along = along
	if b.amps, err = along(m.volts); err != nil {
		return err
	}
	fine := slices.Clone(kept.Volts)
	for v := fineV; v < kept.Volts[len(kept.Volts)-1]; v += fineV {
		fine = append(fine, v)
	}
	slices.Sort(fine)
	fine = slices.CompactFunc(fine, func(x, y float64) bool { return math.Abs(y-x) < near })
	b.curve = Curve{Volts: fine}
	b.curve.Amps, err = along(fine)
	return err
}

// farOff is the sum of the squares of what two draws differ by.
func farOff(a, b []float64) float64 {
	d := minus(a, b)
	return linear.Dot(d, d)
}

// shapeAt is the nominal draw of a group, brought onto its curve as built.
func (m *model) shapeAt(b builtGroup, volts []float64) ([]float64, error) {
	at := make([]float64, len(volts))
	for i, v := range volts {
		at[i] = math.Max(0, v-b.shiftV)
	}
	nominal, err := alone(m.w, b.i, b.board, at)
	return scaled(b.factor, nominal), err
}
