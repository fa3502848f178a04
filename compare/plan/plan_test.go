package plan

import (
	"math"
	"os"
	"strings"
	"testing"
)

func readPlan(t *testing.T, name string) *Plan {
	t.Helper()
	src, err := os.ReadFile("../../testdata/plans/" + name)
	if err != nil {
		t.Fatal(err)
	}
	p, problems := Parse(name, src)
	if len(problems) > 0 {
		t.Fatal(problemsText(problems))
	}
	return p
}

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 1e-9+1e-6*math.Abs(want) {
		t.Errorf("%s = %v, want %v", what, got, want)
	}
}

func groupNamed(t *testing.T, p *Plan, name string) Group {
	t.Helper()
	for _, g := range p.Groups {
		if g.Name == name {
			return g
		}
	}
	t.Fatalf("no group %q", name)
	return Group{}
}

func TestSmallBuildAsWritten(t *testing.T) {
	p := readPlan(t, "small.toml")
	if p.Build != "Brackwater" || p.Scale != "1:96" || len(p.Revision) != 12 || len(p.Warnings) != 0 {
		t.Errorf("head: %q %q %q %v", p.Build, p.Scale, p.Revision, p.Warnings)
	}
	j := p.Jacks[0]
	if j.Name != "main" || j.Source != "adapter" || j.RangeAssumed || j.AdapterAmps != 1.5 {
		t.Errorf("jack: %+v", j)
	}
	if h := p.Joints[0].Holds[0]; h.Kind != HoldDiode || h.DropVolts.Nominal != 0.7 || !h.DropVolts.Assumed {
		t.Errorf("diode: %+v", h)
	}
	b := p.Boards[0]
	if b.Run != Alternate || len(b.Paces) != 2 || !b.Button || len(b.Outputs) != 2 || b.Paces[1].Name != "fast" {
		t.Errorf("board: %+v", b)
	}
	near(t, "own resistor", b.Outputs[0].Ohms.Nominal, 470)
	near(t, "limit", b.Outputs[0].MaxAmps, 0.025)
	w := groupNamed(t, p, "cabin windows")
	if w.Lights[0].Branches() != 6 || w.Lights[0].Kind != Strip || w.See != "14 windows, warm" {
		t.Errorf("windows: %+v", w)
	}
	beacon := groupNamed(t, p, "port beacon")
	if beacon.Closure != "deckhouse" {
		t.Errorf("beacon closes with %q, want its board's closure", beacon.Closure)
	}
	if !beacon.Wire.Assumed || beacon.Wire.Ohms.HalfWidth < 0.5*beacon.Wire.Ohms.Nominal {
		t.Errorf("an unsaid wire must be assumed with a wide band: %+v", beacon.Wire)
	}
	if p.Closures[2].Inside != "deckhouse" {
		t.Errorf("closures: %+v", p.Closures)
	}
}

// A strip or SMD must draw what it's said to draw at its rated voltage.
func TestResistoredPartsDrawTheirCurrent(t *testing.T) {
	p := readPlan(t, "full.toml")
	for _, c := range []struct {
		group string
		light int
		amps  float64
	}{{"windows", 0, 0.018}, {"windows", 1, 0.014}, {"lamps", 0, 0.008}, {"lamps", 1, 0.006}} {
		l := groupNamed(t, p, c.group).Lights[c.light]
		v := l.RatedVolts
		for _, led := range l.Series {
			v -= led.Points[0].Volts
			near(t, "point of "+l.Part, led.Points[0].Amps, c.amps)
		}
		near(t, "current of "+l.Part, v/l.Ohms.Nominal, c.amps)
	}
}

