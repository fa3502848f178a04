package plan

import (
	"bytes"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestEditChangesOneValueAndNoOtherByte(t *testing.T) {
	src := readBrackwater(t)
	for _, c := range []struct {
		path     string
		value    any
		old, new string
	}{
		{"jack.main.volts", 11.8, "\nvolts = 12.0", "\nvolts = 11.8"},
		{"jack.main.volts_range", []float64{11, 12.5}, "[11.4, 12.6]", "[11.0, 12.5]"},
		{`group."cabin windows".wire.length_mm`, 230, "wire = { mm = 0.2, length_mm = 220 }",
			"wire = { mm = 0.2, length_mm = 230 }"},
		{`group."cabin windows".lights[0].segments`, int64(7), `"window strip", segments = 6`,
			`"window strip", segments = 7`},
		{`group.lantern.see`, `a "great" light`, `see = "the great light: slow, fast, steady"`,
			`see = "a \"great\" light"`},
		{`board."lamp driver".paces.fast.period_s`, 0.9, "period_s = 0.8", "period_s = 0.9"},
		{`board."lamp driver".outputs[0].max_mA`, 50, "max_mA = 60", "max_mA = 50"},
		{`joint.entry.holds[1].ohms`, 0.4, "ohms = 0.35", "ohms = 0.4"},
		{`joint.entry.wire.stranded`, false, "stranded = true", "stranded = false"},
	} {
		out, err := Edit(src, c.path, c.value)
		if err != nil {
			t.Errorf("%s: %v", c.path, err)
			continue
		}
		if want := strings.Replace(string(src), c.old, c.new, 1); string(out) != want {
			t.Errorf("%s: not what was wanted", c.path)
		}
	}
}

func TestEditRefuses(t *testing.T) {
	for _, c := range []struct {
		path  string
		value any
		says  string
	}{
		{"jack.main.volts", -1, "makes the plan wrong"},
		{"jack.main.volts", "12", "must be a number"},
		{"jack.main.vols", 12.0, `write "volts"`},
		{"jack.main", 12.0, "name a single value"},
		{"group.cabin.see", "x", `has no "see"`},
		{"group.nobody.see", "x", `known names there: "cabin", "port"`},
		{`group.cabin.lights[3].segments`, 2, `has no "[3]"`},
		{"", 1, "is empty"},
		{`jack."main`, 1, "open quote"},
		{`group.cabin.lights[0`, 1, "open bracket"},
		{`group.cabin.lights[x]`, 1, "no number"},
		{`jack..volts`, 1, "empty name"},
		{`jack.main.`, 1, "ends with a point"},
		{`jack"main"`, 1, "lacks a point"},
		{"build", struct{}{}, "no value of a plan"},
		{`group.cabin.name`, "port", "makes the plan wrong"},
		{`group.cabin.joint`, "kel", `write "keel"`},
	} {
		out, err := Edit([]byte(sound), c.path, c.value)
		if err == nil || out != nil {
			t.Errorf("%s = %v was taken", c.path, c.value)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s = %v: %v, want %q", c.path, c.value, err, c.says)
		}
	}
	if _, err := Edit([]byte("build = "), "build", "x"); err == nil ||
		!strings.Contains(err.Error(), "can't be read") {
		t.Errorf("a broken plan: %v", err)
	}
}

// A change beside the one that was asked for is found, whatever it is.
func TestSameTreeFindsAnyOther(t *testing.T) {
	read := func(text string) *node {
		s := newSource("plan.toml", []byte(text))
		root, _ := s.read()
		return root
	}
	if !sameTree(read(sound), read(strings.Replace(sound, "volts = 12.0", "volts   = 12.0 # twelve", 1))) {
		t.Error("blanks and remarks are no change")
	}
	for _, c := range [][2]string{
		{"output = 1", "output = 2"}, {"hull]", "hold]"}, {"\"port\"", "\"starboard\""}, {"output = 1\n", ""},
		{"12.0", "[12.0]"}, {"ohms = 470 }", "ohms = 470 }, {}"}, {"output = 1", "output = 1.0"},
		{"segments = 6", "segments = true"},
	} {
		if sameTree(read(sound), read(strings.Replace(sound, c[0], c[1], 1))) {
			t.Errorf("%q for %q wasn't found", c[1], c[0])
		}
	}
}

// Any length set by Edit is the length that Parse finds; setting the old value
// again gives the old bytes.
func TestEditRoundTrip(t *testing.T) {
	src := readBrackwater(t)
	rapid.Check(t, func(t *rapid.T) {
		mm := float64(rapid.IntRange(1, 400000).Draw(t, "mm")) / 8
		out, err := Edit(src, `group."cabin windows".wire.length_mm`, mm)
		if err != nil {
			t.Fatal(err)
		}
		p, problems := Parse("plan.toml", out)
		if len(problems) > 0 {
			t.Fatal(problems[0])
		}
		if got := p.Groups[0].Wire.LengthM; got < mm*0.000999999 || got > mm*0.001000001 {
			t.Fatalf("length %v m, want %v mm", got, mm)
		}
		back, err := Edit(out, `group."cabin windows".wire.length_mm`, 220)
		if err != nil || !bytes.Equal(back, src) {
			t.Fatalf("back: %v", err)
		}
	})
}

// Any text that can be shown; none that can't.
func TestEditTakesAnyText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		see := rapid.StringN(1, 40, 200).Draw(t, "see")
		out, err := Edit([]byte(strings.Replace(sound, "name = \"cabin\"", "name = \"cabin\"\nsee = \"x\"", 1)),
			"group.cabin.see", see)
		if fault, _ := textFault(strings.ToValidUTF8(see, "?")); fault != "" || strings.TrimSpace(see) == "" {
			if err == nil {
				t.Fatalf("%q was taken", see)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		p, _ := Parse("plan.toml", out)
		if p.Groups[0].See != strings.ToValidUTF8(see, "?") {
			t.Fatalf("see %q, want %q", p.Groups[0].See, see)
		}
	})
}
