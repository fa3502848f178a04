package profile

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// Args is what can be put into a command.
type Args struct {
	Volts, Amps float64 // A // V
	Seconds     float64 // of a watchdog
	Channel     int     // of a supply with several outputs
	Channels    []int   // of relays
	Range       string  // as the profile's range says
}

// Hole: {name}, {name*factor}, {name:decimals}, {name:width.decimals}.
var hole = regexp.MustCompile(`\{([a-z]+)(?:\*([0-9]+(?:\.[0-9]+)?))?(?::([0-9]*)\.([0-9]+))?\}`)

// Fill puts a into a template:
//
//	{volts} {amps}      a plain decimal number
//	{seconds}           of a watchdog
//	{volts:.3}          with three decimals: 12.000
//	{volts:5.2}         with two, zeros before it up to five bytes: 05.00
//	{volts*100:4.0}     times 100, four digits: 0500
//	{channel}           the output of a supply
//	{channels}          relays, as 1,3
//	{range}             the range as the profile writes it
func Fill(template string, a Args) (string, error) {
	var bad error
	out := hole.ReplaceAllStringFunc(template, func(h string) string {
		s, err := fillOne(hole.FindStringSubmatch(h), a)
		if err != nil && bad == nil {
			bad = err
		}
		return s
	})
	if bad == nil && strings.ContainsAny(out, "{}") {
		bad = fmt.Errorf("%q has a brace that is no placeholder", template)
	}
	return out, bad
}

func fillOne(m []string, a Args) (string, error) {
	var x float64
	switch m[1] {
	case "volts":
		x = a.Volts
	case "amps":
		x = a.Amps
	case "seconds":
		x = a.Seconds
	case "channel":
		return strconv.Itoa(a.Channel), nil
	case "channels":
		list := make([]string, len(a.Channels))
		for i, c := range a.Channels {
			list[i] = strconv.Itoa(c)
		}
		return strings.Join(list, ","), nil
	case "range":
		return a.Range, nil
	default:
		return "", fmt.Errorf("unknown placeholder {%s}", m[1])
	}
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "", fmt.Errorf("{%s} is not a number", m[1])
	}
	if m[2] != "" {
		f, err := strconv.ParseFloat(m[2], 64)
		if err != nil {
			return "", err
		}
		x *= f
	}
	if m[4] == "" {
		return strconv.FormatFloat(x, 'f', -1, 64), nil
	}
	decimals, err := strconv.Atoi(m[4])
	if err != nil || decimals > 9 {
		return "", fmt.Errorf("at most 9 decimals in {%s}", m[1])
	}
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if m[3] == "" {
		return s, nil
	}
	width, err := strconv.Atoi(m[3])
	if err != nil || width > 20 {
		return "", fmt.Errorf("at most 20 bytes for {%s}", m[1])
	}
	if len(s) > width {
		return "", fmt.Errorf("%s needs %d bytes, the command has %d", s, len(s), width)
	}
	return strings.Repeat("0", width-len(s)) + s, nil
}

// step is the resolution with which a template sends name, or 0 where it is unlimited.
func step(template, name string) float64 {
	for _, m := range hole.FindAllStringSubmatch(template, -1) {
		if m[1] != name || m[4] == "" {
			continue
		}
		decimals, _ := strconv.Atoi(m[4])
		s := math.Pow(10, -float64(decimals))
		if f, err := strconv.ParseFloat(m[2], 64); err == nil && f > 0 {
			s /= f
		}
		return s
	}
	return 0
}
