package budget

import "math"

// Preferred values of one decade (IEC 60063).
var (
	e24 = [...]float64{1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
		3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1}
	e12 = [...]float64{1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2}
)

// Series is a row of preferred values.
type Series int

// The rows that a maker's drawer holds.
const (
	E12 Series = 12
	E24 Series = 24
)

// PreferredOhms gives the smallest preferred value of a series that is not
// below ohms (IEC 60063). ok is false where ohms is not a positive number or
// lies outside 1 mohm to 1 Gohm.
func PreferredOhms(s Series, ohms float64) (value float64, ok bool) {
	row := e24[:]
	if s == E12 {
		row = e12[:]
	}
	if !(ohms >= 1e-3 && ohms <= 1e9) {
		return 0, false
	}
	exp := int(math.Floor(math.Log10(ohms)))
	// Rounding of the logarithm can put a power of ten one decade off: start one lower.
	for d := exp - 1; ; d++ {
		for _, m := range row {
			// Tenths times a power of ten, so that 4.7 comes out as 4700 and not 4700.000000000001.
			v := math.Round(m*10) * math.Pow10(d) / 10
			if d < 0 {
				v = math.Round(m*10) / math.Pow10(1-d)
			}
			if v >= ohms*(1-1e-12) {
				return v, true
			}
		}
	}
}

// fuseAmps are rated currents of small cartridge fuses. They follow the R10
// series; from memory (IEC 60127), not read in the standard.
var fuseAmps = [...]float64{0.032, 0.04, 0.05, 0.063, 0.08, 0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5,
	0.63, 0.8, 1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8, 10}

// FuseAmps gives the standard fuse for a steady draw: the smallest size of at
// least 1.5 times (common practice is 1.5 to 2 times, no source). ok is false
// outside the sizes of small fuses.
func FuseAmps(steadyA float64) (amps float64, ok bool) {
	if !(steadyA > 0) {
		return 0, false
	}
	for _, f := range fuseAmps {
		if f >= 1.5*steadyA*(1-1e-9) {
			return f, true
		}
	}
	return 0, false
}
