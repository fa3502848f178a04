package plots_test

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/plots"
)

func label(d plots.LabelData) string {
	var b bytes.Buffer
	if err := plots.Label(&b, d); err != nil {
		return err.Error()
	}
	return b.String()
}

var ofBrackwater = plots.LabelData{Build: "Brackwater", Serial: "BW-1", Volts: 12, Centre: "plus", AdapterAmps: 1.5,
	Made: time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC)}

// The label says what must be plugged in, the signs at the picture of the plug the right
// way round, and nothing that isn't known.
func TestLabel(t *testing.T) {
	plus := label(ofBrackwater)
	for _, want := range []string{"12 V", "DC", "1.5 A or more", "No. BW-1", "centre plus", "1 December 2026"} {
		if !strings.Contains(plus, want) {
			t.Errorf("it lacks %q", want)
		}
	}
	minus := ofBrackwater
	minus.Centre = "minus"
	sign := func(page, at string) string { // the sign at a place of the picture
		_, rest, _ := strings.Cut(page, `<text class="loud" x="`+at+`"`)
		_, rest, _ = strings.Cut(rest, ">")
		s, _, _ := strings.Cut(rest, "<")
		return strings.ReplaceAll(s, "&#43;", "+")
	}
	const sleeve, pin = "36.7", "54.7"
	if sign(plus, pin) != "+" || sign(plus, sleeve) != "−" || sign(label(minus), pin) != "−" ||
		sign(label(minus), sleeve) != "+" {
		t.Errorf("signs: %q %q, %q %q", sign(plus, pin), sign(plus, sleeve), sign(label(minus), pin),
			sign(label(minus), sleeve))
	}
	bare := label(plots.LabelData{Build: "Brackwater", Volts: 5})
	for _, want := range []string{"No. ____", "____ A or more", "polarity not stated", "doesn&#39;t say which pole"} {
		if !strings.Contains(bare, want) && !strings.Contains(bare, strings.ReplaceAll(want, "&#39;", "'")) {
			t.Errorf("with little known it lacks %q:\n%s", want, bare)
		}
	}
	if s := label(plots.LabelData{Build: "Brackwater"}); !strings.Contains(s, "needs") {
		t.Error("without volts it is made")
	}
}

// It prints at its true size: the way between its lines, in points of the PDF, is that of
// its drawing (1 mm is 72/25.4 points); a name of any length stays within.
func TestLabelPrintsTrue(t *testing.T) {
	exe := browser(t)
	long := ofBrackwater
	long.Build, long.Serial = strings.Repeat("Brackwater and her tender ", 4), strings.Repeat("BW", 40)
	for name, d := range map[string]plots.LabelData{"plain": ofBrackwater, "long": long} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			doc := printedPage(t, exe, "A4", label(d))
			if n := doc.NumPage(); n != 1 {
				t.Fatalf("%d pages", n)
			}
			const mm, margin = 72 / 25.4, 13 // points; where the drawing begins, from the paper's edge
			var lines []float64              // baselines of what begins at the label's left margin
			for _, x := range doc.Page(1).Content().Text {
				if math.Abs(x.X-(margin+3)*mm) < .2*mm &&
					!slices.ContainsFunc(lines, func(y float64) bool { return math.Abs(x.Y-y) < .1 }) {
					lines = append(lines, x.Y)
				}
				if len(lines) > 0 && x.Y < lines[0]+1 && x.Y > lines[0]-21.7*mm && x.X > (margin+60-3)*mm {
					t.Errorf("%q begins %.1f mm from the label's left edge", x.S, x.X/mm-margin)
				}
			}
			want := []float64{0, 9.4, 14.4, 18.4, 21.6} // the drawing's own, mm
			if len(lines) != len(want) {
				t.Fatalf("%d lines: %v", len(lines), lines)
			}
			for i, y := range lines {
				if got := (lines[0] - y) / mm; math.Abs(got-want[i]) > .1 {
					t.Errorf("line %d lies %.2f mm below the first, drawn %.2f", i, got, want[i])
				}
			}
		})
	}
}