func TestEveryKeyIsTaken(t *testing.T) {
	p := readPlan(t, "full.toml")
	w := groupNamed(t, p, "windows")
	strip := w.Lights[0]
	if strip.Reel != "reel 7" || strip.BranchSpread.HalfWidth != 0.05 || strip.BranchSpread.Share != 0.85 ||
		strip.Branches() != 8 {
		t.Errorf("strip: %+v", strip)
	}
	if w.Return != "mast" || w.Wire.Text != "0.2 mm assumed, 150 mm" {
		t.Errorf("windows: return %q, wire %q", w.Return, w.Wire.Text)
	}
	near(t, "overridden tolerance", w.Lights[1].BranchSpread.HalfWidth, 0.1)
	mixed := groupNamed(t, p, "lamps").Lights[0]
	near(t, "share of a mixed bag", mixed.BranchSpread.Share, 0.25)
	s := groupNamed(t, p, "series").Lights
	if len(s[0].Series) != 2 || len(s[0].Series[0].Points) != 1 || s[0].OhmsWatts != 0.25 || s[0].Count != 2 {
		t.Errorf("series: %+v", s[0])
	}
	near(t, "tolerance of ohms", s[0].Ohms.HalfWidth, 6.8)
	if s[1].Part != "red 1.8 mm + amber 1.8 mm" || s[1].Series[1].Colour != "amber" {
		t.Errorf("mixed series: %+v", s[1])
	}
	if !s[2].Series[0].Conducts || s[2].Series[0].Colour != "violet" {
		t.Errorf("own LED: %+v", s[2].Series[0])
	}
	tw := p.Boards[0]
	near(t, "standing", tw.Standing.Nominal, 0.006)
	near(t, "standing half-width", tw.Standing.HalfWidth, 0.0006)
	near(t, "open volts", tw.Outputs[0].OpenVolts.Nominal, 5)
	if tw.Outputs[0].FollowsSupply || !tw.Outputs[1].FollowsSupply || tw.Paces[0].PeriodS != 4 ||
		!tw.Paces[1].Steady() {
		t.Errorf("board: %+v", tw)
	}
	near(t, "capacitor", tw.CapacitorF, 220e-6)
	if p.Boards[1].Part != "own values" || p.Boards[1].Paces[0].Name != "only" {
		t.Errorf("own board: %+v", p.Boards[1])
	}
	if e := groupNamed(t, p, "stove").Lights[0].Envelope; e.HighAmps != 0.02 || e.State != "burning" ||
		e.Behaves != "flicker" {
		t.Errorf("stove: %+v", e)
	}
	if g := groupNamed(t, p, "bought crane"); !g.AsFound || g.Closure != "hull" {
		t.Errorf("crane: %+v", g)
	}
}

// A strip of which little is said: about a quarter of its voltage is left to
// the resistor.
func TestOwnStripWithoutASeries(t *testing.T) {
	for volts, want := range map[string]int{"5": 1, "12": 3, "24": 6} {
		src := "[part.mine]\nkind = \"strip\"\nvolts = " + volts + "\nsegment_mA = 15\n"
		p, problems := Parse("plan.toml",
			[]byte(strings.Replace(sound, `part = "strip warm white 12 V"`, `part = "mine"`, 1)+src))
		if len(problems) > 0 {
			t.Fatal(problemsText(problems))
		}
		l := p.Groups[0].Lights[0]
		if len(l.Series) != want || l.BranchSpread.HalfWidth != 0.3 || l.BranchSpread.Share != 0.9 {
			t.Errorf("%s V: %d LEDs, spread %+v", volts, len(l.Series), l.BranchSpread)
		}
	}
}

// A strip with regulators has no resistor; what they need is what its LEDs leave of
// the voltage from which it holds, and it keeps through a part book.
func TestAStripThatHoldsItsCurrent(t *testing.T) {
	for name, n := range map[string]int{"strip constant current warm white 12 V": 3,
		"strip constant current cold white 24 V": 6} {
		x, err := Find(name)
		if err != nil {
			t.Fatal(err)
		}
		text, err := EncodePart(x)
		if err != nil {
			t.Fatal(err)
		}
		b, problems := ParseBook("book.toml", text)
		if len(problems) > 0 {
			t.Fatal(problemsText(problems))
		}
		if got, _ := b.Find(name); got.HoldVolts != x.HoldVolts || !(got.HoldVolts > 0) {
			t.Errorf("%s holds from %g V, from the book %g", name, x.HoldVolts, got.HoldVolts)
		}
		src := strings.Replace(sound, `part = "strip warm white 12 V"`, `part = "`+name+`"`, 1)
		p, problems := Parse("plan.toml", []byte(src))
		if len(problems) > 0 {
			t.Fatal(problemsText(problems))
		}
		l := p.Groups[0].Lights[0]
		if len(l.Series) != n || l.Ohms.Nominal != 0 || !l.Held() {
			t.Errorf("%s: %d LEDs, %g ohm, %+v", name, len(l.Series), l.Ohms.Nominal, l.Regulator)
		}
		near(t, "its current", l.Regulator.Amps, x.Amps)
		near(t, "where it holds", l.HoldVolts(), x.HoldVolts)
		if !(l.Regulator.HoldVolts > 0.5 && l.Regulator.HoldVolts < 4) {
			t.Errorf("%s: its regulator needs %g V", name, l.Regulator.HoldVolts)
		}
	}
	for says, what := range map[string]string{"holds_from_volts = 12": "would hold",
		"holds_from_volts = 8.5": "leaves nothing"} {
		src := strings.Replace(sound, `part = "strip warm white 12 V"`,
			`part = "strip constant current warm white 12 V", `+says, 1)
		if _, problems := Parse("plan.toml", []byte(src)); len(problems) != 1 ||
			!strings.Contains(problems[0].What, what) {
			t.Errorf("%s: %s", says, problemsText(problems))
		}
	}
}

