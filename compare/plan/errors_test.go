package plan

import (
	"fmt"
	"strings"
	"testing"
)

// sound is a small plan without problems; each row below spoils one thing.
const sound = `build = "Brackwater"
[jack.main]
volts = 12.0
[closure.hull]
[closure.deckhouse]
[joint.keel]
from = "main"
[return.mast]
to = "main"
[board.beacon]
part = "two-output blinker"
joint = "keel"
[[group]]
name = "cabin"
closure = "hull"
joint = "keel"
lights = [ { part = "strip warm white 12 V", segments = 6 } ]
[[group]]
name = "port"
closure = "hull"
board = "beacon"
output = 1
lights = [ { part = "red 1.8 mm", ohms = 470 } ]
`

// mark stands in a row's text where the problem must point to.
const mark = "▶"

type row struct {
	name    string
	old     string // what is replaced in the sound plan; "": added at its end
	spoiled string // with the mark
	what    string // part of Problem.What
	instead string // part of Problem.Instead
}

func TestSoundPlanHasNoProblems(t *testing.T) {
	p, problems := Parse("plan.toml", []byte(sound))
	for _, pr := range append(problems, p.Warnings...) {
		t.Error(pr)
	}
}

// spoil makes the text of a row and the place that its mark stands for.
func spoil(t *testing.T, r row) (src string, want Pos) {
	t.Helper()
	text := sound + r.spoiled
	if r.old != "" {
		if strings.Count(sound, r.old) != 1 {
			t.Fatalf("%q stands %d times in the sound plan", r.old, strings.Count(sound, r.old))
		}
		text = strings.Replace(sound, r.old, r.spoiled, 1)
	}
	before, after, found := strings.Cut(text, mark)
	if !found {
		t.Fatal("the row has no mark")
	}
	line := before[strings.LastIndexByte(before, '\n')+1:]
	return before + after, Pos{strings.Count(before, "\n") + 1, len([]rune(line)) + 1}
}

func checkRows(t *testing.T, rows []row) {
	t.Helper()
	seen := map[string]bool{}
	for _, r := range rows {
		if seen[r.name] {
			t.Fatalf("two rows are called %q", r.name)
		}
		seen[r.name] = true
		t.Run(r.name, func(t *testing.T) {
			src, want := spoil(t, r)
			p, problems := Parse("plan.toml", []byte(src))
			if p != nil {
				t.Fatalf("the plan was taken:\n%s", src)
			}
			if len(problems) != 1 {
				var all []string
				for _, pr := range problems {
					all = append(all, pr.String())
				}
				t.Fatalf("%d problems, want 1:\n%s", len(problems), strings.Join(all, "\n"))
			}
			got := problems[0]
			if got.Pos != want {
				t.Errorf("at %d:%d, want %d:%d", got.Pos.Line, got.Pos.Column, want.Line, want.Column)
			}
			if line := strings.Split(src, "\n")[want.Line-1]; got.Text != line {
				t.Errorf("text %q, want the line %q", got.Text, line)
			}
			if !strings.Contains(got.What, r.what) {
				t.Errorf("says %q, want %q in it", got.What, r.what)
			}
			if !strings.Contains(got.Instead, r.instead) || got.Instead == "" {
				t.Errorf("advises %q, want %q in it", got.Instead, r.instead)
			}
			if !strings.HasPrefix(got.String(), fmt.Sprintf("plan.toml:%d:%d: ", want.Line, want.Column)) {
				t.Errorf("prints %q", got.String())
			}
		})
	}
}

func TestSyntaxErrors(t *testing.T) {
	checkRows(t, []row{
		{"text without quotes", `from = "main"`, `from = ▶main`, "without quotes", `write "main"`},
		{"unit on a number", `volts = 12.0`, `volts = 12.0 ▶V`, "something behind it",
			"write volts = 12, the number alone"},
		{"decimal comma", `volts = 12.0`, `volts = 12▶,0`, "comma in a number", "volts = 12.0"},
		{"open quote", `from = "main"`, `from = "main▶`, "text", "straight quote"},
		{"curly quotes", `from = "main"`, `from = ▶“main”`, "curly quotes", "straight quotes"},
		{"open bracket", "lights = [ { part = \"red 1.8 mm\", ohms = 470 } ]\n",
			"lights = [ { part = \"red 1.8 mm\", ohms = 470 }▶\n", "bracket isn't closed", "]"},
		{"missing comma", `"strip warm white 12 V", segments`, `"strip warm white 12 V" ▶segments`, "missing between",
			"comma"},
		{"no value", `output = 1`, `output =▶`, "value is missing", "after the ="},
		{"no equals sign", `output = 1`, `output ▶1`, "no =", "name = value"},
		{"blank in a heading", `[closure.deckhouse]`, `[closure.lantern ▶house]`, "heading",
			`[closure."lantern house"]`},
		{"same table twice", "", "[joint.▶keel]\nfrom = \"main\"\n",
			`"keel" stands here a second time; the first is on line 6`, "another name"},
		{"same key twice", `volts = 12.0`, "volts = 12.0\n▶volts = 5.0", `"volts" stands here a second time`,
			"another name"},
		{"capital true", "", "[board.b2]\npart = \"single blinker\"\nbutton = ▶True\n", "the words are true and false",
			"write button = true"},
		{"number without nought", `volts = 12.0`, `volts = ▶.5`, "begins with its point", "0.2"},
		{"text without quotes in a list", `part = "red 1.8 mm"`, `part = ▶red`, "text without quotes",
			`write part = "red"`},
		{"backslash in text", `from = "main"`, `from = "ma▶\in"`, "can't be read", "no backslash"},
	})
}

