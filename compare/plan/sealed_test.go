package plan

import (
	"encoding/json"
	"strings"
	"testing"
)

const sealedPlan = `build = "Brackwater"
[jack.main]
volts = 12.0
[closure.hull]
must_hold = ["ballast", "light pipe of the name plate"]
[closure.house]
[[group]]
name = "cabin"
closure = "hull"
lights = [ { part = "red 1.8 mm", ohms = 1000 } ]
[[group]]
name = "searchlight"
closure = "hull"
wire = { mm = 0.2, length_mm = 400 }
lights = [ { test_ohms = 470, watts = 0.5 } ]
[[group]]
name = "second mast"
closure = "house"
sealed_wire = true
lights = [ { part = "red 1.8 mm", ohms = 1000 } ]
`

func TestSealedWires(t *testing.T) {
	p, problems := Parse("plan.toml", []byte(sealedPlan))
	if len(problems) > 0 || len(p.Warnings) > 0 {
		t.Fatal(problemsText(append(problems, p.Warnings...)))
	}
	s := groupNamed(t, p, "searchlight")
	l := s.Lights[0]
	if !s.Sealed || l.Kind != TestLoad || l.Branches() != 1 || len(l.Series) != 0 || l.Part != "470 ohm resistor" ||
		l.OhmsWatts != 0.5 {
		t.Errorf("%+v", s)
	}
	near(t, "ohms", l.Ohms.Nominal, 470)
	near(t, "half-width", l.Ohms.HalfWidth, 23.5)
	if got := s.TestLoadText(); got != "a 470 ohm resistor" {
		t.Errorf("clip %q", got)
	}
	m := groupNamed(t, p, "second mast")
	if !m.Sealed || m.Lights[0].Kind != LEDs || m.TestLoadText() != "a red 1.8 mm with 1000 ohm" {
		t.Errorf("%+v, %q", m, m.TestLoadText())
	}
	if c := groupNamed(t, p, "cabin"); c.Sealed || c.TestLoadText() != "" {
		t.Errorf("%+v", c)
	}
	if got := p.InService().Groups; len(got) != 1 || got[0].Name != "cabin" || len(p.Groups) != 3 {
		t.Errorf("in service %+v", got)
	}
	if h := p.Closures[0].Holds; len(h) != 2 || h[0] != "ballast" || h[1] != "light pipe of the name plate" ||
		p.Closures[1].Holds != nil {
		t.Errorf("closures %+v", p.Closures)
	}
	text, err := json.Marshal(p)
	if err != nil || !strings.Contains(string(text), `"must_hold":["ballast"`) ||
		strings.Count(string(text), `"sealed_wire":true`) != 2 {
		t.Errorf("%v %s", err, text)
	}
}

func TestToleranceOfATestResistor(t *testing.T) {
	p, problems := Parse("plan.toml", []byte(strings.Replace(sealedPlan, "watts = 0.5", "ohms_tolerance = 0.01", 1)))
	if len(problems) > 0 {
		t.Fatal(problemsText(problems))
	}
	near(t, "half-width", groupNamed(t, p, "searchlight").Lights[0].Ohms.HalfWidth, 4.7)
}

func TestSealedErrors(t *testing.T) {
	cabin := "lights = [ { part = \"strip warm white 12 V\", segments = 6 } ]"
	port := `lights = [ { part = "red 1.8 mm", ohms = 470 } ]`
	checkRows(t, []row{
		{"resistor of nothing", cabin, "lights = [ { test_ohms = ▶0 } ]", "can't be", "from 1 to 100000"},
		{"resistor in words", cabin, "lights = [ { test_ohms = ▶\"470\" } ]", "must be a number", "without quotes"},
		{"misspelt", cabin, "lights = [ { ▶test_ohm = 470 } ]", `unknown key "test_ohm"`, `write "test_ohms"`},
		{"tolerance beyond all", cabin, "lights = [ { test_ohms = 470, ohms_tolerance = ▶1.5 } ]", "can't be",
			"from 0 to 0.9"},
		{"count of it", cabin, "lights = [ { test_ohms = 470, ▶count = 2 } ]", `unknown key "count"`, "known keys"},
		{"part and resistor", cabin, "lights = [ { part = \"red 1.8 mm\", ohms = 470, ▶test_ohms = 470 } ]",
			"exclude each other", "keep"},
		{"beside other lights", cabin, "lights = [ { part = \"red 1.8 mm\", ohms = 470 }, ▶{ test_ohms = 470 } ]",
			"beside other lights", "alone"},
		{"sealed and not", cabin, "sealed_wire = ▶false\nlights = [ { test_ohms = 470 } ]", "has a test resistor",
			"leave sealed_wire out"},
		{"sealed in words", cabin, "sealed_wire = ▶\"yes\"\n" + cabin, "must be true or false", "true"},
		{"sealed as found", cabin, "sealed_wire = true\nlights = ▶\"as found\"", "nothing hangs on it", "test_ohms"},
		{"sealed and flickers", cabin,
			"sealed_wire = true\nlights = [ ▶{ behaves = \"flicker\", mean_mA = 9, high_mA = 16 } ]",
			"lamp or a resistor", "test_ohms"},
		{"sealed on a board", "board = \"beacon\"\noutput = 1\n" + port,
			"▶board = \"beacon\"\noutput = 1\nlights = [ { test_ohms = 470 } ]", "through a board", "write joint"},
		{"list of a closure", "[closure.deckhouse]", "[closure.deckhouse]\nmust_hold = ▶\"ballast\"", "must be a list",
			`["ballast"`},
		{"number in it", "[closure.deckhouse]", "[closure.deckhouse]\nmust_hold = [\"ballast\", ▶3]", "must be texts",
			"must_hold ="},
		{"empty list", "[closure.deckhouse]", "[closure.deckhouse]\nmust_hold = ▶[]", "is empty",
			"leave must_hold out"},
		{"twice", "[closure.deckhouse]", "[closure.deckhouse]\nmust_hold = [\"ballast\", ▶\"Ballast\"]",
			"the same name as the item on line 6", "another name"},
		{"empty name", "[closure.deckhouse]", "[closure.deckhouse]\nmust_hold = [▶\"\"]", "is empty", "write"},
		{"misspelt list", "[closure.deckhouse]", "[closure.deckhouse]\n▶must_hod = [\"ballast\"]",
			`unknown key "must_hod"`, `write "must_hold"`},
	})
}

func TestEditSealed(t *testing.T) {
	for _, c := range []struct {
		path     string
		value    any
		old, new string
	}{
		{"group.searchlight.lights[0].test_ohms", 680, "test_ohms = 470", "test_ohms = 680"},
		{`group."second mast".sealed_wire`, false, "sealed_wire = true", "sealed_wire = false"},
		{"closure.hull.must_hold", []string{"ballast"}, `["ballast", "light pipe of the name plate"]`, `["ballast"]`},
		{"closure.hull.must_hold[1]", "light pipe", `"light pipe of the name plate"`, `"light pipe"`},
	} {
		out, err := Edit([]byte(sealedPlan), c.path, c.value)
		if want := strings.Replace(sealedPlan, c.old, c.new, 1); err != nil || string(out) != want {
			t.Errorf("%s: %v\n%s", c.path, err, out)
		}
	}
	for path, value := range map[string]any{"group.searchlight.lights[0].test_ohms": 0,
		"closure.hull.must_hold[1]": "ballast", "closure.hull.must_hold": []string{}} {
		if out, err := Edit([]byte(sealedPlan), path, value); err == nil {
			t.Errorf("%s = %v was taken:\n%s", path, value, out)
		}
	}
}
