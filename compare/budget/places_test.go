package budget

import (
	"math"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

// jointNamed finds a place of the feed tree.
func jointNamed(t *testing.T, b *Budget, kind, name string) Joint {
	t.Helper()
	for _, j := range b.Joints {
		if j.Kind == kind && j.Name == name {
			return j
		}
	}
	t.Fatalf("no %s %q in the feed tree", kind, name)
	return Joint{}
}

// What flows into a joint is a sum: deviations of one reel add as they are, those of single
// pieces as their squares (JCGM 100:2008, 5.1.2 and 5.2.2). Nine lamps of 1200 ohm, 5 %:
// 9 a/sqrt(3) where they share all of it, 3 a/sqrt(3) where nothing; the drop on 2 * 0.05 ohm
// of wire follows. 95 % of one rectangular deviation are .95 of its half-width, of many
// about 1.96 standard uncertainties (JCGM 101:2008, 6.4.2; JCGM 100:2008, G.1). Copper
// has its ohms at 20 degC, and .393 % more a kelvin (IEC 60028).
func TestBandOfAJoint(t *testing.T) {
	skipStatistics(t)
	const n, volts, ohms, half = 9, 12.0, 1200.0, 60.0
	one := volts / ohms / ohms * half
	for _, c := range []struct {
		share, want float64
	}{{1, 0.95 * n * one}, {0, 1.96 * 3 * one / math.Sqrt(3)}} {
		p := bench()
		p.Joints[0].Wire.Ohms.HalfWidth, p.Joints[0].Holds = 0, nil
		for i := range n {
			hang(p, string(rune('a'+i)), lamp(ohms, half, c.share))
			p.Groups[i].Wire.Ohms = plan.Value{}
		}
		at := still
		at.Trials = 20000
		j := jointNamed(t, of(t, p, at), "joint", "keel")
		near(t, "current", j.Amps, n*volts/(ohms+n*0.1), 1e-5)
		near(t, "half the band", (j.HighA-j.LowA)/2, c.want, 0.03*c.want)
		wire := 0.1 * (1 + 0.00393*5)
		near(t, "drop", j.Drop, wire*j.Amps, 1e-6)
		near(t, "half the band of the drop", (j.HighDrop-j.LowDrop)/2, wire*c.want, 0.03*wire*c.want)
	}
}

// All of the tree has a band about what it draws: at a jack and at a group it's that of
// the budget, at a joint that feeds all that of the jack, and it's narrower than if all
// that hangs there were at one end at once.
func TestBandsOfTheTree(t *testing.T) {
	p := sealedWire(0.5)
	b := of(t, p, At{Scene: scene.Scene{LeadsOhm: 0.2, LeadsHalfOhm: 0.1}})
	low, high := 0.0, 0.0
	for _, j := range b.Joints {
		if !(j.LowA <= j.Amps && j.Amps <= j.HighA && j.LowDrop <= j.Drop && j.Drop <= j.HighDrop) {
			t.Errorf("%s %s lies beside its band: %+v", j.Kind, j.Name, j)
		}
		if j.Kind != "jack" && j.Amps > 0 && !(j.LowA < j.HighA && j.LowDrop < j.HighDrop) {
			t.Errorf("%s %s has no band: %+v", j.Kind, j.Name, j)
		}
		if g, ok := b.GroupNamed(j.Name); ok && j.Kind == "group" {
			if j.LowA != g.Service.LowA || j.HighA != g.Service.HighA || math.Abs(j.Amps-g.Service.NominalA) > 1e-12 {
				t.Errorf("%s: %+v in the tree, %+v in the budget", j.Name, j, g.Service)
			}
			low, high = low+g.Service.LowA, high+g.Service.HighA
		}
	}
	jack, keel := jointNamed(t, b, "jack", "main"), jointNamed(t, b, "joint", "keel")
	if all := b.Jacks[0].AllLit; jack.LowA != all.LowA || jack.HighA != all.HighA ||
		math.Abs(jack.Amps-all.NominalA) > 1e-9 {
		t.Errorf("jack: %+v in the tree, %+v in the budget", jack, all)
	}
	near(t, "low at the joint that feeds all", keel.LowA, jack.LowA, 1e-9)
	near(t, "high at the joint that feeds all", keel.HighA, jack.HighA, 1e-9)
	if keel.HighA-keel.LowA > 0.9*(high-low) {
		t.Errorf("%g to %g A at the joint, %g to %g A if all groups were at one end", keel.LowA, keel.HighA, low, high)
	}
}
