package returns

import (
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// Each kind with a weight at a return is looked for there, and said: one that nothing lists
// would be no finding, however often its row says it comes.
func TestEveryKindOfAReturnIsWeighed(t *testing.T) {
	volts := grid(2, 12.5, 0.75)
	r := testRand(8)
	ls := built(r)
	p, s, pr := referencePlan(ls), asBuilt(ls, volts, r), fault.DefaultPriors().Return
	p.Joints = []plan.Joint{{Name: "keel", From: "main"}}
	p.Returns = []plan.Return{{Name: "mast", To: "main"}}
	joined := 0
	for i := range p.Groups {
		if g := &p.Groups[i]; g.Board == "" {
			if joined++; joined%2 == 0 {
				g.Joint = "keel"
			} else {
				g.Return = "mast"
			}
		}
	}
	lib, err := NewLibrary(p, s, "", volts, pr)
	if err != nil {
		t.Fatal(err)
	}
	weighed := map[fault.Kind]bool{}
	for _, h := range lib.Hypotheses {
		weighed[h.Class] = true
	}
	said := map[string]fault.Kind{}
	for _, k := range fault.AllKinds() {
		a := fault.AboutKind(k)
		if a.Return != nil && k != fault.TwoFaults {
			what := text(p, Cause{Place: "keel", Classes: []ClassP{{Class: k, Param: 2}}})
			if of, twice := said[what]; twice || what == `"keel"` {
				t.Errorf("%s has no words of its own: %q, as %q", k, what, of)
			}
			said[what] = k
		}
		if a.Return != nil && a.At != fault.Nowhere && !weighed[k] {
			t.Errorf("%s has a weight in its row, and isn't looked for", k)
		}
	}
}
