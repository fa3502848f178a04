package compare_test

import (
	"strings"
	"testing"

	"sealworthy/compare"
	"sealworthy/compare/fault"
)

// Outputs that run free and happen to run in step are judged by their sum: healthy they
// pass, and a fault of one of them never does.
func TestFreeOutputsInStepAreJudgedByTheirSum(t *testing.T) {
	src := strings.NewReplacer(`"alternate"`, `"free"`, "period_s = 1.6", "period_s = 6.0").Replace(twoReds("0.55"))
	sums, healthy := 0, 0
	for seed := range uint64(24) {
		f := &fault.Fault{Kind: fault.OpenBranch, Group: "port beacon"}
		if seed%6 == 1 {
			f = &fault.Fault{Kind: fault.StuckDark, Group: "starboard beacon"}
		}
		if seed%6 > 1 {
			f = nil
		}
		for _, x := range rowsOf(t, src, seed+1, f, 2) {
			if x.FiguresOf == compare.OfOutputs {
				sums++
			}
			switch {
			case f == nil && x.Verdict != compare.InBand && x.Verdict != compare.CantTell:
				t.Errorf("seed %d, healthy: %s", seed+1, inWords(x))
			case f == nil && x.FiguresOf == compare.OfOutputs && x.Verdict == compare.InBand:
				healthy++
			case f != nil && x.Group == f.Group && x.Verdict == compare.InBand:
				t.Errorf("seed %d, %+v: %s", seed+1, *f, inWords(x))
			}
		}
	}
	if sums == 0 || healthy == 0 {
		t.Errorf("%d rows judged by the sum, %d of them healthy and in band: nothing was tested", sums, healthy)
	}
}
