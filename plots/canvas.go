package plots

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/color"
	"io"
	"math"
	"regexp"
	"strings"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"

	"sealworthy/plots/plain"
)

// canvas draws in points, x to the right and y up, from the lower left corner.
type canvas struct {
	draw.Canvas
	Style
	w, h  float64 // points
	fonts *font.Cache
	ascii bool
}

// spoken is what a picture says to those who can't see it.
type spoken struct{ title, description string }

const ptPerMM = 72 / 25.4

// paint makes a picture of so many points and writes it. Nothing is written
// when drawing fails.
func (s Style) paint(w io.Writer, f Format, heightPt float64, say spoken, paint func(*canvas) error) error {
	if err := s.check(); err != nil {
		return err
	}
	fonts := liberation.Collection()
	switch {
	case f == PDF:
		var err error
		if fonts, err = embeddable(nil); err != nil {
			return err
		}
	case f == SVG && s.EmbedFont:
		// Which letters it needs is known once it was drawn.
		var plain bytes.Buffer
		if err := s.paintWith(&plain, f, heightPt, false, fonts, paint); err != nil {
			return err
		}
		var err error
		if fonts, err = embeddable(foreign(plain.Bytes())); err != nil {
			return err
		}
	}
	var b bytes.Buffer
	if err := s.paintWith(&b, f, heightPt, s.EmbedFont, fonts, paint); err != nil {
		return err
	}
	out := b.Bytes()
	if f == SVG {
		out = named(out, say)
		if s.EmbedFont {
			out = lighter(out)
		} else {
			out = hold(font.NewCache(fonts), out)
		}
	}
	_, err := w.Write(out)
	return err
}

// paintWith draws a picture with some typefaces.
func (s Style) paintWith(w io.Writer, f Format, heightPt float64, embed bool, fonts font.Collection,
	paint func(*canvas) error) error {
	c := &canvas{Style: s, w: s.WidthMM * ptPerMM, h: heightPt, ascii: f == PDF,
		// A cache of its own: the library's is shared and promises no safety.
		fonts: font.NewCache(fonts)}
	width, height := vg.Length(c.w), vg.Length(c.h)
	var to vg.CanvasWriterTo
	switch f {
	case SVG:
		to = vgsvg.NewWith(vgsvg.UseWH(width, height), vgsvg.EmbedFonts(embed))
	case PNG:
		to = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(int(s.DPI)))}
	case PDF:
		to = vgpdf.New(width, height)
	default:
		return fmt.Errorf("format %q: a picture is svg, png or pdf", f)
	}
	c.Canvas = draw.NewCanvas(to, width, height)
	c.rect(s.Colours.Paper, 0, 0, c.w, c.h)
	if err := paint(c); err != nil {
		return err
	}
	if _, err := to.WriteTo(w); err != nil {
		return fmt.Errorf("write the picture: %w", err)
	}
	return nil
}

var svgStart = regexp.MustCompile(`(?s)^.*?<svg ([^>]*)>`)

// simulated says at a place that no real model was measured.
func (c *canvas) simulated(x, y float64) {
	t := c.small()
	t.bold, t.ink = true, c.Colours.Bad
	c.text(t, x, y, left, SimulatedBench)
}

// named puts a title and a description into an SVG for screen readers.
func named(svg []byte, say spoken) []byte {
	var title, desc bytes.Buffer
	_ = xml.EscapeText(&title, []byte(plain.Clean(say.title))) // a Buffer doesn't fail
	_ = xml.EscapeText(&desc, []byte(plain.Clean(say.description)))
	m := svgStart.FindSubmatchIndex(svg)
	if m == nil {
		return svg
	}
	var out bytes.Buffer
	fmt.Fprintf(&out, "<svg role=\"img\" aria-label=\"%s\" %s>\n<title>%s</title>\n<desc>%s</desc>", title.Bytes(),
		svg[m[2]:m[3]], title.Bytes(), desc.Bytes())
	out.Write(svg[m[1]:])
	return out.Bytes()
}

// align says where a text stands against its point.
type align int

const (
	left align = iota
	centre
	right
)

// typeface is the text of a picture; size 1 is Style.TextPt.
type typeface struct {
	size float64
	bold bool
	ink  color.RGBA
}

func (c *canvas) body() typeface  { return typeface{1, false, c.Colours.Ink} }
func (c *canvas) small() typeface { return typeface{0.85, false, c.Colours.Faint} }
func (c *canvas) head() typeface  { return typeface{1.25, true, c.Colours.Ink} }

func (c *canvas) font(t typeface) font.Font {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Length(c.TextPt * t.size)}
	// A PDF has regular type only. The library's PDF canvas adds a bold typeface
	// as a regular one and then asks for the bold ("undefined font"); and it puts
	// all typefaces under one file name, so that two in a file come out as one
	// with the widths of the other (vgpdf of gonum/plot v0.17.0, seen on screen).
	if t.bold && !c.ascii {
		f.Weight = xfont.WeightBold
	}
	return f
}

