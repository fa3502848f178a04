package scpi

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"sealworthy/instruments/driver"
)

// ErrNumber is text that is no number in the sense of IEEE 488.2.
var ErrNumber = errors.New("not a number in the sense of IEEE 488.2")

const (
	infinity   = 9.9e37  // SCPI-1999 vol. 1, 7.2.1.4; many meters mean overload
	notANumber = 9.91e37 // 7.2.1.5
	mostDigits = 255     // SCPI error -124
	mostExp    = 32000   // SCPI error -123
)

// ParseNumber reads one number of a reply: NR1, NR2, NR3 (IEEE 488.2, 8.7.2 to
// 8.7.4), the looser forms that instruments print (273. and .0273, an unsigned
// exponent), or #H, #Q, #B (8.7.5 to 8.7.7). ±9.9E37 is Over, 9.91E37 is NaN,
// however they are spelled. Anything else is an error: blanks, units, words.
func ParseNumber(s string) (driver.Number, error) {
	if strings.HasPrefix(s, "#") {
		return parseBased(s)
	}
	if err := decimalForm(s); err != nil {
		return driver.Number{}, err
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return driver.Number{}, fmt.Errorf("%q: %w: out of range", s, ErrNumber)
	}
	switch a := math.Abs(v); {
	case near(a, notANumber):
		return driver.Number{Mark: driver.NaN}, nil
	case near(a, infinity):
		return driver.Number{Value: math.Copysign(math.Inf(1), v), Mark: driver.Over}, nil
	case a > 9e37:
		return driver.Number{}, fmt.Errorf("%q: %w: beyond infinity", s, ErrNumber)
	}
	return driver.Number{Value: v, Mark: driver.Finite}, nil
}

// near allows for the rounding of a reply to six digits; the two marks differ by 0.1 %.
func near(a, b float64) bool { return math.Abs(a-b) <= 1e-6*b }

// decimalForm checks sign, digits, point, digits, E, sign, digits with at least
// one digit in the mantissa and, after an E, one in the exponent.
func decimalForm(s string) error {
	bad := fmt.Errorf("%q: %w", s, ErrNumber)
	rest := strings.TrimPrefix(s, "+")
	if rest == s {
		rest = strings.TrimPrefix(s, "-")
	}
	whole, rest := digits(rest)
	fraction := ""
	if strings.HasPrefix(rest, ".") {
		fraction, rest = digits(rest[1:])
	}
	n := len(whole) + len(fraction)
	if n == 0 || n > mostDigits {
		return bad
	}
	if rest == "" {
		return nil
	}
	if rest[0] != 'E' && rest[0] != 'e' {
		return bad
	}
	rest = rest[1:]
	if rest != "" && (rest[0] == '+' || rest[0] == '-') {
		rest = rest[1:]
	}
	exp, rest := digits(rest)
	if exp == "" || rest != "" {
		return bad
	}
	if e, err := strconv.Atoi(exp); err != nil || e > mostExp {
		return bad
	}
	return nil
}

func digits(s string) (head, rest string) {
	i := 0
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	return s[:i], s[i:]
}

func parseBased(s string) (driver.Number, error) {
	bad := fmt.Errorf("%q: %w", s, ErrNumber)
	if len(s) < 3 {
		return driver.Number{}, bad
	}
	base := map[byte]int{'H': 16, 'h': 16, 'Q': 8, 'q': 8, 'B': 2, 'b': 2}[s[1]]
	if base == 0 || s[2] == '+' || s[2] == '-' {
		return driver.Number{}, bad
	}
	// 53 bits are exact in a float64.
	v, err := strconv.ParseUint(s[2:], base, 53)
	if err != nil {
		return driver.Number{}, bad
	}
	return driver.Number{Value: float64(v), Mark: driver.Finite}, nil
}

// suffix is a unit that instruments put after a number, in SI.
type suffix struct {
	size float64
	unit string
}

// suffixes that instruments put after a number (SCPI-1999 vol. 1, 7.1), and
// their size in SI. Case doesn't matter there; M is milli except before Hz and ohm.
var suffixes = map[string]suffix{
	"V": {1, "V"}, "MV": {1e-3, "V"}, "UV": {1e-6, "V"}, "KV": {1e3, "V"},
	"A": {1, "A"}, "MA": {1e-3, "A"}, "UA": {1e-6, "A"}, "NA": {1e-9, "A"}, "KA": {1e3, "A"},
	"S": {1, "s"}, "MS": {1e-3, "s"}, "US": {1e-6, "s"},
	"OHM": {1, "ohm"}, "KOHM": {1e3, "ohm"}, "MOHM": {1e6, "ohm"},
}

// ParseQuantity reads a number with an optional unit, as "12.3 mV", into SI.
// A mark of overload or not-a-number keeps no unit.
func ParseQuantity(s string) (driver.Number, error) {
	n, _, err := parseQuantity(s)
	return n, err
}

// parseQuantity is ParseQuantity with the SI unit that stood there; "": none.
func parseQuantity(s string) (driver.Number, string, error) {
	s = strings.TrimSpace(s)
	i := len(s)
	if !strings.HasPrefix(s, "#") {
		for i > 0 && isLetter(s[i-1]) {
			i--
		}
	}
	if i == len(s) {
		n, err := ParseNumber(s)
		return n, "", err
	}
	x, ok := suffixes[strings.ToUpper(s[i:])]
	if !ok {
		return driver.Number{}, "", fmt.Errorf("%q: %w: unknown unit", s, ErrNumber)
	}
	n, err := ParseNumber(strings.TrimRight(s[:i], " "))
	if err == nil && n.Mark == driver.Finite {
		n.Value *= x.size
	}
	return n, x.unit, err
}

func isLetter(c byte) bool { return c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' }

// ParseList reads numbers with commas between them.
func ParseList(s string) ([]driver.Number, error) {
	out, _, err := parseList(s)
	return out, err
}

// parseList is ParseList with the SI unit of each number; "": none stood there.
func parseList(s string) (numbers []driver.Number, units []string, err error) {
	for _, item := range strings.Split(s, ",") {
		n, unit, err := parseQuantity(item)
		if err != nil {
			return nil, nil, err
		}
		numbers, units = append(numbers, n), append(units, unit)
	}
	return numbers, units, nil
}