func TestKeyErrors(t *testing.T) {
	checkRows(t, []row{
		{"unknown key in a light", `segments = 6`, `▶segmnts = 6, segments = 6`, `unknown key "segmnts"`,
			`write "segments"`},
		{"unknown key at the top", `build = "Brackwater"`, "build = \"Brackwater\"\n▶scael = \"1:96\"",
			`unknown key "scael"`, `write "scale"`},
		{"unknown table", "", "[▶jont.x]\n", `unknown key "jont"`, `write "joint"`},
		{"unknown key in a jack", `volts = 12.0`, "volts = 12.0\n▶voltsrange = [11.4, 12.6]",
			`unknown key "voltsrange"`, `write "volts_range"`},
		{"another word for a key", `ohms = 470`, `ohms = 470, ▶resistor = 470`, `unknown key "resistor"`,
			`write "ohms"`},
		{"misspelt key that must be there", `volts = 12.0`, "▶volst = 12.0", `unknown key "volst"`, `write "volts"`},
		{"misspelt part of a light", `part = "red 1.8 mm"`, `▶prt = "red 1.8 mm"`, `unknown key "prt"`,
			`write "part"`},
		{"key far from all", `volts = 12.0`, "volts = 12.0\n▶zzzzzzzz = 1", `unknown key "zzzzzzzz"`,
			`known keys: "volts", "volts_range"`},
		{"key of another kind of part", `segments = 6`, `segments = 6, ▶paces = 6`, `unknown key "paces"`,
			`known keys`},
		{"draw of a whole strip", `segments = 6`, `segments = 6, ▶draw_mA = 6`, `unknown key "draw_mA"`,
			`the draw of one segment alone`},
		{"unknown key in a wire", "", "[joint.x]\nwire = { mm = 0.2, ▶lenght_mm = 200 }\n", `unknown key "lenght_mm"`,
			`write "length_mm"`},
		{"unknown key in an output", "", "[board.x]\noutputs = [ { ▶max_ma = 25 } ]\n", `unknown key "max_ma"`,
			`write "max_mA"`},
		{"unknown key in a pace", "",
			"[board.x]\npart = \"single blinker\"\npaces = [ { period_s = 1, ▶dutty = 0.4 } ]\n",
			`unknown key "dutty"`, `write "duty"`},
		{"unknown key in what a joint holds", "", "[joint.x]\nholds = [ { fuse = \"glass\", amps = 1, ▶ohm = 1 } ]\n",
			`unknown key "ohm"`, `write "ohms"`},
		{"unknown thing in a joint", "", "[joint.x]\nholds = [ { ▶diod = \"silicon\" } ]\n", `unknown thing "diod"`,
			`write "diode"`},
		{"unknown kind of diode", "", "[joint.x]\nholds = [ { diode = ▶\"shotky\" } ]\n",
			`unknown word "shotky" for diode`, `write "schottky"`},
		{"unknown way of outputs", "", "[board.x]\npart = \"two-output blinker\"\noutputs_run = ▶\"alternating\"\n",
			`unknown word "alternating"`, `write "alternate"`},
		{"unknown source", `volts = 12.0`, "volts = 12.0\nsource = ▶\"adaptor\"", `unknown word "adaptor"`,
			`write "adapter"`},
		{"unknown behaviour", "", "[[group]]\nname = \"x\"\nclosure = \"hull\"\nlights = [ { behaves = ▶\"flickr\", " +
			"mean_mA = 5, high_mA = 9 } ]\n", `unknown word "flickr"`, `write "flicker"`},
		{"key of a part", "", "[part.x]\nlike = \"red 1.8 mm\"\n▶spread_volt = 0.1\n", `unknown key "spread_volt"`,
			`write "spread_volts"`},
	})
}

