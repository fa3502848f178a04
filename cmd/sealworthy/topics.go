package main

import (
	"embed"
	"fmt"
	"io"
	"path"
	"regexp"
	"strings"
)

// Topics are the program's own manual: a text each, shown by "sealworthy help TOPIC".
// Paragraphs are folded to the width; lines that begin with blanks stay as they are.
//
//go:embed topics/*.txt
var topicFiles embed.FS

// topicOrder is that of the list of help, with a word on each.
var topicOrder = []struct{ name, says string }{
	{"install", "getting it onto a computer, and checking that it came whole"},
	{"bench", "supply, meter, relays, and what if there is no port"},
	{"test", "the power-on test, looks, and what is told without one"},
	{"tablet", "the page on a tablet or a helper's phone, and what its browser says"},
	{"verdicts", "what the verdicts mean, and how sure they are"},
	{"record", "what is kept, and how it is known to be whole"},
	{"return", "when it leaves, and when it comes back"},
	{"rig", "a simulated bench to practise on"},
	{"care", "what can hurt you or the model"},
}

// topic is the text of a topic; false: there is none of that name.
func topic(name string) (string, bool) {
	src, err := topicFiles.ReadFile(path.Join("topics", name+".txt"))
	return strings.ReplaceAll(string(src), "\r\n", "\n"), err == nil
}

// topicNames are all topics, in their order.
func topicNames() []string {
	var out []string
	for _, t := range topicOrder {
		out = append(out, t.name)
	}
	return out
}

// inTwoColumns is a line of a list: what is told, and what is told of it.
var inTwoColumns = regexp.MustCompile(`^(  +\S.*?)   *(\S.*)$`)

// sayEntry writes a line that is laid out, folded where the terminal is narrower than it.
func sayEntry(w io.Writer, l string) {
	m := inTwoColumns.FindStringSubmatch(l)
	if columns(l) <= columnsOf(w) || m == nil || strings.Contains(m[2], "   ") {
		fmt.Fprintln(w, l)
		return
	}
	wrap(w, m[1]+"  ", "      ", m[2])
}

// sayTopic writes a topic within the width. Of a list in two columns that is wider than the
// terminal each entry is folded.
func sayTopic(w io.Writer, text string) {
	var open []string // of the paragraph, or the point of a list
	flush := func() {
		if len(open) > 0 {
			next := ""
			if strings.HasPrefix(open[0], "- ") {
				next = "  "
			}
			wrap(w, "", next, strings.Join(open, " "))
		}
		open = nil
	}
	for _, l := range strings.Split(strings.TrimRight(text, "\n"), "\n") {
		switch point := strings.HasPrefix(l, "- "); {
		case l == "":
			flush()
			fmt.Fprintln(w)
		case strings.HasPrefix(l, "  ") && (len(open) == 0 || !strings.HasPrefix(open[0], "- ")):
			flush()
			sayEntry(w, l)
		case point:
			flush()
			open = []string{l}
		default:
			open = append(open, strings.TrimSpace(l))
		}
	}
	flush()
}
