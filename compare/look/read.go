package look

import (
	"fmt"
	"slices"
	"strings"

	"sealworthy/compare/plan"
)

// ownWords are the words that people use for each, longest first where one
// begins another (common use, no source).
var ownWords = []struct {
	words string
	what  What
}{
	{"in the wrong place", Place}, {"wrong place", Place}, {"wrong window", Place}, {"wrong hole", Place},
	{"wrong side", Place},
	{"in the wrong window", Place}, {"swapped", Place}, {"misplaced", Place},
	{"wrong colour", Colour}, {"wrong color", Colour}, {"off colour", Colour}, {"off color", Colour},
	{"not seen", NotSeen}, {"can't see", NotSeen}, {"cannot see", NotSeen}, {"can not see", NotSeen},
	{"couldn't see", NotSeen},
	{"can't be seen", NotSeen}, {"cannot be seen", NotSeen}, {"not visible", NotSeen}, {"invisible", NotSeen},
	{"hidden", NotSeen},
	{"not lit", Dark}, {"not on", Dark}, {"not lighting", Dark}, {"doesn't light", Dark}, {"don't light", Dark},
	{"does not light", Dark},
	{"do not light", Dark}, {"isn't lit", Dark}, {"aren't lit", Dark}, {"isn't on", Dark}, {"aren't on", Dark},
	{"stays dark", Dark}, {"stay dark", Dark},
	{"dark", Dark}, {"out", Dark}, {"off", Dark}, {"dead", Dark}, {"unlit", Dark}, {"gone", Dark},
	{"too dim", Dim}, {"too weak", Dim}, {"too faint", Dim}, {"dim", Dim}, {"dimmer", Dim}, {"dimly", Dim},
	{"weak", Dim}, {"weaker", Dim},
	{"faint", Dim}, {"darker", Dim},
	{"flicker", Flickers}, {"flickers", Flickers}, {"flickering", Flickers}, {"flickery", Flickers},
	{"unsteady", Flickers},
	{"comes and goes", Flickers}, {"come and go", Flickers}, {"on and off", Flickers},
}

// colours are colours of lights.
var colours = []string{"red", "green", "blue", "white", "yellow", "amber", "orange", "pink", "violet", "purple",
	"warm", "cold", "cool"}

// filler are words that change nothing of what is said.
var filler = []string{"the", "is", "are", "was", "were", "it", "its", "it's", "be", "look", "looks", "looked", "seem",
	"seems", "appear", "appears", "there", "there's",
	"light", "lights", "lamp", "lamps", "led", "leds", "segment", "segments", "bulb", "bulbs", "window", "windows",
	"porthole", "portholes", "piece", "pieces",
	"them", "these", "those", "they", "just", "quite", "rather", "a", "bit", "little", "very", "completely", "totally",
	"has", "have", "got", "went", "gone", "in", "at", "on", "with", "my"}

// notJudged stands behind Right in RightNoColours.
var notJudged = strings.TrimPrefix(RightNoColours, Right+", ")

// right are the words that pass a look: no others, so that none passes by a
// manner of speaking.
var right = []string{Right}

var numbers = map[string]int{"one": 1, "two": 2, "both": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7,
	"eight": 8, "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "single": 1}

// clause is one thing that was said of one group.
type clause struct {
	Group string
	What  What // "" with Right false: not understood
	Right bool // it is as it should be
	Count int  // how many; 0 with All: all of them
	All   bool
	Of    int    // of so many; 0: not said
	Says  string // the colours, as they were said
	Rest  string // what was not understood; empty: nothing
}

// whole: nothing of it is left to be asked.
func (c clause) whole() bool { return c.Group != "" && c.Rest == "" && (c.Right || c.What != "") }

// Words is how a look is kept: Parse reads it.
func (c clause) Words() string {
	switch {
	case c.Right:
		return Right
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

// Understood is what was made of what a maker typed.
type Understood struct {
	Seen  []GroupSeen // what was said, group by group
	Whole bool        // nothing of it was left over: a group, how many, what
	Text  string      // the same in plain words; empty: nothing was understood
}

// GroupSeen is what was seen of one group.
type GroupSeen struct {
	Group, Words string // the words are as the maker said them
}

// Read understands what was typed at a look at groups that were lit
// together. What isn't understood whole keeps the maker's own words.
func Read(typed string, groups []plan.Group) Understood {
	var u Understood
	u.Whole = true
	last := ""
	for _, text := range clauses(typed) {
		if n := len(u.Seen) - 1; n >= 0 {
			if words, more, ok := behindRight(u.Seen[n].Words, text); ok {
				u.Seen[n].Words, u.Text = words, u.Text+", "+more
				continue
			}
		}
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
		if i := slices.IndexFunc(u.Seen, func(x GroupSeen) bool { return x.Group == c.Group }); i >= 0 {
			if u.Seen[i].Words == Right || words == Right {
				u.Whole = false // it can't be both
			}
			u.Seen[i].Words += " and " + words
		} else {
			u.Seen = append(u.Seen, GroupSeen{Group: c.Group, Words: words})
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

// behindRight is what stands for said where text follows it of the same group, see rightly. more is the same as it
// was typed.
func behindRight(said, text string) (words, more string, ok bool) {
	l, ok := rightly(said)
	if !ok || !l.add(text) {
		return "", "", false
	}
	return l.rightWords(), strings.ToLower(strings.TrimSpace(text)), true
}

// asTyped keeps words that weren't understood, so that nothing takes them for
// all right.
func asTyped(text, group string) string {
	text = strings.TrimSpace(text)
	if name, rest, ok := strings.Cut(text, ":"); ok && strings.EqualFold(strings.TrimSpace(name), group) {
		text = strings.TrimSpace(rest)
	}
	if text == "" || Parse(text, plan.Group{}).Saw == AllLit {
		return "not clear: " + text
	}
	return text
}

// clauses parts what was typed where one thing ends: at commas and the like, and
// at an "and" behind which a group or another fault begins.
func clauses(typed string) []string {
	var out []string
	for _, part := range strings.FieldsFunc(typed, func(r rune) bool {
		return r == ';' || r == ',' || r == '\n' ||
			r == '!'
	}) {
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
	for _, x := range ownWords {
		if i, _ := t.find(x.words); i >= 0 {
			return true
		}
	}
	return slices.ContainsFunc(colours, func(c string) bool { i, _ := t.find(c); return i >= 0 }) ||
		slices.ContainsFunc(right, func(c string) bool { i, _ := t.find(c); return i >= 0 })
}

// readClause understands one thing said. last is the group of the one before it:
// what names none goes on about that, or about the only one that is lit.
func readClause(text string, groups []plan.Group, last string) clause {
	t := tokensOf(text)
	c := clause{}
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
	for _, r := range right {
		if t.left() == r {
			c.Right = c.Count == 0 && !c.All && c.Of == 0
			if !c.Right {
				c.Rest = t.left()
			}
			return c
		}
	}
	t.what(&c)
	t.drop(filler)
	c.Rest = t.left()
	if c.What != "" && c.Count == 0 && !c.All && c.Rest == "" {
		c.All = true
	}
	lights := HowMany(g)
	if n := max(c.Count, c.Of); lights > 0 && n > lights || c.Of > 0 && c.Count > c.Of {
		c.Rest = strings.TrimSpace(fmt.Sprintf("%d, where the plan has %d", n, lights))
	}
	return c
}
