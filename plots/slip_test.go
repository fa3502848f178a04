package plots_test

import (
	"bytes"
	"reflect"
	"strings"
	"testing"

	"sealworthy/compare"
	"sealworthy/compare/coverage"
	"sealworthy/compare/fault"
	"sealworthy/plots"
)

// The chance that a fault is still in a closure stands on the maker's sheet.
func TestTheSheetSaysWhatMaySlip(t *testing.T) {
	c := compare.ClosureFinding{Closure: "hull", Verdict: compare.ReadyToClose, Slip: &compare.Slip{P: 0.005,
		Kinds: []compare.SlipKind{{Kind: fault.BadJoint, P: 0.004}, {Kind: fault.DarkSegment, P: 0.0001}},
		Rates: coverage.OwnPriors}}
	page := func() string {
		var b bytes.Buffer
		if err := plots.Sheet(&b, plots.SheetData{Build: "Brackwater", Closures: []compare.ClosureFinding{c},
			Style: style()}); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	want := "Chance that a fault is still in it: 1 in 200 (bad joint 1 in 250), by the rates of the maker&#39;s " +
		"priors file."
	if got := page(); !strings.Contains(got, want) {
		t.Errorf("the sheet doesn't say %q", want)
	}
	c.Slip = nil
	if got := page(); strings.Contains(got, "still in it") {
		t.Error("a closure that didn't pass says what may slip")
	}
}

// What a page for a client is made of holds no such chance, at whatever depth.
func TestNoClientsPageCanSayWhatMaySlip(t *testing.T) {
	slip := reflect.TypeFor[compare.Slip]()
	seen := map[reflect.Type]bool{}
	var holds func(x reflect.Type) bool
	holds = func(x reflect.Type) bool {
		if x == slip {
			return true
		}
		if seen[x] {
			return false
		}
		seen[x] = true
		switch x.Kind() {
		case reflect.Pointer, reflect.Slice, reflect.Array:
			return holds(x.Elem())
		case reflect.Map:
			return holds(x.Key()) || holds(x.Elem())
		case reflect.Struct:
			for i := range x.NumField() {
				if holds(x.Field(i).Type) {
					return true
				}
			}
		}
		return false
	}
	for _, page := range []reflect.Type{reflect.TypeFor[plots.DeliveryData](), reflect.TypeFor[plots.ReturnData]()} {
		clear(seen)
		if holds(page) {
			t.Errorf("%s holds the chance that a fault is still in there", page)
		}
	}
	clear(seen)
	if !holds(reflect.TypeFor[plots.SheetData]()) {
		t.Error("this test doesn't find it on the maker's sheet either")
	}
}
