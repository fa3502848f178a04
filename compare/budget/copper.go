package budget

import "math"

// Copper of the International Annealed Copper Standard (NBS Handbook 100; IEC
// 60028): resistivity 1/58 ohm mm2/m at 20 degC, and the temperature coefficient
// of resistance there.
const (
	copperOhmM    = 1.0 / 58 * 1e-6
	copperPerK    = 0.00393
	copperReferC  = 20.0
	awg0000Metres = 0.4600 * 0.0254
	awg36Metres   = 0.0050 * 0.0254
)

// AWGDiameterM gives the diameter in m of a solid wire of American Wire Gauge
// (ASTM B258; NBS Handbook 100, 2.1): 39 equal ratios from 0000 (written -3)
// at 0.4600 inch to 36 at 0.0050 inch. 00 is -1, 0 is 0.
func AWGDiameterM(awg int) float64 {
	return awg36Metres * math.Pow(awg0000Metres/awg36Metres, float64(36-awg)/39)
}

// RoundAreaM2 gives the area in m2 of a round wire.
func RoundAreaM2(diameterM float64) float64 { return math.Pi / 4 * diameterM * diameterM }

// CopperOhms gives the resistance of one copper conductor at a temperature:
// R = rho l / A (1 + 0.00393 (T - 20 degC)). A wire without area has an
// infinite resistance, not none.
func CopperOhms(lengthM, areaM2, tempC float64) float64 {
	if !(areaM2 > 0) {
		return math.Inf(1)
	}
	return copperOhmM * lengthM / areaM2 * (1 + copperPerK*(tempC-copperReferC))
}
