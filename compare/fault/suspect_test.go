package fault_test

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// Each suspect's change, applied to the file, gives the plan that the suspect
// was judged by, and changes nothing else.
func TestSuspectsAreTheirChange(t *testing.T) {
	ship, shipPlan := brackwaterPlan(t)
	for _, c := range []struct {
		src []byte
		p   *plan.Plan
	}{{ship, shipPlan}, {[]byte(reversible), parsed(t, reversible)}} {
		for k, g := range c.p.Groups {
			if raceEnabled && k%4 > 0 {
				continue
			}
			ss := fault.Suspects(c.p, c.src, g.Name, plan.Options{}, fault.DefaultPriors().Plan)
			if len(ss) > 30 {
				t.Errorf("%s: %d suspects", g.Name, len(ss))
			}
			prior := 0.0
			for i, s := range ss {
				prior += s.Prior
				if i > 0 && s.Prior > ss[i-1].Prior {
					t.Errorf("%s: %s stands before a likelier one", g.Name, ss[i-1].Edit())
				}
				out, err := fault.Amend(c.src, s.Path, s.Value, plan.Options{})
				if err != nil {
					t.Errorf("%s: %v", s.Edit(), err)
					continue
				}
				now, problems := plan.Parse("plan.toml", out)
				if len(problems) > 0 {
					t.Errorf("%s: %v", s.Edit(), problems)
					continue
				}
				for k := range now.Groups {
					a, b := now.Groups[k].Lights, s.Plan.Groups[k].Lights
					for li := range a {
						a[li].Pos, b = plan.Pos{}, slices.Clone(b)
						b[li].Pos = plan.Pos{}
						// Spread and rating follow the part and don't decide the draw at nominal values.
						if a[li].Count != b[li].Count || a[li].Segments != b[li].Segments ||
							a[li].Kind != b[li].Kind ||
							math.Abs(a[li].Ohms.Nominal-b[li].Ohms.Nominal) > 1e-9 ||
							!reflect.DeepEqual(a[li].Series, b[li].Series) {
							t.Errorf("%s: light %d of %q isn't the one it was judged by:\n%+v\n%+v", s.Edit(), li,
								now.Groups[k].Name, a[li], b[li])
						}
					}
				}
				if !strings.HasPrefix(s.Edit(), `group."`+g.Name+`".lights[`) {
					t.Errorf("%q changes another group", s.Edit())
				}
			}
			if limit := float64(len(g.Lights)) * (fault.DefaultPriors().Plan.CountOff*1.3 +
				fault.DefaultPriors().Plan.OtherPart + fault.DefaultPriors().Plan.OtherOhms) * 1.001; prior > limit {
				t.Errorf("%s: priors add up to %g, above %g", g.Name, prior, limit)
			}
		}
	}
}

func edits(ss []fault.Suspect) []string {
	var out []string
	for _, s := range ss {
		out = append(out, s.Edit())
	}
	return out
}

func TestWhoIsSuspected(t *testing.T) {
	src, p := brackwaterPlan(t)
	for _, c := range []struct {
		group string
		want  []string // each must be among them
		not   []string
	}{
		{"cabin windows", []string{
			`group."cabin windows".lights[0].segments = 5`, `group."cabin windows".lights[0].segments = 7`,
			`group."cabin windows".lights[0].segments = 8`,
			`group."cabin windows".lights[0].part = "work light strip"`,
			`group."cabin windows".lights[0].part = "strip 5050 warm white 12 V"`,
		}, []string{`group."cabin windows".lights[0].segments = 6`,
			`group."cabin windows".lights[0].part = "window strip"`,
			`group."cabin windows".lights[0].part = "cabin lamp"`}},
		{"masthead light", []string{
			// the key isn't in the file
			`group."masthead light".lights[0].count = 2`,
			`group."masthead light".lights[0].ohms = 1000`, `group."masthead light".lights[0].ohms = 1500`, // E12
			`group."masthead light".lights[0].ohms = 1100`, `group."masthead light".lights[0].ohms = 1300`, // E24
			`group."masthead light".lights[0].ohms = 2200`, // brown taken for red
		}, []string{`group."masthead light".lights[0].count = 0`, `group."masthead light".lights[0].ohms = 12000`}},
		{"gallery lamps", []string{
			`group."gallery lamps".lights[0].in_series = 2`, `group."gallery lamps".lights[0].in_series = 4`,
			`group."gallery lamps".lights[0].part = "warm white 0603"`,
			// red draws as amber by the built-in curves: no reading tells them apart
		}, []string{`group."gallery lamps".lights[0].part = "red 0603"`}},
		{"boiler glow", []string{`group."boiler glow".lights[0].leds[1] = "green 1.8 mm"`}, nil},
		{"hold lamps", []string{`group."hold lamps".lights[0].part = "instrument lamp"`}, nil},
	} {
		got := edits(fault.Suspects(p, src, c.group, plan.Options{}, fault.DefaultPriors().Plan))
		for _, w := range c.want {
			if !slices.Contains(got, w) {
				t.Errorf("%s: %q isn't suspected, only %q", c.group, w, got)
			}
		}
		for _, w := range c.not {
			if slices.Contains(got, w) {
				t.Errorf("%s: %q is suspected", c.group, w)
			}
		}
	}
	if got := fault.Suspects(p, src, "nobody", plan.Options{}, fault.DefaultPriors().Plan); got != nil {
		t.Errorf("an unknown group has suspects: %v", edits(got))
	}
	// Without the file there are no other parts, but counts and resistors.
	for _, s := range fault.Suspects(p, nil, "masthead light", plan.Options{}, fault.DefaultPriors().Plan) {
		if s.Kind == fault.OtherPart {
			t.Errorf("%s without a file", s.Edit())
		}
	}
}

