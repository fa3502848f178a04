package plan

import (
	"fmt"
	"math"
)

// Copper at 20 degC: 0.017241 ohm mm2/m (IACS, NBS Handbook 100 / IEC 60028).
const copperOhmM = 1.7241e-8

// awgDiameterM is the diameter of a solid wire of an American gauge number in
// metres: 0.005 inch x 92^((36-n)/39) (ASTM B258, NBS Handbook 100).
func awgDiameterM(n float64) float64 {
	return 0.005 * 0.0254 * math.Pow(92, (36-n)/39)
}

func diameterM(areaM2 float64) float64 { return math.Sqrt(4 * areaM2 / math.Pi) }
func areaM2(diameterM float64) float64 { return math.Pi / 4 * diameterM * diameterM }

// workAmps is the current that a wire may carry for hours in glued plastic.
// Common practice, no source: 0.1 mm 0.05 A, 0.2 mm 0.2 A, 30 AWG 0.5 A. Between
// and below them straight on logarithmic axes; above, with the 3/4 power of
// the area, since heat leaves through the surface.
func workAmps(areaM2 float64) float64 {
	a := areaM2 * 1e6
	const thin, middle, thick = 0.0078540, 0.0314159, 0.050926 // mm2
	switch {
	case a < middle:
		return 0.05 * math.Pow(a/thin, math.Log(4)/math.Log(middle/thin))
	case a < thick:
		return 0.2 * math.Pow(a/middle, math.Log(2.5)/math.Log(thick/middle))
	}
	return 0.5 * math.Pow(a/thick, 0.75)
}

// meltAmps is where a copper wire melts in free air: Preece's law,
// I = 80 d^1.5 with d in mm (from memory).
func meltAmps(areaM2 float64) float64 {
	return 80 * math.Pow(diameterM(areaM2)*1e3, 1.5)
}

// Where a wire may start and get to in the seconds of a test, degC: beside glued
// plastic that softens from about 90 (from memory).
const (
	testFromC = 40.0
	testToC   = 80.0
)

// copperK is k of the adiabatic equation I = k A / sqrt(t) for copper, in A sqrt(s)
// per mm2: 226 sqrt(ln(1 + (to - from)/(234.5 + from))), IEC 60949 and
// IEC 60364-5-54, annex A (from memory).
func copperK(fromC, toC float64) float64 {
	return 226 * math.Sqrt(math.Log1p((toC-fromC)/(234.5+fromC)))
}

// CopperPerK is what the resistance of copper at 20 degC gains for each kelvin (annealed,
// IEC 60028 and NBS Handbook 100: 0.00393).
const CopperPerK = 0.00393

// Still air at 20 degC (from memory): it takes less heat away than any plastic does.
const (
	airWPerMK    = 0.026  // W/(m K)
	airM2PerS    = 2.2e-5 // m2/s
	eulersGamma  = 0.577216
	mostOfRadius = 0.01 // of r²/(4 a t), where the logarithm below holds
)

// airAmps is the current that warms a wire from 40 to 80 degC in so many seconds, A,
// where still air takes its heat away by conduction alone, and its way back lies
// beside it. A line source q' for a time t makes it warmer by
//
//	q'/(4 pi k) (ln(4 a t/r²) - 0.577)
//
// at its surface (Carslaw and Jaeger, Conduction of Heat in Solids, 1959, section 13.7,
// from memory), the way back the same at two radii; it is 0 where too little time has
// passed for that.
func airAmps(areaM2, seconds float64) float64 {
	r := diameterM(areaM2) / 2
	x := r * r / (4 * airM2PerS * seconds)
	if 4*x > mostOfRadius {
		return 0
	}
	both := -math.Log(x) - math.Log(4*x) - 2*eulersGamma
	ohmPerM := copperOhmM / areaM2 * (1 + CopperPerK*(testToC-20))
	return math.Sqrt((testToC - testFromC) * 4 * math.Pi * airWPerMK / (both * ohmPerM))
}

// AmpsFor is the current that a wire may carry for so many seconds, A: what it
// carries for hours, or what warms it from 40 to 80 degC in that time when no heat
// leaves it at all or still air alone takes it away, whichever is most. It is 0, no
// limit, where nobody said how thick the wire is.
func (w Wire) AmpsFor(seconds float64) float64 {
	if w.SizeAssumed || !(seconds > 0) {
		return 0
	}
	return max(w.WorkAmps, copperK(testFromC, testToC)*w.AreaM2*1e6/math.Sqrt(seconds), airAmps(w.AreaM2, seconds))
}

