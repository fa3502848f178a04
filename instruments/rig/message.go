package rig

import "strings"

// unit is one command of a program message, as SCPI-1999 volume 1, chapter 6
// and IEEE 488.2, chapter 7 cut it.
type unit struct {
	header string // upper case, as sent, without the leading colon: VOLT or *IDN
	root   bool   // began with a colon
	query  bool
	args   []string // trimmed; strings keep their quotes, lists their parentheses
}

// SCPI error numbers, SCPI-1999 volume 2, 21.8.
type scpiError int

const (
	errInvalidCharacter  scpiError = -101
	errSyntax            scpiError = -102
	errDataType          scpiError = -104
	errNotAllowed        scpiError = -108
	errMissing           scpiError = -109
	errTooLong           scpiError = -112
	errUndefinedHeader   scpiError = -113
	errSuffix            scpiError = -131
	errProtected         scpiError = -203
	errConflict          scpiError = -221
	errOutOfRange        scpiError = -222
	errIllegalValue      scpiError = -224
	errStale             scpiError = -230
	errQueueOverflow     scpiError = -350
	errInputOverrun      scpiError = -363
	errHardwareMissing   scpiError = -241
	errInvalidExpression scpiError = -171
)

var errorTexts = map[scpiError]string{
	0:                    "No error",
	errInvalidCharacter:  "Invalid character",
	errSyntax:            "Syntax error",
	errDataType:          "Data type error",
	errNotAllowed:        "Parameter not allowed",
	errMissing:           "Missing parameter",
	errTooLong:           "Program mnemonic too long",
	errUndefinedHeader:   "Undefined header",
	errSuffix:            "Invalid suffix",
	errInvalidExpression: "Invalid expression",
	errProtected:         "Command protected",
	errConflict:          "Settings conflict",
	errOutOfRange:        "Data out of range",
	errIllegalValue:      "Illegal parameter value",
	errStale:             "Data corrupt or stale",
	errHardwareMissing:   "Hardware missing",
	errQueueOverflow:     "Queue overflow",
	errInputOverrun:      "Input buffer overrun",
}

// Error is the standard's text.
func (e scpiError) Error() string { return errorTexts[e] }

// parse cuts a program message, without its terminator, into units. On an
// error it returns the units before it: those are carried out (IEEE 488.2, 6.1).
func parse(line string) ([]unit, scpiError) {
	for i := 0; i < len(line); i++ {
		if c := line[i]; c != '\t' && (c < ' ' || c > '~') {
			return nil, errInvalidCharacter
		}
	}
	parts, ok := split(line, ';')
	if !ok {
		return nil, errSyntax
	}
	var units []unit
	for _, p := range parts {
		p = strings.TrimSpace(p)
		if p == "" {
			continue
		}
		u, err := parseUnit(p)
		if err != 0 {
			return units, err
		}
		units = append(units, u)
	}
	return units, 0
}

func parseUnit(s string) (unit, scpiError) {
	head, rest := s, ""
	if i := strings.IndexAny(s, " \t"); i >= 0 {
		head, rest = s[:i], strings.TrimSpace(s[i:])
	}
	var u unit
	if strings.HasPrefix(head, ":") {
		u.root, head = true, head[1:]
	}
	if strings.HasSuffix(head, "?") {
		u.query, head = true, head[:len(head)-1]
	}
	u.header = strings.ToUpper(head)
	names := u.header
	if strings.HasPrefix(names, "*") {
		if u.root {
			return unit{}, errSyntax
		}
		names = names[1:]
		if strings.Contains(names, ":") {
			return unit{}, errSyntax
		}
	}
	for _, n := range strings.Split(names, ":") {
		if err := checkMnemonic(n); err != 0 {
			return unit{}, err
		}
	}
	if rest == "" {
		return u, 0
	}
	args, ok := split(rest, ',')
	if !ok {
		return unit{}, errSyntax
	}
	for _, a := range args {
		a = strings.TrimSpace(a)
		if a == "" {
			return unit{}, errMissing
		}
		u.args = append(u.args, a)
	}
	return u, 0
}

func checkMnemonic(n string) scpiError {
	if n == "" || n[0] < 'A' || n[0] > 'Z' {
		return errSyntax
	}
	for i := 1; i < len(n); i++ {
		if c := n[i]; (c < 'A' || c > 'Z') && (c < '0' || c > '9') && c != '_' {
			return errInvalidCharacter
		}
	}
	if len(n) > 12 { // SCPI-1999, -112
		return errTooLong
	}
	return 0
}

// split cuts at sep, but not within quotes or parentheses. It fails if one of
// those is left open.
func split(s string, sep byte) ([]string, bool) {
	var out []string
	var quote byte
	depth, from := 0, 0
	for i := 0; i < len(s); i++ {
		c := s[i]
		switch {
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'':
			quote = c
		case c == '(':
			depth++
		case c == ')':
			if depth--; depth < 0 {
				return nil, false
			}
		case c == sep && depth == 0:
			out = append(out, s[from:i])
			from = i + 1
		}
	}
	return append(out, s[from:]), quote == 0 && depth == 0
}
