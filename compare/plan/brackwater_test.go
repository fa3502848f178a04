package plan

import (
	"os"
	"testing"
)

const brackwater = "../../testdata/brackwater/plan.toml"

func readBrackwater(t *testing.T) []byte {
	t.Helper()
	src, err := os.ReadFile(brackwater)
	if err != nil {
		t.Fatal(err)
	}
	return src
}

func TestTheDemoBuildHasWhatADemoNeeds(t *testing.T) {
	p, problems := Parse("plan.toml", readBrackwater(t))
	for _, pr := range problems {
		t.Error(pr)
	}
	if p == nil {
		t.FailNow()
	}
	for _, w := range p.Warnings {
		t.Error(w)
	}
}
