package plots

import (
	_ "embed"
	"errors"
	"io"
	"time"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
)

// LabelData goes onto the label beside the jack: what must be plugged in there.
type LabelData struct {
	Build, Serial string    // no serial number: a line to fill in by hand
	Volts         float64   // V, that the model takes
	Centre        string    // the polarity of the plug's centre: "plus", "minus", "": unknown
	AdapterAmps   float64   // a replacement must give at least so much; 0: not known
	Made          time.Time // the day that stands on it; zero: none
	Simulated     bool      // nothing of a real model was measured
}

// The label, mm: it goes onto a base of a hand's breadth, and its smallest letters are
// read at arm's length (our own choice).
const (
	labelWideMM  = 60.0
	labelInnerMM = labelWideMM - 6 // between its margins
	labelHalfMM  = 30.0            // left of the picture of the plug
	mmInPoint    = 25.4 / 72
)

//go:embed label.html.tmpl
var labelText string

// Label writes a page with one label on it, to be printed at its true size and cut out.
func Label(w io.Writer, d LabelData) error {
	if d.Build == "" || d.Volts <= 0 {
		return errors.New("a label needs the build's name and its volts")
	}
	x := struct {
		LabelData
		Day           string
		Name, Number  labelLine
		Pin, Sleeve   string
		Polarity, Amp string
	}{LabelData: d, Day: dayBy(d.Made, d.Made), Name: lineOf(d.Build, 13, labelInnerMM), Pin: "?", Sleeve: "?",
		Polarity: "polarity not stated"}
	if d.Serial != "" {
		x.Number = lineOf("No. "+d.Serial, 8, labelHalfMM)
	}
	switch d.Centre {
	case "plus":
		x.Pin, x.Sleeve, x.Polarity = "+", "−", "centre plus"
	case "minus":
		x.Pin, x.Sleeve, x.Polarity = "−", "+", "centre minus"
	}
	return fill(w, "label", labelText, x)
}

// labelLine is a line of a label. Nothing of it is cut: what is too long is set smaller,
// and then closer.
type labelLine struct {
	Text   string
	SizeMM float64
	WideMM float64 // that it is set to; 0: as it comes
}

// leastPoint are the smallest letters of a label.
const leastPoint = 5.0

// lineOf sets a line into so much room.
func lineOf(text string, points, roomMM float64) labelLine {
	face := font.NewCache(liberation.Collection()).Lookup(
		font.Font{Typeface: "Liberation", Variant: "Sans", Weight: xfont.WeightBold, Size: font.Points(points)},
		font.Points(points))
	l := labelLine{Text: text, SizeMM: points * mmInPoint}
	wide := face.Width(text).Points() * mmInPoint
	if wide <= roomMM {
		return l
	}
	l.SizeMM = max(leastPoint*mmInPoint, l.SizeMM*roomMM/wide)
	if wide*l.SizeMM/(points*mmInPoint) > roomMM*1.001 {
		l.WideMM = roomMM
	}
	return l
}
