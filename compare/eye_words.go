package compare

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// EyeWhat is what is wrong with lights, as the eye sees it. The zero EyeWhat is
// nothing that was understood.
type EyeWhat string

// What the eye tells.
const (
	EyeDark     EyeWhat = "dark"
	EyeDim      EyeWhat = "dim"
	EyeFlickers EyeWhat = "flickers"
	EyeColour   EyeWhat = "wrong colour"
	EyePlace    EyeWhat = "wrong place"
	EyeNotSeen  EyeWhat = "not seen"
)

// eyeWords are the words that people use for each, longest first where one
// begins another (common use, no source).
var eyeWords = []struct {
	words string
	what  EyeWhat
}{
	{"in the wrong place", EyePlace}, {"wrong place", EyePlace}, {"wrong window", EyePlace}, {"wrong hole", EyePlace}, {"wrong side", EyePlace},
	{"in the wrong window", EyePlace}, {"swapped", EyePlace}, {"misplaced", EyePlace},
	{"wrong colour", EyeColour}, {"wrong color", EyeColour}, {"off colour", EyeColour}, {"off color", EyeColour},
	{"not seen", EyeNotSeen}, {"can't see", EyeNotSeen}, {"cannot see", EyeNotSeen}, {"can not see", EyeNotSeen}, {"couldn't see", EyeNotSeen},
	{"can't be seen", EyeNotSeen}, {"cannot be seen", EyeNotSeen}, {"not visible", EyeNotSeen}, {"invisible", EyeNotSeen}, {"hidden", EyeNotSeen},
	{"not lit", EyeDark}, {"not on", EyeDark}, {"not lighting", EyeDark}, {"doesn't light", EyeDark}, {"don't light", EyeDark}, {"does not light", EyeDark},
	{"do not light", EyeDark}, {"isn't lit", EyeDark}, {"aren't lit", EyeDark}, {"isn't on", EyeDark}, {"aren't on", EyeDark}, {"stays dark", EyeDark}, {"stay dark", EyeDark},
	{"dark", EyeDark}, {"out", EyeDark}, {"off", EyeDark}, {"dead", EyeDark}, {"unlit", EyeDark}, {"gone", EyeDark},
	{"too dim", EyeDim}, {"too weak", EyeDim}, {"too faint", EyeDim}, {"dim", EyeDim}, {"dimmer", EyeDim}, {"dimly", EyeDim}, {"weak", EyeDim}, {"weaker", EyeDim},
	{"faint", EyeDim}, {"darker", EyeDim},
	{"flicker", EyeFlickers}, {"flickers", EyeFlickers}, {"flickering", EyeFlickers}, {"flickery", EyeFlickers}, {"unsteady", EyeFlickers},
	{"comes and goes", EyeFlickers}, {"come and go", EyeFlickers}, {"on and off", EyeFlickers},
}

// eyeColours are colours of lights.
var eyeColours = []string{"red", "green", "blue", "white", "yellow", "amber", "orange", "pink", "violet", "purple", "warm", "cold", "cool"}

// eyeFiller are words that change nothing of what is said.
var eyeFiller = []string{"the", "is", "are", "was", "were", "it", "its", "it's", "be", "look", "looks", "looked", "seem", "seems", "appear", "appears", "there", "there's",
	"light", "lights", "lamp", "lamps", "led", "leds", "segment", "segments", "bulb", "bulbs", "window", "windows", "porthole", "portholes", "piece", "pieces",
	"them", "these", "those", "they", "just", "quite", "rather", "a", "bit", "little", "very", "completely", "totally", "has", "have", "got", "went", "gone", "in", "at", "on", "with", "my"}

// eyeRight are the words that pass a look: no others, so that none passes by a
// manner of speaking.
var eyeRight = []string{SeenRight}

var eyeNumbers = map[string]int{"one": 1, "two": 2, "both": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "single": 1}

// EyeClause is one thing that was said of one group.
type EyeClause struct {
	Group string
	What  EyeWhat // "" with Right false: not understood
	Right bool    // it is as it should be
	Count int     // how many; 0 with All: all of them
	All   bool
	Of    int    // of so many; 0: not said
	Says  string // the colours, as they were said
	Rest  string // what was not understood; empty: nothing
}

