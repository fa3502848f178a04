package circuit

import (
	"errors"
	"fmt"
	"math"
)

// Diode is the diode law with series resistance:
//
//	v(i) = SlopeV * ln(1 + i/SaturationA) + SeriesOhm * i + ShiftV
//
// SlopeV is the ideality times kT/q. The zero Diode is "no diode".
type Diode struct {
	SaturationA float64 `json:"saturation_a"`
	SlopeV      float64 `json:"slope_v"`
	SeriesOhm   float64 `json:"series_ohm"`
	ShiftV      float64 `json:"shift_v,omitempty"` // added to the voltage at any current
}

// Sample is one measured point of a part's curve.
type Sample struct {
	Volts float64 `json:"volts"` // V, forward
	Amps  float64 `json:"amps"`  // A
}

// Fit is a fitted Diode with what had to be assumed and how well it fits.
type Fit struct {
	Diode   Diode   `json:"diode"`
	Assumed string  `json:"assumed,omitempty"` // in plain words; empty when three points or more decided all
	RMSV    float64 `json:"rms_v"`             // root mean square of the residuals, V
}

// The 2019 SI values, exact: k in J/K and e in C.
const (
	boltzmann = 1.380649e-23
	charge    = 1.602176634e-19
	zeroK     = 273.15
)

// ThermalVolts is kT/q at a temperature in degC: 0.02569 V at 25 degC.
func ThermalVolts(degC float64) float64 { return boltzmann * (degC + zeroK) / charge }

// Silicon is a small rectifier or protection diode: 0.70 V at 20 mA, ideality
// 1.8, 0.5 ohm. Common practice, no source.
func Silicon() Diode { return FromDrop(0.70, 0.020, 1.8*ThermalVolts(25), 0.5) }

// FromDrop is the Diode that drops volts at amps with the slope and series
// resistance given. The series part is limited to half of the drop.
func FromDrop(volts, amps, slopeV, seriesOhm float64) Diode {
	seriesOhm = math.Max(0, math.Min(seriesOhm, 0.5*volts/amps))
	return Diode{SaturationA: amps / math.Expm1((volts-amps*seriesOhm)/slopeV), SlopeV: slopeV, SeriesOhm: seriesOhm}
}

// Valid says whether the numbers can be computed with.
func (d Diode) Valid() error {
	switch {
	case !(d.SaturationA > 0) || math.IsInf(d.SaturationA, 0):
		return fmt.Errorf("saturation current of a diode must be above 0 A, got %g", d.SaturationA)
	case !(d.SlopeV > 0) || math.IsInf(d.SlopeV, 0):
		return fmt.Errorf("slope of a diode must be above 0 V, got %g", d.SlopeV)
	case !(d.SeriesOhm >= 0) || math.IsInf(d.SeriesOhm, 0):
		return fmt.Errorf("series resistance of a diode must be 0 ohm or more, got %g", d.SeriesOhm)
	case math.IsNaN(d.ShiftV) || math.IsInf(d.ShiftV, 0):
		return errors.New("voltage shift of a diode is not a number")
	}
	return nil
}

// VoltsAt is the forward voltage at a current of 0 A or more.
func (d Diode) VoltsAt(amps float64) float64 {
	return d.SlopeV*math.Log1p(amps/d.SaturationA) + d.SeriesOhm*amps + d.ShiftV
}

// OhmsAt is dv/di at a current of 0 A or more.
func (d Diode) OhmsAt(amps float64) float64 {
	return d.SlopeV/(amps+d.SaturationA) + d.SeriesOhm
}

// AtTemperature is the same diode warmer or colder by kelvin: the forward
// voltage moves by tempcoVPerK (negative for LEDs) at every current. The slope's
// own share of about 0.3 % per kelvin is within that coefficient.
func (d Diode) AtTemperature(tempcoVPerK, kelvin float64) Diode {
	d.ShiftV += tempcoVPerK * kelvin
	return d
}

// Limits of a believable slope, in kT/q at 25 degC. Ideality of LEDs runs from
// about 1.5 to 7 (from memory, textbooks on light-emitting diodes).
const (
	leastIdeality   = 1.0
	assumedIdeality = 2.0
	mostIdeality    = 12.0
)

