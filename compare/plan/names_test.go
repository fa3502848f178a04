package plan

import (
	"strings"
	"testing"
)

func TestNamesThatCantBeKept(t *testing.T) {
	long := strings.Repeat("x", 65)
	checkRows(t, []row{
		{"semicolon", `name = "cabin"`, `name = ▶"bow;red"`, "semicolon", `write "bow red"`},
		{"an answer", `name = "cabin"`, `name = ▶"All right"`, "is an answer", `write "All right lamps"`},
		{"another answer", `name = "cabin"`, `name = ▶"the clip"`, "is an answer", `write "the clip lamps"`},
		{"backslash", `name = "cabin"`, `name = ▶"cab\\in"`, "backslash", `write "cab in"`},
		{"control character", `name = "cabin"`, `name = ▶"cab\u0007in"`, "invisible", `write "cab in"`},
		{"newline", `name = "cabin"`, `name = ▶"cab\nin"`, "invisible", `write "cab in"`},
		{"no-break space", `name = "cabin"`, "name = ▶\"cab\u00a0in\"", "invisible", `write "cab in"`},
		{"turns the line round", `name = "cabin"`, "name = ▶\"cab\u202ein\"", "invisible", `write "cab in"`},
		{"blank at the end", `name = "cabin"`, `name = ▶"cabin "`, "begins or ends", `write "cabin"`},
		{"blank at the start", `name = "cabin"`, `name = ▶" cabin"`, "begins or ends", `write "cabin"`},
		{"empty", `name = "cabin"`, `name = ▶""`, "is empty", `write`},
		{"blanks", `name = "cabin"`, `name = ▶"  "`, "is empty", `write`},
		{"remark", `name = "cabin"`, `name = ▶"#1 cabin"`, "begins with #", `write "1 cabin"`},
		{"long", `name = "cabin"`, `name = ▶"` + long + `"`, "longer than 64", strings.Repeat("x", 60)},
		{"build for a file", `build = "Brackwater"`, `build = ▶"Brack/water"`, "file name", `write "Brack water"`},
		{"build of Windows", `build = "Brackwater"`, `build = ▶"Aux"`, "Windows", `write "the Aux"`},
		{"closure for a file", `[closure.deckhouse]`, `[closure.▶"deck: house"]`, "has a :", `write "deck house"`},
		{"closure with a mark", `[closure.deckhouse]`, `[closure.▶"deck?"]`, "has a ?", `write "deck"`},
		{"closure with a point", `[closure.deckhouse]`, `[closure.▶"deck."]`, "ends with a point", `write "deck"`},
		{"joint", "[joint.keel]", "[joint.keel]\n[joint.▶\" k\"]", "begins or ends", `write "k"`},
		{"pace", "", "[board.x]\npart = \"single blinker\"\npaces = [ { name = ▶\"sl\\\\ow\", period_s = 1 } ]\n",
			"backslash", `write "sl ow"`},
		{"two groups", `name = "port"`, `name = ▶"cabin"`, "same name as the group on line 14", `"cabin 2"`},
		{"groups but for capitals", `name = "port"`, `name = ▶"Cabin"`, "but for capitals", `"Cabin 2"`},
		{"group and board", `name = "port"`, `name = ▶"beacon"`, "same name as the board on line 10", `"beacon 2"`},
		{"closures but for capitals", `[closure.deckhouse]`, `[closure.▶Hull]`, "but for capitals", `"Hull 2"`},
		{"joint and jack", "[return.mast]", "[joint.▶main]\n[return.mast]", "same name as the jack on line 2",
			`"main 2"`},
		{"return and jack", "[return.mast]\nto = \"main\"",
			"[return.mast]\nto = \"main\"\n[return.▶Main]\nto = \"main\"", "but for capitals", `"Main 2"`},
		{"two paces", "", "[board.x]\npart = \"single blinker\"\nbutton = true\npaces = [ { name = \"p\", period_s " +
			"= 1 }, { name = ▶\"p\", period_s = 2 } ]\n", "same name as the pace", `"p 2"`},
		{"after letters of two bytes", `name = "cabin"`, `name = ▶"Kajüte\\"`, "backslash", `write "Kajüte"`},
		{"column in letters", `lights = [ { part = "red 1.8 mm", ohms = 470 } ]`,
			`lights = [ { part = "red 1.8 mm", reel = "Tüte µ", ▶ohmes = 1, ohms = 470 } ]`, `unknown key "ohmes"`,
			`write "ohms"`},
	})
}

// All other text of a plan is shown, drawn and printed, too.
func TestTextThatCantBeShown(t *testing.T) {
	checkRows(t, []row{
		{"escape in what is seen", `name = "cabin"`, "name = \"cabin\"\nsee = ▶\"red\\u001b]0;x\\u0007\"\n",
			"invisible character (U+001B)", `write "red ]0;x"`},
		{"line feed in what is seen", `name = "cabin"`, "name = \"cabin\"\nsee = ▶\"red\\n+ READY\"\n",
			"invisible character (U+000A)", `write "red + READY"`},
		{"bell in the scale", `build = "Brackwater"`, "build = \"Brackwater\"\nscale = ▶\"1:96\\u0007\"", "U+0007",
			`write "1:96"`},
		{"turned round in the scale", `build = "Brackwater"`, "build = \"Brackwater\"\nscale = ▶\"1:\u202e96\"",
			"U+202E", `write "1: 96"`},
		{"no width", `build = "Brackwater"`, "build = \"Brackwater\"\nscale = ▶\"1:\u200b96\"", "U+200B",
			`write "1: 96"`},
		{"backslash in the scale", `build = "Brackwater"`, "build = \"Brackwater\"\nscale = ▶'1\\96'", "backslash",
			`write "1 96"`},
		{"in the name of a part", "[return.mast]", "[part.▶\"st\\u009brip\"]\nlike = \"red 1.8 mm\"\n[return.mast]",
			"invisible", `write "st rip"`},
		{"accents on accents", `build = "Brackwater"`, "build = \"Brackwater\"\nscale = ▶\"1:96" +
			strings.Repeat("\u0301", 9) + "\"", "accents on one letter", "fewer"},
		{"nothing else", `build = "Brackwater"`, "build = \"Brackwater\"\nscale = ▶\"\\u200b\"", "U+200B",
			"leave it out"},
		{"in a list of what a light is", `lights = [ { part = "red 1.8 mm", ohms = 470 } ]`,
			`lights = [ { part = "red 1.8 mm", reel = ▶"bag\u001b[2J", ohms = 470 } ]`, "U+001B", `write "bag [2J"`},
	})
	for _, s := range []string{"", "warm white, « comme une étoile »", "5 V ± 10 %", "e" + strings.Repeat("\u0301", 8),
		"灯台 / Leuchtturm", "a\u00a0b", `"quoted" & <marked>`} {
		if what, _ := textFault(s); what != "" {
			t.Errorf("%q %s", s, what)
		}
	}
}

func TestNamesThatAreFine(t *testing.T) {
	for _, name := range []string{"cabin windows", "Kajüte 2", "port=starboard, both", `a "great" light`, "灯台", "n° 5",
		strings.Repeat("ü", 64)} {
		if what, _ := nameFault(name, false); what != "" {
			t.Errorf("%q %s", name, what)
		}
	}
}
