package plots

import (
	"bytes"
	"fmt"
	"slices"
	"sync"

	xfont "golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
)

// embeddable are the typefaces of a picture cut down to ASCII and the other letters
// of what is drawn.
func embeddable(others []rune) (font.Collection, error) {
	if len(others) == 0 {
		return asciiOnly()
	}
	return cutDown(others)
}

var asciiOnly = sync.OnceValues(func() (font.Collection, error) { return cutDown(nil) })

// cutDown makes the two typefaces that pictures are written in.
func cutDown(others []rune) (font.Collection, error) {
	letters := slices.Clone(others)
	for r := ' '; r <= '~'; r++ {
		letters = append(letters, r)
	}
	var out font.Collection
	for _, f := range liberation.Collection() {
		if f.Font.Variant != "Sans" || f.Font.Style != xfont.StyleNormal {
			continue
		}
		var whole bytes.Buffer
		if _, err := f.Face.WriteSourceTo(nil, &whole); err != nil {
			return nil, fmt.Errorf("%w: %w", errFont, err)
		}
		var room sfnt.Buffer
		part, err := subset(whole.Bytes(), letters, func(r rune) (uint16, error) {
			i, err := f.Face.GlyphIndex(&room, r)
			return uint16(i), err
		})
		if err != nil {
			return nil, err
		}
		face, err := opentype.Parse(part)
		if err != nil {
			return nil, fmt.Errorf("%w: %w", errFont, err)
		}
		out = append(out, font.Face{Font: f.Font, Face: face})
	}
	return out, nil
}

// foreign are the letters beyond ASCII that an SVG shows.
func foreign(svg []byte) []rune {
	var out []rune
	for _, r := range string(svg) {
		if r > '~' && !slices.Contains(out, r) {
			out = append(out, r)
		}
	}
	slices.Sort(out)
	return out
}
