package budget

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// sig writes x with n significant digits, without an exponent and without
// zeros that carry nothing: 32, 4.7, 0.55.
func sig(x float64, n int) string {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	// Rounded first: 9.96 with two digits is 10, not 10.0.
	r, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'e', n-1, 64), 64)
	s := strconv.FormatFloat(r, 'f', max(0, n-1-int(math.Floor(math.Log10(math.Abs(r))))), 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// amps says a current as a maker would: "32 mA", "1.25 A".
func amps(a float64) string {
	switch x := math.Abs(a); {
	case x >= 0.9995:
		return sig(a, 3) + " A"
	case x >= 0.09995:
		return sig(a*1e3, 3) + " mA"
	case x < 5e-7:
		return "0 mA"
	}
	return sig(a*1e3, 2) + " mA"
}

// ohms says a resistance: "470 ohm", "4.7 kohm".
func ohms(r float64) string {
	switch {
	case r >= 0.9995e6:
		return sig(r/1e6, 3) + " Mohm"
	case r >= 0.9995e3:
		return sig(r/1e3, 3) + " kohm"
	}
	return sig(r, 3) + " ohm"
}

func volts(v float64) string { return sig(v, 3) + " V" }
func watts(p float64) string { return sig(p, 2) + " W" }

// decimals gives how many decimals of a number in mA are carried by its
// standard uncertainty: its first digit is the last one shown, the second where
// the first is a 1, and never more than two decimals (JCGM 100:2008, 7.2.6, allows
// two digits; a thousand trials carry no more than this).
func decimals(uMilliamps float64) int {
	if !(uMilliamps > 0) {
		return 2
	}
	lead := strconv.FormatFloat(uMilliamps, 'e', 1, 64)
	r, _ := strconv.ParseFloat(lead, 64)
	d := -int(math.Floor(math.Log10(r)))
	if lead[0] == '1' {
		d++
	}
	return min(2, max(0, d))
}

// milli writes amps in mA with a number of decimals.
func milli(a float64, decimals int) string {
	s := strconv.FormatFloat(a*1e3, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// many says a number of things: "1 segment", "6 segments".
func many(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	if strings.HasSuffix(one, "ch") {
		one += "e" // branches
	}
	return fmt.Sprintf("%d %ss", n, one)
}

// someOf lists names, and beyond six of them only says how many more there are.
func someOf(names []string) string {
	const most = 6
	if n := len(names); n > most {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:most-1], ", "), n-most+1)
	}
	return list(names)
}

// list joins names: "a", "a and b", "a, b and c".
func list(names []string) string {
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return strings.Join(names, "")
}
