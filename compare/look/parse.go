package look

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"sealworthy/compare/plan"
)

// Parse understands what was said of a group: "all right", "2 of 12 dark",
// "one is dark", "all dark", "dark", "2 dim", "all right, colours not judged", "all right, 12 lit",
// "all right, 12 lit, 470 ohm read, colours not judged". Words that aren't understood say that something is
// wrong, not what.
func Parse(seen string, g plan.Group) Look {
	s := strings.ToLower(strings.Trim(strings.Join(strings.Fields(seen), " "), ".! "))
	if s == "" {
		return Look{}
	}
	if s == "all lit" || s == "all are lit" || s == "none dark" || s == "lit" {
		return Look{Saw: AllLit}
	}
	if l, ok := rightly(s); ok {
		return l.against(g)
	}
	if m := noneDark.FindStringSubmatch(s); m != nil {
		of, _ := strconv.Atoi(m[1])
		return Look{Saw: AllLit, Of: of}
	}
	c := readClause(seen, []plan.Group{{Name: g.Name, Lights: g.Lights}}, "")
	switch {
	case !c.whole() && (c.Group != "" || c.Rest != ""), c.Right:
		return Look{Saw: Otherwise}
	case c.What != Dark:
		return Look{Saw: Otherwise, What: c.What, Count: c.Count}
	case c.All:
		return Look{Saw: SomeDark, Dark: max(c.Of, HowMany(g), 1), Of: c.Of}
	}
	return Look{Saw: SomeDark, Dark: c.Count, Of: c.Of}
}

// noneDark is how a count of nothing dark is written.
var noneDark = regexp.MustCompile(`^0 of (\d+) dark$`)

// HowMany counts what the eye tells apart in a group: segments of strips, and
// every LED of other lights.
func HowMany(g plan.Group) int {
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

// Digest says what lights a group has, in number and kind. A look at a
// group with other lights is out of date.
func Digest(g plan.Group) string {
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
