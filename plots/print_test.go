package plots_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"rsc.io/pdf"

	"sealworthy/compare"
	"sealworthy/plots"
)

// browser finds a Chromium: the one in SEALWORTHY_BROWSER, or on the path.
func browser(t *testing.T) string {
	t.Helper()
	for _, name := range []string{os.Getenv("SEALWORTHY_BROWSER"), "chromium", "chromium-browser"} {
		if path, err := exec.LookPath(name); name != "" && err == nil {
			return path
		}
	}
	if os.Getenv("CI") != "" {
		t.Fatal("no chromium on the path: printing the sheet can't be tested")
	}
	t.Skip("no chromium on the path")
	return ""
}

// longSheet has a closure of many groups whose rows are several lines high,
// with a word at the begin and one at the end of each row.
func longSheet(groups int) plots.SheetData {
	d := sheet()
	c := compare.ClosureFinding{Build: "Brackwater", Closure: "hull", Verdict: compare.KeepOpen,
		Reasons: []string{"many"}}
	for i := range groups {
		g := finding(fmt.Sprintf("begin%dx with-a-name-that-has-no-space-at-all-and-does-not-end", i), compare.Low, 30,
			0.2, 38, 35, 41)
		g.Causes = []compare.Cause{{Text: strings.Repeat("one of the lamps is dark, look for it; ", 1+i%4)}}
		g.Settle = []string{"measure it at another voltage", fmt.Sprintf("and look at it ends%dx", i)}
		c.Groups = append(c.Groups, g)
	}
	d.Closures = append(d.Closures, c)
	return d
}

// TestPrints prints a long sheet on A4 and on Letter: all of it lies within the
// pages, inside the margins, no row is cut in two, and every page's table has its head.
func TestPrints(t *testing.T) {
	exe := browser(t)
	for name, paper := range map[string]struct{ w, h float64 }{"A4": {595.28, 841.89}, "Letter": {612, 792}} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			const groups = 24
			doc := printed(t, exe, name, longSheet(groups))
			const margin = 13 * 72 / 25.4
			first, last := map[int]int{}, map[int]int{}
			heads, appendix := 0, false
			if n := doc.NumPage(); n < 6 || n > 14 {
				t.Errorf("%d pages", n)
			}
			for n := 1; n <= doc.NumPage(); n++ {
				page := doc.Page(n)
				box := page.V.Key("MediaBox")
				if w, h := box.Index(2).Float64(), box.Index(3).Float64(); w < paper.w-2 || w > paper.w+2 ||
					h < paper.h-2 || h > paper.h+2 {
					t.Fatalf("page %d is %g by %g points", n, w, h)
				}
				text := textOf(t, page, n, paper.h, margin)
				heads += strings.Count(text, "Likelycause")
				appendix = appendix || strings.Contains(text, "Appendix")
				for i := range groups {
					if !appendix {
						break // the first pages have a line each
					}
					if strings.Contains(text, fmt.Sprintf("begin%dx", i)) && first[i] == 0 {
						first[i] = n
					}
					if strings.Contains(text, fmt.Sprintf("ends%dx", i)) {
						last[i] = n
					}
				}
			}
			for i := range groups {
				if first[i] == 0 || first[i] != last[i] {
					t.Errorf("row %d begins on page %d and ends on page %d", i, first[i], last[i])
				}
			}
			if heads < 5 {
				t.Errorf("%d heads of tables of findings on all pages, want one for each table and for each page it "+
					"goes on to", heads)
			}
		})
	}
}

// textOf gives the text of a page without its spaces, and sees that each letter
// lies inside the margins. The largest type is the headline's 20 points: where
// anything is wider than the page, a browser prints all of it smaller.
func textOf(t *testing.T, page pdf.Page, n int, h, margin float64) string {
	t.Helper()
	letters := map[string]map[uint16]string{}
	for _, name := range page.Fonts() {
		f := page.Font(name)
		_, base, subset := strings.Cut(f.BaseFont(), "+") // the reader leaves out what names a subset
		if !subset {
			base = f.BaseFont()
		}
		letters[base] = unicodes(t, f.V.Key("ToUnicode"))
	}
	var b strings.Builder
	outside, largest := 0, 0.0
	text := page.Content().Text
	for i := 0; i+1 < len(text); i += 2 { // two bytes a glyph, each as a text of its own
		x := text[i]
		s := letters[x.Font][uint16(codeByte(x.S))<<8|uint16(codeByte(text[i+1].S))]
		if strings.TrimSpace(s) == "" {
			continue
		}
		if x.X < margin-1 || x.Y < margin || x.Y > h-margin {
			outside++
		}
		largest = max(largest, x.FontSize)
		b.WriteString(s)
	}
	if outside > 0 {
		t.Errorf("page %d: %d letters outside the margins", n, outside)
	}
	if b.Len() == 0 {
		t.Errorf("page %d is empty", n)
	}
	if n == 1 && (largest < 19.5 || largest > 20.5) {
		t.Errorf("the headline is %.1f points high: something is too wide for the page", largest)
	}
	return b.String()
}

// codeByte undoes what the reader makes of a byte of a glyph's number: it takes
// it for PDFDocEncoding.
func codeByte(s string) byte {
	for _, r := range s {
		return byte(r)
	}
	return 0
}

var bfLine = regexp.MustCompile(`(?m)^<([0-9a-fA-F]{4})> *(?:<([0-9a-fA-F]{4})> *)?<([0-9a-fA-F]{4,})>\s*$`)

