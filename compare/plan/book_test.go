package plan

import "testing"

func TestBuiltInPartsAreReadWithoutProblems(t *testing.T) {
	b, problems := readBuiltIn()
	for _, p := range problems {
		t.Error(p)
	}
	for _, p := range b.Parts() {
		if p.Source == "" {
			t.Errorf("part %q has no source", p.Name)
		}
	}
	if n := len(b.Parts()); n < 60 {
		t.Errorf("only %d built-in parts", n)
	}
}
