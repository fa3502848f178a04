package plots

import (
	"strings"
	"unicode"

	"gonum.org/v1/plot/font"

	"sealworthy/plots/plain"
)

// drawable gives a text as this canvas can show it: in ASCII for a PDF, and
// with "?" for what the typeface lacks, since the library leaves such letters
// out without a word.
func (c *canvas) drawable(s string) string {
	if c.ascii {
		return ascii(s)
	}
	face := c.fonts.Lookup(c.font(c.body()), 1)
	return strings.Map(func(r rune) rune { return orMark(face, r) }, s)
}

func orMark(face font.Face, r rune) rune {
	if r < ' ' || unicode.IsControl(r) {
		return ' '
	}
	if !plain.Shown(r) { // the typeface has signs for some that turn text round
		return '?'
	}
	if i, err := face.Face.GlyphIndex(nil, r); err != nil || i == 0 {
		return '?'
	}
	return r
}

// ascii replaces letters and signs outside ASCII by the nearest there is.
func ascii(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r >= ' ' && r < 0x7f:
			b.WriteRune(r)
		case near[r] != "":
			b.WriteString(near[r])
		case unicode.IsSpace(r) || unicode.IsControl(r):
			b.WriteByte(' ')
		case unicode.Is(unicode.Mn, r): // an accent after its letter
		default:
			b.WriteByte('?')
		}
	}
	return b.String()
}

// near has the letters of western names and the signs of units.
var near = func() map[rune]string {
	m := map[rune]string{'\u00b5': "u", '\u03bc': "u", '\u03a9': "ohm", '\u2126': "ohm", '±': "+/-", '°': "deg",
		'×': "x", '·': "-", '–': "-", '—': "-",
		'−': "-", '‐': "-", '‑': "-", '‘': "'", '’': "'", '“': `"`, '”': `"`, '„': `"`, '«': `"`, '»': `"`, '…': "...",
		'≤': "<=", '≥': ">=", '→': "->",
		'²': "2", '³': "3", '½': "1/2", '¼': "1/4", '¾': "3/4", 'ß': "ss", 'æ': "ae", 'Æ': "AE", 'œ': "oe", 'Œ': "OE",
		'ø': "o", 'Ø': "O",
		'ł': "l", 'Ł': "L", 'đ': "d", 'Đ': "D", 'ð': "d", 'Ð': "D", 'þ': "th", 'Þ': "Th", 'ı': "i", '€': "EUR",
		'£': "GBP"}
	for plain, accented := range map[string]string{
		"a": "àáâãäåāăą", "A": "ÀÁÂÃÄÅĀĂĄ", "c": "çćčĉċ", "C": "ÇĆČĈĊ", "d": "ď", "D": "Ď", "e": "èéêëēėęěĕ",
		"E": "ÈÉÊËĒĖĘĚĔ",
		"g": "ğģĝġ", "G": "ĞĢĜĠ", "i": "ìíîïīįĭ", "I": "ÌÍÎÏĪĮİ", "k": "ķ", "K": "Ķ", "l": "ļľĺ", "L": "ĻĽĹ",
		"n": "ñńňņ", "N": "ÑŃŇŅ",
		"o": "òóôõöōőŏ", "O": "ÒÓÔÕÖŌŐŎ", "r": "řŕ", "R": "ŘŔ", "s": "śšşșŝ", "S": "ŚŠŞȘŜ", "t": "ťţț", "T": "ŤŢȚ",
		"u": "ùúûüūůűųŭ", "U": "ÙÚÛÜŪŮŰŲŬ", "w": "ŵ", "W": "Ŵ", "y": "ýÿŷ", "Y": "ÝŸŶ", "z": "źżž", "Z": "ŹŻŽ",
	} {
		for _, r := range accented {
			m[r] = plain
		}
	}
	return m
}()