// A part of the maker's own book is suspected too.
func TestOwnBookIsAsked(t *testing.T) {
	src, p := brackwaterPlan(t)
	book, problems := plan.ParseBook("parts.toml",
		[]byte("[part.\"bright strip\"]\nlike = \"strip warm white 12 V\"\nsegment_mA = 22\n"))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	got := edits(fault.Suspects(p, src, "cabin windows", plan.Options{Book: book}, fault.DefaultPriors().Plan))
	if want := `group."cabin windows".lights[0].part = "bright strip"`; !slices.Contains(got, want) {
		t.Errorf("%q isn't among %q", want, got)
	}
}

// A group that has one segment less than the plan says draws as a dark segment
// does: the two look alike, and counting is said first.
func TestCountOffLooksLikeADarkSegment(t *testing.T) {
	src, p := brackwaterPlan(t)
	w := wired(t, p)
	dark := first(t, p, "cabin windows", fault.DarkSegment)
	healthy := drawn(t, w, "cabin windows")
	lost := healthy - with(t, w, dark)
	for _, s := range fault.Suspects(p, src, "cabin windows", plan.Options{}, fault.DefaultPriors().Plan) {
		if s.Kind != fault.CountOff || s.Is != "5" {
			continue
		}
		less := healthy - drawn(t, wired(t, s.Plan), "cabin windows")
		if d := less / lost; d < .97 || d > 1.03 {
			t.Errorf("five segments differ by %g mA, a dark one by %g mA", less*1e3, lost*1e3)
		}
		text := words.PlanFirst(s, dark, 1, words.Fault(p, dark, nil))
		if want := "Count the segments. Six? Then one is dark, often by a cracked joint at a cut. Five? Correct the plan."; text != want {
			t.Errorf("%q, want %q", text, want)
		}
		if want := `group."cabin windows".lights[0].segments = 5`; s.Edit() != want {
			t.Errorf("%q, want %q", s.Edit(), want)
		}
	}
}

func TestAmend(t *testing.T) {
	src := []byte(reversible)
	for _, c := range []struct {
		path  string
		value any
		want  string // a line of the result; empty: it must be refused
	}{
		{`group."lamps".lights[0].count`, 4, `lights = [ { part = "lamp with diode", count = 4 } ]`},
		{`group.lone.lights[0].count`, 2, `lights = [ { count = 2, part = "lamp with diode" } ]`},
		{`group."mixed".lights[1].count`, 2,
			`lights = [ { part = "lamp with diode" }, { count = 2, part = "red 1.8 mm", ohms = 1000 } ]`},
		{`group.lone.lights[0].colour`, "red", ""},
		{`group.lone.lights[3].count`, 2, ""},
		{`group.lone.wire.length_mm`, 2, ""},
		{`group.lone.lights[0].count`, -1, ""},
	} {
		out, err := fault.Amend(src, c.path, c.value, plan.Options{})
		switch {
		case c.want == "" && err == nil:
			t.Errorf("%s = %v was accepted", c.path, c.value)
		case c.want != "" && err != nil:
			t.Errorf("%s: %v", c.path, err)
		case c.want != "" && !strings.Contains(string(out), "\n"+c.want+"\n"):
			t.Errorf("%s: no line %q", c.path, c.want)
		case c.want != "":
			// Every other line stays.
			a, b := strings.Split(reversible, "\n"), strings.Split(string(out), "\n")
			n := 0
			for i := range a {
				if a[i] != b[i] {
					n++
				}
			}
			if len(a) != len(b) || n != 1 {
				t.Errorf("%s: %d of %d lines changed", c.path, n, len(a))
			}
		}
	}
}

// Names with umlauts before the light count as characters, not bytes.
func TestAmendCountsCharacters(t *testing.T) {
	src := strings.ReplaceAll(reversible, `lights = [ { part = "lamp with diode" } ]`, `see = "für", lights = 0`)
	src = strings.ReplaceAll(src, `see = "für", lights = 0`,
		"lights = [ { part = \"lampe für oben\" }, { part = \"lampe für oben\" } ]")
	src = strings.ReplaceAll(src, `[part."strip with diodes"]`,
		"[part.\"lampe für oben\"]\nlike = \"smd warm white 12 V\"\n[part.\"strip with diodes\"]")
	out, err := fault.Amend([]byte("\ufeff"+src), "group.lone.lights[1].count", 3, plan.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if want := `lights = [ { part = "lampe für oben" }, { count = 3, part = "lampe für oben" } ]`; !strings.Contains(
		string(out), want) {
		t.Errorf("no %q", want)
	}
}

func BenchmarkSuspects(b *testing.B) {
	src, p := brackwaterPlan(b)
	for b.Loop() {
		fault.Suspects(p, src, "cabin windows", plan.Options{}, fault.DefaultPriors().Plan)
	}
}
