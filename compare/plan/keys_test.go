package plan

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// exampleFor puts the example of a key where it may stand, in a plan that is sound
// without it.
func exampleFor(t *testing.T, table string, k Key) string {
	t.Helper()
	set := k.Name + " = " + k.Example
	group := func(lights string) string {
		return "[[group]]\nname = \"x\"\nclosure = \"hull\"\nlights = [ { " + lights + " } ]\n"
	}
	joint := func(inside string) string { return "[joint.x]\nholds = [ { " + inside + " } ]\n" }
	switch table {
	case "plan":
		return "" // each stands in the sound plan
	case "jack":
		if k.Name == "volts" {
			return ""
		}
		return "[jack.aft]\nvolts = 12\n" + set + "\n"
	case "closure":
		return "[closure.x]\n" + set + "\n"
	case "joint":
		return "[joint.x]\n" + unless(k.Name == "from", "from = \"main\"\n") + set + "\n"
	case "return":
		return "[return.x]\n" + set + "\n"
	case "wire":
		return "[joint.x]\nwire = { " + set + " }\n"
	case "diode", "fuse", "switch", "plug", "converter":
		base := map[string]string{"diode": `diode = "silicon"`, "fuse": `fuse = "glass", amps = 1`,
			"switch": `switch = "slide"`,
			"plug":   `plug = "2 pins"`, "converter": `converter = "step-down", out_volts = 5`}[table]
		return joint(merged(base, k.Name, set))
	case "board":
		base := "[board.x]\njoint = \"keel\"\n"
		if k.Name == "joint" {
			base = "[board.x]\n"
		}
		if k.Name == "outputs_run" || k.Name == "paces" || k.Name == "button" {
			base += "part = \"two-output blinker\"\n"
		}
		return base + set + "\n" + unless(k.Name == "outputs" || k.Name == "part" || strings.Contains(base, "part"),
			"outputs = [ { max_mA = 20 } ]\n")
	case "output":
		return "[board.x]\njoint = \"keel\"\noutputs = [ { " + set + " } ]\n"
	case "pace":
		base := "period_s = 2.0"
		if k.Name == "steady" || k.Name == "flashes" || k.Name == "period_s" {
			base = ""
		}
		return "[board.x]\njoint = \"keel\"\npart = \"single blinker\"\npaces = [ { " + joined(base, set) + " } ]\n"
	case "group":
		switch k.Name {
		case "lights":
			return "[[group]]\nname = \"x\"\nclosure = \"hull\"\n" + set + "\n"
		case "name":
			return ""
		case "board", "output":
			return "[[group]]\nname = \"x\"\nclosure = \"hull\"\n" +
				unless(k.Name == "board", "board = \"beacon\"\n") +
				unless(k.Name == "output", "output = 2\n") + strings.Replace(set, "output = 1", "output = 2", 1) +
				"\nlights = [ { part = \"red 1.8 mm\", ohms = 470 } ]\n"
		}
		return "[[group]]\nname = \"x\"\n" + unless(k.Name == "closure", "closure = \"hull\"\n") + set +
			"\nlights = [ { part = \"red 1.8 mm\", ohms = 470 } ]\n"
	case "strip", "partstrip":
		return group(merged(`part = "strip warm white 12 V", segments = 6`, k.Name, set))
	case "smd", "partsmd":
		if k.Name == "part" {
			return group(`part = "smd warm white 12 V"`)
		}
		return group(merged(`part = "smd warm white 12 V"`, k.Name, set))
	case "led", "partled":
		if k.Name == "part" {
			return ""
		}
		if k.Name == "leds" {
			return group(set + ", ohms = 470")
		}
		return group(merged(`part = "red 1.8 mm", ohms = 470`, k.Name, set))
	case "load", "partload":
		if k.Name == "part" {
			return "[part.fire]\nkind = \"load\"\nbehaves = \"flicker\"\nmean_mA = 9\nhigh_mA = 16\n" +
				group(`part = "fire"`)
		}
		return group(merged(`behaves = "flicker", mean_mA = 9, high_mA = 16`, k.Name, set))
	case "test":
		return "[[group]]\nname = \"x\"\nclosure = \"hull\"\nlights = [ { " + merged(`test_ohms = 470`, k.Name, set) +
			" } ]\n"
	case "part":
		if k.Name == "kind" {
			return "[part.x]\nkind = \"strip\"\nvolts = 12\nsegment_mA = 16\n"
		}
		return "[part.x]\n" + set + "\n"
	case "partboard":
		return "[part.x]\nlike = \"two-output blinker\"\n" + set + "\n"
	}
	t.Fatalf("no plan for the examples of %q", table)
	return ""
}

