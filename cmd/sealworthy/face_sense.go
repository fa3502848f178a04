package main

import (
	"fmt"
	"slices"

	"sealworthy/capture"
)

// senseAnswer reads what was typed while a clip is felt for, or after it. What has no
// key of its own names a feed; where what is on isn't known, Enter alone says nothing.
func senseAnswer(q capture.Question, s, word, rest string) (a capture.Answer, why string) {
	has := func(c string) bool { return slices.Contains(q.Choices, c) }
	switch {
	case s == "" && has("done"):
		return capture.Answer{Choice: "done"}, ""
	case s == "" && has("skip"):
		return capture.Answer{Choice: "sense"}, ""
	case s == "":
		return a, "Enter alone is no answer here: " + keys(q)
	case rest == "" && has("solder") && (word == "o" || word == "off" || word == "solder"):
		return capture.Answer{Choice: "solder"}, ""
	case rest == "" && has("sense") && (word == "f" || word == "feel"):
		return capture.Answer{Choice: "sense"}, ""
	case has("skip") && (word == "s" || word == "skip"):
		if rest == "" {
			return a, fmt.Sprintf("say why, too: %s REASON", word)
		}
		return capture.Answer{Choice: "skip", Text: rest}, ""
	case has("pick"):
		return capture.Answer{Choice: "pick", Text: s}, ""
	}
	return a, fmt.Sprintf("%q is no answer here: %s", s, keys(q))
}