// style is for the library's own axes.
func (c *canvas) style(t typeface) text.Style {
	return text.Style{Color: c.Colours.letters(t.ink), Font: c.font(t), Handler: text.Plain{Fonts: c.fonts}}
}

// text writes s with its baseline at y.
func (c *canvas) text(t typeface, x, y float64, a align, s string) {
	s = c.drawable(s)
	switch a {
	case centre:
		x -= c.width(t, s) / 2
	case right:
		x -= c.width(t, s)
	}
	c.SetColor(c.Colours.letters(t.ink))
	f := c.font(t)
	c.FillString(c.fonts.Lookup(f, f.Size), vg.Point{X: vg.Length(x), Y: vg.Length(y)}, s)
}

// width is that of a text in points.
func (c *canvas) width(t typeface, s string) float64 {
	f := c.font(t)
	face := c.fonts.Lookup(f, f.Size)
	return face.Width(c.drawable(s)).Points()
}

// fit cuts a text to a width, with dots where something is missing.
func (c *canvas) fit(t typeface, s string, width float64) string {
	if c.width(t, s) <= width {
		return s
	}
	r := []rune(s)
	for len(r) > 1 && c.width(t, string(r)+"...") > width {
		r = r[:len(r)-1]
	}
	return string(r) + "..."
}

// lines breaks a text between words, so that each line fits a width.
func (c *canvas) lines(t typeface, s string, width float64) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(s) {
		longer := strings.TrimSpace(line + " " + word)
		if line != "" && c.width(t, longer) > width {
			out, longer = append(out, line), word
		}
		line = longer
	}
	return append(out, line)
}

// line height of a text.
func (c *canvas) leading(t typeface) float64 { return 1.35 * c.TextPt * t.size }

func (c *canvas) rect(ink color.RGBA, x, y, w, h float64) {
	c.polygon(ink, x, y, x+w, y, x+w, y+h, x, y+h)
}

func (c *canvas) polygon(ink color.RGBA, xy ...float64) {
	c.FillPolygon(ink, points(xy))
}

func (c *canvas) line(ink color.RGBA, width float64, xy ...float64) {
	c.StrokeLines(draw.LineStyle{Color: ink, Width: vg.Length(width)}, points(xy))
}

func (c *canvas) dashed(ink color.RGBA, width float64, xy ...float64) {
	c.StrokeLines(draw.LineStyle{Color: ink, Width: vg.Length(width), Dashes: []vg.Length{3, 2}}, points(xy))
}

func points(xy []float64) []vg.Point {
	out := make([]vg.Point, 0, len(xy)/2)
	for i := 0; i+1 < len(xy); i += 2 {
		out = append(out, vg.Point{X: vg.Length(xy[i]), Y: vg.Length(xy[i+1])})
	}
	return out
}

// circle has r points of radius.
func (c *canvas) circle(ink color.RGBA, x, y, r float64, filled bool) {
	var p vg.Path
	p.Move(vg.Point{X: vg.Length(x + r), Y: vg.Length(y)})
	p.Arc(vg.Point{X: vg.Length(x), Y: vg.Length(y)}, vg.Length(r), 0, 2*math.Pi)
	p.Close()
	c.SetColor(ink)
	if filled {
		c.Fill(p)
		return
	}
	c.SetLineStyle(draw.LineStyle{Color: ink, Width: 1.4})
	c.Stroke(p)
}

// mark draws the mark of a verdict, r points from its middle to its edge.
func (c *canvas) mark(s shape, ink color.RGBA, x, y, r float64) {
	paper := c.Colours.Paper
	switch s {
	case disc:
		c.circle(ink, x, y, r, true)
	case ring:
		c.circle(paper, x, y, r, true)
		c.circle(ink, x, y, r, false)
	case down:
		c.polygon(ink, x-1.15*r, y+0.8*r, x+1.15*r, y+0.8*r, x, y-1.2*r)
	case up:
		c.polygon(ink, x-1.15*r, y-0.8*r, x+1.15*r, y-0.8*r, x, y+1.2*r)
	case square:
		c.rect(ink, x-0.9*r, y-0.9*r, 1.8*r, 1.8*r)
	case box:
		c.rect(paper, x-0.9*r, y-0.9*r, 1.8*r, 1.8*r)
		c.line(ink, 1.4, x-0.9*r, y-0.9*r, x+0.9*r, y-0.9*r, x+0.9*r, y+0.9*r, x-0.9*r, y+0.9*r, x-0.9*r, y-0.9*r)
	case diamond:
		c.polygon(ink, x, y-1.25*r, x+1.05*r, y, x, y+1.25*r, x-1.05*r, y)
	default:
		c.line(ink, 1.6, x-0.8*r, y-0.8*r, x+0.8*r, y+0.8*r)
		c.line(ink, 1.6, x-0.8*r, y+0.8*r, x+0.8*r, y-0.8*r)
	}
}