func unless(no bool, s string) string {
	if no {
		return ""
	}
	return s
}

func joined(a, b string) string {
	if a == "" {
		return b
	}
	return a + ", " + b
}

// merged puts a key into the inside of a table, in place of the one that is there.
func merged(base, key, set string) string { return joined(dropKey(key, base), set) }

func dropKey(key, base string) string {
	parts := slices.DeleteFunc(strings.Split(base, ", "),
		func(p string) bool { return strings.HasPrefix(p, key+" =") })
	return strings.Join(parts, ", ")
}

// The example of each key is one: a plan with it is taken, without a word.
func TestEachKeysExampleIsTaken(t *testing.T) {
	for _, k := range Keys() {
		for _, table := range strings.Fields(k.In) {
			src := sound + exampleFor(t, table, k)
			_, problems := Parse("plan.toml", []byte(src))
			if len(problems) > 0 {
				t.Errorf("%s.%s: %s", table, k.Name, problemsText(problems))
			}
		}
	}
}

// Each key says something, knows its tables, and stands once in each.
func TestKeysAreWhole(t *testing.T) {
	seen := map[string]bool{}
	for _, k := range Keys() {
		if !strings.HasSuffix(k.Says, ".") || k.Example == "" || k.Name == "" {
			t.Errorf("%+v", k)
		}
		for _, table := range strings.Fields(k.In) {
			if opened, says := TableSays(table); opened == "" || says == "" {
				t.Errorf("%s: no words for the table %q", k.Name, table)
			}
			id := fmt.Sprint(table, ".", k.Name)
			if seen[id] {
				t.Errorf("%s stands twice", id)
			}
			seen[id] = true
		}
		// A key whose name has a unit says that unit.
		if _, sign := splitKey(k.Name); sign != "" && k.Unit != "" &&
			!strings.Contains("volts amps ohms watts out_volts", k.Name) {
			got, _ := unitNamed(strings.Fields(k.Unit)[0])
			if want, _ := unitNamed(sign); got != want && k.Name != "volts_per_K" && k.Name != "volts_at_mA" {
				t.Errorf("%s is in %q", k.Name, k.Unit)
			}
		}
	}
}

func TestWireColourAndPin(t *testing.T) {
	p, problems := Parse("plan.toml", []byte(strings.Replace(sound, "joint = \"keel\"\nlights",
		"joint = \"keel\"\nwire = { mm = 0.2, colour = \"red, black\", pin = 3 }\nlights", 1)))
	if len(problems) > 0 {
		t.Fatal(problemsText(problems))
	}
	if w := p.Groups[0].Wire; w.Colour != "red, black" || w.Pin != "3" {
		t.Errorf("%+v", w)
	}
	for _, pin := range []string{`"A3"`, `"ground lug"`} {
		if _, problems := Parse("plan.toml",
			[]byte(sound+"[joint.x]\nwire = { pin = "+pin+" }\n")); len(problems) > 0 {
			t.Error(problemsText(problems))
		}
	}
	for _, pin := range []string{`-1`, `2.5`, `true`, `""`} {
		if _, problems := Parse("plan.toml",
			[]byte(sound+"[joint.x]\nwire = { pin = "+pin+" }\n")); len(problems) != 1 {
			t.Errorf("pin = %s: %s", pin, problemsText(problems))
		}
	}
}
