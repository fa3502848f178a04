package scpi

import (
	"fmt"
	"strconv"
	"strings"
)

// ParseChannels reads a channel list (SCPI-1999 vol. 1, 8.3.2): (@1,3), (@1:3),
// the bare 1,3, or nothing. Each channel must lie within low and high.
func ParseChannels(s string, low, high int) ([]int, error) {
	body := strings.TrimSpace(s)
	if len(body) >= 2 && body[0] == '"' && body[len(body)-1] == '"' {
		body = body[1 : len(body)-1]
	}
	if inner, ok := strings.CutPrefix(body, "(@"); ok {
		if body, ok = strings.CutSuffix(inner, ")"); !ok {
			return nil, fmt.Errorf("channel list %q has no end", s)
		}
	}
	body = strings.TrimSpace(body)
	if body == "" {
		return nil, nil
	}
	var out []int
	for _, item := range strings.Split(body, ",") {
		from, to, span := strings.Cut(strings.TrimSpace(item), ":")
		if !span {
			to = from
		}
		a, err1 := strconv.ParseUint(from, 10, 16)
		b, err2 := strconv.ParseUint(to, 10, 16)
		if err1 != nil || err2 != nil || int(a) < low || int(b) > high || a > b {
			return nil, fmt.Errorf("channel list %q: %q is no channel from %d to %d", s, item, low, high)
		}
		for c := a; c <= b; c++ {
			out = append(out, int(c))
		}
	}
	return out, nil
}