// What is assumed of a wire of which nothing is said, and the half-widths of
// what is said. Common practice, no source.
const (
	assumedWireM      = 0.2
	assumedWireMm     = 0.2
	assumedLengthTol  = 0.5
	statedLengthTol   = 0.05
	assumedSizeTol    = 0.3
	solidAreaTol      = 0.04
	strandedAreaTol   = 0.10
	enamelledAreaTol  = 0.06
	maxWireMm         = 50000.0
	wireExampleInline = "{ mm = 0.2, length_mm = 220 }"
)

// wire reads the wire of something; what isn't said is assumed, with a wide band.
func (p *parser) wire(s *section) Wire {
	e := s.n.get("wire")
	if e == nil {
		return assumedWire()
	}
	if e.val.shape != tableShape {
		p.fail(e.val.at, "write wire = "+wireExampleInline, "wire must be a table, not %s", e.val.shape)
		return assumedWire()
	}
	w := p.table(e.val, "the wire of "+s.what, keysIn("wire")...)
	built := w.onlyOne("solid", "stranded", "enamelled")
	if built != "" && !w.flag(built, true) {
		built = ""
	}
	size, area := "", areaM2(assumedWireMm*1e-3)
	areaTol := assumedSizeTol
	switch w.onlyOne("awg", "mm", "mm2") {
	case "awg":
		n := w.gauge()
		size, area = fmt.Sprintf("%d AWG", n), areaM2(awgDiameterM(float64(n)))
	case "mm":
		if d, ok := w.number("mm", between(0.02, 5), "0.2"); ok {
			size, area = plainNumber(d)+" mm", areaM2(d*1e-3)
		}
	case "mm2":
		if a, ok := w.number("mm2", between(0.0003, 20), "0.14"); ok {
			size, area = plainNumber(a)+" mm2", a*1e-6
		}
	}
	if size != "" {
		areaTol = map[string]float64{"stranded": strandedAreaTol, "enamelled": enamelledAreaTol}[built]
		if areaTol == 0 {
			areaTol = solidAreaTol
		}
	}
	length, lengthTol := assumedWireM, assumedLengthTol
	if mm, ok := w.number("length_mm", over(0, maxWireMm), "220"); ok {
		length, lengthTol = mm*1e-3, statedLengthTol
	}
	out := newWire(area, length, areaTol+lengthTol, size == "" || lengthTol == assumedLengthTol)
	out.SizeAssumed, out.LengthAssumed = size == "", lengthTol == assumedLengthTol
	if size == "" {
		size = plainNumber(assumedWireMm) + " mm assumed"
	}
	out.Text = fmt.Sprintf("%s, %s mm", size, plainNumber(length*1e3))
	if lengthTol == assumedLengthTol {
		out.Text += " assumed"
	}
	if built != "" {
		out.Text += ", " + built
	}
	if t, ok := w.number("tolerance", over(0, 1), "0.1"); ok {
		out.Ohms.HalfWidth = t * out.Ohms.Nominal
	}
	out.Colour, out.Pin = w.words("colour", "red, black"), w.pin()
	return out
}

// pin reads where a wire ends: a number or a text.
func (s *section) pin() string {
	e := s.n.get("pin")
	switch {
	case e == nil:
		return ""
	case e.val.shape == numberShape && e.val.whole && e.val.number >= 0:
		return plainNumber(e.val.number)
	}
	return s.words("pin", "A3")
}

// gauge reads awg, a whole number. A fraction is what a maker measured or read in
// millimetres: taken for a gauge it would make a hair as thick as a rod.
func (s *section) gauge() int {
	const fallback, thinnest = 30, 50
	v := s.n.get("awg").val
	if v.shape == numberShape && v.number > 0 && v.number < 10 && v.number != math.Trunc(v.number) {
		n := plainNumber(v.number)
		s.fail(s.keyAt("awg"), fmt.Sprintf("write mm = %s if it is the diameter of the copper, mm2 = %s if it is "+
			"its cross-section; "+
			"a gauge is a whole number: awg = 30 is 0.25 mm thick", n, n), "awg = %s is no gauge", n)
		return fallback
	}
	return s.whole("awg", fallback, 0, thinnest)
}

func assumedWire() Wire {
	w := newWire(areaM2(assumedWireMm*1e-3), assumedWireM, assumedLengthTol+assumedSizeTol, true)
	w.SizeAssumed, w.LengthAssumed = true, true
	w.Text = "assumed: 0.2 mm, 200 mm"
	return w
}

func newWire(area, lengthM, tol float64, assumed bool) Wire {
	r := copperOhmM * lengthM / area
	return Wire{
		LengthM: lengthM, AreaM2: area, WorkAmps: workAmps(area), FuseAmps: meltAmps(area), Assumed: assumed,
		Ohms: Value{Nominal: r, HalfWidth: r * tol, Assumed: assumed,
			Source: "copper 1.7241e-8 ohm m at 20 degC (IACS)"},
	}
}
