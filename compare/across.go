package compare

import (
	"cmp"
	"slices"

	"sealworthy/compare/belief"
	"sealworthy/compare/words"
)

// across names what several groups have in common, as a bad joint upstream or a high
// return: in place of what each of them could have by itself, where it is likelier than all
// else, and beside it where it may be. rows are changed in place.
func across(rows map[string][]Finding, a belief.Above) {
	for name, fs := range rows {
		c, sure := a.Explains(name)
		var also []Cause
		for _, x := range a.Causes {
			if x.P >= leastP && x.Lack == sure && x.Reaches(name) {
				also = append(also, causeAbove(x))
			}
		}
		for i, f := range fs {
			switch {
			case f.Verdict != Low && f.Verdict != High && f.Verdict != CantTell:
			case sure:
				rows[name][i].common, rows[name][i].Causes = true, append([]Cause{causeAbove(c)}, also...)
			case f.evidence != nil:
				rows[name][i].above, rows[name][i].Causes = also, byP(f.Causes, also)
			}
		}
	}
}

// byP puts causes of a group and those above it in order.
func byP(own, above []Cause) []Cause {
	all := slices.Concat(own, above)
	slices.SortStableFunc(all, func(x, y Cause) int { return -cmp.Compare(x.P, y.P) })
	return all
}

// causeAbove says what groups have in common as a cause of each of them.
func causeAbove(c belief.Shared) Cause {
	text, look := words.InCommon(c.Common)
	if look != "" {
		text += " " + look
	}
	var names []string
	for _, s := range c.Spots {
		names = append(names, s.Name)
	}
	return Cause{Name: string(c.Kind), Text: text, P: round2(c.P), Place: list(names), Places: names}
}
