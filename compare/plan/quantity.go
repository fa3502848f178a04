package plan

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// quantity is what a number measures; the zero value is none: a count, a share.
type quantity byte

const (
	noQuantity  quantity = iota
	length               // m
	area                 // m2
	current              // A
	voltage              // V
	resistance           // ohm
	power                // W
	duration             // s
	frequency            // Hz
	capacitance          // F
	percent              // of one
)

// unitSign is how a quantity is written, in SI units of it.
type unitSign struct {
	of quantity
	si float64
}

// units are the signs and words that makers write behind numbers and in names of
// keys, in small letters where no two differ by capitals.
var units = map[string]unitSign{
	"um": {length, 1e-6}, "mm": {length, 1e-3}, "cm": {length, 1e-2}, "m": {length, 1}, "in": {length, 0.0254},
	"inch": {length, 0.0254}, "inches": {length, 0.0254}, "metre": {length, 1}, "metres": {length, 1},
	"mm2": {area, 1e-6}, "mm²": {area, 1e-6}, "sqmm": {area, 1e-6}, "qmm": {area, 1e-6},
	"a": {current, 1}, "amp": {current, 1}, "amps": {current, 1}, "ma": {current, 1e-3}, "ua": {current, 1e-6},
	"µa": {current, 1e-6}, "milliamps": {current, 1e-3},
	"v": {voltage, 1}, "volt": {voltage, 1}, "volts": {voltage, 1}, "mv": {voltage, 1e-3},
	"ohm": {resistance, 1}, "ohms": {resistance, 1}, "ω": {resistance, 1}, "r": {resistance, 1},
	"k": {resistance, 1e3}, "kohm": {resistance, 1e3}, "kohms": {resistance, 1e3}, "kω": {resistance, 1e3},
	"meg": {resistance, 1e6}, "mohm": {resistance, 1e6}, "mω": {resistance, 1e6},
	"w": {power, 1}, "watt": {power, 1}, "watts": {power, 1}, "mw": {power, 1e-3},
	"s": {duration, 1}, "sec": {duration, 1}, "second": {duration, 1}, "seconds": {duration, 1},
	"ms": {duration, 1e-3},
	"hz": {frequency, 1}, "f": {capacitance, 1}, "mf": {capacitance, 1e-3}, "uf": {capacitance, 1e-6},
	"µf": {capacitance, 1e-6}, "nf": {capacitance, 1e-9}, "pf": {capacitance, 1e-12}, "%": {percent, 0.01},
}

// unitNamed finds a unit by its sign or word. A capital M is mega where the small
// one would be a metre or a thousandth of an ohm, which no maker means.
func unitNamed(sign string) (unitSign, bool) {
	sign = strings.NewReplacer("Ω", "ω", "Ω", "ω", "μ", "µ").Replace(strings.TrimSpace(sign))
	if sign == "M" {
		return unitSign{resistance, 1e6}, true
	}
	u, ok := units[strings.ToLower(sign)]
	return u, ok
}

// unitOfKey is the unit in which a key of the plan takes its number.
func unitOfKey(key string) unitSign {
	_, suffix := splitKey(key)
	u, _ := unitNamed(suffix)
	return u
}

// splitKey parts "length_mm" into "length" and "mm"; a key that is a unit alone
// has no stem.
func splitKey(key string) (stem, sign string) {
	i := strings.LastIndexByte(key, '_')
	stem, sign = "", key
	if i >= 0 {
		stem, sign = key[:i], key[i+1:]
	}
	if _, ok := unitNamed(sign); !ok || strings.Contains(key, "_per_") {
		return key, ""
	}
	return stem, sign
}

var (
	// resistorCode is a resistance with its point at the place of the unit, 4k7
	// (IEC 60062, RKM code).
	resistorCode = regexp.MustCompile(`^(\d+)([RrkKM])(\d+)$`)
	numberUnit   = regexp.MustCompile(`^([+-]?\d*[.,]?\d+)\s*([^\d\s.,]\S*|)\s*$`)
)

// quantityOf reads a number with its unit as a maker writes it: "12 V", "4k7",
// "0,2 mm", "5 %". The number is in SI units of the unit's quantity.
func quantityOf(text string) (value float64, of quantity, ok bool) {
	text = strings.TrimSpace(text)
	if m := resistorCode.FindStringSubmatch(text); m != nil {
		u, _ := unitNamed(m[2])
		f, err := strconv.ParseFloat(m[1]+"."+m[3], 64)
		return f * u.si, resistance, err == nil
	}
	m := numberUnit.FindStringSubmatch(text)
	if m == nil {
		return 0, noQuantity, false
	}
	f, err := strconv.ParseFloat(strings.Replace(m[1], ",", ".", 1), 64)
	if err != nil {
		return 0, noQuantity, false
	}
	if m[2] == "" {
		return f, noQuantity, true
	}
	u, known := unitNamed(m[2])
	return f * u.si, u.of, known
}

// numberFor is the number to write for a key in place of a text with a unit; false
// where the unit isn't one of what the key measures.
func numberFor(key, text string) (string, bool) {
	v, of, ok := quantityOf(text)
	u := unitOfKey(key)
	switch {
	case !ok:
		return "", false
	case of == noQuantity, of == percent && u.of == noQuantity:
	case u.of == duration && of == frequency && v > 0:
		v = 1 / v / u.si
	case u.of != of:
		return "", false
	default:
		v /= u.si
	}
	return plainNumber(roundOff(v)), true
}

// roundOff takes away what binary fractions add to a number of the plan.
func roundOff(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 10, 64), 64)
	if err != nil || math.IsInf(v, 0) {
		return v
	}
	return r
}

// inOtherUnits finds the known key that a key in another unit stands for, and what to
// write: length_cm = 18 is length_mm = 180.
func inOtherUnits(e entry, known []string) (key, instead string) {
	stem, sign := splitKey(e.key)
	u, ok := unitNamed(sign)
	if !ok || sign == "" {
		return "", ""
	}
	if other, ok := otherWords[strings.ToLower(stem)]; ok {
		if contains(known, other) && unitOfKey(other).of == u.of {
			known = []string{other}
		}
		stem, _ = splitKey(other)
	}
	var same []string
	best, at := "", math.MaxInt
	for _, k := range known {
		ku := unitOfKey(k)
		if ku.of != u.of && !(ku.of == duration && u.of == frequency) {
			continue
		}
		same = append(same, k)
		ks, _ := splitKey(k)
		if d := unlike(stem, ks); d < at {
			best, at = k, d
		}
	}
	// What a whole strip draws is no segment's: another stem is another thing.
	bestStem, _ := splitKey(best)
	if best == "" || stem == "" && bestStem != "" && (len(same) > 1 || u.of != current) || stem != "" &&
		at > max(1, len(stem)*2/5) {
		return "", ""
	}
	text := e.val.text
	if e.val.shape == numberShape {
		text = strconv.FormatFloat(e.val.number, 'g', -1, 64) + sign
	}
	n, ok := numberFor(best, text)
	if !ok {
		return best, "write " + best
	}
	return best, "write " + best + " = " + n
}
