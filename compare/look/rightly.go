package look

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"sealworthy/compare/plan"
)

// Behind "all right" may stand what was told apart from any current: how many are lit, what was read
// on the pieces or measured at them with nothing on (the rings of a resistor, the label of a reel, a
// rule along a wire), and that colours weren't judged.

// countedLit is what is typed behind all right by somebody who counted; the others by one who read
// something on the pieces.
var (
	countedLit = regexp.MustCompile(`^(\d{1,4})(?: are)? lit[.]?$`)
	partRead   = regexp.MustCompile(`^(part .{1,80}) read[.]?$`)
	figureRead = regexp.MustCompile(`^(\d{1,7}(?:\.\d{1,4})?) ?(ohm|ohms|kohm|mm|v|volt|volts|s) read[.]?$`)
)

// inUnits are the units of what is read, each as it's kept.
var inUnits = map[string]struct {
	unit string
	of   float64
}{"ohm": {"ohm", 1}, "ohms": {"ohm", 1}, "kohm": {"ohm", 1e3}, "mm": {"mm", 1}, "v": {"V", 1}, "volt": {"V", 1},
	"volts": {"V", 1}, "s": {"s", 1}}

// Figure is a figure as somebody reads it: "470 ohm".
func Figure(value float64, unit string) string {
	return strconv.FormatFloat(value, 'g', 4, 64) + " " + unit
}

// RightCounted is what a look says when all is right and somebody counted what is lit.
func RightCounted(lit int) string { return RightTold(lit, nil) }

// RightTold is what a look says when all is right, so many were counted (0: nobody did) and this was
// read on the pieces.
func RightTold(lit int, read []string) string {
	return Look{Saw: AllLit, Lit: lit, Read: strings.Join(read, ", ")}.Words()
}

// rightly understands what is said of a group that is all right.
func rightly(said string) (Look, bool) {
	parts := strings.Split(said, ", ")
	l := Look{Saw: AllLit}
	if parts[0] != Right {
		return Look{}, false
	}
	for _, p := range parts[1:] {
		if !l.add(p) {
			return Look{}, false
		}
	}
	return l, true
}

// add puts one thing that was told to what is all right; each but a reading once.
func (l *Look) add(told string) bool {
	told = strings.ToLower(strings.TrimSpace(told))
	if told == notJudged && !l.NoColours {
		l.NoColours = true
		return true
	}
	if counted := countedLit.FindStringSubmatch(told); counted != nil && l.Lit == 0 {
		n, err := strconv.Atoi(counted[1])
		l.Lit = n
		return err == nil && n > 0
	}
	what := asRead(told)
	if what != "" && !l.HasRead(what) {
		l.Read = strings.Join(append(l.reads(), what), ", ")
	}
	return what != ""
}

// asRead is what was read in the form in which it's kept; empty: nothing was.
func asRead(told string) string {
	if m := partRead.FindStringSubmatch(told); m != nil {
		return m[1]
	}
	m := figureRead.FindStringSubmatch(told)
	if m == nil {
		return ""
	}
	v, err := strconv.ParseFloat(m[1], 64)
	if err != nil {
		return ""
	}
	u := inUnits[m[2]]
	return Figure(v*u.of, u.unit)
}

func (l Look) reads() []string {
	if l.Read == "" {
		return nil
	}
	return strings.Split(l.Read, ", ")
}

// PartRead is that the name of a part was read, on the label of its reel or bag.
func PartRead(name string) string { return "part " + name }

// HasRead tells whether something was read on the pieces, in the words of Figure or PartRead.
func (l Look) HasRead(what string) bool {
	return slices.ContainsFunc(l.reads(), func(x string) bool { return strings.EqualFold(x, what) })
}

// against holds what was told against what the plan says of the group itself: another number of
// lights, or a resistor that the plan doesn't have, isn't all right.
func (l Look) against(g plan.Group) Look {
	if n := HowMany(g); l.Lit > 0 && n > 0 && l.Lit != n {
		return Look{Saw: Otherwise}
	}
	own := resistors(g)
	for _, r := range l.reads() {
		if own != nil && strings.HasSuffix(r, " ohm") && !slices.Contains(own, r) {
			return Look{Saw: Otherwise}
		}
	}
	return l
}

// resistors are the figures of a group's own resistors.
func resistors(g plan.Group) []string {
	var out []string
	for _, l := range g.Lights {
		if l.Kind == plan.LEDs && l.Ohms.Nominal > 0 {
			out = append(out, Figure(l.Ohms.Nominal, "ohm"))
		}
	}
	return out
}

// rightWords are those of a look that found all right.
func (l Look) rightWords() string {
	s := Right
	if l.Lit > 0 {
		s += fmt.Sprintf(", %d lit", l.Lit)
	}
	for _, r := range l.reads() {
		s += ", " + r + " read"
	}
	if l.NoColours {
		s += ", " + notJudged
	}
	return s
}
