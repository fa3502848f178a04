package look

import "strings"

// Of says what a look at groups tells of one of them: "all right" of all, or
// words by group: "cabin windows: 2 of 12 dark; port beacon: all right". A group
// that isn't named wasn't seen: "". Words that name none of the groups speak of
// all of them, or of those that aren't named beside them: a slip in a name must
// call no group right.
func Of(seen, group string, groups []string) string {
	if seen == Right {
		return Right
	}
	named, stray, of := false, false, ""
	for part := range strings.SplitSeq(seen, ";") {
		name, what, ok := NamedIn(part, groups)
		if !ok {
			stray = stray || strings.TrimSpace(part) != ""
			continue
		}
		named = true
		switch {
		case name != group:
		case what == "" && of == "":
			of = "not all right"
		case strings.EqualFold(what, Right):
			if of == "" {
				of = Right
			}
		case what != "" && (of == "" || of == Right): // said to be both, it isn't all right
			of = what
		}
	}
	switch {
	case of != "":
		return of
	case named && !stray:
		return ""
	}
	return seen
}

// NamedIn gives the group that a part of a look names, and what it says of it. A name
// may have a colon in it.
func NamedIn(part string, groups []string) (name, what string, ok bool) {
	part = strings.TrimSpace(part)
	for _, g := range groups {
		rest, begins := strings.CutPrefix(part, g)
		rest = strings.TrimSpace(rest)
		if begins && len(g) >= len(name) && (rest == "" || rest[0] == ':') {
			name, what, ok = g, strings.TrimSpace(strings.TrimPrefix(rest, ":")), true
		}
	}
	return name, what, ok
}
