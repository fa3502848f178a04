package plan

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

func TestImpossibleValues(t *testing.T) {
	group := func(lights string) string {
		return "[[group]]\nname = \"x\"\nclosure = \"hull\"\nlights = [ { " + lights + " } ]\n"
	}
	marked := func(lights string) string {
		return strings.Replace(group(lights), "{", mark+"{", 1)
	}
	pace := func(p string) string {
		return "[board.x]\npart = \"single blinker\"\npaces = [ { name = \"p\", " + p + " } ]\n"
	}
	joint := func(j string) string { return "[joint.x]\n" + j + "\n" }
	checkRows(t, []row{
		{"no volts", `volts = 12.0`, `volts = ▶0`, "volts = 0 can't be", "more than 0"},
		{"volts as text", `volts = 12.0`, `volts = ▶"12 V"`, "must be a number", "without quotes"},
		{"volts not a number", `volts = 12.0`, `volts = ▶nan`, "can't be", "more than 0"},
		{"volts without end", `volts = 12.0`, `volts = ▶inf`, "can't be", "at most 60"},
		{"mains voltage", `volts = 12.0`, `volts = ▶230`, "volts = 230 can't be", "at most 60"},
		{"range beside volts", `volts = 12.0`, "volts = 12.0\nvolts_range = [▶12.5, 13]", "doesn't hold volts = 12",
			"range that holds"},
		{"range upside down", `volts = 12.0`, "volts = 12.0\nvolts_range = [▶12.6, 11.4]", "upside down",
			"[11.4, 12.6]"},
		{"range of one", `volts = 12.0`, "volts = 12.0\nvolts_range = ▶[12.6]", "two numbers", "[11.4, 12.6]"},
		{"no adapter amps", `volts = 12.0`, "volts = 12.0\nadapter_amps = ▶-1", "can't be", "more than 0"},
		{"AC source", `volts = 12.0`, "volts = 12.0\nsource = ▶\"AC\"", "direct current only", "out of scope"},
		{"track power", `volts = 12.0`, "volts = 12.0\nsource = ▶\"DCC track\"", "direct current only",
			"out of scope"},
		{"no length", "", joint("wire = { mm = 0.2, length_mm = ▶0 }"), "length_mm = 0 can't be", "more than 0"},
		{"negative length", "", joint("wire = { mm = 0.2, length_mm = ▶-5 }"), "can't be", "more than 0"},
		{"no thickness", "", joint("wire = { mm = ▶0.0 }"), "mm = 0 can't be", "from 0.02"},
		{"two sizes", "", joint("wire = { awg = 26, ▶mm = 0.4 }"), "exclude each other", "keep awg or mm"},
		{"solid and stranded", "", joint("wire = { solid = true, ▶stranded = true }"), "exclude each other",
			"keep solid or stranded"},
		{"gauge with a fraction", "", joint("wire = { awg = ▶26.5 }"), "whole number", "awg = 27"},
		{"wire as text", "", joint("wire = ▶\"0.2 mm\""), "must be a table", "wire = {"},
		{"fuse without amps", "", joint("holds = [ ▶{ fuse = \"glass\" } ]"), "has no amps", "amps = 0.75"},
		{"efficiency above one", "",
			joint("holds = [ { converter = \"step-down\", out_volts = 5, efficiency = ▶85 } ]"), "can't be",
			"at most 1"},
		{"linear with efficiency", "",
			joint("holds = [ { converter = \"linear\", out_volts = 5, ▶efficiency = 0.9 } ]"), "no efficiency",
			"leave efficiency out"},
		{"converter to nothing", "", joint("holds = [ ▶{ converter = \"linear\" } ]"), "has no out_volts",
			"out_volts ="},
		{"diode as text", "", joint("holds = [ ▶\"diode\" ]"), "must be a table", "diode ="},
		{"no segments", `segments = 6`, `segments = ▶0`, "segments = 0 can't be", "from 1 to 10000"},
		{"half a segment", `segments = 6`, `segments = ▶2.5`, "whole number", "segments ="},
		{"segments left out", `{ part = "strip warm white 12 V", segments = 6 }`,
			`▶{ part = "strip warm white 12 V" }`, "has no segments", "add segments = 6"},
		{"too many pieces", `ohms = 470`, `ohms = 470, count = ▶10001`, "can't be", "from 1 to 10000"},
		{"too many branches", "[ { part = \"strip warm white 12 V\", segments = 6 } ]",
			"▶[ { part = \"strip warm white 12 V\", segments = 600, count = 600 } ]", "360000 branches",
			"smaller groups"},
		{"negative ohms", `ohms = 470`, `ohms = ▶-470`, "can't be", "from 0"},
		{"no resistor", "", marked("part = \"red 1.8 mm\""), "has no resistor", "ohms = 470"},
		{"lights as a word", "", "[[group]]\nname = \"x\"\nclosure = \"hull\"\nlights = ▶\"unknown\"\n",
			`lights can't be "unknown"`, `"as found"`},
		{"no lights", "", "[[▶group]]\nname = \"x\"\nclosure = \"hull\"\n", "has no lights", `"as found"`},
		{"empty lights", "", "[[group]]\nname = \"x\"\nclosure = \"hull\"\nlights = ▶[]\n", "has no lights",
			`"as found"`},
		{"light of nothing", "", "[[group]]\nname = \"x\"\nclosure = \"hull\"\nlights = [ ▶{ count = 3 } ]\n",
			"doesn't say what it is", "part ="},
		{"curve that falls", "", group("part = \"red 1.8 mm\", ohms = 470, volts_at_mA = [[2.0, 5], [▶1.9, 20]]"),
			"don't rise", "low to high"},
		{"curve of one number", "", group("part = \"red 1.8 mm\", ohms = 470, volts_at_mA = [▶2.0]"), "two numbers",
			"[[1.9, 5]"},
		{"LEDs that leave nothing", "", marked("part = \"strip warm white 12 V\", segments = 2, leds_in_series = 5"),
			"5 LEDs in series need", "leds_in_series = 4"},
		{"mean above highest", "", group("behaves = \"sound\", low_mA = 5, mean_mA = ▶50, high_mA = 40"),
			"isn't between", "rise"},
		{"load without a mean", "", marked("behaves = \"sound\", high_mA = 40"), "has no mean_mA", "mean_mA = 20"},
		{"duty above one", "", pace("period_s = 1, duty = ▶30"), "duty = 30 can't be", "at most 1"},
		{"no duty", "", pace("period_s = 1, duty = ▶0"), "duty = 0 can't be", "more than 0"},
		{"duty of one", "", pace("period_s = 1, duty = ▶1.0"), "doesn't blink", "steady = true"},
		{"period too short", "", pace("period_s = ▶0.04"), "can't be", "from 0.05 to 60"},
		{"period too long", "", pace("period_s = ▶61"), "can't be", "from 0.05 to 60"},
		{"flashes against period", "", pace("flashes = [0.3, 0.7], period_s = ▶2"),
			"flashes add up to 1 s, not to period_s = 2", "period_s = 1"},
		{"flashes against duty", "", pace("flashes = [0.3, 0.7], duty = ▶0.5"), "lit for 0.3 of the round",
			"duty = 0.3"},
		{"odd flashes", "", pace("flashes = [0.3, 0.7, ▶0.3]"), "3 times", "ending with dark"},
		{"flash of no time", "", pace("flashes = [0.3, ▶0]"), "can't be", "more than 0"},
		{"steady and period", "", pace("steady = true, ▶period_s = 1"), "no period_s", "leave out"},
		{"paces without button", "", "[board.x]\npart = \"three-pace board\"\nbutton = ▶false\n",
			"3 paces but no button", "button = true"},
		{"alternate, but lit too long", "",
			"[board.x]\npart = \"two-output blinker\"\npaces = ▶[ { period_s = 1, duty = 0.6 } ]\n",
			"can't each be lit for 0.6", "duty = 0.49"},
		{"one output alternates", "", "[board.x]\npart = \"single blinker\"\noutputs_run = ▶\"alternate\"\n",
			"alternate with itself", "together"},
		{"board upside down", "", "[board.x]\npart = \"single blinker\"\nlowest_volts = ▶16\n", "above highest_volts",
			"swap"},
		{"output of no current", "", "[board.x]\noutputs = [ { max_mA = ▶0 } ]\n", "can't be", "more than 0"},
		{"no build", "build = \"Brackwater\"\n[jack.main]", "▶[jack.main]", "has no build", "build ="},
	})
}