// unicodes reads the map from glyphs to letters that a font of a PDF carries
// (ISO 32000-1, 9.10.3: bfchar and bfrange).
func unicodes(t *testing.T, cmap pdf.Value) map[uint16]string {
	t.Helper()
	b, err := io.ReadAll(cmap.Reader())
	if err != nil {
		t.Fatal(err)
	}
	_, body, _ := strings.Cut(string(b), "endcodespacerange")
	out := map[uint16]string{}
	for _, m := range bfLine.FindAllStringSubmatch(body, -1) {
		from, err1 := strconv.ParseUint(m[1], 16, 16)
		to, err2 := from, error(nil)
		if m[2] != "" {
			to, err2 = strconv.ParseUint(m[2], 16, 16)
		}
		code, err3 := strconv.ParseUint(m[3][:4], 16, 32)
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		for g := from; g <= to; g++ {
			out[uint16(g)] = string(rune(code + g - from))
		}
	}
	return out
}

// printed prints a sheet to PDF as a browser does.
func printed(t *testing.T, exe, paper string, d plots.SheetData) *pdf.Reader {
	t.Helper()
	var b bytes.Buffer
	if err := plots.Sheet(&b, d); err != nil {
		t.Fatal(err)
	}
	return printedPage(t, exe, paper, b.String())
}

// printedPage prints a page of HTML on a paper.
func printedPage(t *testing.T, exe, paper, page string) *pdf.Reader {
	t.Helper()
	// The paper is the printer's choice; headless it has to be said in the page.
	html := strings.Replace(page, "@page {", "@page { size: "+paper+"; ", 1)
	dir := t.TempDir()
	in, out := filepath.Join(dir, "sheet.html"), filepath.Join(dir, "sheet.pdf")
	if err := os.WriteFile(in, []byte(html), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, exe, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
		"--disable-dev-shm-usage", "--no-first-run",
		"--disable-background-networking", "--disable-component-update", "--disable-sync", "--user-data-dir="+
			filepath.Join(dir, "profile"),
		"--no-pdf-header-footer", "--print-to-pdf="+out,
		(&url.URL{Scheme: "file", Path: filepath.ToSlash(in)}).String())
	if msg, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, msg)
	}
	f, err := pdf.Open(out)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// TestFourteenGroupsPrintOnOnePage: a build of fourteen groups, with closures, wires, a
// failure and things to tick, has all that is needed at the bench on its first page;
// the appendix begins on the second.
func TestFourteenGroupsPrintOnOnePage(t *testing.T) {
	exe := browser(t)
	for name, h := range map[string]float64{"A4": 841.89, "Letter": 792} {
		doc := printed(t, exe, name, fourteen())
		const margin = 13 * 72 / 25.4
		first, second := textOf(t, doc.Page(1), 1, h, margin), textOf(t, doc.Page(2), 2, h, margin)
		for i := range 14 {
			if want := fmt.Sprintf("group%dx", i); !strings.Contains(first, want) {
				t.Errorf("%s: the first page lacks %s", name, want)
			}
		}
		for _, want := range []string{"Mayitbeclosed?", "keepopen", "readytoclose", "red,blackatpin7",
			"jointkeel:brown", "Nottickedyet:ballast", "licensedpractice"} {
			if !strings.Contains(first, want) {
				t.Errorf("%s: the first page lacks %q:\n%s", name, want, first)
			}
		}
		if strings.Contains(first, "Appendix") || !strings.Contains(second, "Appendix") {
			t.Errorf("%s: the appendix doesn't begin on the second page", name)
		}
	}
}

// fourteen is a sheet of fourteen groups in three closures, with names of a usual length.
func fourteen() plots.SheetData {
	d := sheet()
	d.Closures = nil
	d.Wires = []plots.WireMark{{Of: "keel", Kind: "joint", Colour: "brown"},
		{Of: "beacon", Kind: "board", Colour: "white", Pin: "B2"}}
	n := 0
	for _, c := range []struct {
		name    string
		groups  int
		verdict compare.ClosureVerdict
	}{{"deckhouse", 6, compare.KeepOpen}, {"hull", 5, compare.LookFirst}, {"lantern house", 3, compare.ReadyToClose}} {
		f := compare.ClosureFinding{Build: "Brackwater", Closure: c.name, Verdict: c.verdict,
			Reasons: []string{"galley lamps: low. One dark smd cold white 12 V takes away 9.4 mA; this group may " +
				"vary by 10.6 mA", "not looked at", "and so on"},
			Items: []compare.Item{{Name: "ballast", Kind: "thing"}}}
		for i := range c.groups {
			v := compare.InBand
			if c.verdict == compare.KeepOpen && i < 2 {
				v = compare.Low
			}
			g := finding(fmt.Sprintf("group%dx saloon lamps", n), v, 30, 0.2, 38, 35, 41)
			if v == compare.Low {
				g.Causes = []compare.Cause{{Text: "Count the segments. Six? Then one is dark, often by a cracked " +
					"joint at a cut. Five? Correct the plan.", P: 0.9}}
			}
			d.Wires = append(d.Wires, plots.WireMark{Of: g.Group, Kind: "group", Colour: "red, black",
				Pin: fmt.Sprint(n)})
			f.Groups = append(f.Groups, g)
			n++
		}
		d.Closures = append(d.Closures, f)
	}
	return d
}
