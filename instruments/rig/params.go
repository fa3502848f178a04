package rig

import (
	"math"
	"strconv"
	"strings"
)

// number reads a numeric parameter: NRf with an optional suffix in the unit
// (V, A, S, OHM or "" for none), or one of the words MIN, MAX and DEF, for
// which the bounds stand.
func number(s, unit string, lo, hi, def float64) (float64, error) {
	up := strings.ToUpper(strings.TrimSpace(s))
	switch up {
	case "MIN", "MINIMUM":
		return lo, nil
	case "MAX", "MAXIMUM":
		return hi, nil
	case "DEF", "DEFAULT":
		return def, nil
	}
	end := 0
	for end < len(up) && strings.IndexByte("+-.0123456789", up[end]) >= 0 {
		end++
	}
	// An E is an exponent only if a digit follows.
	if end < len(up) && up[end] == 'E' {
		n := end + 1
		if n < len(up) && (up[n] == '+' || up[n] == '-') {
			n++
		}
		if n < len(up) && up[n] >= '0' && up[n] <= '9' {
			for n < len(up) && up[n] >= '0' && up[n] <= '9' {
				n++
			}
			end = n
		}
	}
	if end == 0 {
		return 0, errDataType
	}
	v, err := strconv.ParseFloat(up[:end], 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, errDataType
	}
	scale, ok := suffix(strings.TrimSpace(up[end:]), unit)
	if !ok {
		return 0, errSuffix
	}
	v *= scale
	// Half a millionth of the span is rounding, not a wrong value.
	slack := 5e-7 * (hi - lo)
	if v < lo-slack || v > hi+slack {
		return 0, errOutOfRange
	}
	return min(hi, max(lo, v)), nil
}

// suffix gives the factor of a suffix of the unit (IEEE 488.2, 7.7.3).
func suffix(s, unit string) (float64, bool) {
	if s == "" || s == unit && unit != "" {
		return 1, true
	}
	if unit == "" {
		return 0, false
	}
	m, ok := strings.CutSuffix(s, unit)
	if !ok {
		return 0, false
	}
	f, ok := map[string]float64{"N": 1e-9, "U": 1e-6, "M": 1e-3, "K": 1e3}[m]
	return f, ok
}

// boolean reads ON, OFF or a number: zero is off.
func boolean(s string) (bool, error) {
	switch strings.ToUpper(s) {
	case "ON":
		return true, nil
	case "OFF":
		return false, nil
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return false, errDataType
	}
	return math.Round(v) != 0, nil
}

// channels reads a channel list such as (@1,3:5) (SCPI-1999 volume 1, 8.3.2).
func channels(s string, max int) ([]int, error) {
	body, ok := strings.CutPrefix(s, "(@")
	if !ok {
		return nil, errDataType
	}
	if body, ok = strings.CutSuffix(body, ")"); !ok {
		return nil, errInvalidExpression
	}
	var out []int
	if strings.TrimSpace(body) == "" {
		return out, nil
	}
	for _, part := range strings.Split(body, ",") {
		from, to, isRange := strings.Cut(strings.TrimSpace(part), ":")
		a, err := strconv.Atoi(strings.TrimSpace(from))
		if err != nil {
			return nil, errInvalidExpression
		}
		b := a
		if isRange {
			if b, err = strconv.Atoi(strings.TrimSpace(to)); err != nil {
				return nil, errInvalidExpression
			}
		}
		if a < 1 || b < a || b > max {
			return nil, errOutOfRange
		}
		for n := a; n <= b; n++ {
			out = append(out, n)
		}
	}
	return out, nil
}

// one wants exactly one parameter.
func one(args []string) (string, error) {
	switch len(args) {
	case 0:
		return "", errMissing
	case 1:
		return args[0], nil
	}
	return "", errNotAllowed
}

// none wants no parameter.
func none(args []string) error {
	if len(args) > 0 {
		return errNotAllowed
	}
	return nil
}