func TestPlanThatIsNoPlan(t *testing.T) {
	for name, c := range map[string]struct{ src, what string }{
		"empty":     {"", "has no build"},
		"UTF-16":    {"\xff\xfeb\x00", "UTF-16"},
		"not UTF-8": {"build = \"Br\xfcck\"\n", "isn't UTF-8"},
		"too large": {strings.Repeat("# remark\n", 200000), "larger"},
		"many groups": {"build = \"B\"\n[jack.main]\nvolts = 12\n" + strings.Repeat("[[group]]\n", 9000),
			"9000 groups, more than 2000"},
		"many joints": {"build = \"B\"\n" + manyTables("joint", 9000), "9000 tables [joint.…], more than 2000"},
		"other TOML":  {"[package]\nname = \"x\"\n", `unknown key "package"`},
	} {
		t.Run(name, func(t *testing.T) {
			p, problems := Parse("plan.toml", []byte(c.src))
			if p != nil || len(problems) == 0 {
				t.Fatal("taken for a plan")
			}
			if all := problemsText(problems); !strings.Contains(all, c.what) {
				t.Errorf("no %q in\n%s", c.what, all)
			}
		})
	}
}

func problemsText(ps []Problem) string {
	var b strings.Builder
	for _, p := range ps {
		b.WriteString(p.String() + "\n")
	}
	return b.String()
}