// whole: nothing of it is left to be asked.
func (c EyeClause) whole() bool { return c.Group != "" && c.Rest == "" && (c.Right || c.What != "") }

// Words is how a look is kept: EyeOf reads it.
func (c EyeClause) Words() string {
	switch {
	case c.Right:
		return SeenRight
	case c.What == "":
		return c.Rest
	}
	what := string(c.What)
	if c.Says != "" {
		what += " (" + c.Says + ")"
	}
	switch {
	case c.All && c.Of == 0:
		return "all " + what
	case c.All:
		return fmt.Sprintf("%d of %d %s", c.Of, c.Of, what)
	case c.Of > 0:
		return fmt.Sprintf("%d of %d %s", c.Count, c.Of, what)
	case c.Count == 0:
		return what
	}
	return fmt.Sprintf("%d %s", c.Count, what)
}

// ReadLook understands what was typed at a look at groups that were lit
// together. What isn't understood whole keeps the maker's own words.
func ReadLook(typed string, groups []plan.Group) capture.Understood {
	var u capture.Understood
	u.Whole = true
	last := ""
	for _, text := range clauses(typed, groups) {
		c := readClause(text, groups, last)
		last = c.Group
		u.Whole = u.Whole && c.whole()
		if c.Group == "" {
			continue
		}
		words := c.Words()
		if !c.whole() && !c.Right {
			words = asTyped(text, c.Group)
		}
		if i := slices.IndexFunc(u.Seen, func(x capture.GroupSeen) bool { return x.Group == c.Group }); i >= 0 {
			if u.Seen[i].Words == SeenRight || words == SeenRight {
				u.Whole = false // it can't be both
			}
			u.Seen[i].Words += " and " + words
		} else {
			u.Seen = append(u.Seen, capture.GroupSeen{Group: c.Group, Words: words})
		}
		if c.What != "" || c.Right {
			if u.Text != "" {
				u.Text += ", "
			}
			u.Text += c.Group + ": " + c.Words()
		}
	}
	for i := range u.Seen {
		u.Seen[i].Words = strings.NewReplacer(";", ",", "\n", " ").Replace(u.Seen[i].Words)
	}
	if len(u.Seen) == 0 {
		u.Whole = false
	}
	return u
}

// asTyped keeps words that weren't understood, so that nothing takes them for
// all right.
func asTyped(text, group string) string {
	text = strings.TrimSpace(text)
	if name, rest, ok := strings.Cut(text, ":"); ok && strings.EqualFold(strings.TrimSpace(name), group) {
		text = strings.TrimSpace(rest)
	}
	if text == "" || EyeOf(text, plan.Group{}).AllLit() {
		return "not clear: " + text
	}
	return text
}

// clauses parts what was typed where one thing ends: at commas and the like, and
// at an "and" behind which a group or another fault begins.
func clauses(typed string, groups []plan.Group) []string {
	var out []string
	for _, part := range strings.FieldsFunc(typed, func(r rune) bool { return r == ';' || r == ',' || r == '\n' || r == '!' }) {
		words := strings.Fields(part)
		from := 0
		for i, w := range words {
			if lower := strings.ToLower(w); i > from && (lower == "and" || lower == "but") &&
				saysWhat(words[from:i]) && saysWhat(words[i+1:]) {
				out = append(out, strings.Join(words[from:i], " "))
				from = i + 1
			}
		}
		if rest := strings.Join(words[from:], " "); rest != "" {
			out = append(out, rest)
		}
	}
	return out
}

// saysWhat: something wrong, or right, is in the words.
func saysWhat(words []string) bool {
	t := tokensOf(strings.Join(words, " "))
	for _, x := range eyeWords {
		if i, _ := t.find(x.words); i >= 0 {
			return true
		}
	}
	return slices.ContainsFunc(eyeColours, func(c string) bool { i, _ := t.find(c); return i >= 0 }) ||
		slices.ContainsFunc(eyeRight, func(c string) bool { i, _ := t.find(c); return i >= 0 })
}

