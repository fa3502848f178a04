package byhand

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"sealworthy/instruments"
)

// Typed is a number as the maker typed it.
type Typed struct {
	Value      float64 // SI
	Resolution float64 // SI: one unit in the last place typed
	Overload   bool    // the display showed OL; then there is no Value
}

// ErrNumber is returned for what is no number.
var ErrNumber = errors.New("not a number that a meter shows")

// Parse reads what a meter's display shows: "38.2", "38,2 mA", "0.04 A", "OL".
// Without a unit the number counts in bare, which is "mA", "A", "V" or "mV".
// A number with both a point and a comma is refused: which of them parts the
// thousands can't be told.
func Parse(text string, q instruments.Quantity, bare string) (Typed, error) {
	s := strings.TrimSpace(text)
	switch strings.ToUpper(strings.ReplaceAll(s, ".", "")) {
	case "OL", "0L", "OVERLOAD", "-OL":
		return Typed{Overload: true}, nil
	}
	end := len(s)
	for i, r := range s {
		if (r < '0' || r > '9') && r != '.' && r != ',' && !(i == 0 && (r == '-' || r == '+')) {
			end = i
			break
		}
	}
	digits, unit := s[:end], strings.TrimSpace(s[end:])
	if unit == "" {
		unit = bare
	}
	scale, err := scaleOf(unit, q)
	if err != nil {
		return Typed{}, err
	}
	if strings.Count(digits, ".")+strings.Count(digits, ",") > 1 {
		return Typed{}, fmt.Errorf("%w: %q has more than one point or comma", ErrNumber, text)
	}
	digits = strings.Replace(digits, ",", ".", 1)
	places := 0
	if i := strings.IndexByte(digits, '.'); i >= 0 {
		places = len(digits) - i - 1
	}
	v, err := strconv.ParseFloat(digits, 64)
	if err != nil || math.IsInf(v, 0) || len(digits) > 12 {
		return Typed{}, fmt.Errorf("%w: %q; type what the display shows, as 38.2 mA", ErrNumber, text)
	}
	return Typed{Value: v * scale, Resolution: math.Pow(10, -float64(places)) * scale}, nil
}

func scaleOf(unit string, q instruments.Quantity) (float64, error) {
	letter := q.Unit()
	prefix, ok := strings.CutSuffix(unit, letter)
	if !ok && strings.EqualFold(unit, letter) { // "a" for "A"; never for a prefix
		prefix, ok = "", true
	}
	if !ok {
		prefix, ok = strings.CutSuffix(unit, strings.ToLower(letter))
	}
	if ok {
		switch prefix {
		case "":
			return 1, nil
		case "m":
			return 1e-3, nil
		case "u", "µ", "μ":
			return 1e-6, nil
		}
	}
	return 0, fmt.Errorf("%w: %q is no unit of %s; use %s, m%s or u%s", ErrNumber, unit, q, letter, letter, letter)
}
