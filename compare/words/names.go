package words

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"sealworthy/compare/plan"
)

// Quote puts a maker's own name into quotes.
func Quote(name string) string { return `"` + name + `"` }

// List joins names: "a", "a and b", "a, b and c".
func List(names []string) string { return joined(names, " and ") }

// Either joins what may be one or the other: "a", "a or b", "a, b or c".
func Either(names []string) string { return joined(names, " or ") }

// Quoted is List with each name in quotes.
func Quoted(names []string) string {
	var out []string
	for _, n := range names {
		out = append(out, Quote(n))
	}
	return List(out)
}

func joined(names []string, last string) string {
	n := len(names)
	if n < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:n-1], ", ") + last + names[n-1]
}

// Sentence begins with a capital letter.
func Sentence(s string) string { return withFirst(s, unicode.ToUpper) }

// ClipWithout asks for one clip on all of some feeds, and on none of those that were stopped.
func ClipWithout(on, off []string) string {
	return "Clip the plus lead onto " + quoted(on) + ". Leave " + quoted(off) +
		" off: too much flowed there, and it isn't powered again before that is found."
}

func quoted(names []string) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = Quote(n)
	}
	return strings.Join(out, ", ")
}

// IsToDo: it says what to do at the bench, not why.
func IsToDo(s string) bool {
	first, _, _ := strings.Cut(s, " ")
	return slices.Contains([]string{"read", "measure", "look", "unclip"}, first)
}

// IsSentence: it begins with a capital letter, a number or a quote, and ends with a
// full stop.
func IsSentence(s string) bool {
	r, _ := utf8.DecodeRuneInString(s)
	return !unicode.IsLower(r) && strings.HasSuffix(s, ".")
}

// inside is a sentence as it stands behind another's beginning: "in the deck: one is
// dark".
func inside(s string) string {
	if strings.HasPrefix(s, "LED") || strings.HasPrefix(s, "E12") {
		return s
	}
	return withFirst(s, unicode.ToLower)
}

func withFirst(s string, f func(rune) rune) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(f(r)) + s[n:]
}

// small are the counts that a sentence says in words.
var small = []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
	"twelve"}

// Count says a number as one reads it aloud: "six", "14".
func Count(n int) string {
	if n >= 0 && n < len(small) {
		return small[n]
	}
	return fmt.Sprint(n)
}

// Lights says what a light of the plan is, with its count: "the 6 segments of strip
// warm white 12 V".
func Lights(l plan.Light) string {
	switch l.Kind {
	case plan.Strip:
		if l.Branches() == 1 {
			return l.Part
		}
		return fmt.Sprintf("the %d segments of %s", l.Branches(), l.Part)
	case plan.SMD:
		if l.Count == 1 {
			return l.Part
		}
		return fmt.Sprintf("the %d pieces of %s", l.Count, l.Part)
	case plan.LEDs:
		if l.Count > 1 {
			return fmt.Sprintf("the %d %s%s", l.Count, rowsOf(len(l.Series)), branchOf(l))
		}
		return branchOf(l)
	}
	return l.Part
}

// branchOf says what one branch of LEDs is made of.
func branchOf(l plan.Light) string {
	s := l.Part
	if s == "" {
		var names []string
		for _, x := range l.Series {
			names = append(names, x.Part)
		}
		s = strings.Join(names, " + ")
	}
	if l.Ohms.Nominal > 0 {
		s += fmt.Sprintf(" with %g ohm", l.Ohms.Nominal)
	}
	return s
}

// Branches names so many branches of a light: "one segment of strip warm white 12 V", "two
// rows of three white 3 mm".
func Branches(l plan.Light, n int) string {
	one, more := "", "pieces of "
	switch {
	case l.Kind == plan.Strip:
		one, more = "segment of ", "segments of "
	case len(l.Series) > 1:
		one, more = rowOf(len(l.Series)), rowsOf(len(l.Series))
	}
	if n > 1 {
		one = more
	}
	return Count(n) + " " + one + l.Part
}

// rowOf and rowsOf name branches of so many LEDs in series as a maker sees them: LEDs, not branches.
func rowOf(leds int) string {
	switch leds {
	case 0, 1:
		return ""
	case 2:
		return "pair of "
	}
	return "row of " + Count(leds) + " "
}

func rowsOf(leds int) string {
	switch leds {
	case 0, 1:
		return "pieces of "
	case 2:
		return "pairs of "
	}
	return "rows of " + Count(leds) + " "
}

// oneOf says that it is a single one of what may be several.
func oneOf(what string) string {
	if strings.HasPrefix(what, "the ") {
		return "one of " + what
	}
	return "the " + what
}
