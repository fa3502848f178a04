package plots

import (
	"image/color"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
)

// ofLetters finds what an SVG says once of how letters look.
var ofLetters = regexp.MustCompile(`[{"][^{}"]*font-family[^{}"]*font-size[^{}"]*[}"]`)

var fillOf = regexp.MustCompile(`fill:#([0-9A-Fa-f]{6})`)

// Every letter of every picture stands 7 to 1 against its paper.
func TestLettersStandOut(t *testing.T) {
	if got := contrast(rgb(0), rgb(0xffffff)); got < 20.99 || got > 21.01 { // WCAG 2.2: black on white is 21 to 1
		t.Fatalf("black on white: %.2f", got)
	}
	if got := contrast(rgb(0x767676), rgb(0xffffff)); got < 4.5 || got > 4.6 { // the grey nearest to 4.5 to 1
		t.Fatalf("#767676 on white: %.2f", got)
	}
	files, err := filepath.Glob("testdata/*.svg")
	if err != nil || len(files) < 8 {
		t.Fatalf("%d pictures, %v", len(files), err)
	}
	for _, file := range files {
		src, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		seen := 0
		for _, rule := range ofLetters.FindAllString(string(src), -1) {
			ink := color.RGBA{A: 0xff} // letters of which nothing is said are black
			if m := fillOf.FindStringSubmatch(rule); m != nil {
				x, err := strconv.ParseUint(m[1], 16, 32)
				if err != nil {
					t.Fatal(err)
				}
				ink = rgb(uint32(x))
			}
			seen++
			if got := contrast(ink, rgb(0xffffff)); got < leastContrast {
				t.Errorf("%s: letters of #%02x%02x%02x stand %.1f to 1: %s", file, ink.R, ink.G, ink.B, got, rule)
			}
		}
		if seen < 2 {
			t.Errorf("%s: %d kinds of letters", file, seen)
		}
	}
}