// FitDiode finds the diode through the points of a part at 25 degC, rising in
// both. One point: ideality 2 and a series resistance of 5 % of V/A are assumed.
// Two points: ideality 2 is assumed unless they are too close for it, then no
// series resistance. Three or more: least squares in volts over all three
// parameters, held to ideality 1 to 12 and 0 ohm or more.
func FitDiode(points []Sample) (Fit, error) {
	if len(points) == 0 {
		return Fit{}, errors.New("no volts-at-amps point: give at least one")
	}
	for i, p := range points {
		if !(p.Volts > 0) || !(p.Amps > 0) || math.IsInf(p.Volts, 0) || math.IsInf(p.Amps, 0) {
			return Fit{}, fmt.Errorf("point %d: %g V at %g A: both must be above zero", i+1, p.Volts, p.Amps)
		}
		if i > 0 && (p.Amps <= points[i-1].Amps || p.Volts <= points[i-1].Volts) {
			return Fit{}, fmt.Errorf("point %d: %g V at %g A doesn't rise above the point before it", i+1, p.Volts,
				p.Amps)
		}
	}
	vt := ThermalVolts(25)
	var f Fit
	switch len(points) {
	case 1:
		p := points[0]
		f.Diode = FromDrop(p.Volts, p.Amps, assumedIdeality*vt, 0.05*p.Volts/p.Amps)
		f.Assumed = "one point: ideality 2 and the series resistance are assumed"
	case 2:
		p, q := points[0], points[1]
		dl, di, dv := math.Log(q.Amps/p.Amps), q.Amps-p.Amps, q.Volts-p.Volts
		m := assumedIdeality * vt
		rs := (dv - m*dl) / di
		f.Assumed = "two points: ideality 2 is assumed"
		if rs < 0 {
			rs, m = 0, dv/dl
			f.Assumed = "two points: no series resistance is assumed"
		}
		f.Diode = throughMean(points, m, rs)
	default:
		m, rs := leastSquares(points, leastIdeality*vt, mostIdeality*vt)
		f.Diode = throughMean(points, m, rs)
	}
	if err := f.Diode.Valid(); err != nil {
		return Fit{}, fmt.Errorf("no diode goes through these points: %w", err)
	}
	s := 0.0
	for _, p := range points {
		e := f.Diode.VoltsAt(p.Amps) - p.Volts
		s += e * e
	}
	f.RMSV = math.Sqrt(s / float64(len(points)))
	return f, nil
}

// throughMean sets the saturation current so that the residuals' mean is zero.
func throughMean(points []Sample, m, rs float64) Diode {
	a := 0.0
	for _, p := range points {
		a += p.Volts - m*math.Log(p.Amps) - rs*p.Amps
	}
	return Diode{SaturationA: math.Exp(-a / float64(len(points)) / m), SlopeV: m, SeriesOhm: rs}
}

// leastSquares fits v = a + m ln i + rs i. The problem is convex, so when a
// bound is broken the best point lies on a bound: all are tried.
func leastSquares(points []Sample, mLow, mHigh float64) (m, rs float64) {
	n := float64(len(points))
	var xb, yb, vb float64
	for _, p := range points {
		xb, yb, vb = xb+math.Log(p.Amps)/n, yb+p.Amps/n, vb+p.Volts/n
	}
	var xx, xy, yy, xv, yv float64
	for _, p := range points {
		x, y, v := math.Log(p.Amps)-xb, p.Amps-yb, p.Volts-vb
		xx, xy, yy, xv, yv = xx+x*x, xy+x*y, yy+y*y, xv+x*v, yv+y*v
	}
	if det := xx*yy - xy*xy; det > 1e-12*xx*yy {
		m, rs = (xv*yy-yv*xy)/det, (yv*xx-xv*xy)/det
		if m >= mLow && m <= mHigh && rs >= 0 {
			return m, rs
		}
	}
	best := math.Inf(1)
	try := func(tm, tr float64) {
		tm, tr = math.Max(mLow, math.Min(mHigh, tm)), math.Max(0, tr)
		c := tm*tm*xx + 2*tm*tr*xy + tr*tr*yy - 2*tm*xv - 2*tr*yv
		if c < best {
			best, m, rs = c, tm, tr
		}
	}
	try(xv/xx, 0)
	try(mLow, (yv-mLow*xy)/yy)
	try(mHigh, (yv-mHigh*xy)/yy)
	return m, rs
}

// invert solves r (a - i0) + m ln(a/i0) = e for a = i + i0 > 0 and returns it
// with w = ln(a/i0). The left side is convex and rising in w and the start is an
// upper bound, so Newton's steps come down on the root from above and can't miss.
func invert(e, r, m, i0 float64) (a, w float64) {
	w = e / m
	if e > 0 && r > 0 {
		w = math.Min(w, math.Log1p(e/(r*i0)))
	}
	for range 60 {
		a = i0 * math.Exp(w)
		dw := (e - r*(a-i0) - m*w) / (r*a + m)
		w += dw
		if math.Abs(dw) < 1e-9 {
			// The last step is quadratic: exp needn't be asked again.
			a *= 1 + dw
			break
		}
	}
	return a, w
}
