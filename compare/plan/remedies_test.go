package plan

import (
	"strings"
	"testing"
)

// mistake is a slip of a maker in the sound plan, and the one thing that is said of
// it, whole: what is wrong, and what to write.
type mistake struct {
	old, spoiled string // as in row, without a mark
	line         int
	said         string // What and Instead, parted by " -> "
}

// behindSyntax follows the remedy of what no TOML reader can take.
const behindSyntax = "; the rest of the file is checked once this is right"

func TestEachMistakeGetsItsRemedy(t *testing.T) {
	group := func(l string) string { return "[[group]]\nname = \"x\"\nclosure = \"hull\"\n" + l + "\n" }
	light := func(l string) string { return group("lights = [ { " + l + " } ]") }
	joint := func(l string) string { return "[joint.x]\n" + l + "\n" }
	board := func(l string) string { return "[board.x]\npart = \"single blinker\"\n" + l + "\n" }
	strip := `{ part = "strip warm white 12 V", segments = 6 }`
	for _, m := range []mistake{
		{"", joint(`wire = { mm = 0,2, length_mm = 220 }`), 25,
			`a comma in a number -> write a decimal point: mm = 0.2`},
		{"", joint(`wire = { length_mm = 220, mm = 0,2 }`), 25,
			`a comma in a number -> write a decimal point: mm = 0.2`},
		{"", board(`paces = [ { period_s = 2, duty = 0,9 } ]`), 26,
			`a comma in a number -> write a decimal point: duty = 0.9`},
		{"", board(`paces = [ { duty = 0,9, period_s = 2 } ]`), 26,
			`a comma in a number -> write a decimal point: duty = 0.9`},
		{`volts = 12.0`, "volts = 12.0\nvolts_range = [11,4, 12,6]", 4,
			`commas inside the numbers of volts_range -> write decimal points: volts_range = [11.4, 12.6]`},
		{"", board(`paces = [ { flashes = [1,2, 1,8] } ]`), 26,
			`commas inside the numbers of flashes -> write decimal points: flashes = [1.2, 1.8]`},
		{"", light(`part = "red 1.8 mm", ohms = 470, volts_at_mA = [[1,9, 5]]`), 27,
			`a point of volts_at_mA must be two numbers -> write volts_at_mA = [[1.9, 5], [2.1, 20]]: pairs of ` +
				`volts and mA`},
		{`volts = 12.0`, `volts = 12V`, 3,
			`a number with something behind it -> write volts = 12, the number alone: the unit is in the key's name`},
		{`volts = 12.0`, `volts = "12 V"`, 3,
			`volts must be a number, not text -> write volts = 12, a number without quotes and without a unit`},
		{`volts = 12.0`, `voltage = 12`, 3,
			`unknown key "voltage" -> write "volts"`},
		{`volts = 12.0`, "volts = 12.0\nadapter_mA = 1500", 4,
			`unknown key "adapter_mA" -> write adapter_amps = 1.5`},
		{`volts = 12.0`, "volts = 12.0\nadapter_amps = 1500", 4,
			`adapter_amps = 1500 can't be -> write adapter_amps = 1.5 if you mean 1500 mA: adapter_amps must be ` +
				`more than 0 and at most 100`},
		{`volts = 12.0`, "volts = 12.0\nsource = \"wall wart\"", 4,
			`unknown word "wall wart" for source -> known words: "adapter", "usb", "coin", "battery"`},
		{`volts = 12.0`, "volts = 12.0\nvolts_range = \"11.4-12.6\"", 4,
			`volts_range must be a list, not text -> write volts_range = [11.4, 12.6]`},
		{`ohms = 470`, `ohms = 1k`, 23,
			`a number with something behind it -> write ohms = 1000, the number alone: the unit is in the key's name`},
		{`ohms = 470`, `ohms = 4k7`, 23,
			`a number with something behind it -> write ohms = 4700, the number alone: the unit is in the key's name`},
		{`ohms = 470`, `ohms = 4.7k`, 23,
			`a number with something behind it -> write ohms = 4700, the number alone: the unit is in the key's name`},
		{`ohms = 470`, `ohms = 470R`, 23,
			`a number with something behind it -> write ohms = 470, the number alone: the unit is in the key's name`},
		{`ohms = 470`, `ohms = "4k7"`, 23,
			`ohms must be a number, not text -> write ohms = 4700, a number without quotes and without a unit`},
		{`ohms = 470`, `ohms = "1 kOhm"`, 23,
			`ohms must be a number, not text -> write ohms = 1000, a number without quotes and without a unit`},
		{`ohms = 470`, `kohms = 4.7`, 23,
			`unknown key "kohms" -> write ohms = 4700`},
		{`ohms = 470`, `resistor = 470`, 23,
			`unknown key "resistor" -> write "ohms"`},
		{`ohms = 470`, `ohms = 470, ohms_tolerance = 5%`, 23,
			`a number with something behind it -> write ohms_tolerance = 0.05, a share of 1 and no %`},
		{`ohms = 470`, `ohms = 470, ohms_tolerance = 5`, 23,
			`ohms_tolerance = 5 can't be -> write ohms_tolerance = 0.05 if you mean 5 %: ohms_tolerance must be ` +
				`from 0 to 0.9`},
		{`ohms = 470`, `ohms = 470, watts = "250 mW"`, 23,
			`watts must be a number, not text -> write watts = 0.25, a number without quotes and without a unit`},
		{"", joint(`wire = { awg = 0.3 }`), 25,
			`awg = 0.3 is no gauge -> write mm = 0.3 if it is the diameter of the copper, mm2 = 0.3 if it is its ` +
				`cross-section; a gauge is a whole number: awg = 30 is 0.25 mm thick`},
		{"", joint(`wire = { awg = 0.14, length_mm = 300 }`), 25,
			`awg = 0.14 is no gauge -> write mm = 0.14 if it is the diameter of the copper, mm2 = 0.14 if it is its ` +
				`cross-section; a gauge is a whole number: awg = 30 is 0.25 mm thick`},
		{"", joint(`wire = { gauge = 30 }`), 25,
			`unknown key "gauge" -> write "awg"`},
		{"", joint(`wire = { mm = 0.2, length_cm = 18 }`), 25,
			`unknown key "length_cm" -> write length_mm = 180`},
		{"", joint(`wire = { mm = 0.2, length_in = 7 }`), 25,
			`unknown key "length_in" -> write length_mm = 177.8`},
		{"", joint(`wire = { mm = 0.2, length = 180 }`), 25,
			`unknown key "length" -> write "length_mm"`},
		{"", joint(`wire = { mm = 0.2, length_mm = 18cm }`), 25,
			`a number with something behind it -> write length_mm = 180, the number alone: the unit is in the key's name`},
		{"", joint(`wire = { diameter_mm = 0.2 }`), 25,
			`unknown key "diameter_mm" -> write mm = 0.2`},
		{"", joint(`wire = { mm = 0.2, stranded = yes }`), 25,
			`the words are true and false, in small letters -> write stranded = true`},
		{"", joint(`wire = "0.2 mm, 18 cm"`), 25,
			`wire must be a table, not text -> write wire = { mm = 0.2, length_mm = 220 }`},
		{strip, `{ part = "LED strip warm", segments = 6 }`, 17,
			`unknown part "LED strip warm" -> write one of "strip warm white 12 V", "strip warm white 24 V", "strip ` +
				`warm white 5 V"`},
		{strip, `{ part = "warm white strip", segments = 6 }`, 17,
			`unknown part "warm white strip" -> write one of "strip warm white 12 V", "strip warm white 24 V", ` +
				`"strip warm white 5 V"`},
		{strip, `{ part = "12V warm white tape", segments = 6 }`, 17,
			`unknown part "12V warm white tape" -> write "strip warm white 12 V"`},
		{strip, `{ part = "strip", segments = 6 }`, 17,
			`unknown part "strip" -> some known parts: "strip red 5 V", "strip blue 5 V", "strip red 12 V", "strip ` +
				`red 24 V", "strip amber 5 V", "strip blue 12 V", "strip blue 24 V", "strip green 5 V"`},
		{strip, `{ part = "warm white LED 3mm", segments = 6 }`, 17,
			`unknown part "warm white LED 3mm" -> write "warm white 3 mm"`},
		{strip, `{ part = "strip warm white 12 V", leds = 18 }`, 17,
			`leds is a list of different LEDs, not a number beside a part -> write segments = 6: 18 LEDs at 3 in a ` +
				`segment, if yours has 3 between two marks`},
		{strip, `{ part = "strip warm white 12 V", segments = "6 pieces" }`, 17,
			`segments must be a number, not text -> write segments = 6, a number without quotes and without a unit`},
		{strip, `{ part = "strip warm white 12 V", segments = 6, draw_mA = 96 }`, 17,
			`unknown key "draw_mA" -> write segment_mA, the draw of one segment alone`},
		{strip, `{ part = "strip warm white 12 V", segments = 6, segment_A = 0.016 }`, 17,
			`unknown key "segment_A" -> write segment_mA = 16`},
		{`part = "red 1.8 mm"`, `part = "orange 3mm led"`, 23,
			`unknown part "orange 3mm led" -> write "amber 3 mm"`},
		{`part = "red 1.8 mm"`, `part = "red"`, 23,
			`unknown part "red" -> some known parts: "red 0402", "red 0603", "red 0805", "red 3 mm", "red 5 mm", ` +
				`"red 1.8 mm", "smd red 5 V", "smd red 12 V"`},
		{`part = "red 1.8 mm"`, `part = red`, 23,
			`text without quotes -> write part = "red"`},
		{`part = "two-output blinker"`, `part = "blinker"`, 11,
			`unknown part "blinker" -> write "single blinker"`},
		{`part = "two-output blinker"`, `part = "flasher with two outputs"`, 11,
			`unknown part "flasher with two outputs" -> write "two-output blinker"`},
		{"", board(`paces = [ { frequency = 2 } ]`), 26,
			`unknown key "frequency" -> write period_s = 0.5, the seconds of one round`},
		{"", board(`paces = [ { frequency_Hz = 0.5 } ]`), 26,
			`unknown key "frequency_Hz" -> write period_s = 2`},
		{"", board(`paces = [ { period_ms = 1200 } ]`), 26,
			`unknown key "period_ms" -> write period_s = 1.2`},
		{"", board(`paces = [ { period_s = 2, duty = 30 } ]`), 26,
			`duty = 30 can't be -> write duty = 0.3 if you mean 30 %: duty must be more than 0 and at most 1`},
		{"", board(`capacitor_nF = 470`), 26,
			`unknown key "capacitor_nF" -> write capacitor_uF = 0.47`},
		{"", board(`button = "yes"`), 26,
			`button must be true or false, not text -> write button = true`},
		{"[[group]]\nname = \"cabin\"", "[group]\nname = \"cabin\"", 13,
			`a group has two brackets on each side -> write [[group]]`},
		{"[[group]]\nname = \"cabin\"", "[group.cabin]", 13,
			`a group's name doesn't stand in its heading -> write [[group]], and name = "cabin" on the next line`},
		{"[[group]]\nname = \"cabin\"", "[[groups]]\nname = \"cabin\"", 13,
			`the word is "group" -> write [[group]]`},
		{"[joint.keel]", "[[joint.keel]]", 6,
			`a joint has one bracket on each side -> write [joint.keel]`},
		{"[joint.keel]", "[joint]\nname = \"keel\"", 6,
			`a joint has its name in its heading -> write [joint.keel], with your name for it`},
		{"[joint.keel]", "[[joint]]\nname = \"keel\"", 6,
			`a joint has its name in its heading -> write [joint.keel], with your name for it`},
		{"[joint.keel]", "[joints.keel]", 6,
			`the word is "joint" -> write [joint.keel]`},
		{"[jack.main]", "[jack]", 2,
			`a jack has its name in its heading -> write [jack.main], with your name for it`},
		{"[closure.deckhouse]", "[closure.lantern house]", 5,
			`a name with blanks in a heading -> write [closure."lantern house"]`},
		{"[closure.deckhouse]", "[closure.deckhouse]\nname = \"deckhouse\"", 6,
			`unknown key "name" -> leave it out: the name stands in the line in brackets above`},
		{`from = "main"`, `from = "Main"`, 7,
			`unknown joint or jack "Main" -> write "main"`},
		{`from = "main"`, `from = “main”`, 7,
			`curly quotes -> write straight quotes: from = "main"`},
		{`from = "main"`, `from: "main"`, 7,
			`a colon where = belongs -> write from = "main"`},
		{"", group(`lights = ` + strip), 27,
			`lights are a list, even of one -> put square brackets around it: lights = [ { … } ]`},
		{"", group(`lights = [ ` + strip), 27,
			`a bracket isn't closed -> close it with ] or }`},
		{"", group(`lights = unknown`), 27,
			`text without quotes -> write lights = [ { part = "strip warm white 12 V", segments = 6 } ], or lights ` +
				`= "as found" if nobody knows`},
	} {
		text := sound + m.spoiled
		if m.old != "" {
			if strings.Count(sound, m.old) != 1 {
				t.Fatalf("%q stands %d times in the sound plan", m.old, strings.Count(sound, m.old))
			}
			text = strings.Replace(sound, m.old, m.spoiled, 1)
		}
		_, problems := Parse("plan.toml", []byte(text))
		if len(problems) != 1 {
			t.Errorf("%s: %d problems, want 1:\n%s", m.spoiled, len(problems), problemsText(problems))
			continue
		}
		p := problems[0]
		said := p.What + " -> " + strings.TrimSuffix(p.Instead, behindSyntax)
		if said != m.said || p.Pos.Line != m.line {
			t.Errorf("%s\n  line %d: %s\n  want line %d: %s", m.spoiled, p.Pos.Line, said, m.line, m.said)
		}
	}
}
