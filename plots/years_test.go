package plots

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/compare"
)

// TestYears: every measurement is in the picture, what changed in words, too; nothing is no
// picture. Invented data.
func TestYears(t *testing.T) {
	at := time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC)
	d := YearsOf("Brackwater", []compare.GroupYears{{Group: "cabin windows", Points: []compare.YearsPoint{
		{At: at, Stage: "loose", Rel: 1, RelU: 0.002}, {At: at.AddDate(2, 0, 0), Stage: "returned", Rel: 0.7,
			RelU: 0.002, Changed: true}}},
		{Group: "saloon", Pace: "slow",
			Points: []compare.YearsPoint{{At: at, Stage: "loose", Rel: 1, RelU: 0.002, Simulated: true}}}}, nil)
	d.Rows[1].Notes = []string{"first", "2026-11-26 a lamp of another batch", "third", "fourth"}
	var b bytes.Buffer
	if err := Years(&b, SVG, DefaultStyle(), d); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"2026-11-25 loose", "2028-11-25 returned", "-30.0 % ±0.4", "changed", "saloon, slow",
		"measured once", SimulatedBench, "0 %: the first reading",
		">note: 2026-11-26 a lamp of another batch<", ">(1 earlier note isn&#39;t drawn)<"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q isn't in the picture", want)
		}
	}
	if b.Len() > 100<<10 {
		t.Errorf("%d bytes", b.Len())
	}
	r := ReelsOf("shop", []compare.ReelYears{{Reel: "window strip", Drifts: true, Fails: 1,
		Points: []compare.ReelPoint{{Build: "first", At: at, Rel: 0.02, U: 0.01, Failed: []string{"saloon"}}}}}, nil)
	if b.Reset(); Years(&b, SVG, DefaultStyle(), r) != nil || !strings.Contains(b.String(), "drifts, 1 group failed") {
		t.Error(b.String())
	}
	var many YearsData // a page of what matters, and how much else there is
	for i := range 90 {
		row := YearsRow{Name: fmt.Sprintf("group %d", i), Words: "as it was", Bad: i == 89,
			Notes: slices.Repeat([]string{strings.Repeat("a resistor of another batch ", 7)}, 5)}
		for k := range 9 {
			row.Marks = append(row.Marks, YearsMark{Label: fmt.Sprintf("reading %d of %d", k, i), U: 0.01})
		}
		many.Rows = append(many.Rows, row)
	}
	if b.Reset(); Years(&b, SVG, DefaultStyle(), many) != nil || b.Len() > 100_000 {
		t.Errorf("%d bytes", b.Len())
	}
	_, seen, _ := strings.Cut(b.String(), "</desc>")
	for want, is := range map[string]bool{"reading 0 of 89": true, "reading 8 of 89": true, "reading 6 of 89": false,
		">group 34<": true, ">group 35<": false, ">(4 earlier notes aren&#39;t drawn)<": true,
		">(6 between aren&#39;t drawn)<": true, ">54 more aren&#39;t drawn": true} {
		if strings.Contains(seen, want) != is {
			t.Errorf("%q is in the picture: %v", want, !is)
		}
	}
	if Years(&b, SVG, DefaultStyle(), YearsData{Title: "x"}) == nil {
		t.Error("nothing is drawn")
	}
}
