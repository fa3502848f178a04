package compare_test

import (
	"testing"

	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
)

// TestALooseReadingBehindAConverter: what a group drew at what its converter gives tells what it
// should draw through it; a piece that went dark since isn't passed by that, nor one that was
// dark always.
func TestALooseReadingBehindAConverter(t *testing.T) {
	if raceEnabled {
		t.Skip("statistics run without the race detector")
	}
	dark := &fault.Fault{Kind: fault.OpenBranch, Group: "lamps", Branch: 3}
	for _, c := range []struct {
		name  string
		f     *fault.Fault
		since bool
	}{{"healthy", nil, false}, {"dark since", dark, true}, {"dark always", dark, false}} {
		s, err := measureTwice(t.Context(), 3, compare.BehindConverter, c.f, c.since, load.OtherLaw)
		if err != nil {
			t.Fatal(err)
		}
		var fs [3]compare.Finding
		for known := range fs {
			m, err := s.judged(known)
			if err != nil {
				t.Fatal(err)
			}
			fs[known] = m.closures[0].Groups[0]
			if c.f != nil && fs[known].Verdict == compare.InBand {
				t.Errorf("%s, known %d: %s", c.name, known, inWords(fs[known]))
			}
		}
		if fs[readLoose].ExpectedU > 0.7*fs[onlyFitted].ExpectedU {
			t.Errorf("%s: expected to %.2f mA by the plan, to %.2f mA by what it drew loose", c.name,
				fs[onlyFitted].ExpectedU*1e3, fs[readLoose].ExpectedU*1e3)
		}
		if c.f == nil && fs[seenLoose].Verdict != compare.InBand {
			t.Errorf("seen lit loose, and drawing the same: %s", inWords(fs[seenLoose]))
		}
	}
}

// TestLooseAtWhatAConverterGives: clipped at its own wire a group behind a converter is read at
// what that gives, and judged there.
func TestLooseAtWhatAConverterGives(t *testing.T) {
	m, err := measured(t.Context(), 1, compare.BehindConverter, nil, how{loose: true})
	if err != nil {
		t.Fatal(err)
	}
	cs, err := m.judge.Findings(compare.History{Steps: m.records}, "")
	if err != nil {
		t.Fatal(err)
	}
	if f := cs[0].Groups[0]; f.Verdict == compare.NotMeasured || f.VoltsSet != 5 || !(f.MeasuredA > 0) {
		t.Errorf("read loose at 5 V: %s", inWords(f))
	}
}
