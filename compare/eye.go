package compare

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"sealworthy/compare/plan"
)

// Eye is what a look said of the lights of one group. The zero Eye says nothing.
type Eye struct {
	Said bool
	Dark int // lights that are dark; 0: all are lit
	Of   int // lights that were counted; 0: not said
	// Other: something else is wrong with it, as a wrong colour; then Dark counts nothing.
	Other bool
}

// AllLit reports whether the look found nothing wrong.
func (e Eye) AllLit() bool { return e.Said && e.Dark == 0 && !e.Other }

var darkWords = regexp.MustCompile(`^(?:(\d+|one|two|three|four|five|six|a|an|all|both|none|no)\s+)?(?:(?:of|out of|in)\s+(?:the\s+)?(\d+)\s+)?(?:(?:is|are|lights?|segments?|leds?|lamps?)\s+)*(?:dark|out|off|dead|unlit|not lit)$`)

var numberWords = map[string]int{"a": 1, "an": 1, "one": 1, "two": 2, "both": 2, "three": 3, "four": 4, "five": 5, "six": 6}

// EyeOf understands what was said of a group: "all right", "2 of 12 dark",
// "one is dark", "all dark", "dark". Other words say that something is wrong,
// not how many lights are dark.
func EyeOf(seen string, g plan.Group) Eye {
	s := strings.ToLower(strings.Trim(strings.Join(strings.Fields(seen), " "), ".! "))
	if s == "" {
		return Eye{}
	}
	if s == SeenRight || s == "all lit" || s == "all are lit" || s == "none dark" || s == "lit" {
		return Eye{Said: true}
	}
	m := darkWords.FindStringSubmatch(s)
	if m == nil {
		return Eye{Said: true, Other: true}
	}
	e := Eye{Said: true}
	e.Of, _ = strconv.Atoi(m[2])
	switch n, err := strconv.Atoi(m[1]); {
	case err == nil:
		e.Dark = n
	case m[1] == "none" || m[1] == "no":
	case m[1] == "all" || m[1] == "":
		e.Dark = max(e.Of, lightsOf(g), 1)
	case numberWords[m[1]] > 0:
		e.Dark = numberWords[m[1]]
	default:
		return Eye{Said: true, Other: true} // no number anybody counts to
	}
	if e.Of > 0 && e.Dark > e.Of {
		return Eye{Said: true, Other: true} // a slip of the keys
	}
	return e
}

// lightsOf counts what the eye tells apart in a group: segments of strips, and
// every LED of other lights.
func lightsOf(g plan.Group) int {
	n := 0
	for _, l := range g.Lights {
		if l.Kind == plan.Strip {
			n += l.Branches()
			continue
		}
		n += l.Branches() * max(1, len(l.Series))
	}
	return n
}

// LightsDigest says what lights a group has, in number and kind. A look at a
// group with other lights is out of date.
func LightsDigest(g plan.Group) string {
	var out []string
	for _, l := range g.Lights {
		s := fmt.Sprintf("%d x %s", l.Count, l.Part)
		if l.Kind == plan.Strip {
			s += fmt.Sprintf(", %d segments", l.Segments)
		} else if n := len(l.Series); n > 1 {
			s += fmt.Sprintf(", %d in series", n)
		}
		out = append(out, s)
	}
	return strings.Join(out, "; ")
}
