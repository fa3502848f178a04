package plots_test

import (
	"bytes"
	"encoding/xml"
	"io"
	"reflect"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"sealworthy/plots"
)

// hostile texts: what a terminal or a browser would obey, what hides, what turns
// a line round, what ends an element early, what is no UTF-8.
var hostile = []string{
	"\x1b]0;title\x07\x1b[2J\x1b[31m", "\u009b2J\u0085", "\x00\x08\x7f", "\u202egnp.exe\u202c\u2066\u2069",
	"\u2028\u2029\u200b\ufeff\u00ad",
	"\xff\xfe\xc3", "\U000e0041\U0010ffff\ufffe", "<script>alert(1)</script>", `"><img src=x onerror=alert(1)>`,
	"--></svg><script>]]>",
	"{{.Build}} %s %!d", "&#27;&#x202e;&lt;", "javascript:alert(1)", "a\r\nb\rc", "'; url(http://x)",
}

// poison adds a text to every plain string below v, the same to the same; words
// of a fixed list have types of their own and stay, as do units.
func poison(v reflect.Value, add string) {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			poison(v.Elem(), add)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() && v.Type().Field(i).Name != "Unit" {
				poison(v.Field(i), add)
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			poison(v.Index(i), add)
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			x := reflect.New(v.Type().Elem()).Elem()
			x.Set(v.MapIndex(k))
			poison(x, add)
			if k.Type() == reflect.TypeFor[string]() {
				v.SetMapIndex(k, reflect.Value{})
				k = reflect.ValueOf(k.String() + add)
			}
			v.SetMapIndex(k, x)
		}
	case reflect.String:
		if v.CanSet() && v.Type() == reflect.TypeFor[string]() && v.String() != "" {
			v.SetString(v.String() + add)
		}
	}
}

// harmless: nothing in a page or a picture of text but what is to be seen.
func harmless(t *testing.T, name string, text []byte) {
	t.Helper()
	if !utf8.Valid(text) {
		t.Errorf("%s is no UTF-8", name)
	}
	for i, r := range string(text) {
		if r != '\n' && r != '\t' && !unicode.IsGraphic(r) {
			t.Fatalf("%s holds %U after %q", name, r, text[max(0, i-40):i])
		}
	}
	low := strings.ToLower(string(text))
	for _, never := range []string{"<script", "<img", "onerror=alert(1)>", "&#27;", "&#x1b;", "&#x202e;"} {
		if i := strings.Index(low, never); i >= 0 {
			t.Errorf("%s holds %q: …%s…", name, never, text[max(0, i-40):min(len(text), i+60)])
		}
	}
}

// Whatever stands in any string of what a page or a picture is made of, it's
// shown and does nothing.
func TestHostileTextInEveryString(t *testing.T) {
	for _, add := range hostile {
		d := sheet()
		poison(reflect.ValueOf(&d), add)
		harmless(t, "the sheet", []byte(sheetText(t, d)))

		c := plots.DeliveryData{Build: "b", Scale: "s", Serial: "n", Contact: "c", Plug: "p", Centre: "plus",
			Volts: 12, Cautions: []string{"c"},
			Lights:  []plots.DeliveryLight{{Name: "n", See: "s", Does: "d"}},
			Buttons: []plots.DeliveryButton{{Board: "b", Steps: []string{"s"}}}}
		poison(reflect.ValueOf(&c), add)
		var b bytes.Buffer
		if err := plots.Delivery(&b, c); err != nil {
			t.Fatal(err)
		}
		harmless(t, "the client's page", b.Bytes())

		r := plots.ReturnData{Build: "Brackwater", Serial: "BW-1", Diagnosis: comeBack(), Style: style()}
		poison(reflect.ValueOf(&r), add)
		b.Reset()
		if err := plots.ReturnSheet(&b, r); err != nil {
			t.Fatal(err)
		}
		harmless(t, "the page of a return", b.Bytes())

		x, tree, trend, trace, builds := deckhouse(), feedTree(), years(), steady(), shop()
		bands := plots.BandsData{Title: "b",
			Rows: []plots.BandRow{{Group: "galley", ExpectedA: 0.02, Band: band(19, 24), SmallestA: 0.02}}}
		poison(reflect.ValueOf(&x), add)
		poison(reflect.ValueOf(&tree), add)
		poison(reflect.ValueOf(&trend), add)
		poison(reflect.ValueOf(&trace), add)
		poison(reflect.ValueOf(&builds), add)
		poison(reflect.ValueOf(&bands), add)
		for name, paint := range map[string]func(io.Writer, plots.Format) error{
			"closure": func(w io.Writer, f plots.Format) error { return plots.Closure(w, f, style(), x) },
			"tree":    func(w io.Writer, f plots.Format) error { return plots.FeedTree(w, f, style(), tree) },
			"trend":   func(w io.Writer, f plots.Format) error { return plots.Trend(w, f, style(), trend) },
			"shop":    func(w io.Writer, f plots.Format) error { return plots.Shop(w, f, style(), builds) },
			"bands":   func(w io.Writer, f plots.Format) error { return plots.Bands(w, f, style(), bands) },
			"trace": func(w io.Writer, f plots.Format) error {
				d, err := plots.TraceOf(trace, "", nil)
				if err != nil {
					return err
				}
				return plots.Trace(w, f, style(), d)
			},
		} {
			b.Reset()
			if err := paint(&b, plots.SVG); err != nil {
				t.Fatalf("%s with %q: %v", name, add, err)
			}
			harmless(t, name, b.Bytes())
			wellFormed(t, name, b.Bytes())
			for d := xml.NewDecoder(bytes.NewReader(b.Bytes())); ; {
				tok, err := d.Token()
				if err != nil {
					break
				}
				if e, ok := tok.(xml.StartElement); ok && e.Name.Local == "script" {
					t.Errorf("%s: a script", name)
				}
			}
			if err := paint(io.Discard, plots.PDF); err != nil {
				t.Fatalf("%s as PDF with %q: %v", name, add, err)
			}
		}
	}
}
