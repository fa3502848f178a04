package compare

import "testing"

// No verdict speaks against its own probability: what is low or high isn't likelier
// healthy than not, what is in band is healthy at 19 to 1 at least. Where no probability was
// put to it, the draw alone speaks.
func TestVerdictAgreesWithItsOdds(t *testing.T) {
	for _, v := range []Verdict{InBand, Low, High, CantTell, StuckLit, NotMeasured} {
		for _, p := range []float64{0, 0.01, 0.49, 0.51, 0.99, 1} {
			for _, known := range []bool{true, false} {
				f := Finding{Verdict: v, PHealthy: p}
				if known {
					f.evidence = &evidence{}
				}
				f.agreeWithOdds()
				against := known && (v == InBand && p < 0.95 || (v == Low || v == High) && p > 0.5)
				if want := map[bool]Verdict{true: CantTell, false: v}[against]; f.Verdict != want {
					t.Errorf("%s with %.2f (%v): %s, want %s", v, p, known, f.Verdict, want)
				}
				if against && (f.Why == "" || len(f.Settle) == 0) {
					t.Errorf("%s with %.2f: without a reason", v, p)
				}
			}
		}
	}
}
