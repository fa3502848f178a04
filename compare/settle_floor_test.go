package compare

import (
	"fmt"
	"math"
	"testing"
)

// No advice leaves less than what the pieces of a group differ by among themselves: a reel
// that others have told of holds no more than that to be learned.
func TestNoAdviceLeavesLessThanThePiecesScatter(t *testing.T) {
	y := newYard(t, `
build = "barge"
[jack.main]
volts = 12.0
[closure.hull]
[[group]]
name = "ladder"
closure = "hull"
lights = [ { part = "strip cold white 12 V", segments = 6 } ]
[[group]]
name = "sluice"
closure = "hull"
lights = [ { part = "strip cold white 12 V", segments = 6 } ]
`)
	s := stepOf(t, y, *y.measure("ladder", Fitted, y.expected("ladder", Fitted)))
	g, _ := s.b.GroupNamed("ladder")
	// 30 %, a tenth of the variance each piece's own.
	own := 0.3 / math.Sqrt(3) * math.Sqrt(0.1/6) * g.Lit.NominalA
	// The doubt of the whole is drawn, that of each reel computed: they agree within some per cent.
	g.Lit.UA = 0.97 * g.Reels[0].CommonA
	for _, known := range []float64{1, 0.9, 0.7, 0.63, 0.5, 0.3} {
		f := Finding{Group: "ladder", ExpectedU: max(known*g.Lit.UA, own), MeasuredU: 1e-5}
		for _, x := range s.remedies(f, g, math.Hypot(f.ExpectedU, f.MeasuredU)) {
			if x.leaves < 0.95*own {
				t.Errorf("%s of its doubt left: %s leaves %g A, its pieces scatter by %g A", fmt.Sprint(known),
					x.text, x.leaves, own)
			}
		}
	}
}
