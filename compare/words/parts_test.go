package words

import (
	"testing"

	"sealworthy/compare/plan"
)

// Each built-in part is described: what it draws, what it looks like, and how it's
// told from its neighbours.
func TestEachBuiltInPartIsDescribed(t *testing.T) {
	for _, p := range plan.BuiltIn().Parts() {
		if looks, told := PartLooks(p.Name); PartShape(p.Name) == "" || looks == "" || told == "" ||
			PartFigures(p) == "" {
			t.Errorf("%s: looks %q, told by %q, draws %q", p.Name, looks, told, PartFigures(p))
		}
	}
	used := map[int]bool{}
	for _, p := range plan.BuiltIn().Parts() {
		used[PartFamily(p.Name)] = true
	}
	for i, f := range PartFamilies() {
		if !used[i] {
			t.Errorf("no part is %q", f.of)
		}
	}
}
