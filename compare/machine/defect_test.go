package machine

import "testing"

// TestTheMachineFindsPlantedDefects: each planted bug is found within the ordinary
// number of sequences, and what finds it is earned without the bug.
func TestTheMachineFindsPlantedDefects(t *testing.T) {
	if len(awaited) > 0 {
		t.Skipf("rules that the tree doesn't keep yet: %v", awaited)
	}
	const most = 300
	shop, found := NewShop(), 0
	for _, d := range Defects() {
		n, breach := 0, Breach{}
		for seed := uint64(1); seed <= most && breach == (Breach{}); seed++ {
			s := DrawScript(shapeOf(shop, seed), seed)
			o, err := Play(shop, Direct{}, s, d)
			if n++; err != nil || len(o.Breaches) == 0 {
				continue
			}
			if whole, err := Play(shop, Direct{}, s, Defect{}); err == nil && len(whole.Breaches) == 0 {
				breach = o.Breaches[0]
			}
		}
		if breach == (Breach{}) {
			t.Errorf("not found in %d sequences: %s", n, d.Name)
			continue
		}
		found++
		t.Logf("%s: found in sequence %d: %v", d.Name, n, breach)
	}
	t.Logf("the machine finds %d of %d planted defects", found, len(Defects()))
}
