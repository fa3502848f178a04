package plan

import (
	"bytes"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"
)

var byteOrderMark = []byte("\xef\xbb\xbf")

// encoding reports, with true, text that no TOML reader can take. Editors on Windows write
// UTF-16 when asked for "Unicode".
func (s *source) encoding() bool {
	switch {
	case len(s.text) > maxPlanBytes:
		s.fail(0, "a plan is a few pages of text: is this the right file?", "the file is larger than 1 MiB")
	case bytes.HasPrefix(s.text, []byte{0xff, 0xfe}), bytes.HasPrefix(s.text, []byte{0xfe, 0xff}):
		s.fail(0, "save it again as UTF-8", "the file is UTF-16, not UTF-8")
	case !utf8.Valid(s.text):
		at := 0
		for at < len(s.text) {
			r, n := utf8.DecodeRune(s.text[at:])
			if r == utf8.RuneError && n <= 1 {
				break
			}
			at += n
		}
		s.fail(at, "save the file again as UTF-8", "a character that isn't UTF-8")
	default:
		return false
	}
	return true
}

// syntax reports what the TOML reader stumbled over, in a maker's words.
func (s *source) syntax(at int, said string) {
	line := s.line(s.place(at).Line)
	what, instead := s.inWords(at, said, line)
	s.fail(at, instead+"; the rest of the file is checked once this is right", "%s", what)
}

func (s *source) inWords(at int, said, line string) (what, instead string) {
	here := byte(0)
	if at < len(s.text) {
		here = s.text[at]
	}
	has := func(parts ...string) bool {
		for _, p := range parts {
			if strings.Contains(said, p) {
				return true
			}
		}
		return false
	}
	header := strings.HasPrefix(strings.TrimSpace(line), "[") && !strings.Contains(line, "=")
	switch {
	case strings.ContainsAny(line, "“”„‘’«»"):
		return "curly quotes", "write straight quotes: " + straightQuotes.Replace(shortened(strings.TrimSpace(line)))
	case header && quotedHeading(line) != "":
		return "a name with blanks in a heading", "write " + quotedHeading(line)
	case header && has("close", "character at start", "expected newline"):
		return "this heading can't be read",
			`write [joint.keel], quote a name that has blanks: [closure."lantern house"], and two brackets around ` +
				`group: [[group]]`
	case header:
		return said, "give it another name, or put both together"
	case s.commaNumber(at) != "":
		return "a comma in a number", "write a decimal point: " + s.commaNumber(at)
	case s.withUnit(at) != "":
		return "a number with something behind it", "write " + s.withUnit(at) + s.whyAlone(at)
	case answerWord(bareValue(s.valueAround(at))) != "":
		return "the words are true and false, in small letters", "write " + keyOf(s.valueAround(at)) + " = " +
			answerWord(bareValue(s.valueAround(at)))
	case colonFor.MatchString(line) && has("expected '='", "start of key"):
		m := colonFor.FindStringSubmatch(line)
		return "a colon where = belongs", "write " + m[1] + " = " + shortened(m[2])
	case has("at start of value", "expected keyword", "expected newline") && bareText(line) != "":
		if key, _, _ := s.valueAround(at); key == "lights" {
			return "text without quotes", lightsHint
		}
		return "text without quotes", fmt.Sprintf("write %q with straight quotes around it", bareText(line))
	case has("at start of value") && bareWord.MatchString(bareValue(s.valueAround(at))):
		return "text without quotes", fmt.Sprintf("write %s = %q", keyOf(s.valueAround(at)),
			bareValue(s.valueAround(at)))
	case here == '.' && has("at start of value"):
		return "a number that begins with its point", "write a nought before the point: 0.2"
	case has("expected newline") && unit(s.text, at):
		return "a number with something behind it",
			"write the number alone, without a unit: 12.0; the unit is in the key's name"
	case has("array is incomplete", "inline table is incomplete"):
		return "a bracket isn't closed", "close it with ] or }"
	case has("expected ',' or"):
		return "something is missing between two values",
			`put a comma between them, a decimal point in numbers, and text in quotes`
	case has("expected value, not end of input", "at start of value") &&
		(here == '\n' || here == '\r' || at >= len(s.text)-1):
		return "the value is missing", "write a value after the ="
	case has("at start of value", "expected keyword", "expected newline", "number", "date", "leading"):
		return "this value can't be read (" + said + ")",
			`put text in quotes ("keel"), write numbers with a point and without a unit (0.2), and true or false in ` +
				`small letters`
	case has("expected '='"):
		return "there is no = after the name", "write name = value; a name of several words needs quotes"
	case has("start of key"):
		return "a name can't begin like this", `write name = value, with quotes around a name of several words`
	case has("string", "escape", "control", "terminated"):
		return "this text can't be read (" + said + ")",
			`end it with a straight quote on the same line, and write no backslash`
	}
	return said, "write name = value, one on a line"
}