// readClause understands one thing said. last is the group of the one before it:
// what names none goes on about that, or about the only one that is lit.
func readClause(text string, groups []plan.Group, last string) EyeClause {
	t := tokensOf(text)
	c := EyeClause{}
	g, ok := t.group(groups)
	switch {
	case ok:
		c.Group = g.Name
	case last != "":
		c.Group = last
	case len(groups) == 1:
		c.Group = groups[0].Name
	}
	if i := slices.IndexFunc(groups, func(x plan.Group) bool { return x.Name == c.Group }); i >= 0 {
		g = groups[i]
	}
	t.numbers(&c)
	for _, r := range eyeRight {
		if t.left() == r {
			c.Right = c.Count == 0 && !c.All && c.Of == 0
			if !c.Right {
				c.Rest = t.left()
			}
			return c
		}
	}
	t.what(&c)
	t.drop(eyeFiller)
	c.Rest = t.left()
	if c.What != "" && c.Count == 0 && !c.All && c.Rest == "" {
		c.All = true
	}
	lights := lightsOf(g)
	if n := max(c.Count, c.Of); lights > 0 && n > lights || c.Of > 0 && c.Count > c.Of {
		c.Rest = strings.TrimSpace(fmt.Sprintf("%d, where the plan has %d", n, lights))
	}
	return c
}

// tokens are the words of a clause; a taken one is empty.
type tokens []string

func tokensOf(s string) tokens {
	s = strings.NewReplacer("’", "'", "\u00a0", " ").Replace(strings.ToLower(s))
	return strings.FieldsFunc(s, func(r rune) bool {
		return unicode.IsSpace(r) || strings.ContainsRune(":,.?\"()/-", r)
	})
}

// left is what was not taken.
func (t tokens) left() string {
	return strings.Join(slices.DeleteFunc(slices.Clone(t), func(s string) bool { return s == "" }), " ")
}

// find gives where words stand next to each other; -1: nowhere.
func (t tokens) find(words string) (at, n int) {
	w := strings.Fields(words)
	for i := 0; i+len(w) <= len(t); i++ {
		if slices.Equal(t[i:i+len(w)], w) {
			return i, len(w)
		}
	}
	return -1, 0
}

func (t tokens) take(at, n int) {
	for i := at; i < at+n; i++ {
		t[i] = ""
	}
}

func (t tokens) drop(words []string) {
	for i, w := range t {
		if slices.Contains(words, w) {
			t[i] = ""
		}
	}
}

// stem leaves one and many alike.
func stem(w string) string { return strings.TrimSuffix(w, "s") }

// group finds which group is named, and takes its name out: the whole name, one
// or many of it, or a word that only one of these groups has in its name.
func (t tokens) group(groups []plan.Group) (plan.Group, bool) {
	for _, same := range []func(a, b string) bool{
		func(a, b string) bool { return a == b },
		func(a, b string) bool { return stem(a) == stem(b) },
	} {
		best, at, n := -1, 0, 0
		for k, g := range groups {
			name := tokensOf(g.Name)
			for i := 0; i+len(name) <= len(t) && len(name) > 0 && len(name) >= n; i++ {
				if !slices.EqualFunc(t[i:i+len(name)], name, same) {
					continue
				}
				if len(name) == n && best != k {
					return plan.Group{}, false // two are called so: which is meant?
				}
				best, at, n = k, i, len(name)
				break
			}
		}
		if best >= 0 {
			t.take(at, n)
			return groups[best], true
		}
	}
	for i, w := range t {
		if len(w) < 3 || isEyeWord(w) {
			continue
		}
		of := -1
		for k, g := range groups {
			if slices.ContainsFunc(tokensOf(g.Name), func(x string) bool { return stem(x) == stem(w) }) {
				if of >= 0 {
					of = -2
					break
				}
				of = k
			}
		}
		if of >= 0 {
			t.take(i, 1)
			return groups[of], true
		}
	}
	return plan.Group{}, false
}

