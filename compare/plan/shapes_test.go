package plan

import (
	"strings"
	"testing"
)

// Values of the wrong shape: a table for a list, a word for a table.
func TestWrongShapes(t *testing.T) {
	board := func(keys string) string { return "[board.x]\n" + keys + "\n" }
	light := func(keys string) string {
		return "[[group]]\nname = \"x\"\nclosure = \"hull\"\nlights = [ { " + keys + " } ]\n"
	}
	const top = "build = \"Brackwater\""
	checkRows(t, []row{
		{"jack in a group", "", "▶jack.x = 3\n", `unknown key "jack"`, "a line of its own"},
		{"board as a word", top, top + "\nboard.▶x = 3", "board", "[board.beacon]"},
		{"jack as a word", top, top + "\njack.▶x = 3", "jack", "[jack.main]"},
		{"joint as a word", top, top + "\njoint.▶x = \"main\"", "joint", "[joint.keel]"},
		{"return as a word", top, top + "\nreturn.▶x = \"main\"", "return", "brass mast"},
		{"closure as a word", top, top + "\nclosure.▶x = true", "closure", "[closure.hull]"},
		{"part as a word", top, top + "\npart.▶x = \"red 1.8 mm\"", "part", "[part."},
		{"date", `volts = 12.0`, "volts = 12.0\nplug = ▶2026-11-25", "plug must be text, not a date", "plug ="},
		{"impossible date", `volts = 12.0`, "volts = 12.0\nplug = 2026-▶13-45", "impossible date",
			"checked once this is right"},
		{"leading nought", `volts = 12.0`, `volts = ▶012`, "can't be read", "numbers"},
		{"huge number", `segments = 6`, `segments = ▶99999999999999999999`, "", "numbers"},
		{"no outputs", "", board("outputs = ▶[]"), "has no outputs", "max_mA"},
		{"outputs as a number", "", board("outputs = ▶2"), "outputs must be a list", "max_mA"},
		{"output as a number", "", board("outputs = [ ▶25 ]"), "must be a table", "{ max_mA"},
		{"output of two voltages", "", board("outputs = [ { max_mA = 20, volts = 5, ▶follows_supply = true } ]"),
			"exclude", "keep volts"},
		{"no paces", "", board("part = \"single blinker\"\npaces = ▶[]"), "paces is empty", "steady = true"},
		{"paces as a word", "", board("part = \"single blinker\"\npaces = ▶\"slow\""), "paces must be a list",
			"period_s"},
		{"pace as a word", "", board("part = \"single blinker\"\npaces = [ ▶\"slow\" ]"), "must be a table", "{ name"},
		{"no flashes", "", board("part = \"single blinker\"\npaces = [ { flashes = ▶[] } ]"), "flashes is empty",
			"lit, dark"},
		{"flashes too short", "", board("part = \"single blinker\"\npaces = [ { flashes = ▶[0.01, 0.01] } ]"),
			"add up to 0.02", "0.05 to 60"},
		{"light as a word", "", "[[group]]\nname = \"x\"\nclosure = \"hull\"\nlights = [ ▶\"red\" ]\n",
			"must be a table", "lights ="},
		{"lights as a number", "", "[[group]]\nname = \"x\"\nclosure = \"hull\"\nlights = ▶6\n", "lights can't be 6",
			"as found"},
		{"lights as a flag", "", "[[group]]\nname = \"x\"\nclosure = \"hull\"\nlights = ▶true\n",
			"lights can't be true", "as found"},
		{"lights as a table", "", "[[group]]\nname = \"x\"\nclosure = \"hull\"\nlights = ▶{ part = \"red 1.8 mm\" }\n",
			"lights are a list", "square brackets"},
		{"part as a number", "", light("part = ▶3"), "part must be text", "part ="},
		{"leds as a number", "", light("leds = [▶3], ohms = 470"), "names of parts", "leds ="},
		{"no leds", "", light("leds = ▶[], ohms = 470"), "1 to 60 parts", "leds ="},
		{"leds and a number of them", "", light("leds = [\"red 1.8 mm\"], ▶in_series = 2, ohms = 470"),
			"can't stand beside leds", "in_series"},
		{"part and leds", "", light("part = \"red 1.8 mm\", ▶leds = [\"red 1.8 mm\"], ohms = 470"),
			"exclude each other", "keep part or leds"},
		{"LED that a strip hasn't", "", light("part = \"strip red 12 V\", segments = 1, led = ▶\"red 99\""),
			`unknown LED "red 99"`, "LED"},
		{"tolerance of an LED", "", light("part = \"red 1.8 mm\", ohms = 470, ▶tolerance = 0.1"),
			`unknown key "tolerance"`, `"ohms_tolerance"`},
		{"empty curve", "", light("part = \"red 1.8 mm\", ohms = 470, volts_at_mA = ▶[]"), "is empty", "[[1.9, 5]"},
		{"curve as a number", "", light("part = \"red 1.8 mm\", ohms = 470, volts_at_mA = ▶2"), "must be a list",
			"[[1.9, 5]"},
		{"curve of words", "", light("part = \"red 1.8 mm\", ohms = 470, volts_at_mA = [[▶\"2 V\", 5]]"),
			"must be a number", "without a unit"},
		{"nothing held", "", "[joint.x]\nholds = [ ▶{} ]\n", "empty table", "diode"},
		{"see of nothing", `output = 1`, "output = 1\nsee = ▶\"\"", "see is empty", "leave it out"},
		{"part of another kind", "", "[part.\"red 1.8 mm\"]\nkind = ▶\"strip\"\n", `of kind "led"`, "name of its own"},
		{"return that joins two names", "", "[return.a]\nto = \"main\"\n[return.▶A]\nto = \"main\"\n",
			"but for capitals", "another name"},
	})
}

func TestGroupsThatAreNoList(t *testing.T) {
	for name, src := range map[string]string{
		"tables":  "build = \"B\"\n[jack.main]\nvolts = 12\n[group.windows]\nlights = \"as found\"\n",
		"missing": "build = \"B\"\n[jack.main]\nvolts = 12\n",
		"empty":   "build = \"B\"\ngroup = []\n[jack.main]\nvolts = 12\n",
		"jack":    "build = \"B\"\n[jack]\nvolts = 12\n[[group]]\nname = \"x\"\nlights = \"as found\"\n",
		"extends": "build = \"B\"\n[jack.main]\nvolts = 12\n[jack.main.volts.x]\n[[group]]\nname = \"x\"\nlights = " +
			"\"as found\"\n",
	} {
		if p, problems := Parse("plan.toml", []byte(src)); p != nil || len(problems) == 0 {
			t.Errorf("%s: taken", name)
		}
	}
}

func TestBuildUnderAHeading(t *testing.T) {
	_, problems := Parse("plan.toml",
		[]byte("[jack.main]\nvolts = 12\nbuild = \"B\"\n[[group]]\nname = \"x\"\nlights = \"as found\"\n"))
	if len(problems) != 2 || !strings.Contains(problems[1].Instead, "above the first line in brackets") {
		t.Errorf("got\n%s", problemsText(problems))
	}
}

// With two jacks nothing is fed by default: a joint or return must say from where.
func TestTwoJacks(t *testing.T) {
	checkRows(t, []row{
		{"joint", "[joint.keel]\nfrom = \"main\"", "[jack.aft]\nvolts = 5\n[joint.▶keel]", "has no from", "from ="},
		{"return", "[return.mast]\nto = \"main\"", "[jack.aft]\nvolts = 5\n[return.▶mast]", "has no to", "to ="},
	})
}
