package returns

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"
)

// check refuses what isn't a curve.
func (c Curve) check() error {
	if len(c.Volts) == 0 || len(c.Volts) != len(c.Amps) || (c.U != nil && len(c.U) != len(c.Volts)) {
		return errors.New("a curve needs as many draws as voltages, and at least one")
	}
	for i, v := range c.Volts {
		if !finite(v, c.Amps[i]) || v < 0 {
			return fmt.Errorf("point %d: %g A at %g V is no point of a curve", i+1, c.Amps[i], v)
		}
		if i > 0 && v <= c.Volts[i-1] {
			return fmt.Errorf("point %d: %g V doesn't lie above the one before it", i+1, v)
		}
	}
	return nil
}

func finite(x ...float64) bool {
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// apartV: a slope beyond the last point comes from points that are so far apart, V.
const apartV = 0.1

// at interpolates: monotone cubic between the points, straight on above the
// last, falling to zero below the first along the line to the origin.
func (c Curve) at(volts []float64) []float64 {
	out := make([]float64, len(volts))
	n := len(c.Volts)
	if n == 0 {
		return out
	}
	var p interp.FritschButland
	smooth := n >= 3 && p.Fit(c.Volts, c.Amps) == nil
	for i, v := range volts {
		switch {
		case v <= c.Volts[0]:
			if c.Volts[0] > 0 {
				out[i] = c.Amps[0] * math.Max(0, v) / c.Volts[0]
			} else {
				out[i] = c.Amps[0]
			}
		case v >= c.Volts[n-1]:
			// Of two points a hair apart the slope is noise: it's taken from farther down.
			k := n - 2
			for k > 0 && c.Volts[n-1]-c.Volts[k] < apartV {
				k--
			}
			out[i] = c.Amps[n-1]
			if k >= 0 {
				out[i] += (v - c.Volts[n-1]) * (c.Amps[n-1] - c.Amps[k]) / (c.Volts[n-1] - c.Volts[k])
			}
		case smooth:
			out[i] = p.Predict(v)
		default:
			k := 1
			for c.Volts[k] < v {
				k++
			}
			out[i] = c.Amps[k-1] + (v-c.Volts[k-1])*(c.Amps[k]-c.Amps[k-1])/(c.Volts[k]-c.Volts[k-1])
		}
	}
	return out
}

// At is the draw at one voltage; 0 of a curve without points.
func (c Curve) At(volts float64) float64 { return c.at([]float64{volts})[0] }

// behind gives the curve seen through ohms in series, without iteration: the
// points (V + R f(V), f(V)), read again at V.
func (c Curve) behind(ohms float64, volts []float64) []float64 {
	const points = 240
	top := math.Max(c.Volts[len(c.Volts)-1], volts[len(volts)-1]) * 1.05
	fine := make([]float64, points)
	for i := range fine {
		fine[i] = top * float64(i) / (points - 1)
	}
	amps := c.at(fine)
	var q Curve
	for i, v := range fine {
		seen := v + ohms*amps[i]
		if n := len(q.Volts); n > 0 && seen <= q.Volts[n-1] {
			continue
		}
		q.Volts, q.Amps = append(q.Volts, seen), append(q.Amps, amps[i])
	}
	return q.at(volts)
}

// slope is the derivative over the grid, by differences across neighbours.
func slope(volts, y []float64) []float64 {
	n := len(volts)
	out := make([]float64, n)
	if n < 2 {
		return out
	}
	for i := range out {
		lo, hi := max(0, i-1), min(n-1, i+1)
		out[i] = (y[hi] - y[lo]) / (volts[hi] - volts[lo])
	}
	return out
}

func minus(a, b []float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		out[i] = a[i] - b[i]
	}
	return out
}

func scaled(f float64, a []float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		out[i] = f * a[i]
	}
	return out
}

func added(a, b []float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		out[i] = a[i] + b[i]
	}
	return out
}
