package plots

import (
	"bytes"
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot/font/liberation"
)

// TestSubsetShowsTheSame: every letter of a typeface that was cut down has the outline
// and the width of the whole one's, put-together letters too; others are missing.
func TestSubsetShowsTheSame(t *testing.T) {
	others := []rune("ÄÖÜäöüßéñçŵΩµ±°×–—…≤→")
	cut, err := cutDown(others)
	if err != nil || len(cut) != 2 {
		t.Fatal(len(cut), err)
	}
	letters := append([]rune(nil), others...)
	for r := ' '; r <= '~'; r++ {
		letters = append(letters, r)
	}
	for _, c := range cut {
		for _, w := range liberation.Collection() {
			if w.Font != c.Font {
				continue
			}
			for _, r := range letters {
				a, aw := outlineOf(t, w.Face, r)
				b, bw := outlineOf(t, c.Face, r)
				if len(a) != len(b) || aw != bw {
					t.Fatalf("%q: %d pieces %v wide, %d and %v of the whole typeface", r, len(b), bw, len(a), aw)
				}
				for i := range a {
					if a[i] != b[i] {
						t.Fatalf("%q: piece %d is %v, %v in the whole typeface", r, i, b[i], a[i])
					}
				}
			}
		}
		var room sfnt.Buffer
		if i, err := c.Face.GlyphIndex(&room, 'Ж'); err != nil || i != 0 {
			t.Errorf("a letter that wasn't asked for is there: %d, %v", i, err)
		}
		var b bytes.Buffer
		if _, err := c.Face.WriteSourceTo(nil, &b); err != nil || b.Len() > 40<<10 {
			t.Errorf("%d bytes, %v", b.Len(), err)
		}
		t.Logf("%d bytes", b.Len())
	}
}

func outlineOf(t *testing.T, f *opentype.Font, r rune) (sfnt.Segments, fixed.Int26_6) {
	t.Helper()
	var room sfnt.Buffer
	i, err := f.GlyphIndex(&room, r)
	if err != nil || i == 0 {
		t.Fatalf("%q is missing: %v", r, err)
	}
	s, err := f.LoadGlyph(&room, i, fixed.I(2048), nil)
	if err != nil {
		t.Fatal(err)
	}
	out := append(sfnt.Segments(nil), s...)
	w, err := f.GlyphAdvance(&room, i, fixed.I(2048), font.HintingNone)
	if err != nil {
		t.Fatal(err)
	}
	return out, w
}

// FuzzSubset: a broken typeface is refused, whatever is broken.
func FuzzSubset(f *testing.F) {
	cut, err := cutDown(nil)
	if err != nil {
		f.Fatal(err)
	}
	var b bytes.Buffer
	if _, err := cut[0].Face.WriteSourceTo(nil, &b); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, ttf []byte) {
		if len(ttf) > 1<<20 {
			return
		}
		out, err := subset(ttf, []rune("aé"), func(r rune) (uint16, error) { return uint16(r), nil })
		if err == nil && len(out) == 0 {
			t.Error("nothing came back, and no error")
		}
	})
}
