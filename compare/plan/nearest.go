package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// distance counts the single-letter changes between two words; swapped
// neighbours count once (optimal string alignment).
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	if len(x) > 80 {
		x = x[:80]
	}
	var before []int
	last := make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(x); i++ {
		row := make([]int, len(y)+1)
		row[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last = last, row
	}
	return last[len(y)]
}

// unlike is how far a written name is from a known one: by letters, or with its
// words in another order.
func unlike(written, known string) int {
	w, k := strings.ToLower(written), strings.ToLower(known)
	return min(distance(w, k), 1+distance(sortedWords(w), sortedWords(k)))
}

func sortedWords(s string) string {
	w := strings.Fields(strings.Map(func(r rune) rune {
		if r == '_' || r == '-' {
			return ' '
		}
		return r
	}, s))
	slices.Sort(w)
	return strings.Join(w, " ")
}

// nearest returns the known name that the written one probably means, or "".
func nearest(written string, known []string) string {
	best, at := "", 1+max(1, min(len([]rune(written))*2/5, 6))
	for _, k := range known {
		if d := unlike(written, k); d < at {
			best, at = k, d
		}
	}
	return best
}

// closest returns up to n known names, the likeliest first: those that hold most of
// the written words, and fewest others; among equals those with the likest letters.
func closest(written string, known []string, n int) []string {
	type scored struct {
		name          string
		missing, more int
	}
	var all []scored
	for _, k := range known {
		missing, more := wordsApart(written, k)
		all = append(all, scored{k, missing, more})
	}
	slices.SortStableFunc(all, func(a, b scored) int {
		return cmp.Or(a.missing-b.missing, a.more-b.more, unlike(written, a.name)-unlike(written, b.name))
	})
	var out []string
	for _, s := range all[:min(n, len(all))] {
		out = append(out, s.name)
	}
	return out
}

// emptyWords say nothing of which part is meant.
var emptyWords = []string{"led", "leds", "light", "lights", "lamp", "the", "a", "of", "with", "and"}

// sameWord holds words of makers for one thing.
var sameWord = map[string]string{"cool": "cold", "orange": "amber", "tape": "strip", "ribbon": "strip",
	"strips":  "strip",
	"flasher": "blinker", "flash": "blinker", "prewired": "smd", "chip": "smd", "soft": "warm", "ww": "warm",
	"cw": "cold"}

// partWords are the words that tell a part from others; a number and its unit are
// one, however they were written: "12 V", "12V".
func partWords(name string) []string {
	var out []string
	for _, w := range strings.FieldsFunc(strings.ToLower(name),
		func(r rune) bool { return strings.ContainsRune(" _-,\t", r) }) {
		if other, ok := sameWord[w]; ok {
			w = other
		}
		last := len(out) - 1
		switch {
		case slices.Contains(emptyWords, w):
		case last >= 0 && isNumber(out[last]) && (w == "v" || w == "mm"):
			out[last] += w
		default:
			out = append(out, w)
		}
	}
	return out
}

func isNumber(w string) bool {
	_, err := strconv.ParseFloat(w, 64)
	return err == nil
}

// sameMeant: a word as it was written and one of a known name are the same, but for one
// letter in five or the unit of a number.
func sameMeant(written, known string) bool {
	if isNumber(written) {
		return known == written || known == written+"v" || known == written+"mm"
	}
	return written == known || distance(written, known) <= len([]rune(written))/5
}

// wordsApart counts the written words that a known name lacks, and its words that
// weren't written.
func wordsApart(written, known string) (missing, more int) {
	left := partWords(known)
	for _, w := range partWords(written) {
		i := slices.IndexFunc(left, func(k string) bool { return sameMeant(w, k) })
		if i < 0 {
			missing++
			continue
		}
		left = slices.Delete(left, i, i+1)
	}
	return missing, len(left)
}

// byWords are the known names that hold every word that was written, where few do.
func byWords(written string, known []string) []string {
	if len(partWords(written)) == 0 {
		return nil
	}
	fewest := math.MaxInt
	var out []string
	for _, k := range known {
		missing, more := wordsApart(written, k)
		if missing > 0 || more > fewest {
			continue
		}
		if more < fewest {
			fewest, out = more, nil
		}
		out = append(out, k)
	}
	return out
}

// suggest says what to write in place of an unknown name. What is a plural:
// "joints", "keys".
func suggest(written string, known []string, what string) string {
	n := nearest(written, known)
	same := byWords(written, known)
	switch {
	case n != "" && (len(same) == 0 || distance(strings.ToLower(n), strings.ToLower(written)) == 1):
		return fmt.Sprintf("write %q", n) // a slip of the keys
	case len(same) == 1:
		return fmt.Sprintf("write %q", same[0])
	case len(same) > 1 && len(same) <= mostChoices:
		return "write one of " + quoted(same)
	case n != "":
		return fmt.Sprintf("write %q", n)
	case len(known) == 0:
		return "there are no " + what + " yet"
	case len(known) > 24:
		return fmt.Sprintf("some known %s: %s", what, quoted(closest(written, known, 8)))
	}
	return fmt.Sprintf("known %s: %s", what, quoted(known))
}

// mostChoices is how many names a maker is offered to choose from.
const mostChoices = 4

func quoted(names []string) string {
	q := make([]string, len(names))
	for i, n := range names {
		q[i] = fmt.Sprintf("%q", n)
	}
	return strings.Join(q, ", ")
}

// Nearest is the known word that a written one probably means, by letters or by the
// order of its words; "" where none is near.
func Nearest(written string, known []string) string { return nearest(written, known) }
