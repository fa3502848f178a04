package plan

import (
	"bytes"
	"fmt"
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
		return "curly quotes", `write straight quotes: "cabin windows"`
	case header && has("close", "character at start", "expected newline"):
		return "this heading can't be read",
			`write [joint.keel], quote a name that has blanks: [closure."lantern house"], and two brackets around group: [[group]]`
	case header:
		return said, "give it another name, or put both together"
	case here == ',' && strings.Contains(line, "=") && has("expected newline") && digitBefore(s.text, at):
		return "a comma in a number", "write a decimal point: 0.2"
	case has("at start of value", "expected keyword", "expected newline") && bareText(line) != "":
		return "text without quotes", fmt.Sprintf("write %q with straight quotes around it", bareText(line))
	case here == '.' && has("at start of value"):
		return "a number that begins with its point", "write a nought before the point: 0.2"
	case has("expected newline") && unit(s.text, at):
		return "a number with something behind it", "write the number alone, without a unit: 12.0; the unit is in the key's name"
	case has("array is incomplete", "inline table is incomplete"):
		return "a bracket isn't closed", "close it with ] or }"
	case has("expected ',' or"):
		return "something is missing between two values", `put a comma between them, a decimal point in numbers, and text in quotes`
	case has("expected value, not end of input", "at start of value") && (here == '\n' || here == '\r' || at >= len(s.text)-1):
		return "the value is missing", "write a value after the ="
	case has("at start of value", "expected keyword", "expected newline", "number", "date", "leading"):
		return "this value can't be read (" + said + ")",
			`put text in quotes ("keel"), write numbers with a point and without a unit (0.2), and true or false in small letters`
	case has("expected '='"):
		return "there is no = after the name", "write name = value; a name of several words needs quotes"
	case has("start of key"):
		return "a name can't begin like this", `write name = value, with quotes around a name of several words`
	case has("string", "escape", "control", "terminated"):
		return "this text can't be read (" + said + ")", `end it with a straight quote on the same line, and write no backslash`
	}
	return said, "write name = value, one on a line"
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
