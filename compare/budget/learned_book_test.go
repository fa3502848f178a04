package budget

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/reel"
)

// The next build names the entry of the part book that the first one's groups
// have made, and expects what they told: the same draw, the same uncertainty.
func TestBookCarriesOver(t *testing.T) {
	skipStatistics(t)
	write := func(part string) *plan.Plan {
		var b bytes.Buffer
		fmt.Fprintf(&b, "build = \"Brackwater\"\n[jack.main]\nvolts = 12.0\n[joint.keel]\nfrom = \"main\"\n")
		for i := range 6 {
			fmt.Fprintf(&b, "[[group]]\nname = \"windows %d\"\njoint = \"keel\"\nlights = [ { part = %q, segments = 10 } ]\n", i+1, part)
		}
		return parsePlan(t, b.Bytes(), nil)
	}
	p := write("strip warm white 12 V")
	at := still
	at.Trials, at.FeedsOnly = 4000, true
	obs := healthy(t, p, at, 0.0005, 0.88, 0.9, 0.89, 0.9, 0.91)
	l := learn(t, p, obs, "windows 6", reel.Options{})
	l.Day = "2026-11-25"
	at.Learned = l
	want := of(t, p, at).Groups[5].Lit

	var parts []plan.Part
	for _, base := range reel.PartsOf(p, l.Reels[0].Reel, nil) {
		part, err := l.Part(base, l.Reels[0].Reel, base.Name+", reel of Brackwater")
		if err != nil {
			t.Fatal(err)
		}
		parts = append(parts, part)
	}
	if len(parts) != 1 || parts[0].Name != "strip warm white 12 V, reel of Brackwater" || parts[0].Source != "learned from 5 groups of Brackwater, 2026-11-25" {
		t.Fatalf("%+v", parts)
	}
	text, err := plan.EncodePart(parts[0])
	if err != nil {
		t.Fatal(err)
	}
	book, problems := plan.ParseBook("parts.toml", text)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	next := []byte("build = \"Second\"\n[jack.main]\nvolts = 12.0\n[joint.keel]\nfrom = \"main\"\n[[group]]\nname = \"saloon\"\njoint = \"keel\"\n")
	next = append(next, fmt.Sprintf("lights = [ { part = %q, segments = 10 } ]\n", parts[0].Name)...)
	q := parsePlan(t, next, book)
	at.Learned = nil
	before := of(t, p, at).Groups[5].Lit
	got := of(t, q, at).Groups[0].Lit
	near(t, "draw", got.MeanA, want.MeanA, 0.004*want.MeanA)
	near(t, "u", got.UA, want.UA, 0.06*want.UA)
	if !(got.UA < 0.5*before.UA) || math.Abs(got.MeanA-before.MeanA) < 0.05*before.MeanA {
		t.Errorf("next build: %+v\nfirst build, nothing learned: %+v", got, before)
	}
	t.Logf("nothing learned %.1f ± %.1f mA, learned %.1f ± %.1f mA, next build %.1f ± %.1f mA\n%s", before.MeanA*1e3, before.UA*1e3,
		want.MeanA*1e3, want.UA*1e3, got.MeanA*1e3, got.UA*1e3, text)
}

func parsePlan(t *testing.T, src []byte, book *plan.Book) *plan.Plan {
	t.Helper()
	p, problems := plan.ParseWith("plan.toml", src, plan.Options{Book: book})
	if p == nil {
		t.Fatal(problems)
	}
	return p
}
