package plots

import (
	"fmt"
	"image/color"
	"math"
	"path/filepath"
	"strings"

	"sealworthy/compare"
)

// Format is a file format of pictures.
type Format string

// The formats. The zero Format is no valid one.
const (
	SVG Format = "svg"
	PNG Format = "png"
	PDF Format = "pdf"
)

// FormatOf tells the format from a file's name, before the file is made.
func FormatOf(name string) (Format, error) {
	ext := strings.ToLower(strings.TrimPrefix(filepath.Ext(name), "."))
	switch f := Format(ext); f {
	case SVG, PNG, PDF:
		return f, nil
	}
	return "", fmt.Errorf("%s: a picture ends in .svg, .png or .pdf", name)
}

// Style says how large a picture is and how it looks. It's a value: DefaultStyle
// gives one to change.
type Style struct {
	WidthMM  float64 // of the whole picture
	HeightMM float64 // of a trace; other pictures grow with their rows
	TextPt   float64 // of all letters, points
	DPI      float64 // of a PNG
	// EmbedFont puts the letters that are shown into an SVG (some 40 kB), so that it looks the
	// same on a machine that lacks it. The sheet does without.
	EmbedFont bool
	Colours   Colours
}

// Colours are the inks of a picture. The three for verdicts differ in lightness
// too, so that they can be told apart without seeing colours and in grey print.
type Colours struct {
	Paper, Ink, Faint, Grid color.RGBA // ground, letters, axes, and lines that help the eye
	Band, DarkBand          color.RGBA // where a healthy draw lies
	Good, Bad, Open         color.RGBA // of verdicts: in band, failed, undecided
}

// DefaultStyle fits the width of a page's text, A4 or Letter.
func DefaultStyle() Style {
	return Style{WidthMM: 180, HeightMM: 90, TextPt: 9, DPI: 150, EmbedFont: true, Colours: Colours{
		Paper: rgb(0xffffff), Ink: rgb(0x1b1f23), Faint: rgb(0x4d5760), Grid: rgb(0xdde1e4),
		Band: rgb(0xbcd9ea), DarkBand: rgb(0xd9d4c7),
		Good: rgb(0x0b5d7a), Bad: rgb(0xb3400e), Open: rgb(0x6d5a86),
	}}
}

// leastContrast is that of letters on paper (WCAG 2.2, 1.4.6): they're read from afar, on old paper and in bad light.
const leastContrast = 7

// letters darkens an ink until letters in it stand out from the paper; a mark keeps its own.
func (c Colours) letters(ink color.RGBA) color.RGBA {
	for contrast(ink, c.Paper) < leastContrast && (ink.R > 0 || ink.G > 0 || ink.B > 0) {
		ink.R, ink.G, ink.B = darker(ink.R), darker(ink.G), darker(ink.B)
	}
	return ink
}

func darker(x uint8) uint8 { return uint8(0.97 * float64(x)) }

// contrast is the ratio of two colours' luminances, by the formula of WCAG 2.2 (relative luminance, contrast ratio).
func contrast(a, b color.RGBA) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func luminance(c color.RGBA) float64 {
	linear := func(x uint8) float64 {
		if s := float64(x) / 255; s > 0.04045 {
			return math.Pow((s+0.055)/1.055, 2.4)
		} else {
			return s / 12.92
		}
	}
	return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
}

func rgb(x uint32) color.RGBA {
	return color.RGBA{R: uint8(x >> 16), G: uint8(x >> 8), B: uint8(x), A: 0xff}
}

func (s Style) check() error {
	for _, x := range []struct {
		name       string
		value      float64
		least, top float64
	}{
		{"width", s.WidthMM, 60, 2000}, {"height", s.HeightMM, 30, 2000}, {"text size", s.TextPt, 4, 72},
		{"dots per inch", s.DPI, 30, 1200},
	} {
		if !(x.value >= x.least && x.value <= x.top) {
			return fmt.Errorf("picture with %s %g: from %g to %g can be drawn", x.name, x.value, x.least, x.top)
		}
	}
	return nil
}

// shape is the mark of a verdict.
type shape int

const (
	disc     shape = iota + 1 // in band
	down                      // low
	up                        // high
	square                    // stuck lit
	box                       // stuck dark
	diamond                   // off pace
	ring                      // can't tell
	crossing                  // not measured
)

// markOf gives shape and ink of a verdict; one that isn't known looks like not measured.
func (c Colours) markOf(v compare.Verdict) (shape, color.RGBA) {
	switch v {
	case compare.InBand:
		return disc, c.Good
	case compare.Low:
		return down, c.Bad
	case compare.High:
		return up, c.Bad
	case compare.StuckLit:
		return square, c.Bad
	case compare.StuckDark:
		return box, c.Bad
	case compare.OffPace:
		return diamond, c.Bad
	case compare.CantTell:
		return ring, c.Open
	}
	return crossing, c.Open
}

func finite(x ...float64) bool {
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

type colour = color.RGBA