func TestWarnings(t *testing.T) {
	p := readPlan(t, "full.toml")
	want := []string{"hang on one output", "has no resistor"}
	if len(p.Warnings) != len(want) {
		t.Fatal(problemsText(p.Warnings))
	}
	for i, w := range want {
		if !strings.Contains(p.Warnings[i].What, w) || p.Warnings[i].Instead == "" {
			t.Errorf("warning %v, want %q", p.Warnings[i], w)
		}
	}
	for lights, what := range map[string]string{
		`{ part = "strip warm white 5 V", segments = 2 }`:  "it will burn out",
		`{ part = "smd red 24 V", volts = 24 }`:            "",
		`{ part = "strip red 24 V", segments = 2 }`:        "it will be dim or dark",
		`{ part = "blue 3 mm", in_series = 5, ohms = 10 }`: "need",
	} {
		src := strings.Replace(sound, `{ part = "strip warm white 12 V", segments = 6 }`, lights, 1)
		p, problems := Parse("plan.toml", []byte(src))
		if what == "" {
			if len(problems) == 0 {
				t.Errorf("%s: taken, though no such part exists", lights)
			}
			continue
		}
		if p == nil || len(p.Warnings) != 1 || !strings.Contains(p.Warnings[0].What, what) {
			t.Errorf("%s: %v %v, want %q", lights, p, problems, what)
		}
	}
}

// Parents stand before children, however the file orders them.
func TestTreesAreInOrder(t *testing.T) {
	src := sound + "[joint.a]\nfrom = \"b\"\n[joint.b]\nfrom = \"c\"\n[joint.c]\nfrom = \"keel\"\n"
	p, problems := Parse("plan.toml", []byte(src))
	if len(problems) > 0 {
		t.Fatal(problemsText(problems))
	}
	seen := map[string]bool{"main": true}
	for _, j := range p.Joints {
		if !seen[j.From] {
			t.Errorf("%q stands before %q", j.Name, j.From)
		}
		seen[j.Name] = true
	}
	if len(seen) != 5 {
		t.Errorf("joints: %v", seen)
	}
}

func TestSeveralProblemsAtOnce(t *testing.T) {
	src := strings.NewReplacer("volts = 12.0", "volts = -1", "segments = 6", "segmnts = 6", `board = "beacon"`,
		`board = "becon"`).Replace(sound)
	_, problems := Parse("plan.toml", []byte(src))
	if len(problems) != 3 {
		t.Errorf("%d problems, want 3:\n%s", len(problems), problemsText(problems))
	}
	for i := 1; i < len(problems); i++ {
		if problems[i].Pos.Line < problems[i-1].Pos.Line {
			t.Error("problems aren't in the order of the file")
		}
	}
}

func TestProblemPrintsWithAMark(t *testing.T) {
	_, problems := Parse("plan.toml", []byte(strings.Replace(sound, "segments = 6", "segmnts = 6, segments = 6", 1)))
	want := `plan.toml:17:46: unknown key "segmnts"
    lights = [ { part = "strip warm white 12 V", segmnts = 6, segments = 6 } ]
                                                 ^
  write "segments"`
	if got := problems[0].String(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// Windows editors write CRLF and a byte order mark.
func TestWindowsText(t *testing.T) {
	src := "\xef\xbb\xbf" + strings.ReplaceAll(sound, "\n", "\r\n")
	if _, problems := Parse("plan.toml", []byte(src)); len(problems) > 0 {
		t.Fatal(problemsText(problems))
	}
	src = strings.Replace(src, "build", "biuld", 1)
	_, problems := Parse("plan.toml", []byte(src))
	if p := problems[0]; p.Pos != (Pos{1, 1}) || p.Text != `biuld = "Brackwater"` {
		t.Errorf("got %+v", p)
	}
	out, err := Edit([]byte("\xef\xbb\xbf"+strings.ReplaceAll(sound, "\n", "\r\n")), "jack.main.volts", 11.5)
	if err != nil || string(out) != "\xef\xbb\xbf"+strings.ReplaceAll(strings.Replace(sound, "12.0", "11.5", 1), "\n",
		"\r\n") {
		t.Errorf("edit: %v\n%q", err, out)
	}
}
