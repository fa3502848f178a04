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
	if len(p.Groups) < 12 || len(p.Closures) != 3 || len(p.Returns) != 1 {
		t.Errorf("%d groups, %d closures, %d returns", len(p.Groups), len(p.Closures), len(p.Returns))
	}
	kinds, colours, nested, steps, alternate := map[LightKind]bool{}, map[string]bool{}, false, 0, false
	for _, g := range p.Groups {
		for _, l := range g.Lights {
			kinds[l.Kind] = true
			if l.Kind == LEDs {
				for _, led := range l.Series {
					colours[led.Colour] = true
				}
			}
		}
	}
	for _, c := range p.Closures {
		nested = nested || c.Inside != ""
	}
	for _, b := range p.Boards {
		if b.Button {
			steps = max(steps, len(b.Paces))
		}
		alternate = alternate || b.Run == Alternate && len(b.Outputs) == 2
	}
	if !kinds[Strip] || !kinds[SMD] || !kinds[LEDs] || len(colours) < 4 || !nested || steps != 3 || !alternate {
		t.Errorf("kinds %v, colours %v, nested %v, %d paces, alternate %v", kinds, colours, nested, steps, alternate)
	}
	holds := map[HoldKind]bool{}
	for _, h := range p.Joints[0].Holds {
		holds[h.Kind] = true
	}
	if !holds[HoldFuse] || !holds[HoldDiode] {
		t.Errorf("the first joint holds %v", holds)
	}
}

// One group is left with the spread of a bag of unknown make, to show what
// can't be told; all others are sampled.
func TestOnlyOneGroupOfTheDemoIsGeneric(t *testing.T) {
	p, _ := Parse("plan.toml", readBrackwater(t))
	var generic []string
	for _, g := range p.Groups {
		for _, l := range g.Lights {
			if l.BranchSpread.HalfWidth > 0.1 {
				generic = append(generic, g.Name)
			}
		}
	}
	if len(generic) != 1 {
		t.Errorf("generic: %v", generic)
	}
}