func TestReferenceErrors(t *testing.T) {
	checkRows(t, []row{
		{"unknown joint of a group", "closure = \"hull\"\njoint = \"keel\"", "closure = \"hull\"\njoint = ▶\"kel\"",
			`unknown joint "kel"`, `write "keel"`},
		{"unknown joint of a board", "part = \"two-output blinker\"\njoint = \"keel\"",
			"part = \"two-output blinker\"\njoint = ▶\"keal\"", `unknown joint "keal"`, `write "keel"`},
		{"unknown joint of a joint", `from = "main"`, `from = ▶"man"`, `unknown joint or jack "man"`, `write "main"`},
		{"unknown return", `output = 1`, "output = 1\nreturn = ▶\"masst\"", `unknown return "masst"`, `write "mast"`},
		{"unknown end of a return", `to = "main"`, `to = ▶"mian"`, `unknown return or jack "mian"`, `write "main"`},
		{"unknown closure of a group", "closure = \"hull\"\njoint", "closure = ▶\"hul\"\njoint",
			`unknown closure "hul"`, `write "hull"`},
		{"unknown closure of a joint", `from = "main"`, "from = \"main\"\nclosure = ▶\"dekhouse\"", `unknown closure`,
			`write "deckhouse"`},
		{"unknown closure around", `[closure.deckhouse]`, "[closure.deckhouse]\ninside = ▶\"hall\"",
			`unknown closure "hall"`, `write "hull"`},
		{"unknown board", `board = "beacon"`, `board = ▶"becon"`, `unknown board "becon"`, `write "beacon"`},
		{"output that the board hasn't", `output = 1`, `output = ▶3`, `board "beacon" has no output 3`, "from 1 to 2"},
		{"which output", "board = \"beacon\"\noutput = 1", "▶board = \"beacon\"", "which of the 2 outputs",
			"output = 1"},
		{"output without board", "lights = [ { part = \"strip", "▶output = 1\nlights = [ { part = \"strip",
			"output without a board", "board"},
		{"joint and board", `board = "beacon"`, "joint = \"keel\"\n▶board = \"beacon\"",
			"joint and board exclude each other", "keep joint or board"},
		{"unknown part of a light", `"strip warm white 12 V"`, `▶"strip warm wite 12V"`, `unknown part`,
			`write "strip warm white 12 V"`},
		{"words of a part turned round", `"strip warm white 12 V"`, `▶"warm white strip 12 V"`, `unknown part`,
			`write "strip warm white 12 V"`},
		{"unknown part of a board", `part = "two-output blinker"`, `part = ▶"two output blinker"`, `unknown part`,
			`write "two-output blinker"`},
		{"board as a light", `"strip warm white 12 V", segments = 6`, `▶"single blinker"`, `of kind "board"`, "parts"},
		{"unknown LED in a series", `part = "red 1.8 mm"`, `leds = ["red 1.8 mm", ▶"ambr 1.8 mm"]`,
			`unknown part "ambr 1.8 mm"`, `write "amber 1.8 mm"`},
		{"part like nothing known", "", "[part.x]\nlike = ▶\"red 1.9 mm\"\n", `unknown part "red 1.9 mm"`,
			`write "red 1.8 mm"`},
		{"LED of a strip", "", "[part.x]\nlike = \"strip red 12 V\"\nled = ▶\"red 0604\"\n", `unknown LED "red 0604"`,
			`write "red 0603"`},
		{"part without a kind", "", "[part.▶x]\nsource = \"bag\"\n", "doesn't say what it is", "like ="},
		{"joints in a circle", `from = "main"`, "from = \"a\"\n[joint.a]\nfrom = ▶\"keel\"", "circle: keel, a, keel",
			`from = a jack: "main"`},
		{"joint on itself", `from = "main"`, `from = ▶"keel"`, "circle: keel, keel", "jack"},
		{"returns in a circle", `to = "main"`, "to = \"b\"\n[return.b]\nto = ▶\"mast\"", "circle: mast, b, mast",
			"jack"},
		{"closures in a circle", "[closure.hull]\n[closure.deckhouse]",
			"[closure.hull]\ninside = \"deckhouse\"\n[closure.deckhouse]\ninside = ▶\"hull\"",
			"circle: hull, deckhouse, hull", "outermost"},
		{"return to another jack", "", "[jack.aft]\nvolts = 5\n[[group]]\nname = \"x\"\nclosure = \"hull\"\njoint = " +
			"\"aft\"\nreturn = ▶\"mast\"\nlights = \"as found\"\n", "no way back", `"aft"`},
		{"no jack named among two", "",
			"[jack.aft]\nvolts = 5\n[[▶group]]\nname = \"x\"\nclosure = \"hull\"\nlights = \"as found\"\n",
			"which jack", `"main", "aft"`},
	})
}
