package stream

import (
	"bytes"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"sealworthy/instruments"
	"sealworthy/instruments/profile"
)

// text reads lines by the pattern of a profile.
type text struct {
	form    *profile.TextForm
	pattern *regexp.Regexp
	end     []byte
}

func newText(p *profile.Profile) (*text, error) {
	re, err := regexp.Compile("^(?:" + p.Text.Pattern + ")$")
	if err != nil {
		return nil, err
	}
	end := map[string][]byte{"cr": []byte("\r"), "lf": []byte("\n"), "crlf": []byte("\r\n")}[p.Talk.ReplyEnd]
	if end == nil {
		end = []byte("\n")
	}
	return &text{form: p.Text, pattern: re, end: end}, nil
}

func (t *text) next(got []byte) (start, end int, ok bool) {
	i := bytes.Index(got, t.end)
	if i < 0 {
		return 0, 0, false
	}
	return 0, i + len(t.end), true
}

func (t *text) read(line []byte) (Shown, error) {
	s := strings.TrimRight(string(line), "\r\n")
	m := t.pattern.FindStringSubmatch(s)
	if m == nil {
		return Shown{}, garbled("%q is not the line that the profile describes", s)
	}
	group := func(name string) string {
		if i := t.pattern.SubexpIndex(name); i >= 0 {
			return strings.TrimSpace(m[i])
		}
		return ""
	}
	var out Shown
	unit := group("unit")
	if unit == "" && len(t.form.Current)+len(t.form.Voltage) == 1 {
		unit = slices.Concat(t.form.Current, t.form.Voltage)[0]
	}
	switch {
	case slices.Contains(t.form.Current, unit):
		out.Quantity = instruments.Current
	case slices.Contains(t.form.Voltage, unit):
		out.Quantity = instruments.Voltage
	default:
		return Shown{}, &wrongQuantity{shows: strconv.Quote(unit), hint: "turn its dial to DC current or voltage"}
	}
	size := t.form.Units[unit]
	value := group("value")
	switch {
	case group("hold") != "":
		out.Status = instruments.Held
		return out, nil
	case group("overload") != "" || slices.Contains(t.form.Over, value):
		out.Status = instruments.Overload
		return out, nil
	}
	number, decimals, ok := plainNumber(value)
	if !ok {
		return Shown{}, garbled("%q is no number", value)
	}
	out.Status, out.Value = instruments.OK, number*size
	out.Resolution = size * math.Pow(10, -float64(decimals))
	return out, nil
}

// plainNumber reads sign, digits and one point; blanks may follow the sign.
func plainNumber(s string) (x float64, decimals int, ok bool) {
	sign := 1.0
	switch {
	case strings.HasPrefix(s, "-"):
		sign = -1
		fallthrough
	case strings.HasPrefix(s, "+"):
		s = strings.TrimLeft(s[1:], " ")
	}
	whole, fraction, _ := strings.Cut(s, ".")
	if whole+fraction == "" || len(s) > 20 || strings.Trim(whole+fraction, "0123456789") != "" {
		return 0, 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return 0, 0, false
	}
	return sign * v, len(fraction), true
}
