package plots

import (
	"bytes"
	"fmt"
	"html"
	"regexp"
	"strconv"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

var svgText = regexp.MustCompile(`<text ([^>]*?font-weight:(\w+)[^>]*?font-size:([0-9.]+)px[^>]*)>([^<]*)</text>`)

// hold gives each text of an SVG the width it was laid out with, so that it
// neither runs into its neighbour nor out of the picture where the typeface is
// missing and another one, wider or narrower, stands in.
func hold(fonts *font.Cache, svg []byte) []byte {
	var out bytes.Buffer
	from := 0
	for _, m := range svgText.FindAllSubmatchIndex(svg, -1) {
		size, err := strconv.ParseFloat(string(svg[m[6]:m[7]]), 64)
		s := html.UnescapeString(string(svg[m[8]:m[9]]))
		f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Length(size)}
		if string(svg[m[4]:m[5]]) == "bold" {
			f.Weight = xfont.WeightBold
		}
		if err != nil || s == "" {
			continue
		}
		face := fonts.Lookup(f, f.Size)
		out.Write(svg[from:m[2]])
		fmt.Fprintf(&out, `textLength="%.1f" lengthAdjust="spacingAndGlyphs" `, face.Width(s).Points())
		from = m[2]
	}
	out.Write(svg[from:])
	return bytes.ReplaceAll(out.Bytes(), []byte("font-family:Liberation Sans;"),
		[]byte("font-family:Liberation Sans,Arial,Helvetica,sans-serif;"))
}
