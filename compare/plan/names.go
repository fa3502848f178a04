package plan

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// maxNameLength keeps names short enough for a table and a picture.
const maxNameLength = 64

// nameFault says why a name can't be kept in the record of readings, and what
// to write instead; "" when it can. The record is line protocol: a backslash
// or a control character breaks a line, a leading # makes it a comment.
// Names of builds and closures become parts of file names as well.
func nameFault(name string, inFileNames bool) (what, instead string) {
	better := mendedName(name, inFileNames)
	instead = fmt.Sprintf("write %q", better)
	switch {
	case strings.TrimSpace(name) == "":
		return "is empty", instead
	case strings.Contains(name, `\`):
		return "has a backslash, which the record of readings can't hold", instead
	case strings.TrimSpace(name) != name:
		return "begins or ends with a blank", instead
	case strings.HasPrefix(name, "#"):
		return "begins with #, which the record of readings takes for a comment", instead
	case strings.Contains(name, ";"):
		return "has a semicolon, which parts what is seen of one group from the next", instead
	case utf8.RuneCountInString(name) > maxNameLength:
		return fmt.Sprintf("is longer than %d characters", maxNameLength), instead
	}
	for _, r := range name {
		if !unicode.IsPrint(r) {
			return "has an invisible character, which the record of readings can't hold", instead
		}
	}
	if !inFileNames {
		return "", ""
	}
	if i := strings.IndexAny(name, `/:*?"<>|`); i >= 0 {
		return fmt.Sprintf("has a %c, which a file name can't hold", name[i]), instead
	}
	if strings.HasSuffix(name, ".") {
		return "ends with a point, which a file name on Windows can't", instead
	}
	if ReservedFileName(name) {
		return "is a name that Windows keeps for itself", instead
	}
	return "", ""
}

// isPlace: a thing of this kind can be named in answer to what was touched or seen.
func isPlace(kind string) bool {
	switch kind {
	case "jack", "joint", "return", "board", "group":
		return true
	}
	return false
}

// isAnswer: what a question of a test understands as an answer can't be a place.
func isAnswer(name string) bool {
	switch strings.ToLower(strings.Join(strings.Fields(name), " ")) {
	case "nothing", "everything", "all right", "the clip", "clip", "clips", "the clips", "the leads", "leads":
		return true
	}
	return false
}

// mendedName is the nearest name that can be kept.
func mendedName(name string, inFileNames bool) string {
	mend := func(r rune) rune {
		if r == '\\' || r == ';' || !unicode.IsPrint(r) || inFileNames && strings.ContainsRune(`/:*?"<>|`, r) {
			return ' '
		}
		return r
	}
	better := strings.TrimLeft(strings.Join(strings.Fields(strings.Map(mend, name)), " "), "# ")
	if r := []rune(better); len(r) > maxNameLength {
		better = string(r[:maxNameLength-len("the ")])
	}
	better = strings.TrimSpace(better)
	if inFileNames {
		better = strings.TrimRight(better, ". ")
		if ReservedFileName(better) {
			better = "the " + better
		}
	}
	if better == "" {
		better = "lantern house"
	}
	return better
}

// ReservedFileName: a device's name, which can't be a file's on Windows, with or
// without an extension. Source: Microsoft, "Naming Files, Paths, and Namespaces"
// (from memory); it counts the raised 1, 2 and 3 as digits.
func ReservedFileName(name string) bool {
	base, _, _ := strings.Cut(strings.ToUpper(name), ".")
	switch base {
	case "CON", "PRN", "AUX", "NUL":
		return true
	}
	if digit, ok := strings.CutPrefix(strings.Replace(base, "LPT", "COM", 1), "COM"); ok {
		return len([]rune(digit)) == 1 && strings.Contains("0123456789\u00b9\u00b2\u00b3", digit)
	}
	return false
}

// checkName reports a name that can't be used.
func (s *source) checkName(at int, kind, name string, inFileNames bool) bool {
	what, instead := nameFault(name, inFileNames)
	if what == "" && isPlace(kind) && isAnswer(name) {
		what, instead = "is an answer that a question of the test understands", fmt.Sprintf("write %q", name+" lamps")
	}
	if what == "" {
		return true
	}
	s.fail(at, instead, "the name of %s %q %s", kind, name, what)
	return false
}

// nameBook keeps names that must differ from each other, in more than capitals:
// file systems of Windows and macOS don't tell those apart, nor do tired eyes.
type nameBook struct {
	*source
	seen map[string]named
}

type named struct {
	kind, name string
	line       int
}

func newNameBook(s *source) nameBook { return nameBook{s, map[string]named{}} }

// enter takes a name, or reports the one that has it already.
func (b nameBook) enter(at int, kind, name string) bool {
	key := strings.ToLower(name)
	old, taken := b.seen[key]
	if !taken {
		b.seen[key] = named{kind, name, b.place(at).Line}
		return true
	}
	differ := ""
	if old.name != name {
		differ = " but for capitals"
	}
	b.fail(at, fmt.Sprintf("give one of them another name: %q", name+" 2"),
		"%s %q has the same name as the %s on line %d%s", kind, name, old.kind, old.line, differ)
	return false
}
