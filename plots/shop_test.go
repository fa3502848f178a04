package plots_test

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"sealworthy/compare"
	"sealworthy/plots"
)

// shop is an invented shop.
func shop() plots.ShopData {
	at := time.Date(2026, 12, 1, 10, 15, 0, 0, time.UTC)
	return plots.ShopData{Title: "shop: 5 builds", Rows: []plots.ShopRow{
		{Build: "Brackwater", Verdict: compare.KeepOpen, Closures: []compare.ClosureVerdict{compare.ReadyToClose,
			compare.LookFirst, compare.KeepOpen}, Left: []string{"deckhouse: look first", "hull: keep open"},
			Serial: "BW-7", Simulated: true},
		{Build: "Gig", Verdict: compare.ReadyToClose, Closures: []compare.ClosureVerdict{compare.ReadyToClose,
			compare.ReadyToClose}, LeftAt: at, Serial: "G-2"},
		{Build: "Tender", Verdict: compare.ClosedByChoice, Closures: []compare.ClosureVerdict{compare.ClosedByChoice},
			LeftAt: at.AddDate(0, -3, 0)},
		{Build: "Launch with a name that a maker made much too long for a picture", Verdict: compare.NotSettled,
			Closures: make([]compare.ClosureVerdict, 24),
			Left:     []string{"forecastle: not settled", "hold: not settled"}},
		{Build: "Dinghy", Problem: "dinghy/plan.toml:3:9: expected a value"},
	}}
}

// ExampleShop draws every build of a shop.
func ExampleShop() {
	d := shop()
	for i := range d.Rows[3].Closures {
		d.Rows[3].Closures[i] = compare.NotSettled
	}
	drawTo("shop", func(w *os.File, f plots.Format) error { return plots.Shop(w, f, style(), d) })
	// Output:
}

func TestShopGolden(t *testing.T) { golden(t, "shop", ExampleShop) }

// TestShopIsFull: of more than a page holds those that are fine, or left, are counted, and none
// that is to be kept open.
func TestShopIsFull(t *testing.T) {
	d := plots.ShopData{Title: "shop: 70 builds"}
	for i := range 70 {
		v := compare.ReadyToClose
		switch {
		case i%2 == 1: // the last of them, too
			v = compare.KeepOpen
		case i%10 == 0:
			v = compare.NotSettled
		}
		d.Rows = append(d.Rows, plots.ShopRow{Build: fmt.Sprintf("build %d", i), Verdict: v,
			Closures: []compare.ClosureVerdict{v}})
	}
	var b bytes.Buffer
	if err := plots.Shop(&b, plots.SVG, plots.DefaultStyle(), d); err != nil {
		t.Fatal(err)
	}
	_, seen, _ := strings.Cut(b.String(), "</desc>")
	for i, r := range d.Rows {
		if r.Verdict != compare.ReadyToClose && !strings.Contains(seen, fmt.Sprintf(">build %d<", i)) {
			t.Errorf("%s isn't drawn, and is %s", r.Build, r.Verdict)
		}
	}
	if !strings.Contains(seen, ">10 more aren&#39;t drawn.<") || strings.Contains(seen, "left earlier") {
		t.Error("10 more aren't counted")
	}
}

// TestShop: a page holds those that are here, then those that left last, and counts the
// others; all are spoken of. No build is no picture.
func TestShop(t *testing.T) {
	d := shop()
	for i := range 80 {
		d.Rows = append(d.Rows, plots.ShopRow{Build: fmt.Sprintf("old %d", i), Verdict: compare.ReadyToClose,
			Closures: []compare.ClosureVerdict{compare.ReadyToClose},
			LeftAt:   time.Date(2020, 1, 1+i, 0, 0, 0, 0, time.UTC)})
	}
	d.Rows = append(d.Rows, plots.ShopRow{Build: "new one", Verdict: compare.NotSettled})
	var b bytes.Buffer
	if err := plots.Shop(&b, plots.SVG, plots.DefaultStyle(), d); err != nil {
		t.Fatal(err)
	}
	_, seen, _ := strings.Cut(b.String(), "</desc>")
	for want, is := range map[string]bool{">new one<": true, ">old 79<": true, ">old 0<": false,
		">26 more aren&#39;t drawn.<": true, ">2026-12-01<": true, ">2 of 2<": true,
		plots.SimulatedBench: true, ">BW-7<": true, ">keep open<": true, ">not read<": true} {
		if strings.Contains(seen, want) != is {
			t.Errorf("%q is in the picture: %v", want, !is)
		}
	}
	if !strings.Contains(b.String(), "old 0: ready to close, 1 of 1, left 2020-01-01") {
		t.Error("not all are spoken of")
	}
	if b.Len() > mostBytes {
		t.Errorf("%d bytes", b.Len())
	}
	if plots.Shop(&b, plots.SVG, plots.DefaultStyle(), plots.ShopData{}) == nil {
		t.Error("nothing is drawn")
	}
}
