package plan

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
	"pgregory.net/rapid"
)

// oddly is a sound plan in ways of writing that TOML allows and few use.
const oddly = `# first
build = "Gig" # the small one
jack.main.volts = 12.0
joint = { keel = { from = "main" }, "fore peak" = { from = 'keel' } }
closure.hull = {}
[board.lamp]
part = "steady driver" # bought
joint = "keel"
wire.mm = 0.3
[[group]]
name = "bow"
board = "lamp"
lights = [
  { part = "red 1.8 mm", ohms = 470 }, # left
  # the right one is older
  { leds = ["red 1.8 mm", "amber 1.8 mm"], ohms = 680 },
]
wire.length_mm = 200
# after the bow

# above the stern
[[group]]
name = """stern"""
joint = 'fore peak'
lights = "as found"`

func TestEditAllWritesWhatWasAsked(t *testing.T) {
	for _, c := range []struct {
		name     string
		src      string
		changes  []Change
		old, new string
	}{
		{"a key that isn't there", sound, []Change{Put("group.cabin.see", "six windows")},
			"segments = 6 } ]\n", "segments = 6 } ]\nsee = \"six windows\"\n"},
		{"in braces", sound, []Change{Put("group.cabin.lights[0].count", 2)}, "segments = 6 }",
			"segments = 6, count = 2 }"},
		{"a table on the way", sound, []Change{Put("joint.keel.wire.length_mm", 300)},
			"from = \"main\"\n", "from = \"main\"\nwire = { length_mm = 300 }\n"},
		{"one more of a list", sound, []Change{Put("group.port.lights[1]",
			Table{{"part", "amber 1.8 mm"}, {"ohms", 680}})},
			"ohms = 470 } ]", "ohms = 470 }, { part = \"amber 1.8 mm\", ohms = 680 } ]"},
		{"a whole list", sound, []Change{Put("group.cabin.lights", "as found")},
			`[ { part = "strip warm white 12 V", segments = 6 } ]`, `"as found"`},
		{"a line taken out", sound, []Change{Drop("group.port.output"), Put("board.beacon.part", "single blinker")},
			"output = 1\n", ""},
		{"a group taken out", sound, []Change{Drop("group.cabin")},
			sound[strings.Index(sound, "[[group]]"):strings.LastIndex(sound, "[[group]]")], ""},
		{"a joint and all on it moved", sound, []Change{Put("group.cabin.joint", "main"),
			Put("board.beacon.joint", "main"), Drop("joint.keel")}, "", ""},
		{"a closure renamed", sound, []Change{Rename("closure.hull", "lower-hull")}, "hull", "lower-hull"},
		{"a board renamed", sound, []Change{Rename("board.beacon", "flasher")}, "beacon", "flasher"},
		{"a joint added", sound, []Change{Add("joint", "fore peak", Table{{"from", "keel"}})},
			"from = \"main\"\n", "from = \"main\"\n[joint.\"fore peak\"]\nfrom = \"keel\"\n"},
		{"a group added", sound, []Change{Add("group", "", Table{{"name", "stern"}, {"closure", "hull"},
			{"lights", "as found"}})},
			"ohms = 470 } ]\n",
			"ohms = 470 } ]\n[[group]]\nname = \"stern\"\nclosure = \"hull\"\nlights = \"as found\"\n"},

		{"dotted keys", oddly, []Change{Put("jack.main.adapter_amps", 1.5)}, "volts = 12.0\n",
			"volts = 12.0\njack.main.adapter_amps = 1.5\n"},
		{"dotted in a table", oddly, []Change{Put("board.lamp.wire.length_mm", 90)}, "mm = 0.3\n",
			"mm = 0.3\nwire.length_mm = 90\n"},
		{"dotted wire", oddly, []Change{Put("group.bow.wire.mm", 0.3)}, "length_mm = 200\n",
			"length_mm = 200\nwire.mm = 0.3\n"},
		{"empty braces", oddly, []Change{Put("closure.hull.must_hold", []string{"ballast"})}, "hull = {}",
			`hull = { must_hold = ["ballast"] }`},
		{"a table in braces added", oddly, []Change{Add("joint", "aft", Table{{"from", "keel"}})}, "'keel' } }",
			"'keel' }, aft = { from = \"keel\" } }"},
		{"a table in braces renamed", oddly, []Change{Rename("joint.fore peak", "bows")}, "", ""},
		{"of a list on lines", oddly, []Change{Drop("group.bow.lights[1]")},
			", # left\n  # the right one is older\n  { leds = [\"red 1.8 mm\", \"amber 1.8 mm\"], ohms = 680 }", ""},
		{"a part in a list", oddly, []Change{Put("group.bow.lights[1].leds[1]", "red 1.8 mm")}, `"amber 1.8 mm"`,
			`"red 1.8 mm"`},
		{"without a last newline", oddly, []Change{Put("group.stern.see", "one lamp")}, "\"as found\"",
			"\"as found\"\nsee = \"one lamp\""},
		{"remarks around", oddly, []Change{Drop("group.bow")},
			oddly[strings.Index(oddly, "[[group]]"):strings.Index(oddly, "# after the bow")], ""},
	} {
		out, err := EditAll([]byte(c.src), c.changes, Options{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if want := strings.ReplaceAll(c.src, c.old, c.new); c.old != "" && c.changes[0].Do == DoRename &&
			string(out) != want ||
			c.old != "" && len(c.changes) == 1 && c.changes[0].Do != DoRename &&
				string(out) != strings.Replace(c.src, c.old, c.new, 1) {
			t.Errorf("%s: it reads\n%s", c.name, out)
		}
		windows := strings.ReplaceAll(c.src, "\n", "\r\n")
		crlf, err := EditAll([]byte("\xef\xbb\xbf"+windows), c.changes, Options{})
		if err != nil || string(crlf) != "\xef\xbb\xbf"+strings.ReplaceAll(string(out), "\n", "\r\n") {
			t.Errorf("%s, as Windows writes it: %v\n%q", c.name, err, crlf)
		}
	}
}

func TestEditAllIsAllOrNothing(t *testing.T) {
	for _, c := range []struct {
		name    string
		changes []Change
		says    string
		wrong   bool
	}{
		{"a joint that others hang on", []Change{Drop("joint.keel")}, `unknown joint "keel"`, true},
		{"two names alike", []Change{Rename("group.cabin", "Port")}, `group "port" has the same name`, true},
		{"a taken name", []Change{Put("group.cabin.see", "x"), Rename("closure.hull", "deckhouse")},
			`change 2 of 2, rename closure.hull to "deckhouse": there is a closure "deckhouse" already`, false},
		{"a kind that isn't", []Change{Add("joints", "x", nil)}, `write "joint"`, false},
		{"added twice", []Change{Add("joint", "keel", nil)}, "already", false},
		{"nothing there", []Change{Drop("group.nobody")}, `known names there: "cabin", "port"`, false},
		{"a gap in a list", []Change{Put("group.cabin.lights[5].count", 2)}, `has no "[5]"`, false},
		{"the last groups", []Change{Drop("group.cabin"), Drop("group.port")}, "the plan has no group", true},
		{"a place of no name", []Change{Rename("group.cabin.lights", "x")}, "no name that could be changed", false},
		{"what can't be written", []Change{Put("group.cabin.see", struct{}{})}, "no value of a plan", false},
		{"a name that can't be", []Change{Rename("joint.keel", "nothing")}, "is an answer", true},
		{"a long way round", []Change{Put("joint.keel.from", "keel")}, "keel", true},
	} {
		out, err := EditAll([]byte(sound), c.changes, Options{})
		var wrong *WrongError
		if err == nil || out != nil || !strings.Contains(err.Error(), c.says) || errors.As(err, &wrong) != c.wrong {
			t.Errorf("%s: %v, want %q", c.name, err, c.says)
		}
	}
}

// A random sequence of changes, held against the same changes made to the plain values
// that another reader finds: what it reads as is what was asked for, and no line goes
// that isn't spoken of.
func TestEditAllSequences(t *testing.T) {
	starts := [][]byte{[]byte(sound), []byte(oddly), []byte(sealedPlan), readBrackwater(t), Starter("Gig"),
		[]byte(strings.ReplaceAll(oddly, "\n", "\r\n"))}
	rapid.Check(t, func(t *rapid.T) {
		src := slices.Clone(rapid.SampledFrom(starts).Draw(t, "start"))
		for range rapid.IntRange(1, 8).Draw(t, "changes") {
			before := valuesOf(t, src)
			c := drawChange(t, before)
			out, err := change(src, c)
			if err != nil {
				if errors.Is(err, errBeside) {
					t.Fatalf("%s: %v\n%s", c, err, src)
				}
				continue
			}
			applyChange(before, c)
			if after := valuesOf(t, out); !reflect.DeepEqual(withoutEmpty(before), withoutEmpty(after)) {
				t.Fatalf("%s: it says\n%s\nbefore\n%s", c, out, src)
			}
			keepsLines(t, src, out, c)
			if src = out; !namesDiffer(valuesOf(t, src)) {
				return // then a path leads to the first of them
			}
		}
	})
}

func namesDiffer(of map[string]any) bool {
	seen := map[any]bool{}
	for _, g := range groupsOf(of) {
		if seen[g["name"]] {
			return false
		}
		seen[g["name"]] = true
	}
	return true
}

// keepsLines sees which lines go: none with what is added, one with a value, those that
// say a name with that, and no remark but within what is taken out.
func keepsLines(t *rapid.T, before, after []byte, c Change) {
	has := map[string]int{}
	for l := range bytes.Lines(after) {
		has[strings.TrimRight(string(l), "\r\n")]++
	}
	var gone []string
	for l := range bytes.Lines(before) {
		s := strings.TrimRight(string(l), "\r\n")
		if has[s]--; has[s] < 0 {
			gone = append(gone, s)
		}
	}
	steps, _ := splitPath(c.Path)
	switch {
	case c.Do == DoAdd && len(gone) > 1, c.Do == DoAdd && len(gone) == 1 && !strings.Contains(gone[0], "{"):
		t.Fatalf("%s takes lines away: %q", c, gone)
	case c.Do == DoPut && len(gone) > 1:
		t.Fatalf("%s takes lines away: %q", c, gone)
	case c.Do == DoRename:
		for _, s := range gone {
			if !strings.Contains(strings.ReplaceAll(s, `\`, ""), steps[1].key) {
				t.Fatalf("%s takes this line away: %q", c, s)
			}
		}
	case c.Do == DoDrop && bytes.Count(before, []byte("\n"))-bytes.Count(after, []byte("\n")) > 18:
		t.Fatalf("%s takes much away: %q", c, gone)
	}
}

func valuesOf(t *rapid.T, src []byte) map[string]any {
	var out map[string]any
	if err := toml.Unmarshal(bytes.TrimPrefix(src, byteOrderMark), &out); err != nil {
		t.Fatalf("%v\n%s", err, src)
	}
	return out
}

// withoutEmpty leaves out kinds of which there is none, and wires of which nothing is said:
// a file can say that in two ways.
func withoutEmpty(of map[string]any) map[string]any {
	for key, v := range of {
		switch v := v.(type) {
		case map[string]any:
			for _, x := range v {
				if m, ok := x.(map[string]any); ok {
					withoutWire(m)
				}
			}
			if len(v) == 0 {
				delete(of, key)
			}
		case []any:
			for _, x := range v {
				withoutWire(x.(map[string]any))
			}
			if len(v) == 0 {
				delete(of, key)
			}
		}
	}
	return of
}

func withoutWire(m map[string]any) {
	if w, ok := m["wire"].(map[string]any); ok && len(w) == 0 {
		delete(m, "wire")
	}
}

// drawChange draws one that makes sense of what there is.
func drawChange(t *rapid.T, of map[string]any) Change {
	var tables, groups, names []string
	for _, kind := range slices.Sorted(maps.Keys(saidIn)) {
		m, _ := of[kind].(map[string]any)
		for _, name := range slices.Sorted(maps.Keys(m)) {
			tables, names = append(tables, PathOf(kind, name)), append(names, name)
		}
	}
	for _, g := range groupsOf(of) {
		groups = append(groups, PathOf("group", g["name"]))
	}
	fresh := rapid.SampledFrom([]string{"mast", "fore peak", `the "old" one`, "aft.peak", "Ü", "9"}).Draw(t, "fresh")
	any := slices.Concat(tables, groups)
	switch rapid.IntRange(0, 7).Draw(t, "what") {
	case 0:
		return Rename(rapid.SampledFrom(any).Draw(t, "place"), fresh)
	case 1:
		return Add(rapid.SampledFrom([]string{"joint", "closure", "board", "return", "jack", "part"}).Draw(t, "kind"),
			fresh,
			Table{{"wire", Table{{"mm", 0.3}, {"length_mm", 120}}}, {"colour", "red # 1"}})
	case 2:
		return Add("group", "", Table{{"name", fresh}, {"lights", []Table{{{"part", "red 1.8 mm"}, {"ohms", 470}}}}})
	case 3:
		return Drop(rapid.SampledFrom(any).Draw(t, "place"))
	case 4:
		return Put(rapid.SampledFrom(any).Draw(t, "place")+".wire.length_mm",
			float64(rapid.IntRange(1, 900).Draw(t, "mm"))/2)
	case 5:
		return Put(rapid.SampledFrom(any).Draw(t, "place")+"."+
			rapid.SampledFrom([]string{"closure", "from", "joint", "see"}).Draw(t, "key"),
			rapid.SampledFrom(append(names, "new")).Draw(t, "value"))
	case 6:
		if groups == nil {
			return Drop("build")
		}
		return Put(rapid.SampledFrom(groups).Draw(t, "place")+".lights[0].count",
			rapid.IntRange(1, 9).Draw(t, "count"))
	}
	return Drop(rapid.SampledFrom(any).Draw(t, "place") + "." +
		rapid.SampledFrom([]string{"wire", "see", "joint", "closure", "lights[0]", "wire.mm"}).Draw(t, "key"))
}

func groupsOf(of map[string]any) (out []map[string]any) {
	list, _ := of["group"].([]any)
	for _, x := range list {
		out = append(out, x.(map[string]any))
	}
	return out
}

func TestPathOf(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringMatching(`[a-zA-Z0-9 .,"'\[\]=äß-]{1,12}`).Draw(t, "name")
		i := rapid.IntRange(0, 40).Draw(t, "place")
		got, err := splitPath(PathOf("group", name, "lights", i, "part"))
		want := []step{{"group", -1}, {name, -1}, {"lights", -1}, {"", i}, {"part", -1}}
		if err != nil || !slices.Equal(got, want) {
			t.Fatalf("%v, %v", got, err)
		}
	})
}

func ExampleEditAll() {
	src := []byte("build = \"Gig\"\n[jack.main]\nvolts = 12\n[[group]]\nname = \"bow\"   # two lamps\nlights = [ { " +
		"part = \"red 1.8 mm\", ohms = 470 } ]\n")
	out, err := EditAll(src, []Change{Rename("group.bow", "bow lamps"), Put(`group."bow lamps".lights[0].count`, 2)},
		Options{})
	if err != nil {
		fmt.Println(err)
	}
	fmt.Print(string(out))
	// Output:
	// build = "Gig"
	// [jack.main]
	// volts = 12
	// [[group]]
	// name = "bow lamps"   # two lamps
	// lights = [ { part = "red 1.8 mm", ohms = 470, count = 2 } ]
}
