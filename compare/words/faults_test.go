package words_test

import (
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// boat has a group of each sort of light. Invented.
func boat() *plan.Plan {
	led := plan.LED{Part: "amber 3 mm"}
	return &plan.Plan{Groups: []plan.Group{
		{Name: "lamps", Lights: []plan.Light{{Kind: plan.LEDs, Part: "amber 3 mm", Count: 3,
			Series: []plan.LED{led, led}, Ohms: plan.Value{Nominal: 470}}}},
		{Name: "windows", Lights: []plan.Light{{Kind: plan.Strip, Part: "strip warm white 12 V", Count: 1,
			Segments: 6}}},
		{Name: "deck", Lights: []plan.Light{{Kind: plan.SMD, Part: "smd warm white 12 V", Count: 1}}},
		{Name: "flash", Board: "beacon", Output: 1,
			Lights: []plan.Light{{Kind: plan.LEDs, Part: "red 3 mm", Count: 1, Series: []plan.LED{led}}}},
		{Name: "fire", Lights: []plan.Light{{Kind: plan.Envelope, Part: "fire flicker"}}},
	}}
}

// reads says what keeps a text from being read aloud: "" if nothing does.
func reads(s string) string {
	r, _ := utf8.DecodeRuneInString(s)
	switch {
	case !unicode.IsUpper(r) && !unicode.IsDigit(r) && r != '"':
		return "doesn't begin as a sentence"
	case !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?"):
		return "doesn't end as one"
	case strings.Contains(s, "  ") || strings.Contains(s, "..") || strings.Contains(s, ";;") ||
		strings.Contains(s, " ."):
		return "is put together badly"
	case strings.Count(s, `"`)%2 != 0:
		return "leaves a quote open"
	}
	return ""
}

// Each kind that a group or a place above it can have is said by a sentence of its
// own; none falls back on its bare name.
func TestEveryFaultIsASentence(t *testing.T) {
	p := boat()
	said := map[string]fault.Kind{}
	for _, k := range fault.AllKinds() {
		a := fault.AboutKind(k)
		if a.Effect != fault.ByCircuit && a.At != fault.AtOutput {
			continue
		}
		for i, g := range p.Groups {
			f := fault.Fault{Kind: k, Group: g.Name, Ohms: 40}
			if a.At == fault.AtJoint || a.At == fault.AtReturn {
				f.At = "keel"
			}
			s := words.Fault(p, f, nil)
			if bad := reads(s); bad != "" {
				t.Errorf("%s of %q %s: %q", k, g.Name, bad, s)
			}
			if strings.EqualFold(strings.TrimSuffix(s, "."), string(k)) {
				t.Errorf("%s of %q has no words: %q", k, g.Name, s)
			}
			if of, ok := said[s]; i == 0 && ok {
				t.Errorf("%s is said as %s is: %q", k, of, s)
			} else if i == 0 && f.At == "" && k != fault.OpenBranch {
				said[s] = k
			}
		}
	}
}

func TestThePlanComesFirst(t *testing.T) {
	p := boat()
	dark := fault.Fault{Kind: fault.DarkSegment, Group: "windows"}
	six := fault.Suspect{Kind: fault.CountOff, Group: "windows", Was: "6 segments of strip warm white 12 V", Is: "5",
		What: "segments", Planned: 6, Counted: 5}
	ohms := fault.Suspect{Kind: fault.OtherOhms, Group: "lamps", Was: "470 ohm", Is: "680 ohm"}
	part := fault.Suspect{Kind: fault.OtherPart, Group: "lamps", Was: "amber 3 mm", Is: "red 3 mm"}
	dim := fault.Fault{Kind: fault.BadJoint, Group: "lamps"}
	for _, x := range []struct{ got, want string }{
		{words.PlanFirst(six, dark, 1, ""),
			"Count the segments. Six? Then one is dark, often by a cracked joint at a cut. Five? Correct the plan."},
		{words.PlanFirst(fault.Suspect{Kind: fault.CountOff, What: "pairs of LEDs", Planned: 3, Counted: 4},
			fault.Fault{Kind: fault.ExtraBranch}, 1, ""),
			"Count the pairs of LEDs. Four? There are more than planned: correct the plan, or take off what's too " +
				"many. Three? Then one of them draws too much: look which is brighter, read its resistor, and look " +
				"for a bridged LED."},
		{words.PlanFirst(six, dark, 2, ""),
			"Count the segments. Six? Then two are dark, often by a cracked joint at a cut. Five? Correct the plan."},
		{words.PlanFirst(ohms, dim, 1, words.Fault(p, dim, nil)),
			`Read the resistors. 470 ohm? Then there's a bad joint or a thin place in the wire to "lamps". Move it ` +
				`while you read, then solder it anew. 680 ohm? Correct the plan.`},
		{words.PlanFirst(part, dim, 1, "One is dim."),
			"Look at the part. Amber 3 mm? Then one is dim. Red 3 mm? Correct the plan."},
		{words.Suspect(six), "The plan says 6 segments of strip warm white 12 V; it draws like 5. Count them: if " +
			"there are 5, correct the plan."},
		{words.In("deck", "One is dark."), `In "deck": one is dark.`},
		{words.Times(3, "One is dark."), "Three times at once: one is dark."},
	} {
		if x.got != x.want {
			t.Errorf("%q, want %q", x.got, x.want)
		}
	}
}

// No sentence names a resistor as a cure: which one cures, the figures of the board
// and the LED say.
func TestNoWordNamesACure(t *testing.T) {
	p := boat()
	for _, k := range fault.AllKinds() {
		f := fault.Fault{Kind: k, Group: "flash"}
		if s := words.Fault(p, f, nil); strings.Contains(s, "ohm in series") || strings.Contains(s, "470") {
			t.Errorf("%s: %q", k, s)
		}
	}
}
