package plots_test

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"sealworthy/compare/returns"
	"sealworthy/plots"
)

// papers in points (ISO 216 A4, ANSI/ASME Y14.1 size A).
var papers = map[string]struct{ w, h float64 }{"A4": {595.28, 841.89}, "Letter": {612, 792}}

// delivery is the client's page of an invented model of so many lights.
func delivery(lights int) string {
	d := plots.DeliveryData{Build: "Brackwater", Scale: "1:96", Serial: "BW-1", Contact: "the maker, at the harbour",
		Made: time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC), Simulated: true,
		Plug: "5.5 x 2.1 mm, centre plus", Centre: "plus", Volts: 12, AdapterAmps: 1, Flashes: true,
		Buttons: []plots.DeliveryButton{{Board: "lamp driver", Steps: []string{"slow", "fast", "steady"}}}}
	for i := range lights {
		d.Lights = append(d.Lights, plots.DeliveryLight{Name: fmt.Sprintf("begin%dx", i),
			See: fmt.Sprintf("lights in a row ends%dx", i)})
	}
	var b bytes.Buffer
	if err := plots.Delivery(&b, d); err != nil {
		return err.Error()
	}
	return b.String()
}

// returned is the page of an invented return with so many places.
func returned(places int) string {
	d := comeBack()
	d.Set = nil
	for i := range places {
		c := returns.Cause{Place: fmt.Sprint(i), P: 1 / float64(places), Text: fmt.Sprintf("begin%dx %s ends%dx", i,
			strings.Repeat("one of its lights or segments is dark; ", 1+i%4), i), Closure: "hull"}
		d.Set = append(d.Set, c)
	}
	x, a := parted()
	blinks := plots.BlinkersOf("the whole model at jack main, returned", x, a)
	var b bytes.Buffer
	if err := plots.ReturnSheet(&b, plots.ReturnData{Build: "Brackwater", Serial: "BW-1", Diagnosis: d,
		Blinkers: &blinks, Style: style()}); err != nil {
		return err.Error()
	}
	return b.String()
}

// TestFormsPrint prints the client's page and that of a return on A4 and on
// Letter: as many pages as fit, nothing outside the margins, no row cut in two,
// no headline left alone at a page's foot, the last line there.
func TestFormsPrint(t *testing.T) {
	exe := browser(t)
	for _, x := range []struct {
		name, page string
		rows       int
		pages      [2]int // at least, at most
		heads      []string
		last       string
		margin     float64 // mm
	}{
		{"delivery", delivery(14), 14, [2]int{1, 1}, []string{"Power", "What lights up", "In daily use",
			"If something stays dark"}, "is for licensed people.", 12},
		{"delivery of many lights", delivery(60), 60, [2]int{2, 3},
			[]string{"In daily use", "If something stays dark"}, "is for licensed people.", 12},
		{"return", returned(4), 4, [2]int{2, 2}, []string{"What was found", "How sure is that",
			"What will have to be opened", "Cautions", "Pictures"}, "with the best explanations.", 13},
		{"return with many places", returned(24), 24, [2]int{3, 4},
			[]string{"How sure is that", "Cautions", "Pictures"}, "with the best explanations.", 13},
	} {
		if x.rows > 20 && os.Getenv("CI") == "" && os.Getenv("SEALWORTHY_LONG") == "" {
			continue // a browser takes seconds: the long pages are for the long runs
		}
		for paper, size := range papers {
			t.Run(x.name+" on "+paper, func(t *testing.T) {
				t.Parallel()
				doc := printedPage(t, exe, paper, x.page)
				n := doc.NumPage()
				if n < x.pages[0] || n > x.pages[1] {
					t.Errorf("%d pages, want %d to %d", n, x.pages[0], x.pages[1])
				}
				var texts []string
				for i := 1; i <= n; i++ {
					texts = append(texts, textOf(t, doc.Page(i), i, size.h, x.margin*72/25.4))
				}
				bare := func(s string) string { return strings.ReplaceAll(s, " ", "") }
				for i := range x.rows {
					from, to := onPage(texts, fmt.Sprintf("begin%dx", i)), onPage(texts, fmt.Sprintf("ends%dx", i))
					if from < 0 || from != to {
						t.Errorf("row %d begins on page %d and ends on page %d", i, from+1, to+1)
					}
				}
				for _, h := range x.heads {
					i := onPage(texts, bare(h))
					if i < 0 {
						t.Errorf("no headline %q", h)
					} else if strings.HasSuffix(strings.TrimSpace(texts[i]), bare(h)) {
						t.Errorf("the headline %q stands alone at the foot of page %d", h, i+1)
					}
				}
				if !strings.Contains(texts[n-1], bare(x.last)) {
					t.Errorf("the last line %q is not on the last page: %q", x.last, texts[n-1])
				}
			})
		}
	}
}

// onPage finds the page that holds a text; -1: none.
func onPage(texts []string, s string) int {
	for i, t := range texts {
		if strings.Contains(t, s) {
			return i
		}
	}
	return -1
}