// isEyeWord: a word that says what is wrong, or nothing, names no group by itself.
func isEyeWord(w string) bool {
	if slices.Contains(eyeFiller, w) || slices.Contains(eyeColours, w) || eyeNumbers[w] > 0 {
		return true
	}
	return slices.ContainsFunc(eyeWords, func(x struct {
		words string
		what  EyeWhat
	}) bool {
		return slices.Contains(strings.Fields(x.words), w)
	})
}

// numbers takes how many, and of how many.
func (t tokens) numbers(c *EyeClause) {
	number := func(w string) (int, bool) {
		if n, err := strconv.Atoi(w); err == nil && n > 0 && n < 10000 {
			return n, true
		}
		return eyeNumbers[w], eyeNumbers[w] > 0
	}
	for i, w := range t {
		n, ok := number(w)
		if w == "a" && i+1 < len(t) && (slices.Contains(eyeFiller, t[i+1]) && stem(t[i+1]) == t[i+1] && t[i+1] != "bit" && t[i+1] != "little" || t[i+1] == "") {
			n, ok = 1, true
		}
		switch {
		case w == "all" && c.Count == 0 && !t.beginsRight(i):
			c.All = true
			t.take(i, 1)
			t.of(i+1, c, number)
		case !ok:
		case c.Count == 0 && !c.All:
			c.Count = n
			t.take(i, 1)
			t.of(i+1, c, number)
		default:
			return // two numbers: what is meant isn't known
		}
	}
}

// beginsRight: "all" of "all right".
func (t tokens) beginsRight(i int) bool {
	return slices.Contains(eyeRight, strings.TrimSpace(strings.Join(t[i:], " ")))
}

// of takes "of 6", "out of 6", "of the 6" and "in 6" behind a number, and the
// "of" of "two of the cabin windows".
func (t tokens) of(i int, c *EyeClause, number func(string) (int, bool)) {
	from := i
	if i < len(t) && t[i] == "out" && i+1 < len(t) && t[i+1] == "of" {
		i++
	}
	if i >= len(t) || t[i] != "of" {
		return
	}
	i++
	for i < len(t) && (t[i] == "the" || t[i] == "these") {
		i++
	}
	if i < len(t) {
		if n, ok := number(t[i]); ok {
			c.Of = n
			t.take(from, i+1-from)
			return
		}
	}
	t.take(from, i-from)
}

// what takes what is wrong: one thing, or colours.
func (t tokens) what(c *EyeClause) {
	longest := slices.Clone(eyeWords)
	slices.SortStableFunc(longest, func(a, b struct {
		words string
		what  EyeWhat
	}) int {
		return len(strings.Fields(b.words)) - len(strings.Fields(a.words))
	})
	for _, x := range longest {
		at, n := t.find(x.words)
		if at < 0 || c.What != "" && c.What != x.what || t.negated(at) {
			continue
		}
		c.What = x.what
		t.take(at, n)
	}
	var says []string
	for i, w := range t {
		if slices.Contains(eyeColours, w) || (w == "instead" || w == "not") && len(says) > 0 || w == "of" && len(says) > 0 && says[len(says)-1] == "instead" ||
			w == "should" && i+2 < len(t) && t[i+1] == "be" && slices.Contains(eyeColours, t[i+2]) || w == "be" && len(says) > 0 && says[len(says)-1] == "should" {
			says = append(says, w)
			t[i] = ""
		}
	}
	if len(says) > 0 {
		if c.What != "" && c.What != EyeColour {
			// Another thing beside the colour: it is asked what is meant.
			copy(t, says)
			return
		}
		c.What, c.Says = EyeColour, strings.Join(says, " ")
	}
}

// negated: the word before says that it isn't so.
func (t tokens) negated(at int) bool {
	for i := at - 1; i >= 0; i-- {
		switch w := t[i]; {
		case w == "":
			return false
		case w == "not" || w == "no" || w == "none" || w == "never" || strings.HasSuffix(w, "n't"):
			return true
		case !slices.Contains(eyeFiller, w):
			return false
		}
	}
	return false
}
