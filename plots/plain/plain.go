// Package plain makes text from outside harmless before a person sees it.
//
// Names in a plan, replies of an instrument, names of ports and files, typed
// answers and the words of libraries may hold what a terminal obeys or what
// hides from the eye: control characters, escape sequences, marks that turn
// the order of letters round, letters without width, bytes that are no UTF-8.
// All of it is shown as \u and four digits, as JSON writes it, so that JSON
// stays what it was; a byte that is no UTF-8 as \x and two digits.
//
// What counts as shown is Unicode's Graphic set (letters, marks, numbers,
// punctuation, symbols, spaces), without the few of it that leave no trace on
// paper. Sources: The Unicode Standard, chapter 4.5 (general categories) and
// 23 (layout controls); Unicode Technical Report 36, 2.10 on text that is
// reordered; ECMA-48 for C0, C1 and what begins with ESC.
package plain

import (
	"unicode"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/width"
)

// Shown: r may be written as it is. Line feed and tab may.
func Shown(r rune) bool {
	if r < utf8.RuneSelf {
		return r >= ' ' && r < 0x7f || r == '\n' || r == '\t'
	}
	return unicode.IsGraphic(r) && !unicode.Is(traceless, r)
}

// traceless are graphic by category and leave nothing to see: fillers of
// Hangul and Khmer, the joiner of graphemes, selectors of variants. U+FE00 to
// U+FE0F stay: they choose between two looks of a sign that people do use.
var traceless = &unicode.RangeTable{
	R16: []unicode.Range16{
		{Lo: 0x034f, Hi: 0x034f, Stride: 1}, {Lo: 0x115f, Hi: 0x1160, Stride: 1}, {Lo: 0x17b4, Hi: 0x17b5, Stride: 1},
		{Lo: 0x180b, Hi: 0x180f, Stride: 1}, {Lo: 0x2800, Hi: 0x2800, Stride: 1}, {Lo: 0x3164, Hi: 0x3164, Stride: 1},
		{Lo: 0xffa0, Hi: 0xffa0, Stride: 1},
	},
	R32: []unicode.Range32{{Lo: 0xe0100, Hi: 0xe01ef, Stride: 1}},
}

// wideLook chooses the coloured look of a sign, which takes two columns. Source:
// Unicode Technical Standard 51, 1.4.3 and 2.2.
const wideLook = 0xfe0f

// Clean returns s as it may be shown. Cleaning twice changes nothing more. A
// line end of Windows becomes a line feed.
func Clean(s string) string {
	if clean(s) {
		return s
	}
	return string(Append(make([]byte, 0, len(s)+16), s))
}

func clean(s string) bool {
	for _, r := range s {
		if !Shown(r) {
			return false
		}
	}
	return utf8.ValidString(s)
}

// Append appends s to dst as it may be shown.
func Append[T string | []byte](dst []byte, s T) []byte {
	for i := 0; i < len(s); {
		switch c := s[i]; {
		case c < utf8.RuneSelf && Shown(rune(c)):
			dst = append(dst, c)
			i++
			continue
		case c == '\r' && i+1 < len(s) && s[i+1] == '\n':
			i++
			continue
		}
		r, n := utf8.DecodeRuneInString(string(s[i:min(len(s), i+utf8.UTFMax)]))
		switch {
		case r == utf8.RuneError && n <= 1:
			dst = append(dst, '\\', 'x', hex[s[i]>>4], hex[s[i]&0xf])
		case Shown(r):
			dst = append(dst, s[i:i+n]...)
		default:
			dst = appendEscape(dst, r)
		}
		i += n
	}
	return dst
}

const hex = "0123456789abcdef"

// appendEscape writes a character as JSON does, one beyond 16 bits as two.
func appendEscape(dst []byte, r rune) []byte {
	if high, low := utf16.EncodeRune(r); high != unicode.ReplacementChar {
		return appendEscape(appendEscape(dst, high), low)
	}
	return append(dst, '\\', 'u', hex[r>>12&0xf], hex[r>>8&0xf], hex[r>>4&0xf], hex[r&0xf])
}

// Columns is how many columns of a terminal Clean(string(r)) takes: letters and
// signs of East Asia two, accents that stand on the letter before none, all
// others one. Source: Unicode Standard Annex 11 (what is ambiguous there is
// narrow, as on terminals of the west).
func Columns(r rune) int {
	switch {
	case Shown(r):
		if r < utf8.RuneSelf {
			return 1
		}
		switch {
		case r == wideLook: // it makes a narrow sign before it a wide one
			return 1
		case unicode.In(r, unicode.Mn, unicode.Me):
			return 0
		}
		if k := width.LookupRune(r).Kind(); k == width.EastAsianWide || k == width.EastAsianFullwidth {
			return 2
		}
		return 1
	case r > 0xffff:
		return 2 * len(`\u0000`)
	}
	return len(`\u0000`)
}
