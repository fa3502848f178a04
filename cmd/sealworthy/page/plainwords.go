package page

import (
	"regexp"
	"strings"

	"sealworthy/compare/words"
)

// The findings and what else is said come in the words of all faces, some with the command that does what they say.
// Whoever reads a page has buttons for that, and may never have seen a command line.

// inOwnWords are what a page says otherwise.
var inOwnWords = strings.NewReplacer(
	words.NextSays, "measure what tells most of what is in doubt",
	", sealworthy measure BUILD --rework PLACE,", "",
	"; the rest as it was said today: sealworthy help care", "; the rest stands on the page of the build",
	"; then sealworthy measure BUILD --tick", "; then tick it: sealworthy measure BUILD --tick",
)

// command is the program's name with a verb behind it, and what is said to it; with the sign before it, without which
// it may be a name of the maker's own.
var command = regexp.MustCompile(`[:;,] sealworthy (?:bench|check|compare|help|keep|measure|next|part|ports|return|` +
	`sheet|soak)\b(?: (?:[A-Z]{4,}\b|--[a-z-]+(?:[ =](?:` + quotedText + `|[^\s<.,;:]+))?))*(?: shows it| says which)?`)

// quotedText is a text in quotes, as it's written in a page, or not.
const quotedText = `&#34;.*?&#34;|"[^"]*"`

// seen is the command that tells what was seen: a page has its looks for that, with a field for it.
var seen = regexp.MustCompile(`: sealworthy measure BUILD --seen (` + quotedText + `)`)

// flag is the one that is named alone, with the sign before it.
var flag = regexp.MustCompile(`[:;,] --room\b`)

// here says something without the command that does it.
func here(s string) string {
	if !strings.Contains(s, "sealworthy ") && !strings.Contains(s, " --") {
		return s
	}
	s = seen.ReplaceAllString(inOwnWords.Replace(s), " at a look, in your own words: $1")
	s = command.ReplaceAllString(s, "")
	return flag.ReplaceAllString(s, "")
}