// valueAround is the key and the value, as written, of what stands at a place: back to
// the = before it, on to the comma, bracket or remark behind it.
func (s *source) valueAround(at int) (key, text string, from int) {
	start := bytes.LastIndexByte(s.text[:min(at, len(s.text))], '\n') + 1
	eq := bytes.LastIndexByte(s.text[start:min(at+1, len(s.text))], '=')
	if eq < 0 {
		return "", "", 0
	}
	eq += start
	words := strings.FieldsFunc(string(s.text[start:eq]),
		func(r rune) bool { return strings.ContainsRune(" \t{[,", r) })
	if len(words) > 0 {
		key = words[len(words)-1]
	}
	rest := s.text[eq+1:]
	if i := bytes.IndexAny(rest, ",]}#\r\n"); i >= 0 {
		rest = rest[:i]
	}
	return key, strings.TrimSpace(string(rest)), eq + 1
}

// commaNumber is "duty = 0.9" where duty = 0,9 stands around a place; else "".
func (s *source) commaNumber(at int) string {
	// The reader stumbles at the comma, or at what it takes for a key behind it.
	for _, near := range []int{at, at - 1, at - 2} {
		if near < 0 {
			break
		}
		key, _, from := s.valueAround(near)
		if m := commaDigits.FindSubmatch(s.text[min(from, len(s.text)):]); key != "" && m != nil &&
			from+len(m[0]) >= at {
			return fmt.Sprintf("%s = %s.%s", key, m[1], m[2])
		}
	}
	return ""
}

var commaDigits = regexp.MustCompile(`^[ \t]*(\d+),(\d+)[^\d=]`)

// withUnit is "ohms = 4700" where ohms = 4k7 stands around a place; else "".
func (s *source) withUnit(at int) string {
	key, text, _ := s.valueAround(at)
	if n, ok := numberFor(key, text); ok && key != "" {
		if _, err := strconv.ParseFloat(text, 64); err != nil {
			return key + " = " + n
		}
	}
	return ""
}

// whyAlone says why the number stands alone.
func (s *source) whyAlone(at int) string {
	if strings.HasSuffix(strings.TrimSpace(bareValue(s.valueAround(at))), "%") {
		return ", a share of 1 and no %"
	}
	return ", the number alone: the unit is in the key's name"
}

func bareValue(_, text string, _ int) string { return text }
func keyOf(key, _ string, _ int) string      { return key }

var (
	straightQuotes = strings.NewReplacer("“", `"`, "”", `"`, "„", `"`, "«", `"`, "»", `"`, "‘", `"`, "’", `"`)
	colonFor       = regexp.MustCompile(`^\s*([A-Za-z][A-Za-z0-9_]*)\s*:\s*(.*\S)\s*$`)
	bareWord       = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9 .-]*$`)
	looseHeading   = regexp.MustCompile(`^\s*\[\s*([a-z]+)\.([^"'\[\]]*\s[^"'\[\]]*?)\s*\]`)
)

// quotedHeading is a heading with its name in quotes, where it has blanks and none.
func quotedHeading(line string) string {
	m := looseHeading.FindStringSubmatch(line)
	if m == nil {
		return ""
	}
	return fmt.Sprintf("[%s.%s]", m[1], tomlText(strings.TrimSpace(m[2])))
}

// shortened keeps a line that is repeated in a remedy from filling the screen.
func shortened(s string) string {
	const most = 60
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + " …"
	}
	return s
}

// commaSlip is a list with points in its numbers, where it holds pairs like "11,4"
// with blanks behind every other comma only: two numbers for one. "" where it's sound.
func (s *source) commaSlip(list *node) string {
	n := len(list.items)
	if n < 2 || n%2 != 0 || list.items[n-1].end <= list.at {
		return ""
	}
	text := string(s.text[list.at:list.items[n-1].end])
	if !commaPairs.MatchString(text) {
		return ""
	}
	return pairComma.ReplaceAllString(text, "$1.$2") + "]"
}

var (
	commaPairs = regexp.MustCompile(`^\[\s*\d+,\d+(?:,\s+\d+,\d+)+$`)
	pairComma  = regexp.MustCompile(`(\d+),(\d+)`)
)

// answerWord is the word of TOML for a yes or no without quotes; else "".
func answerWord(text string) string {
	switch strings.ToLower(text) {
	case "yes", "on", "true":
		return "true"
	case "no", "off", "false":
		return "false"
	}
	return ""
}

// bareText is the value of a line where it's a plain word without quotes.
func bareText(line string) string {
	_, v, found := strings.Cut(line, "=")
	v, _, _ = strings.Cut(v, "#")
	v = strings.TrimSpace(v)
	if !found || v == "" || !letter(v[0]) || strings.ContainsAny(v, `"'[]{},=\`) {
		return ""
	}
	switch strings.ToLower(v) {
	case "true", "false", "nan", "inf":
		return ""
	}
	return v
}

func letter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }

// unit: a letter stands right behind a number.
func unit(text []byte, at int) bool {
	behind := at < len(text) && (letter(text[at]) || text[at] == '%')
	for at > 0 && text[at-1] == ' ' {
		at--
	}
	return behind && digitBefore(text, at)
}

func digitBefore(text []byte, at int) bool {
	return at > 0 && text[at-1] >= '0' && text[at-1] <= '9'
}
