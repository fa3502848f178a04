package plan

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestStarterParsesWithoutProblems(t *testing.T) {
	p, problems := Parse("plan.toml", Starter("Brackwater"))
	if len(problems) > 0 {
		t.Fatal(problemsText(problems))
	}
	if p.Build != "Brackwater" || len(p.Warnings) > 0 || len(p.Groups) < 3 {
		t.Errorf("%+v", p)
	}
}

// What is commented out must be right as well, or the first try fails.
func TestStarterParsesWithItsRemarksTakenOff(t *testing.T) {
	var lines []string
	for _, l := range strings.Split(string(Starter("Brackwater")), "\n") {
		if rest, is := strings.CutPrefix(l, "# "); is &&
			(strings.HasPrefix(rest, "[") || strings.Contains(rest, " = ") && !strings.Contains(rest, "with")) {
			l = rest
		}
		lines = append(lines, l)
	}
	p, problems := Parse("plan.toml", []byte(strings.Join(lines, "\n")))
	if len(problems) > 0 {
		t.Fatal(problemsText(problems))
	}
	if len(p.Closures) != 3 || len(p.Returns) != 1 || len(p.Groups) != 7 || !p.Groups[5].Sealed ||
		len(p.Closures[0].Holds) != 2 || len(p.Joints[0].Holds) != 2 {
		t.Errorf("closures %d, returns %d, groups %d, holds %d", len(p.Closures), len(p.Returns), len(p.Groups),
			len(p.Joints[0].Holds))
	}
}

func TestStarterTakesAnyName(t *testing.T) {
	for _, name := range []string{"", `a\b`, "CON", "con." + strings.Repeat("y", 80), "# x", "a/b:c", "BUILD",
		strings.Repeat("ü", 70), "..."} {
		if _, problems := Parse("plan.toml", Starter(name)); len(problems) > 0 {
			t.Errorf("%q:\n%s", name, problemsText(problems))
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.String().Draw(t, "name")
		if _, problems := Parse("plan.toml", Starter(name)); len(problems) > 0 {
			t.Fatalf("%q:\n%s", name, problemsText(problems))
		}
	})
}
