package look

import (
	"slices"
	"strconv"
	"strings"
	"unicode"

	"sealworthy/compare/plan"
)

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
		if len(w) < 3 || isOwnWord(w) {
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

// isOwnWord: a word that says what is wrong, or nothing, names no group by itself.
func isOwnWord(w string) bool {
	if slices.Contains(filler, w) || slices.Contains(colours, w) || numbers[w] > 0 {
		return true
	}
	return slices.ContainsFunc(ownWords, func(x struct {
		words string
		what  What
	}) bool {
		return slices.Contains(strings.Fields(x.words), w)
	})
}

// numbers takes how many, and of how many.
func (t tokens) numbers(c *clause) {
	number := func(w string) (int, bool) {
		if n, err := strconv.Atoi(w); err == nil && n > 0 && n < 10000 {
			return n, true
		}
		return numbers[w], numbers[w] > 0
	}
	for i, w := range t {
		n, ok := number(w)
		if w == "a" && i+1 < len(t) && (slices.Contains(filler, t[i+1]) && stem(t[i+1]) == t[i+1] && t[i+1] != "bit" &&
			t[i+1] != "little" || t[i+1] == "") {
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
	return slices.Contains(right, strings.TrimSpace(strings.Join(t[i:], " ")))
}

// of takes "of 6", "out of 6", "of the 6" and "in 6" behind a number, and the
// "of" of "two of the cabin windows".
func (t tokens) of(i int, c *clause, number func(string) (int, bool)) {
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
func (t tokens) what(c *clause) {
	longest := slices.Clone(ownWords)
	slices.SortStableFunc(longest, func(a, b struct {
		words string
		what  What
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
		if slices.Contains(colours, w) || (w == "instead" || w == "not") && len(says) > 0 || w == "of" &&
			len(says) > 0 && says[len(says)-1] == "instead" ||
			w == "should" && i+2 < len(t) && t[i+1] == "be" && slices.Contains(colours, t[i+2]) || w == "be" &&
			len(says) > 0 && says[len(says)-1] == "should" {
			says = append(says, w)
			t[i] = ""
		}
	}
	if len(says) > 0 {
		if c.What != "" && c.What != Colour {
			// Another thing beside the colour: it is asked what is meant.
			copy(t, says)
			return
		}
		c.What, c.Says = Colour, strings.Join(says, " ")
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
		case !slices.Contains(filler, w):
			return false
		}
	}
	return false
}
