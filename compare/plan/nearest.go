package plan

import (
	"fmt"
	"slices"
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

// closest returns up to n known names, the likeliest first.
func closest(written string, known []string, n int) []string {
	out := slices.Clone(known)
	slices.SortStableFunc(out, func(a, b string) int { return unlike(written, a) - unlike(written, b) })
	return out[:min(n, len(out))]
}

// suggest says what to write in place of an unknown name. What is a plural:
// "joints", "keys".
func suggest(written string, known []string, what string) string {
	if n := nearest(written, known); n != "" {
		return fmt.Sprintf("write %q", n)
	}
	switch {
	case len(known) == 0:
		return "there are no " + what + " yet"
	case len(known) > 24:
		return fmt.Sprintf("some known %s: %s", what, quoted(closest(written, known, 8)))
	}
	return fmt.Sprintf("known %s: %s", what, quoted(known))
}

func quoted(names []string) string {
	q := make([]string, len(names))
	for i, n := range names {
		q[i] = fmt.Sprintf("%q", n)
	}
	return strings.Join(q, ", ")
}
