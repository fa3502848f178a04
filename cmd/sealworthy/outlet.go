package main

import (
	"bytes"
	"crypto/rand"
	"io"
	"os"
	"strconv"
	"strings"
	"unicode/utf8"

	"sealworthy/plots/plain"
)

// outlet is the one way by which words reach whoever reads them: a terminal, a
// pipe, a file. Text from outside can't tell the terminal anything: what isn't
// to be seen is written out (see package plain). The program's own colours and
// cursor codes travel through its strings as marks under a key that is drawn
// anew in each run; here, and nowhere else, they become escape codes. Text from
// outside can't know the key.
type outlet struct {
	w    io.Writer
	lead string // of each mark: ESC and the key
	flow bool   // whoever shows it breaks its lines
}

// outletOf makes the outlet of a stream; an outlet stays the one it is.
func outletOf(w io.Writer) *outlet {
	if o, ok := w.(*outlet); ok {
		return o
	}
	return &outlet{w: w, lead: "\x1b" + rand.Text()}
}

// flowing makes the outlet of a report for a page, which knows how wide it is.
func flowing(w io.Writer) *outlet {
	o := outletOf(w)
	o.flow = true
	return o
}

// throughOutlets is what a verb may use of the world, with its words guarded.
func (e env) throughOutlets() env {
	e.stdout, e.stderr = outletOf(e.stdout), outletOf(e.stderr)
	return e
}

// code is one thing that the program itself tells a terminal.
type code string

const (
	goodInk  code = "good"
	badInk   code = "bad"
	openInk  code = "open"
	loudInk  code = "loud"
	paperInk code = "paper" // black on white, for a camera
	noInk    code = "noink"

	bell       code = "bell"
	lineStart  code = "start"
	clearBelow code = "clearbelow"
	clearLine  code = "clearline"
	oneDown    code = "down"
	saveCursor code = "save"
	toSaved    code = "back"
	upBy       code = "up" // and how many lines
)

// codes of ECMA-48; saving and restoring the cursor are DEC's, which every
// terminal in use knows.
var codes = map[code]string{
	goodInk: "\x1b[32m", badInk: "\x1b[1;31m", openInk: "\x1b[33m", loudInk: "\x1b[1m",
	paperInk: "\x1b[30;47m", noInk: "\x1b[0m",
	bell: "\a", lineStart: "\r", clearBelow: "\x1b[J", clearLine: "\x1b[K", oneDown: "\x1b[1B", saveCursor: "\x1b7",
	toSaved: "\x1b8",
}

// A mark is ESC, the letters of its key, the name of a code, and an end, which
// is in no key and no name.
const (
	leadLength = 1 + 26 // rand.Text gives so many letters
	markEnd    = 'm'
)

// own gives the mark that becomes a code when it's written.
func (o *outlet) own(c code) string { return o.lead + string(c) + string(markEnd) }

// up gives the mark that moves the cursor up by n lines.
func (o *outlet) up(n int) string {
	if n <= 0 {
		return ""
	}
	return o.own(upBy + code(strconv.Itoa(n)))
}

// Write writes words and own codes. One call is whole: no letter and no mark is
// parted between two.
func (o *outlet) Write(p []byte) (int, error) {
	out := make([]byte, 0, len(p)+len(p)/8)
	for rest := p; len(rest) > 0; {
		i := bytes.Index(rest, []byte(o.lead))
		if i < 0 {
			out = plain.Append(out, rest)
			break
		}
		out = plain.Append(out, rest[:i])
		rest = rest[i+len(o.lead):]
		name, after, _ := bytes.Cut(rest, []byte{markEnd})
		if s, ok := escape(string(name)); ok {
			out, rest = append(out, s...), after
			continue
		}
		out = plain.Append(out, o.lead)
	}
	if _, err := o.w.Write(out); err != nil {
		return 0, err
	}
	return len(p), nil
}

func escape(name string) (string, bool) {
	if s, ok := codes[code(name)]; ok {
		return s, true
	}
	digits, ok := strings.CutPrefix(name, string(upBy))
	n, err := strconv.Atoi(digits)
	if !ok || err != nil || n <= 0 {
		return "", false
	}
	return "\x1b[" + strconv.Itoa(n) + "A", true
}

// fileOf is what an outlet leads to, where that is a file of the system.
func fileOf(x any) (*os.File, bool) {
	if o, ok := x.(*outlet); ok {
		x = o.w
	}
	f, ok := x.(*os.File)
	return f, ok
}

// marked gives the length of a mark at the beginning of s, by its shape; 0:
// there is none. By the shape alone: a text that imitates it gains nothing but
// a line that is too long, and screen cuts its own lines once more, by the key.
func marked(s string) int {
	if len(s) < leadLength || s[0] != '\x1b' {
		return 0
	}
	for _, c := range s[1:leadLength] {
		if (c < 'A' || c > 'Z') && (c < '2' || c > '7') {
			return 0
		}
	}
	name, _, _ := strings.Cut(s[leadLength:], string(markEnd))
	if _, ok := escape(name); !ok {
		return 0
	}
	return leadLength + len(name) + 1
}

// firstOf gives the columns of the first letter of s, and its bytes.
func firstOf(s string) (cols, size int) {
	r, size := utf8.DecodeRuneInString(s)
	if r == utf8.RuneError && size <= 1 {
		return len(`\x00`), size
	}
	return plain.Columns(r), size
}

// columns is how wide a text is when it's written; marks have no width.
func columns(s string) int {
	n := 0
	for s != "" {
		if m := marked(s); m > 0 {
			s = s[m:]
			continue
		}
		r, size := firstOf(s)
		n, s = n+r, s[size:]
	}
	return n
}

// cut shortens a line to n columns; colours end with it.
func cut(s string, n int) string { return cutBy(s, n, marked) }

// cut is cut for marks of this outlet alone.
func (o *outlet) cut(s string, n int) string {
	return cutBy(s, n, func(s string) int {
		if !strings.HasPrefix(s, o.lead) {
			return 0
		}
		return marked(s)
	})
}

func cutBy(s string, n int, marked func(string) int) string {
	cols, lead := 0, ""
	for i := 0; i < len(s); {
		if m := marked(s[i:]); m > 0 {
			lead = s[i : i+leadLength]
			i += m
			continue
		}
		wide, size := firstOf(s[i:])
		if cols += wide; cols > n {
			if lead == "" {
				return s[:i]
			}
			return s[:i] + lead + string(noInk) + string(markEnd)
		}
		i += size
	}
	return s
}
