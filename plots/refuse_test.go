package plots_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"sync"
	"testing"

	"sealworthy/compare"
	"sealworthy/plots"
)

// paints are all pictures, each with good data.
func paints(t testing.TB) map[string]func(io.Writer, plots.Format, plots.Style) error {
	d, err := plots.TraceOf(blinking(), "", beacon)
	if err != nil {
		t.Fatal(err)
	}
	return map[string]func(io.Writer, plots.Format, plots.Style) error{
		"trace": func(w io.Writer, f plots.Format, s plots.Style) error { return plots.Trace(w, f, s, d) },
		"closure": func(w io.Writer, f plots.Format, s plots.Style) error {
			return plots.Closure(w, f, s,
				deckhouse())
		},
		"tree": func(w io.Writer, f plots.Format, s plots.Style) error { return plots.FeedTree(w, f, s, feedTree()) },
		"bands": func(w io.Writer, f plots.Format, s plots.Style) error {
			return plots.Bands(w, f, s, plots.BandsData{Title: "b",
				Rows: []plots.BandRow{{Group: "galley", ExpectedA: 0.02, Band: band(19, 24), SmallestA: 0.02}}})
		},
		"shop": func(w io.Writer, f plots.Format, s plots.Style) error { return plots.Shop(w, f, s, shop()) },
	}
}

// TestFormats: each picture comes in each format, is what it says it is, and is
// the same twice (a PDF but for its time).
func TestFormats(t *testing.T) {
	for name, paint := range paints(t) {
		for f, start := range map[plots.Format]string{plots.SVG: "<svg ", plots.PNG: "\x89PNG", plots.PDF: "%PDF-"} {
			var a, b bytes.Buffer
			if err := paint(&a, f, style()); err != nil {
				t.Fatalf("%s as %s: %v", name, f, err)
			}
			if err := paint(&b, f, style()); err != nil {
				t.Fatal(err)
			}
			if !strings.HasPrefix(a.String(), start) {
				t.Errorf("%s as %s begins %q", name, f, a.String()[:10])
			}
			if f != plots.PDF && !bytes.Equal(a.Bytes(), b.Bytes()) {
				t.Errorf("%s as %s differs from run to run", name, f)
			}
			if f == plots.SVG {
				wellFormed(t, name, a.Bytes())
			}
		}
	}
}

// wellFormed parses an SVG and looks for its title and role.
func wellFormed(t *testing.T, name string, svg []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
	}
	for _, want := range []string{`role="img"`, "<title>", "<desc>"} {
		if !bytes.Contains(svg, []byte(want)) {
			t.Errorf("%s has no %s", name, want)
		}
	}
}

func TestEmbeddedFont(t *testing.T) {
	var b bytes.Buffer
	if err := plots.FeedTree(&b, plots.SVG, plots.DefaultStyle(), feedTree()); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(b.String(), "@font-face"); n != 2 {
		t.Fatalf("%d typefaces embedded, want regular and bold", n)
	}
}

func TestRefused(t *testing.T) {
	good, err := plots.TraceOf(steady(), "", nil)
	if err != nil {
		t.Fatal(err)
	}
	with := func(spoil func(*plots.TraceData)) error {
		d := good
		d.Samples = append([]plots.Sample(nil), good.Samples...)
		spoil(&d)
		return quiet(func(w io.Writer) error { return plots.Trace(w, plots.PNG, style(), d) })
	}
	for name, err := range map[string]error{
		"no readings":  with(func(d *plots.TraceData) { d.Samples, d.Overloads = nil, nil }),
		"NaN":          with(func(d *plots.TraceData) { d.Samples[3].A = math.NaN() }),
		"infinite":     with(func(d *plots.TraceData) { d.Samples[3].A = math.Inf(1) }),
		"back in time": with(func(d *plots.TraceData) { d.Samples[3].S = 0 }),
		"band upside":  with(func(d *plots.TraceData) { d.Levels = []plots.Level{{Band: band(3, 2)}} }),
		"no group": quiet(func(w io.Writer) error {
			return plots.Closure(w, plots.PNG, style(), compare.ClosureFinding{Closure: "hull"})
		}),
		"no rows": quiet(func(w io.Writer) error {
			return plots.Bands(w, plots.PNG, style(),
				plots.BandsData{})
		}),
		"no nodes": quiet(func(w io.Writer) error {
			return plots.FeedTree(w, plots.PNG, style(),
				plots.FeedTreeData{})
		}),
		"unknown format": quiet(func(w io.Writer) error { return plots.FeedTree(w, "gif", style(), feedTree()) }),
		"no format":      quiet(func(w io.Writer) error { return plots.FeedTree(w, "", style(), feedTree()) }),
		"the zero style": quiet(func(w io.Writer) error {
			return plots.FeedTree(w, plots.PNG, plots.Style{},
				feedTree())
		}),
		"a width of NaN": quiet(func(w io.Writer) error {
			s := style()
			s.WidthMM = math.NaN()
			return plots.FeedTree(w, plots.PNG, s, feedTree())
		}),
		"an empty sheet": quiet(func(w io.Writer) error {
			return plots.Sheet(w,
				plots.SheetData{Build: "Brackwater", Style: style()})
		}),
		"unknown ending": formatError("a.gif"),
		"without ending": formatError("a"),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	if f, err := plots.FormatOf("A.SVG"); err != nil || f != plots.SVG {
		t.Errorf("%v, %v", f, err)
	}
}

func formatError(name string) error { _, err := plots.FormatOf(name); return err }

// quiet gives the error of a picture, or none where it wrote something all the same.
func quiet(paint func(io.Writer) error) error {
	var b bytes.Buffer
	err := paint(&b)
	if b.Len() > 0 {
		return nil
	}
	return err
}

// TestManyAtOnce is for the race detector.
func TestManyAtOnce(t *testing.T) {
	all := paints(t)
	var wg sync.WaitGroup
	for _, paint := range all {
		for _, f := range []plots.Format{plots.SVG, plots.PNG, plots.PDF} {
			wg.Go(func() {
				if err := paint(io.Discard, f, style()); err != nil {
					t.Error(err)
				}
			})
		}
	}
	wg.Wait()
}

// TestLongTrace: a million readings make a picture of ordinary size.
func TestLongTrace(t *testing.T) {
	d := plots.TraceData{Title: "long", SettledS: 0, TrippedS: math.NaN()}
	for i := range 1_000_000 {
		d.Samples = append(d.Samples, plots.Sample{S: float64(i) / 100, A: 0.02 + 0.001*wobble(i)})
	}
	var b bytes.Buffer
	if err := plots.Trace(&b, plots.SVG, style(), d); err != nil {
		t.Fatal(err)
	}
	if b.Len() > 100_000 {
		t.Fatalf("%d bytes", b.Len())
	}
}
