package plain_test

import (
	"encoding/json"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"sealworthy/plots/plain"
)

func TestClean(t *testing.T) {
	for in, want := range map[string]string{
		"":                             "",
		"cabin windows: 38.2 mA ± 1 %": "cabin windows: 38.2 mA ± 1 %",
		"Größe 5 Ω █ — ½":              "Größe 5 Ω █ — ½",
		"two\tlines\nof it":            "two\tlines\nof it",
		"of Windows\r\n":               "of Windows\n",
		"back\rover":                   `back\u000dover`,
		"\x1b]0;title\a":               `\u001b]0;title\u0007`,
		"\x1b[2J":                      `\u001b[2J`,
		"\u009b2J\u0085":               `\u009b2J\u0085`,
		"\x9b2J":                       `\x9b2J`,
		"a\x7f\x00":                    `a\u007f\u0000`,
		"\u202etxet\u202c":             `\u202etxet\u202c`,
		"\u2066x\u2069":                `\u2066x\u2069`,
		"a\u2028b\u2029c":              `a\u2028b\u2029c`,
		"zero\u200bwidth\ufeff":        `zero\u200bwidth\ufeff`,
		"soft\u00adhyphen":             `soft\u00adhyphen`,
		"tags\U000e0041":               `tags\udb40\udc41`,
		"private \ue000":               `private \ue000`,
		"filler \u3164":                `filler \u3164`,
		"\ufffd":                       "\ufffd",
		"half \xe2\x82":                `half \xe2\x82`,
		`C:\plans\bow`:                 `C:\plans\bow`,
	} {
		if got := plain.Clean(in); got != want {
			t.Errorf("Clean(%q) = %q, want %q", in, got, want)
		}
	}
}

func TestColumns(t *testing.T) {
	for s, want := range map[string]int{
		"cabin": 5, "Größe": 5, "5 Ω ± ½ █": 9, "灯台": 4, "ｆｕｌｌ": 8, "cafe\u0301": 4, "\u1f4a1"[:3]: 1, "\U0001f4a1": 2,
		"\u2764\ufe0f": 2, "\x1b": 6, "\U000e0041": 12,
	} {
		got := 0
		for _, r := range s {
			got += plain.Columns(r)
		}
		if got != want {
			t.Errorf("%q takes %d columns, want %d", s, got, want)
		}
	}
}

// Nothing that a terminal obeys, nothing that hides, comes through; what is
// harmless does; once more changes nothing.
func FuzzClean(f *testing.F) {
	for _, s := range []string{"", "bow 1", "\x1b[31m", "\xff\xfe", "\u202e", "\r\n\r", "\U000e0001", "\\u001b",
		"\xf0\x9f"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := plain.Clean(s)
		if !utf8.ValidString(got) {
			t.Fatalf("%q became %q, no UTF-8", s, got)
		}
		columns := 0
		for _, r := range got {
			if r < ' ' && r != '\n' && r != '\t' || unicode.In(r, unicode.C, unicode.Zl, unicode.Zp) && r != '\n' &&
				r != '\t' {
				t.Fatalf("%q became %q, which holds %U", s, got, r)
			}
			columns += plain.Columns(r)
		}
		if again := plain.Clean(got); again != got {
			t.Fatalf("%q became %q, then %q", s, got, again)
		}
		if utf8.ValidString(s) && !strings.Contains(s, "\r\n") {
			said := 0
			for _, r := range s {
				said += plain.Columns(r)
			}
			if said != columns {
				t.Fatalf("%q takes %d columns, said %d", s, columns, said)
			}
		}
	})
}

// JSON that passes says the same as before.
func FuzzJSONStaysWhatItWas(f *testing.F) {
	f.Add("bow \x7f\u202e\u2028\U000e0041\x9b\"\\")
	f.Fuzz(func(t *testing.T, s string) {
		src, err := json.Marshal(map[string]string{"see": s})
		if err != nil {
			t.Skip()
		}
		var want, got map[string]string
		if err := json.Unmarshal(src, &want); err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal([]byte(plain.Clean(string(src))), &got); err != nil || got["see"] != want["see"] {
			t.Fatalf("%q became %q (%v)", want["see"], got["see"], err)
		}
	})
}
