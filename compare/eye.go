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
	// What else it is, where that was understood, and of how many lights; 0: of all.
	What  EyeWhat
	Count int
}

// AllLit reports whether the look found nothing wrong.
func (e Eye) AllLit() bool { return e.Said && e.Dark == 0 && !e.Other }

// EyeOf understands what was said of a group: "all right", "2 of 12 dark",
// "one is dark", "all dark", "dark", "2 dim". Words that aren't understood say
// that something is wrong, not what.
func EyeOf(seen string, g plan.Group) Eye {
	s := strings.ToLower(strings.Trim(strings.Join(strings.Fields(seen), " "), ".! "))
	if s == "" {
		return Eye{}
	}
	if s == SeenRight || s == "all lit" || s == "all are lit" || s == "none dark" || s == "lit" {
		return Eye{Said: true}
	}
	if m := noneDark.FindStringSubmatch(s); m != nil {
		of, _ := strconv.Atoi(m[1])
		return Eye{Said: true, Of: of}
	}
	c := readClause(seen, []plan.Group{{Name: g.Name, Lights: g.Lights}}, "")
	switch {
	case !c.whole() && (c.Group != "" || c.Rest != ""), c.Right:
		return Eye{Said: true, Other: true}
	case c.What != EyeDark:
		return Eye{Said: true, Other: true, What: c.What, Count: c.Count}
	case c.All:
		return Eye{Said: true, Dark: max(c.Of, lightsOf(g), 1), Of: c.Of}
	}
	return Eye{Said: true, Dark: c.Count, Of: c.Of}
}

// noneDark is how a count of nothing dark is written.
var noneDark = regexp.MustCompile(`^0 of (\d+) dark$`)

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
