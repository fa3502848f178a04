package plots_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"regexp"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/words"
	"sealworthy/plots"
)

func TestSheetGolden(t *testing.T) { goldenText(t, "sheet.html", ExampleSheet) }

func sheetText(t testing.TB, d plots.SheetData) string {
	t.Helper()
	var b bytes.Buffer
	if err := plots.Sheet(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestSheetStandsAlone: nothing in it is fetched from anywhere.
func TestSheetStandsAlone(t *testing.T) { standsAlone(t, sheetText(t, sheet())) }

func standsAlone(t *testing.T, s string) {
	t.Helper()
	s = strings.NewReplacer(`xmlns="http://www.w3.org/2000/svg"`, "", `xmlns:xlink="http://www.w3.org/1999/xlink"`,
		"").Replace(s)
	if m := regexp.MustCompile(
		`(?i)(https?:|//[a-z]|url\(|@import|\bsrc=|\bhref=|<script|<link|<iframe|<object)`).FindString(s); m != "" {
		t.Fatalf("the page asks for something else: it holds %q", m)
	}
}

// A sheet tells times as the clock did by which it was made, with the name of its zone; what is on record is in UTC.
func TestASheetTellsItsMakersTimes(t *testing.T) {
	d := sheet()
	was := sheetText(t, d)
	d.Made = d.Made.In(time.FixedZone("WIT", 9*3600))
	s := sheetText(t, d)
	for _, want := range []string{"25 November 2026, 18:30 WIT", "2026-11-25 15:45 WIT", "begun 2026-11-25 15:45:00 WIT"} {
		if !strings.Contains(s, want) {
			t.Errorf("%q isn't in it", want)
		}
	}
	if strings.Contains(s, "UTC") || strings.Count(s, "WIT") != strings.Count(was, "UTC") {
		t.Errorf("%d times in its own zone, %d in UTC, of %d", strings.Count(s, "WIT"), strings.Count(s, "UTC"),
			strings.Count(was, "UTC"))
	}
}

// TestSheetSaysAll: what must not be missed stands there.
func TestSheetSaysAll(t *testing.T) {
	s := sheetText(t, sheet())
	for _, want := range []string{
		`<html lang="en">`, "<title>Brackwater", `scope="col"`, `scope="row"`, "<caption>", `role="img"`, "@page",
		"keep open", "ready to close", "not settled", "bow lamp was not measured",
		plots.SimulatedBench, "INVENTED,BENCH METER,0017,1.0 (simulated)", "±(0.2 % of reading + 50 µA)",
		"bench meter, SCPI", "20.5 °C", "3f9ac01b22de", "fitted",
		"402.0 mA", "446 to 519 mA", "one segment of the strip is dark or cut", "measure it alone at 6 V",
		"period 2.003 s", "the last line was torn",
		"Never solder with the output on", "fuse at the jack", "closed hull", "photosensitive", "Lithium",
		"licensed practice under your local codes",
		"beacon flashes 1.3 times a second", "SIMULATED: it rests on a simulated bench",
		"What must be in it before it closes",
		`keel <span class="quiet">joint: tested`, `bow lamp <span class="quiet">group: not yet`,
		`ballast <span class="quiet">thing: checked by hand`,
	} {
		if !strings.Contains(s, want) && !strings.Contains(strings.ReplaceAll(s, "&#43;", "+"), want) {
			t.Errorf("the sheet doesn't say %q", want)
		}
	}
	d := sheet()
	for i := range d.Steps {
		d.Steps[i].Simulated = false
	}
	for i := range d.Closures {
		d.Closures[i].Simulated = false
		d.Closures[i].Groups = append([]compare.Finding(nil), d.Closures[i].Groups...)
		for k := range d.Closures[i].Groups {
			d.Closures[i].Groups[k].Simulated = false
		}
	}
	d.Tree = nil
	if strings.Contains(sheetText(t, d), "SIMULATED") {
		t.Error("a sheet of a real model says that it is simulated")
	}
}

// TestSheetIsWellFormed: it parses as XML once void elements are closed, so no
// tag is left open, and headings don't skip a level.
func TestSheetIsWellFormed(t *testing.T) {
	s := sheetText(t, sheet())
	if i := strings.Index(s, "<style>"); i > 0 {
		s = s[:i] + s[strings.Index(s, "</style>")+len("</style>"):]
	}
	s = regexp.MustCompile(`<meta [^>]*>`).ReplaceAllString(s, "")
	d := xml.NewDecoder(strings.NewReader(strings.TrimPrefix(s, "<!DOCTYPE html>")))
	d.Entity = xml.HTMLEntity
	level, ids := 0, map[string]bool{}
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		e, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		if n := e.Name.Local; len(n) == 2 && n[0] == 'h' && n[1] >= '1' && n[1] <= '6' {
			if at := int(n[1] - '0'); at > level+1 {
				t.Errorf("heading %s after level %d", n, level)
			} else {
				level = at
			}
		}
		for _, a := range e.Attr {
			if a.Name.Local == "id" {
				if ids[a.Value] {
					t.Errorf("id %q twice", a.Value)
				}
				ids[a.Value] = true
			}
		}
	}
}

// TestHostileNames: a name is text, never markup, in the page and in the pictures.
func TestHostileNames(t *testing.T) {
	const evil = `<script>alert("x")</script>&'`
	d := sheet()
	d.Build, d.Scale, d.Cautions, d.Warnings = evil, evil, []string{evil}, []string{evil}
	g := finding(evil, compare.Low, 30, 0.2, 38, 35, 41)
	g.Pace, g.Seen, g.Notes, g.Settle, g.Accepted = evil, evil, []string{evil}, []string{evil}, evil
	g.Causes = []compare.Cause{{Text: evil, Place: evil}}
	d.Closures = []compare.ClosureFinding{{Closure: evil, Inside: evil, Verdict: compare.KeepOpen,
		Reasons: []string{evil}, Groups: []compare.Finding{g}}}
	s := sheetText(t, d)
	if strings.Contains(s, "<script") || strings.Contains(s, `alert("x")`) {
		t.Fatal("a name became markup")
	}
	var b bytes.Buffer
	if err := plots.Closure(&b, plots.SVG, style(), d.Closures[0]); err != nil {
		t.Fatal(err)
	}
	wellFormed(t, "closure", b.Bytes())
}

// TestSheetOfNothing: a build of which nothing was measured has a sheet too, and it says so.
func TestSheetOfNothing(t *testing.T) {
	s := sheetText(t, plots.SheetData{Build: "Brackwater", Style: style(), Closures: []compare.ClosureFinding{
		{Closure: "hull", Verdict: compare.NotSettled,
			Groups: []compare.Finding{{Group: "bow lamp", Closure: "hull"}}},
		{Closure: "empty", Verdict: compare.ReadyToClose}}})
	for _, want := range []string{"nothing yet", "No instrument is on record", "not measured", "no group of its own"} {
		if !strings.Contains(s, want) {
			t.Errorf("it doesn't say %q", want)
		}
	}
}

// TestSheetOfUnknownRoom: what isn't known is said to be unknown, and steps from
// another plan are named.
func TestSheetOfUnknownRoom(t *testing.T) {
	d := sheet()
	d.Steps = append([]capture.StepRecord(nil), d.Steps...)
	for i := range d.Steps {
		d.Steps[i].AmbientC = nil
	}
	d.Steps[0].Step.PlanRevision = "aaaabbbbcccc"
	s := sheetText(t, d)
	for _, want := range []string{"not known", "some steps were made from aaaabbbbcccc"} {
		if !strings.Contains(s, want) {
			t.Errorf("it doesn't say %q", want)
		}
	}
}

// TestSheetPutsWhatIsWrongFirst: a wire that melts isn't left to the last page.
func TestSheetPutsWhatIsWrongFirst(t *testing.T) {
	d := sheet()
	d.Cautions = append(d.Cautions, plots.WrongInPlan+"the wire to the keel melts")
	s := sheetText(t, d)
	at := strings.Index(s, "<li>the wire to the keel melts</li>")
	if at < 0 || at > strings.Index(s, ">Findings<") {
		t.Errorf("what is wrong stands at %d", at)
	}
	if s := sheetText(t, sheet()); strings.Contains(s, "Wrong in the plan") {
		t.Error("nothing is wrong, yet the sheet says so")
	}
}

// A row of the first page in band, its draw outside of the band beside it, says why in the same row.
func TestSheetSaysWhyYetInBand(t *testing.T) {
	lamps := compare.Finding{Group: "hold lamps", Verdict: compare.InBand, Readings: 1, MeasuredA: 0.03899,
		MeasuredU: 0.00001, ExpectedA: 0.0369, Band: compare.Band{LowA: 0.0349, HighA: 0.0389, Coverage: 0.95},
		Notes: []string{words.EdgeOfBand}}
	d := sheetText(t, plots.SheetData{Build: "Brackwater", Style: plots.DefaultStyle(),
		Closures: []compare.ClosureFinding{
			{Build: "Brackwater", Closure: "hull", Verdict: compare.LookFirst, Groups: []compare.Finding{lamps}}}})
	front, _, _ := strings.Cut(d, `class="appendix"`)
	if n := strings.Count(front, "excluded that one light is missing"); n != 1 {
		t.Errorf("the first page says why %d times:\n%s", n, front)
	}
}