// A 5050 holds three chips side by side, each with a third of the segment's current: its
// LEDs drop what one of them drops at that, and the resistor has the rest.
func TestChipsShareTheCurrent(t *testing.T) {
	book := BuiltIn()
	led, err := book.Find("blue 0603")
	if err != nil {
		t.Fatal(err)
	}
	p, problems := Parse("plan.toml", []byte("build = \"tender\"\n[jack.main]\nvolts = 12\nadapter_amps = "+
		"1\n[closure.hull]\n"+
		"[[group]]\nname = \"x\"\nclosure = \"hull\"\nlights = [ { part = \"strip 5050 blue 12 V\", segments = 2 } ]\n"))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	for _, g := range p.Groups {
		for _, l := range g.Lights {
			if l.Part != "strip 5050 blue 12 V" {
				continue
			}
			// 50 mA a segment, 16.7 mA a chip: between 2.84 V at 10 mA and 3.30 V at 20.
			v := l.Series[0].Points[0]
			if v.Amps != 0.05 || v.Volts <= led.Points[1].Volts || v.Volts >= led.Points[2].Volts {
				t.Errorf("its LEDs drop %g V at %g A", v.Volts, v.Amps)
			}
			if got := l.Ohms.Nominal*0.05 + 3*v.Volts; math.Abs(got-12) > 1e-9 {
				t.Errorf("12 V are %g V", got)
			}
			return
		}
	}
	t.Error("no such strip in the plan")
}

func manyTables(kind string, n int) string {
	var s strings.Builder
	for i := range n {
		fmt.Fprintf(&s, "[%s.x%d]\n", kind, i)
	}
	return s.String()
}
